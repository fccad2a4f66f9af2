"""A paper to look at: its curves with the negative's tones as lettered flags, and what soft and hard can reach.

Pure functions from a paper to SVG text. Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.model import Frozen
from controller.paper.drawing import LETTERING, WIDTH, Drawing, Face, Texture, fits
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.solver import Reached, reach
from controller.paper.tones import tone_words
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper
    from controller.paper.solver import Answer, Tone

LOG_STOP: Final = float(np.log10(2.0))
LEFT: Final = 32.0
RIGHT: Final = WIDTH - 14.0
TOP: Final = 26.0
FLOOR: Final = 210.0
ROW: Final = 18
STOPS_ACROSS: Final = 10
"""Stops of light across: the whole of a soft curve."""
MOST_FLAGS: Final = 12
LIGHT_ACROSS: Final = 0.9
"""Density of the lightest tones that anyone aims a highlight at."""
_REACHES: Final = tuple((side, far) for far in (20.0, 34.0, 48.0, 62.0, 76.0) for side in (-1.0, 1.0))
_LETTERS: Final = "ABCDEFGHIJKL"


class NamedTone(Frozen):
    """A tone of the negative, as the printer calls it; moved by a dodge (−) or a burn (+) of so many stops."""

    name: str
    negative_density: float
    moved_stops: float = 0.0


@dataclass(frozen=True)
class _Scales:
    """Where values stand on the picture: `across` from `low` to `high`, `up` from none to `most`."""

    low: float
    high: float
    most: float

    def x(self, value: float) -> float:
        return LEFT + (RIGHT - LEFT) * (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)

    def y(self, value: float) -> float:
        return FLOOR - (FLOOR - TOP) * min(max(value, 0.0), self.most) / self.most

    def points(self, across: np.ndarray, up: np.ndarray) -> list[tuple[float, float]]:
        return [(self.x(float(a)), self.y(float(u))) for a, u in zip(across, up, strict=True)]


def curves_picture(
    paper: Paper, soft_seconds: float, hard_seconds: float, tones: tuple[NamedTone, ...], face: Face
) -> str:
    """Return the characteristic curves of soft, hard and both, the tones as lettered flags on the curve of both.

    Across: light on the paper in stops, more to the right. Up: print density. A dodge is an arrow to the left,
    a burn one to the right. At most twelve tones; the words and densities of each stand below.
    """
    mix = mixture(paper)
    tones = tones[:MOST_FLAGS]
    negatives = np.array([tone.negative_density for tone in tones])
    printed = densities(mix, soft_seconds, hard_seconds, negatives).tolist() if tones else []
    rows = [
        say(
            "paper.picture-tone",
            letter=letter,
            name=fits(tone.name, 110),
            words=tone_words(density, mix.dmin, mix.dmax),
            density=f"{density:.2f}",
        )
        for letter, tone, density in zip(_LETTERS, tones, printed, strict=False)
    ]
    legend_at = int(FLOOR) + 2 * ROW
    title = say("paper.picture-curves", paper=paper.name)
    drawing = Drawing(legend_at + ROW * len(rows) + 10, face, title, "; ".join(rows) or title)
    half = (mix.dmin + mix.dmax) / 2.0
    middle = -float(thinnest(mix, soft_seconds, hard_seconds, half)) / LOG_STOP
    scales = _Scales(middle - STOPS_ACROSS / 2, middle + STOPS_ACROSS / 2, _ceiling(mix.dmax))
    _frame(drawing, scales, say("paper.picture-up"), say("paper.picture-stops"))
    for stop in range(STOPS_ACROSS + 1):
        x = scales.x(scales.low + stop)
        drawing.line([(x, FLOOR), (x, FLOOR + 4)], "hair")
    lights: list[tuple[str, Texture, float, float]] = [("both", "whole", soft_seconds, hard_seconds)]
    if soft_seconds and hard_seconds:
        lights += [("soft", "dotted", soft_seconds, 0.0), ("hard", "dashed", 0.0, hard_seconds)]
    stops = np.linspace(scales.low, scales.high, 121)
    for _, texture, soft, hard in lights:
        drawing.line(scales.points(stops, densities(mix, soft, hard, -stops * LOG_STOP)), texture)
    _legend(drawing, [(name, texture) for name, texture, _, _ in lights], legend_at)
    spots = scales.points(-negatives / LOG_STOP, np.array(printed))
    for spot, place, tone, letter in zip(spots, _flag_places(spots), tones, _LETTERS, strict=False):
        # The pole ends short of the letter, so that it does not strike it through.
        short = 1.0 - (LETTERING * 0.6) / float(np.hypot(place[0] - spot[0], place[1] - spot[1]))
        pole = spot[0] + (place[0] - spot[0]) * short, spot[1] + (place[1] - spot[1]) * short
        drawing.line([spot, pole], "hair")
        drawing.dot(*spot, 2.5)
        if tone.moved_stops:
            drawing.arrow(*spot, scales.x(tone.moved_stops - tone.negative_density / LOG_STOP))
        drawing.words(place[0], place[1] + 4, letter, "middle", bold=True)
    for n, row in enumerate(rows, 1):
        drawing.words(6, legend_at + ROW * n, fits(row, WIDTH - 8))
    return drawing.text()


def reach_picture(paper: Paper, light: Tone, dark: Tone, answer: Answer, face: Face) -> str:
    """Return what soft and hard can do with a light and a dark tone of a negative, what was wanted, and what comes.

    Across: the light tone's print density. Up: the dark tone's. All soft is the dotted edge, all hard the dashed
    one; between them everything can be had.
    """
    mix = mixture(paper)
    pair = answer.pair if isinstance(answer, Reached) else answer.nearest
    sentence = say("paper.reach-had") if isinstance(answer, Reached) else answer.sentence
    told = [*_wrapped(sentence), *_wrapped(_comes(pair.soft_seconds, pair.hard_seconds, pair.predicted))]
    legend_at = int(FLOOR) + 3 * ROW
    title = say("paper.picture-reach", paper=paper.name)
    drawing = Drawing(legend_at + ROW * len(told) + 10, face, title, " ".join(told))
    # Light tones alone are looked at closely: past them soft and hard come together.
    right = _ceiling(max(LIGHT_ACROSS, light.print_density))
    scales = _Scales(0.0, right, _ceiling(max(mix.dmax, dark.print_density)))
    lights, softest, hardest = reach(paper, light.negative_density, dark.negative_density)
    shown = lights <= right
    lights, softest, hardest = lights[shown], softest[shown], hardest[shown]
    drawing.area([*scales.points(lights, softest), *scales.points(lights, hardest)[::-1]])
    _frame(drawing, scales, say("paper.picture-dark-tone"), say("paper.picture-light-tone"), FLOOR + 17 + ROW)
    for tenth in range(0, int(right * 10) + 1, 2):
        x = scales.x(tenth / 10.0)
        drawing.line([(x, FLOOR), (x, FLOOR + 4)], "hair")
        if tenth:
            drawing.words(x, FLOOR + 17, f"{tenth / 10.0:.1f}", "middle")
    drawing.line(scales.points(lights, softest), "dotted")
    drawing.line(scales.points(lights, hardest), "dashed")
    _legend(drawing, [("soft", "dotted"), ("hard", "dashed")], legend_at)
    wanted = (scales.x(light.print_density), scales.y(dark.print_density))
    comes = (scales.x(pair.predicted[0]), scales.y(pair.predicted[1]))
    if not isinstance(answer, Reached):
        drawing.line([wanted, comes], "hair")
        drawing.dot(*comes, 3.0)
    drawing.dot(*wanted, 6.0, filled=False)
    aside = wanted[0] < (LEFT + RIGHT) / 2
    drawing.words(
        wanted[0] + (11 if aside else -11), wanted[1] + 4, say("paper.picture-wanted"), "start" if aside else "end"
    )
    for n, row in enumerate(told, 1):
        drawing.words(6, legend_at + ROW * n, row)
    return drawing.text()


def _comes(soft: float, hard: float, predicted: tuple[float, float]) -> str:
    softly, hardly = f"{soft:.1f}", f"{hard:.1f}"
    comes = {"light": f"{predicted[0]:.2f}", "dark": f"{predicted[1]:.2f}"}
    if softly == "0.0":
        return say("paper.picture-comes-hard", hard=hardly, **comes)
    if hardly == "0.0":
        return say("paper.picture-comes-soft", soft=softly, **comes)
    return say("paper.picture-comes", soft=softly, hard=hardly, **comes)


def _ceiling(density: float) -> float:
    """Return the density at the top of a picture: the half above, with room for a flag."""
    return float(np.ceil((density + 0.1) * 2.0) / 2.0)


def _frame(drawing: Drawing, scales: _Scales, up: str, across: str, across_at: float = FLOOR + 17) -> None:
    """Draw the two scales, density up in halves, with their words."""
    drawing.line([(LEFT, TOP - 6), (LEFT, FLOOR), (RIGHT, FLOOR)], "hair")
    for half in range(int(scales.most * 2) + 1):
        y = scales.y(half / 2.0)
        drawing.line([(LEFT - 4, y), (LEFT, y)], "hair")
        drawing.words(LEFT - 7, y + 4, f"{half / 2.0:.1f}", "end")
    drawing.words(LEFT, TOP - 10, up)
    drawing.words(RIGHT, across_at, across, "end")


def _legend(drawing: Drawing, lights: list[tuple[str, Texture]], y: float) -> None:
    """Say which line is which light: its word beside a piece of it."""
    wide = (WIDTH - 12) / len(lights)
    for n, (name, texture) in enumerate(lights):
        x = 6 + n * wide
        drawing.line([(x, y - 4), (x + 26, y - 4)], texture)
        drawing.words(x + 32, y, say(f"paper.picture-{name}"))


def _flag_places(spots: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return where each flag's letter stands: beside its spot along the curve's normal, clear of all the others.

    The curve rises to the right, so up-left and down-right of a spot are its two free sides.
    """
    placed: list[tuple[float, float]] = []
    size = LETTERING + 2.0
    for x, y in spots:
        options = [(x + side * far * 0.6, y + side * far * 0.8) for side, far in _REACHES]
        inside = [(a, b) for a, b in options if LEFT + 8 < a < RIGHT - 6 and TOP < b < FLOOR - 10]
        free = [
            (a, b)
            for a, b in inside
            if all(abs(a - c) > size or abs(b - d) > size for c, d in placed)
            and all(abs(a - c) > size * 0.7 or abs(b - d) > size * 0.7 for c, d in spots)
        ]
        placed.append((free or inside or options)[0])
    return placed


def _wrapped(sentence: str) -> list[str]:
    """Return a sentence in lines that fit the picture."""
    lines = [""]
    for word in sentence.split():
        longer = f"{lines[-1]} {word}".strip()
        if fits(longer, WIDTH - 8) == longer:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
