"""The picture of a test strip: bands in their expected grey, the way of the card, and the pulses in order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import accumulate
from math import exp2, log2
from typing import Final

from controller.recipe.plan import StripPlan
from controller.words import say, say_many
from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, width_of
from webui.wording import seconds

_CARD: Final = 26.0
_BAND: Final = 66.0
_ROW: Final = 76.0
"""A row of the standing strip: 12 mm on a phone, so that a thumb finds it."""


@dataclass(frozen=True)
class Choice:
    """The place on a strip that a printer points at: a band, or the line between it and the next."""

    band: int
    between: bool = False


def expected_density(plan: StripPlan, band: int) -> float:
    """Return a likely print density of `band` (from 1), for the eye only: no paper is that well known.

    A logistic curve through density 0.6 at the middle band with 1.7 densities a stop at its steepest part,
    dense end 2.1, paper white 0.05: the common shape of printing paper, not any one paper.
    """
    base = plan.base_ms or 0
    middle = plan.totals_ms[len(plan.totals_ms) // 2] + base
    total = plan.totals_ms[band - 1] + base
    stops = log2(max(total, 1) / max(middle, 1))
    return 0.05 + 2.05 / (1 + exp2(1.44 - 1.9 * stops))


def strip_picture(plan: StripPlan, *, ident: str, face: Face = Face.DAY, chosen: Choice | None = None) -> Picture:
    """Draw a strip lying down: card, bands with their seconds, the pulses on a line beneath in the order given.

    `ident` begins every id in the picture; `chosen` is marked. Works for 2 to 24 bands.
    """
    drawing = Drawing(ident, face)
    _draw_card(drawing, plan)
    _draw_bands(drawing, plan, chosen)
    y = _CARD + _BAND
    if chosen is not None:
        y = _draw_choice(drawing, plan, chosen, y)
    height = _draw_pulses(drawing, plan, y + 12)
    return drawing.finish(height, strip_words(plan))


def strip_words(plan: StripPlan) -> str:
    """Return what the strip's picture shows, as one sentence."""
    totals = ", ".join(seconds(total) for total in plan.totals_ms)
    return say_many(f"shelf.strip-picture-{plan.card}", len(plan.totals_ms), filter=plan.filter, totals=totals)


def _draw_card(drawing: Drawing, plan: StripPlan) -> None:
    """Draw a little card and the arrow of its travel above the strip."""
    ink, paper = drawing.face.ink, drawing.face.paper
    forward = plan.card != "uncover"
    step = WIDTH / len(plan.totals_ms)
    card = max(20.0, min(step, 40.0))
    left = 0.75 if forward else WIDTH - card - 0.75
    drawing.rect(left, 3, card, 14, fill=paper, stroke=ink, thick=1.5)
    if plan.card == "window":
        drawing.rect(left + card / 2 - 4, 6, 8, 8, fill=ink)
    word = say(f"shelf.card-way-{plan.card}")
    run = width_of(word, 11)
    y = 10.0
    tail, tip = (left + card + 6, WIDTH - 4) if forward else (left - 6, 4.0)
    sign = 1 if forward else -1
    middle = (tail + tip) / 2
    drawing.line(tail, y, middle - sign * (run / 2 + 4), y, stroke=ink, thick=1.2)
    drawing.text(middle, y + 4, word, size=11, anchor="middle")
    drawing.line(middle + sign * (run / 2 + 4), y, tip - sign * 4, y, stroke=ink, thick=1.2)
    drawing.path(f"M{tip:.2f} {y}l{-sign * 8} -4v8z", fill=ink)


def _draw_bands(drawing: Drawing, plan: StripPlan, chosen: Choice | None) -> None:
    count = len(plan.totals_ms)
    step = (WIDTH - 2) / count
    words = [band_words(plan, band) for band in range(1, count + 1)]
    size = 13.0
    lying = max(width_of(word, size, bold=True) for word in words) <= step - 3
    if not lying:
        size = min(13.0, step - 1.5)
    for band, word in enumerate(words, start=1):
        left = 1 + (band - 1) * step
        density = expected_density(plan, band)
        drawing.rect(left, _CARD, step, _BAND, fill=drawing.face.grey(density), stroke=drawing.face.ink, thick=0.75)
        on = drawing.face.on_grey(density)
        middle = left + step / 2
        if lying:
            drawing.text(middle, _CARD + _BAND / 2 + 5, word, size=size, anchor="middle", bold=True, fill=on)
            if plan.stops and step >= 34:
                stops = stops_text(plan.stops[band - 1])
                drawing.text(middle, _CARD + _BAND / 2 + 22, stops, size=11, anchor="middle", fill=on)
        else:
            drawing.text(middle, _CARD + _BAND / 2, word, size=size, bold=True, fill=on, upright=True)
    # The nick that a printer cuts at band 1, so that the strip's ends can be told apart in the tray.
    drawing.path(f"M0 {_CARD - 1}h11l-11 11z", fill=drawing.face.paper)
    drawing.path(f"M11 {_CARD}l-10 10", stroke=drawing.face.ink, thick=1)
    if chosen is not None and not chosen.between:
        drawing.rect(1 + (chosen.band - 1) * step, _CARD, step, _BAND, stroke=drawing.face.ink, thick=4)
    elif chosen is not None:
        x = 1 + chosen.band * step
        drawing.line(x, _CARD - 5, x, _CARD + _BAND + 5, thick=4)


def band_words(plan: StripPlan, band: int) -> str:
    """Return the seconds that stand in `band`: its total, or what it got over the base, with a plus."""
    total = seconds(plan.totals_ms[band - 1])
    if plan.kind == "burn":
        return f"+{total}" if plan.totals_ms[band - 1] else "0"
    return total


def _draw_choice(drawing: Drawing, plan: StripPlan, chosen: Choice, y: float) -> float:
    step = (WIDTH - 2) / len(plan.totals_ms)
    x = 1 + (chosen.band - (0 if chosen.between else 0.5)) * step
    word = say("shelf.picked-between" if chosen.between else "shelf.picked")
    half = width_of(word, 11, bold=True) / 2
    drawing.text(min(max(x, half), WIDTH - half), y + 15, word, size=11, anchor="middle", bold=True)
    return y + 18


def pulses_in_order(plan: StripPlan) -> tuple[tuple[int, ...], bool]:
    """Return the spans in ms from one move of the card to the next, and whether it is all one light."""
    if plan.pace != "long":
        return plan.pulses_ms, False
    rising = plan.totals_ms
    spans = [later - sooner for sooner, later in zip((0, *rising), rising, strict=False)]
    if plan.card == "uncover":
        spans.reverse()
    return tuple(span for span in spans if span > 0), True


def _draw_pulses(drawing: Drawing, plan: StripPlan, y: float) -> float:
    """Draw the lights as boxes along a line, their length to scale, their seconds beneath; return the foot."""
    spans, one_light = pulses_in_order(plan)
    if not spans:
        return y
    face = drawing.face
    gap = 0.0 if one_light else 4.0 if len(spans) <= 12 else 2.0
    scale = (WIDTH - 2 - gap * (len(spans) - 1)) / sum(spans)
    heading = say("shelf.pulses-long" if one_light else "shelf.pulses")
    drawing.text(0, y + 10, heading, size=11, fill=face.faint)
    top = y + 18
    lefts = list(accumulate((span * scale + gap for span in spans), initial=1.0))
    for span, left in zip(spans, lefts, strict=False):
        drawing.rect(left, top, span * scale, 14, fill=drawing.texture(plan.filter), stroke=face.ink, thick=1)
    drawing.line(0, top + 14, WIDTH, top + 14, thick=1)
    if one_light:
        moves = list(accumulate(spans[:-1]))
        words = [seconds(at) for at in moves]
        wanted = lefts[1 : len(moves) + 1]
    else:
        words = [seconds(span) for span in spans]
        wanted = [left + span * scale / 2 for span, left in zip(spans, lefts, strict=False)]
    return _draw_labels(drawing, words, wanted, top + 14)


def _draw_labels(drawing: Drawing, words: list[str], wanted: list[float], y: float) -> float:
    """Write a label under each wanted place, pushed apart where they would touch; return the foot."""
    size = 11.0
    runs = [width_of(word, size) + 3 for word in words]
    upright = sum(runs) > WIDTH
    if upright:
        size = min(11.0, (WIDTH - 4) / len(words) / 1.2)
        tall = max(width_of(word, size) for word in words)
        runs = [size * 1.04] * len(words)
    places = spread(wanted, runs, WIDTH)
    for word, at, want in zip(words, places, wanted, strict=True):
        drawing.line(want, y, at, y + 5, stroke=drawing.face.faint, thick=0.75)
        if upright:
            drawing.text(at, y + 7 + tall / 2, word, size=size, upright=True)
        else:
            drawing.text(at, y + 16, word, size=size, anchor="middle")
    return y + (9 + tall if upright else 20)


def spread(wanted: list[float], runs: list[float], width: float) -> list[float]:
    """Return centres near `wanted`, in order, where labels `runs` wide do not touch and stay within `width`.

    Their sum must not be above `width`.
    """
    places: list[float] = []
    edge = 0.0
    for want, run in zip(wanted, runs, strict=True):
        at = max(want, edge + run / 2)
        places.append(at)
        edge = at + run / 2
    edge = width
    for number in range(len(places) - 1, -1, -1):
        places[number] = min(places[number], edge - runs[number] / 2)
        edge = places[number] - runs[number] / 2
    return places


def standing_strip(
    plan: StripPlan,
    *,
    ident: str,
    address: Callable[[Choice], str],
    between: Callable[[int], str],
    chosen: Choice | None = None,
    face: Face = Face.DAY,
) -> Picture:
    """Draw a strip stood on end, every band and every line between two of them a place to tap.

    `address` gives where a tap leads; `between` gives the words for the line after a band.
    """
    drawing = Drawing(ident, face)
    count = len(plan.totals_ms)
    edge, tab = 164.0, 178.0
    top = 1.0
    for band in range(1, count + 1):
        here = Choice(band)
        density = expected_density(plan, band)
        on = face.on_grey(density)
        y = top + (band - 1) * _ROW
        drawing.open_link(address(here), band_label(plan, band), chosen=chosen == here)
        drawing.rect(1, y, edge - 1, _ROW, fill=face.grey(density), stroke=face.ink, thick=0.75)
        drawing.text(14, y + _ROW / 2 + 4, str(band), size=13, fill=on)
        base = y + _ROW / 2 + (2 if plan.stops else 7)
        drawing.text(edge - 14, base, band_words(plan, band), size=21, anchor="end", bold=True, fill=on)
        if plan.stops:
            drawing.text(edge - 14, base + 20, stops_text(plan.stops[band - 1]), size=13, anchor="end", fill=on)
        drawing.close_link()
    drawing.path(f"M0 {top - 1}h15l-15 15z", fill=face.paper)
    drawing.path(f"M15 {top}l-14 14", stroke=face.ink)
    for band in range(1, count):
        here = Choice(band, between=True)
        y = top + band * _ROW
        picked = chosen == here
        drawing.open_link(address(here), say("shelf.between-label", one=band, two=band + 1), chosen=picked)
        drawing.rect(tab, y - _ROW / 2 + 2, WIDTH - tab - 1, _ROW - 4, fill=face.paper, stroke=face.faint, thick=1)
        drawing.line(edge, y, tab, y, stroke=face.faint)
        drawing.text((tab + WIDTH) / 2, y - 4, say("shelf.between"), size=12, anchor="middle", fill=face.faint)
        drawing.text((tab + WIDTH) / 2, y + 15, between(band), size=16, anchor="middle", bold=picked)
        if picked:
            drawing.rect(tab, y - _ROW / 2 + 2, WIDTH - tab - 2, _ROW - 4, stroke=face.ink, thick=4)
        drawing.close_link()
    if chosen is not None and not chosen.between:
        y = top + (chosen.band - 1) * _ROW
        drawing.rect(3, y + 2, edge - 5, _ROW - 4, stroke=face.paper, thick=2)
        drawing.rect(1, y, edge - 1, _ROW, stroke=face.ink, thick=4)
    return drawing.finish(count * _ROW + 2, strip_words(plan), role="group")


def band_label(plan: StripPlan, band: int) -> str:
    """Return what a tappable band says to someone who cannot see it."""
    return say("shelf.band-label", band=band, seconds=band_words(plan, band))


def stops_text(text: str) -> str:
    """Return stops as the trade writes them: a plus or a real minus sign, "0" alone."""
    bare = text.strip().lstrip("+").replace("-", "−")
    return bare if bare == "0" or bare.startswith("−") else f"+{bare}"
