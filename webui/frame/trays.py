"""The prints in the trays as the faces show them: where each lies, for how long, what comes next, when light may come.

Times go to a page as moments of the daemon's clock: what is counted down there is counted by the script, from word to
word; without scripts it stands as it was when the page was made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from controller.trays.journey import WAITS_NS
from controller.words import say, say_many
from hardware.clock import NS_PER_MS
from webui.wording import clock

if TYPE_CHECKING:
    from controller.foot.status import PlaceName, PrintNow, Status

BUSY: Final[frozenset[PlaceName]] = frozenset(
    {"lead-in", "light", "gap", "white light?", "white-light warning", "focus light", "fault"}
)
"""Places where something stands before every tray, with no sheet open too."""
_SECOND_NS: Final = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Span:
    """Something that goes from one moment to another, in ms of the daemon's clock, as it stands when it is painted."""

    from_ms: int
    until_ms: int
    left: str
    """As a clock shows it, by the process's own clock."""
    share: int
    """How much of it is over, in hundredths."""
    hurry: int = 1
    """So many seconds of the process go by in one."""


@dataclass(frozen=True, slots=True)
class Dish:
    """One tray of a print's way, as it is drawn from left to right."""

    name: str
    state: Literal["had", "now", "ahead"]


@dataclass(frozen=True, slots=True)
class Lies:
    """One print in the trays."""

    number: int
    tray: str
    span: Span | None
    """None: it waits for a press."""
    then: str
    """What comes next, in words; empty where its tray says so itself."""
    ask: str
    dishes: tuple[Dish, ...]


@dataclass(frozen=True, slots=True)
class White:
    """When white light may come: at a moment, or after a press."""

    words: str
    """With % for the time, where there is one."""
    span: Span | None


@dataclass(frozen=True, slots=True)
class Safe:
    """The safelight's minutes that are left."""

    words: str
    span: Span


@dataclass(frozen=True, slots=True)
class Trays:
    """What a face shows of the wet side."""

    leads: bool
    """It is the large thing: nothing can be lit at the easel, or nothing is to be."""
    prints: tuple[Lies, ...]
    """The newest first: it is the one that white light waits for."""
    white: White | None


def trays_of(status: Status) -> Trays:
    """Return what the faces show of the prints in the trays."""
    prints = tuple(_lies(each, status) for each in reversed(status.prints))
    return Trays(leads=_leads(status), prints=prints, white=None if status.open else _white(status))


def safe_of(status: Status, safe_minutes: float) -> Safe | None:
    """Return the safe minutes that are left; None where they are untested, or nothing undeveloped lies out."""
    left_s = status.safe_left_s
    if left_s is None:
        return None
    until_ns = status.at_ns + left_s * _SECOND_NS
    whole_ns = max(round(safe_minutes * 60), left_s) * _SECOND_NS
    return Safe(safe_words(left_s), _span(until_ns - whole_ns, until_ns, status.at_ns))


def safe_words(left_s: int) -> str:
    """Return how long paper is still safe, in whole minutes: nobody tested it to the second."""
    if left_s < 60:
        return say("trays.safe-under" if left_s else "trays.safe-over")
    return say_many("page.safe", left_s // 60)


def _leads(status: Status) -> bool:
    """Tell whether the trays are the large thing: the newest print is not fixed yet, or the easel wants nothing."""
    if not status.prints or status.open or status.place in BUSY:
        return False
    return not status.prints[-1].in_fix or status.next is None


def _lies(each: PrintNow, status: Status) -> Lies:
    return Lies(
        number=each.number,
        tray=tray_words(each.tray),
        span=None if each.until_ns is None else _span(each.entered_ns, each.until_ns, status.at_ns, status.hurry),
        then=_then(each),
        ask=each.ask,
        dishes=tuple(
            Dish(tray_words(name), "had" if at < each.at else "now" if at == each.at else "ahead")
            for at, name in enumerate(each.way)
            if at  # the way from the easel is no tray
        ),
    )


def _then(each: PrintNow) -> str:
    if each.at + 1 == len(each.way):
        return say("trays.then-out")
    return "" if each.tray == "on its way" else say("trays.then", tray=tray_words(each.way[each.at + 1]))


def tray_words(name: str) -> str:
    """Return a tray as it is called: "developer", "first fix"."""
    return say(f"trays.name-{name.replace(' ', '-')}")


def _white(status: Status) -> White | None:
    from_ns = status.white_from_ns
    if from_ns is None:
        return None
    if from_ns >= WAITS_NS:
        return White(say("trays.face-waits"), None)
    return White(say("trays.face-white", left="%"), _span(status.at_ns, from_ns, status.at_ns, status.hurry))


def white_refused(status: Status) -> str:
    """Return why there is no white page now for the trays' sake, with what is left; empty where they are not why."""
    from_ns = status.white_from_ns
    if from_ns is None or status.open:
        return ""
    if from_ns >= WAITS_NS:
        return f"{why_refused(status)} {say('trays.face-waits')}."
    left = _left(from_ns - status.at_ns, status.hurry)
    return f"{why_refused(status)} {say('trays.face-white', left=left)}."


def why_refused(status: Status) -> str:
    """Return what white light waits for, without the time."""
    return say("trays.day-refused" if status.prints else "trays.day-refused-unknown")


def _span(from_ns: int, until_ns: int, at_ns: int, hurry: int = 1) -> Span:
    whole_ns, over_ns = max(1, until_ns - from_ns), min(max(0, at_ns - from_ns), until_ns - from_ns)
    return Span(
        from_ns // NS_PER_MS, until_ns // NS_PER_MS, _left(until_ns - at_ns, hurry), 100 * over_ns // whole_ns, hurry
    )


def _left(left_ns: int, hurry: int) -> str:
    """Return what is left as a clock that counts down shows it: a second that has begun is still there."""
    return clock(-(-max(0, left_ns) * hurry // _SECOND_NS) * 1000)
