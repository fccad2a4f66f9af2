"""How a filter is called where its name stands alone, how figures are read, and what stands at the enlarger."""

from __future__ import annotations

import re
from datetime import datetime
from typing import TYPE_CHECKING, Final, Literal

from markupsafe import Markup

from controller.recipe.asks import carrier_ask, tool_ask, tool_called
from controller.words import has, say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.foot.status import NextStep, Status
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.recipe.plan import Ask, Step
    from controller.recipe.recipe import Tool


def filter_called(name: str) -> str:
    """Return a filter as it is read where it stands alone: "soft", and "filter 2", for a lone number says nothing."""
    return say("page.filter", filter=name) if name[:1].isdigit() else name


def with_what(step: Step, tools: Sequence[Tool]) -> tuple[str, ...]:
    """Return what is held in a step's light and what the hands do with it; what stays was asked for before it."""
    held = [tool_called(tool) for tool in tools if tool.letter in step.tools and tool.letter not in step.in_place]
    return (*held, step.words) if step.words else tuple(held)


def asked_words(ask: Ask, tools: Sequence[Tool]) -> tuple[str, ...]:
    """Return an ask's words, then what it brings and takes where they do not say just that."""
    known = {tool.letter: tool for tool in tools}
    said = [carrier_ask(ask.carrier)] if ask.carrier else []
    said += [tool_ask(known[letter], out=False) for letter in ask.brings if letter in known]
    said += [tool_ask(known[letter], out=True) for letter in ask.takes if letter in known]
    return (ask.words, *(each.words for each in said if each.words != ask.words))


def carrier_words(bench: AtEnlarger) -> str:
    """Return what is in the carrier: "harbour crane, 4x5"; empty where it is not known."""
    return ", ".join(words for words in (bench.negative_title, bench.negative_format) if words)


def paper_words(bench: AtEnlarger) -> str:
    """Return which paper is out: "paper one, RC · box 12"; empty where it is not known."""
    return paper_and_box(bench.paper_title, bench.support, bench.box)


def paper_and_box(title: str, support: str, box: str) -> str:
    """Return a paper with its support and its box; empty where it has no name."""
    if not title:
        return ""
    paper = ", ".join(words for words in (title, support) if words)
    return " · ".join(words for words in (paper, box_words(box)) if words)


def box_words(box: str) -> str:
    """Return what is written on a box, said to be a box's: "box 12"; empty where it is not known."""
    return box if not box or "box" in box.casefold() else say("enlarger.box-of", box=box)


def setup_words(aperture: float | None, head_height_mm: float | None, *more: str) -> str:
    """Return how the enlarger stands: "f/8 · 620 mm", then what else is to be said; empty where nothing is known."""
    stands = (
        "" if aperture is None else say("enlarger.aperture-of", aperture=f"{aperture:g}"),
        "" if head_height_mm is None else say("enlarger.height-of", height=f"{head_height_mm:g}"),
    )
    return " · ".join(words for words in (*stands, *more) if words)


def whole_setup(bench: AtEnlarger) -> str:
    """Return how the enlarger stood, for a record: magnification and lens too."""
    magnification, focal = bench.magnification, bench.focal_mm
    return setup_words(
        bench.aperture,
        bench.head_height_mm,
        "" if magnification is None else say("enlarger.magnification-of", magnification=f"{magnification:.3g}"),
        "" if focal is None else say("enlarger.lens-of", focal=f"{focal:g}"),
    )


_PARTED: Final = re.compile(r"<[^>]*>|(?<=\d) (?=(?:m?s|[cm]?m|min|h|lx|V|°C|stops?)(?![\w’]))")
"""A tag, which stays as it is, or the space between a figure and its unit."""


def unparted(words: str) -> str:
    """Return words, or what stands in a heading, in which no line ends between a figure and its unit."""
    found = _PARTED.sub(lambda part: "\N{NO-BREAK SPACE}" if part[0] == " " else part[0], words)
    return Markup(found) if isinstance(words, Markup) else found  # noqa: S704 - as safe as it was given


Texture = Literal["soft", "hard", "other"]


def seconds(ms: int) -> str:
    """Return milliseconds as seconds to 0.1 s, half up: 10149 is "10.1"."""
    tenths = (abs(ms) + 50) // 100
    return f"{'−' if ms < 0 and tenths else ''}{tenths // 10}.{tenths % 10}"


def clock(ms: int) -> str:
    """Return milliseconds as a clock on a wall shows them, half up to a second: 90000 is "1:30"."""
    whole = (max(0, ms) + 500) // 1000
    return f"{whole // 60}:{whole % 60:02}"


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
