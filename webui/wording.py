"""How a filter is called where its name stands alone."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Literal

from controller.words import has, say

if TYPE_CHECKING:
    from controller.foot.status import NextStep, Status


def filter_called(name: str) -> str:
    """Return a filter as it is read where it stands alone: "soft", and "filter 2", for a lone number says nothing."""
    return say("page.filter", filter=name) if name[:1].isdigit() else name


Texture = Literal["soft", "hard", "other"]


def seconds(ms: int) -> str:
    """Return milliseconds as seconds to 0.1 s, half up: 10149 is "10.1"."""
    tenths = (abs(ms) + 50) // 100
    return f"{'−' if ms < 0 and tenths else ''}{tenths // 10}.{tenths % 10}"


def span(least_ms: int, most_ms: int) -> str:
    """Return what was given, as one figure or as "2.1 to 4.6"."""
    least, most = seconds(least_ms), seconds(most_ms)
    return least if least == most else say("page.from-to", least=least, most=most)


def called(step: NextStep) -> str:
    """Return a step's verb with its area, the first thing to be read: "burn A", "base"."""
    return f"{step.verb} {step.area}".strip()


def texture_of(filter_name: str) -> Texture:
    """Return the class of a filter's texture."""
    match filter_name:
        case "soft" | "hard":
            return filter_name
    return "other"


def lit_line(status: Status) -> str:
    """Return the one line a page may show while the lamp is lit; empty where it is not."""
    if status.lit is None:
        return ""
    if status.lit.kind == "step" and status.next is not None:
        return say("page.lit-step", what=called(status.next), filter=filter_called(status.next.filter))
    return say(f"page.lit-{status.lit.kind}")


def known(key: str, else_key: str) -> str:
    """Return the words of `key`, or of `else_key` where the catalogue has none."""
    return say(key if has(key) else else_key)


def moment(wall: str) -> str:
    """Return a wall time as day and hour where this machine stands, or what to say where the clock was not set."""
    try:
        at = datetime.fromisoformat(wall)
    except ValueError:
        return say("page.clock-not-set")
    return f"{at.astimezone() if at.tzinfo else at:%Y-%m-%d %H:%M}"


def refusal_for(code: int) -> str:
    """Return the sentence for a refusal of the protocol's own, such as 404."""
    return known(f"page.refused-{code}", "page.refused-other")
