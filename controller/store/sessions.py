"""A session's sheets as short lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, Literal

from controller import wall
from controller.model import Frozen
from controller.store.entries import Picked
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


def session_lines(found: Iterable[Session]) -> tuple[SessionLine, ...]:
    """Return sessions as lists of short lines, sheets newest last, with a thread from a strip to its prints."""
    groups = tuple(found)
    made_by = {
        (pick.recipe, pick.recipe_version): sheet.id
        for session in groups
        for sheet in session.sheets
        for pick in sheet.picks
        if pick.recipe
    }
    return tuple(
        SessionLine(
            began=_label(session.sheets[0]),
            sheets=tuple(
                SheetLine(
                    id=sheet.id,
                    number=sheet.number,
                    title=sheet.plan.title,
                    kind="strip" if sheet.plan.kind == "strip" else "recipe",
                    outcome=sheet.outcome,
                    opened=_label(sheet),
                    given_ms=sum(step.given_most_ms for step in sheet.steps),
                    planned_ms=sum(step.step.planned_ms for step in sheet.steps),
                    from_strip=made_by.get((sheet.plan.source, sheet.plan.version), ""),
                )
                for sheet in session.sheets
            ),
        )
        for session in groups
    )


def _label(sheet: SheetRecord) -> str:
    return sheet.opened.wall if sheet.opened.synchronised else ""


SESSION_GAP_HOURS: Final = 4
"""So long without light, and the next sheet begins another session."""


class Session(Frozen):
    """Sheets worked in one go, in order."""

    sheets: tuple[SheetRecord, ...]

    @property
    def opened(self) -> When:
        """Its first light."""
        return self.sheets[0].opened

    @property
    def totals(self) -> Totals:
        """The counts of its sheets."""
        outcomes = [sheet.outcome for sheet in self.sheets]
        return Totals(
            sheets=len(self.sheets),
            complete=outcomes.count("complete"),
            spoiled=outcomes.count("spoiled"),
            open=outcomes.count("open"),
            strips=sum(sheet.plan.kind == "strip" for sheet in self.sheets),
            lit_ms=sum(sheet.lit_ms for sheet in self.sheets),
        )


class Totals(Frozen):
    """What a session came to."""

    sheets: int
    complete: int
    spoiled: int
    open: int
    strips: int
    lit_ms: int


class Thread(Frozen):
    """From a strip to the prints that used it: the pick, and the sheets of the recipe version it went into."""

    strip: str
    pick: Picked
    prints: tuple[str, ...]


def sessions(records: Iterable[SheetRecord]) -> tuple[Session, ...]:
    """Return sheets, given in order, as sessions: four hours without light begin another.

    Within a boot the monotonic clock measures them. Across boots only the wall's clock can, and where it was
    not set on both sides nothing is known: the new boot then begins a session.
    """
    groups: list[list[SheetRecord]] = []
    for record in records:
        if groups and one_session(groups[-1][-1], record):
            groups[-1].append(record)
        else:
            groups.append([record])
    return tuple(Session(sheets=tuple(group)) for group in groups)


def one_session(earlier: SheetRecord, later: SheetRecord) -> bool:
    """Tell whether a sheet belongs to the session of the sheet before it."""
    return _hours_between(earlier.ended, later.opened) < SESSION_GAP_HOURS


def threads(records: Sequence[SheetRecord]) -> tuple[Thread, ...]:
    """Return, for every pick that went into a recipe, the sheets printed from that very version of it."""
    return tuple(
        Thread(
            strip=strip.id,
            pick=pick,
            prints=tuple(
                record.id
                for record in records
                if (record.plan.source, record.plan.version) == (pick.recipe, pick.recipe_version)
            ),
        )
        for strip in records
        for pick in strip.picks
        if pick.recipe
    )


def _hours_between(earlier: When, later: When) -> float:
    if earlier.boot == later.boot:
        return (later.at_ns - earlier.at_ns) / 3.6e12
    if earlier.synchronised and later.synchronised:
        return (wall.moment(later.wall) - wall.moment(earlier.wall)).total_seconds() / 3600
    return SESSION_GAP_HOURS
