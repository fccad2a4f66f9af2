"""The trays in words: where each print lies, what is asked of the printer, and why there is no white light yet. Pure.

What counts seconds down is said anew whenever it is read, and is no part of what makes a snapshot another one.
"""

from __future__ import annotations

from typing import Any, Final

from controller.foot.places import NothingChosen, Ready, Settling, ToBeDone
from controller.foot.state import State
from controller.foot.status import PrintNow, Status, safe_left_s
from controller.foot.trays import awaited
from controller.trays.journey import WAITS_NS, Print
from controller.words import say

NOT_YET: Final = "trays.white-not-yet"
"""The key with which white light of any kind is refused while a print is in its way."""
_NS_PER_S: Final = 1_000_000_000


def prints_now(state: State) -> tuple[PrintNow, ...]:
    """Return where the prints lie that are followed, the newest last."""
    return tuple(
        PrintNow(
            number=print_.number,
            tray=print_.tray.name,
            way=tuple(tray.name for tray in print_.way),
            at=print_.at,
            entered_ns=print_.entered_ns,
            until_ns=print_.until_ns,
            ask=asked_words(print_),
            in_fix=print_.in_fix,
            lit_ns=print_.lit_ns,
        )
        for print_ in state.prints
    )


def asked_words(print_: Print) -> str:
    """Return the press that a print waits for, as a sentence; empty where it waits for none."""
    return say(f"trays.ask-{print_.asked.replace(' ', '-')}") if print_.asked else ""


def first_line(state: State) -> str:
    """Return what stands before what the easel asks for: the press that a print waits for, or that light has to wait.

    Empty where the easel's own line is true: filter and hands may be made ready while a print is developed.
    """
    if not isinstance(state.place, Ready | ToBeDone | NothingChosen | Settling):
        return ""
    if (print_ := awaited(state)) is not None:
        return asked_words(print_)
    return say("trays.place-wait") if isinstance(state.place, Ready) and state.light_waits else ""


def white_later(state: State) -> str:
    """Return that there is no white light yet, in words that hold until there is; empty where nothing is in its way."""
    return say("trays.white-later") if state.white_from_ns else ""


def white_words(white_from_ns: int | None, now_ns: int, *, followed: bool) -> str:
    """Return why there is no white light at `now_ns`, with the seconds left; empty where nothing is in its way."""
    if not white_from_ns or now_ns >= white_from_ns:
        return ""
    if white_from_ns >= WAITS_NS:
        return say("trays.white-waits")
    left_s = -((now_ns - white_from_ns) // _NS_PER_S)
    return say(NOT_YET if followed else "trays.white-by-time", seconds=left_s)


def as_of(status: Status, opened_ns: int | None, now_ns: int, safe_minutes: float) -> dict[str, Any]:
    """Return what of a snapshot is said anew at `now_ns`: seconds left of white light's waiting, and of safe minutes.

    `opened_ns` is when the open sheet had its first light; without one a print's counts until it is in the fix.
    """
    refused = white_words(status.white_from_ns, now_ns, followed=bool(status.prints))
    if opened_ns is None:
        opened_ns = next((one.lit_ns for one in reversed(status.prints) if not one.in_fix), None)
    left = None if opened_ns is None else safe_left_s(opened_ns, now_ns, safe_minutes)
    said: dict[str, Any] = {"at_ns": now_ns, "safe_left_s": left, "white_refused": refused}
    if status.white_refused and status.day_refused == status.white_refused:
        said["day_refused"] = refused
    return said
