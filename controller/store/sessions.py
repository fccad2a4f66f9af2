"""Sessions: sheets that were worked in one go, as lists of short lines."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal

from controller import wall
from controller.model import Frozen
from controller.store.records import SheetRecord, When


class SheetLine(Frozen):
    """A sheet in a session's list."""

    id: str
    number: int
    title: str
    kind: Literal["recipe", "strip"]
    outcome: Literal["complete", "spoiled", "open"]
    opened: str
    """Wall time as ISO text, or empty where the clock was not set."""
    given_ms: int
    planned_ms: int
    from_strip: str = ""
    """Id of the strip sheet whose pick made its recipe version."""


class SessionLine(Frozen):
    """An evening's work."""

    began: str
    sheets: tuple[SheetLine, ...]


class Outline(Frozen):
    """What a list of sessions needs of a sheet: its line, when it was worked, and what leads to it and from it."""

    line: SheetLine
    opened: When
    ended: When
    source: str
    version: int
    picked: tuple[tuple[str, int], ...] = ()
    """The versions of recipes that its picks went into."""


def outline(sheet: SheetRecord) -> Outline:
    """Return a record's outline."""
    return Outline(
        line=SheetLine(
            id=sheet.id,
            number=sheet.number,
            title=sheet.plan.title,
            kind="strip" if sheet.plan.kind == "strip" else "recipe",
            outcome=sheet.outcome,
            opened=_label(sheet.opened),
            given_ms=sum(step.given_most_ms for step in sheet.steps),
            planned_ms=sum(step.step.planned_ms for step in sheet.steps),
        ),
        opened=sheet.opened,
        ended=sheet.ended,
        source=sheet.plan.source,
        version=sheet.plan.version,
        picked=tuple((pick.recipe, pick.recipe_version) for pick in sheet.picks if pick.recipe),
    )


def session_lines(newest_first: Iterable[Outline], limit: int) -> tuple[SessionLine, ...]:
    """Return the newest `limit` sessions, newest first, of which no more outlines are read than are in them.

    Sheets stand newest last, with a thread from a strip to the prints of what was picked from it.
    """
    groups: list[list[Outline]] = []
    for one in newest_first:
        if not groups or not one_session(one, groups[-1][-1]):
            if len(groups) == limit:
                break
            groups.append([])
        groups[-1].append(one)
    made_by = {made: one.line.id for group in groups for one in reversed(group) for made in one.picked}
    return tuple(
        SessionLine(
            began=_label(group[-1].opened),
            sheets=tuple(
                one.line.model_copy(update={"from_strip": made_by.get((one.source, one.version), "")})
                for one in reversed(group)
            ),
        )
        for group in groups
    )


def _label(opened: When) -> str:
    return opened.wall if opened.synchronised else ""


SESSION_GAP_HOURS: Final = 4
"""So long without light, and the next sheet begins another session."""


def one_session(earlier: SheetRecord | Outline, later: SheetRecord | Outline) -> bool:
    """Tell whether a sheet belongs to the session of the sheet before it: four hours without light begin another.

    Within a boot the monotonic clock measures them. Across boots only the wall's clock can, and where it was
    not set on both sides nothing is known: the new boot then begins a session.
    """
    return _hours_between(earlier.ended, later.opened) < SESSION_GAP_HOURS


def _hours_between(earlier: When, later: When) -> float:
    if earlier.boot == later.boot:
        return (later.at_ns - earlier.at_ns) / 3.6e12
    if earlier.synchronised and later.synchronised:
        return (wall.moment(later.wall) - wall.moment(earlier.wall)).total_seconds() / 3600
    return SESSION_GAP_HOURS
