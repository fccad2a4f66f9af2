"""Sessions: sheets that were worked in one go, as lists of short lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final, Literal

from pydantic import Field

from controller import wall
from controller.model import Frozen
from controller.store.records import SheetRecord, When
from controller.store.said_of_sheets import Picked


class ThreadEnd(Frozen):
    """A sheet at the other end of a thread."""

    id: str
    number: int


class Thread(Frozen):
    """Where a sheet comes from: `controller.store.threads` finds it."""

    strip: ThreadEnd | None = None
    """The strip whose pick went into a print's recipe, last before the version it was made by."""
    before: ThreadEnd | None = None
    """The sheet that it follows: that strip, or a later print of the same recipe."""


class SheetLine(Frozen):
    """A sheet in a session's list."""

    id: str
    number: int
    title: str
    kind: Literal["recipe", "strip", "flashed"]
    """Flashed: sheets that had their flash beforehand, and no picture."""
    outcome: Literal["complete", "spoiled", "open"]
    opened: str
    """Wall time as ISO text, or empty where the clock was not set."""
    given_ms: int
    planned_ms: int
    picks: tuple[Picked, ...] = ()
    photograph: str = Field(default="", exclude_if=lambda photograph: not photograph)
    """The hash of the small photograph of its dry print; empty where there is none."""
    thread: Thread = Thread()


class SessionLine(Frozen):
    """An evening's work."""

    began: str
    sheets: tuple[SheetLine, ...]


class SheetsPage(Frozen):
    """Sessions, newest first, as far as one page shows them, and where the pages beside it begin."""

    sessions: tuple[SessionLine, ...]
    older: int | None = None
    """The place below which the next page lies."""
    newer: int | None = None
    """The place above which the page before lies; None on the newest."""


class Outline(Frozen):
    """What a list of sessions needs of a sheet: its line, when it was worked, and what it was made by."""

    line: SheetLine
    opened: When
    ended: When
    source: str
    version: int


def outline(sheet: SheetRecord) -> Outline:
    """Return a record's outline."""
    return Outline(
        line=SheetLine(
            id=sheet.id,
            number=sheet.number,
            title=sheet.plan.title,
            kind="flashed" if sheet.plan.flashes_sheets else "strip" if sheet.plan.kind == "strip" else "recipe",
            outcome=sheet.outcome,
            opened=_label(sheet.opened),
            given_ms=sum(step.given_most_ms for step in sheet.steps),
            planned_ms=sum(step.step.planned_ms for step in sheet.steps),
            picks=sheet.picks,
            photograph=sheet.photograph.small if sheet.photograph else "",
        ),
        opened=sheet.opened,
        ended=sheet.ended,
        source=sheet.plan.source,
        version=sheet.plan.version,
    )


def cut(
    ordered: Iterable[tuple[int, Outline]], least: int, most: int, *, up: bool = False
) -> tuple[list[tuple[int, Outline]], bool]:
    """Return the first sheets up to the end of a session, and whether more follow: `least` at least, `most` at most.

    They come newest first, or `up`, oldest first. No more are read than is needed to tell.
    """
    taken: list[tuple[int, Outline]] = []
    for place, one in ordered:
        if len(taken) == most:
            return taken, True
        if len(taken) >= least:
            last = taken[-1][1]
            if not (one_session(last, one) if up else one_session(one, last)):
                return taken, True
        taken.append((place, one))
    return taken, False


def session_lines(newest_first: Iterable[Outline], threads: Mapping[str, Thread]) -> tuple[SessionLine, ...]:
    """Return the sessions of these sheets, newest first; in each they stand newest last, with their threads."""
    groups: list[list[Outline]] = []
    for one in newest_first:
        if not groups or not one_session(one, groups[-1][-1]):
            groups.append([])
        groups[-1].append(one)
    return tuple(
        SessionLine(
            began=_label(group[-1].opened),
            sheets=tuple(
                one.line.model_copy(update={"thread": threads.get(one.line.id, Thread())}) for one in reversed(group)
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
