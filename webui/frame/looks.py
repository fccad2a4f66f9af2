"""How a sheet looked, in words: the seven of each tone, what was said, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.words import say
from webui.wording import filter_called

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.daemon.desk import Desk
    from controller.foot.status import Status
    from controller.store.said_of_sheets import LightChange, Looked

LOOKS: Final = range(-3, 4)
"""From far too light, over right, to far too dark."""


@dataclass(frozen=True, slots=True)
class Looking:
    """The sheet that was closed last: how it looked is asked, or what came of that is said."""

    sheet: str
    number: int
    asked: bool
    said: tuple[str, ...] = ()


def looking_of(of: Desk, status: Status) -> Looking | None:
    """Return the print that was closed last, where there is one and nothing else is under way."""
    if not status.closed_sheet or status.open or status.stop_possible:
        return None
    record = of.record(status.closed_sheet)
    if record.plan.kind != "recipe":
        return None
    if record.looked:
        return Looking(record.id, record.number, asked=False, said=said_of(record.looked[-1]))
    return Looking(record.id, record.number, asked=True) if of.contrast().can_be_looked_at(record) else None


def look_words(look: int) -> str:
    """Return a look as it is read: "a little light", "right"."""
    side = "light" if look < 0 else "dark"
    return say(f"page.look-{abs(look)}-{side}" if look else "page.look-right")


def said_of(looked: Looked) -> tuple[str, ...]:
    """Return what was said of a sheet and what came of it, a line each."""
    said = say("page.looked-said", light=look_words(looked.light), dark=look_words(looked.dark))
    return (said, *changes_of(looked.changes), *([looked.why] if looked.why else []))


def changes_of(changes: Sequence[LightChange]) -> tuple[str, ...]:
    """Return what a look changes, a line each light; that nothing is changed, where it is so."""
    if not changes:
        return (say("page.looked-unchanged"),)
    return tuple(
        say(
            "page.looked-change"
            if change.before and change.after
            else "page.looked-new"
            if change.after
            else "page.looked-gone",
            filter=filter_called(change.filter),
            before=f"{change.before:.1f}",
            after=f"{change.after:.1f}",
            stops=signed_stops(change.twelfths),
        )
        for change in changes
    )


def signed_stops(twelfths: float) -> str:
    """Return a change in stops to a hundredth, with its sign: "+0.21", "−0.38"."""
    return f"{'−' if twelfths < 0 else '+'}{abs(twelfths) / 12:.2f}"
