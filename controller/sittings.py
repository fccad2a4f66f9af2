"""Sessions as short lines for a list; pure."""

from __future__ import annotations

from collections.abc import Iterable

from controller.face import SessionLine, SheetLine
from controller.records import SheetRecord
from controller.sessions import Session


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
