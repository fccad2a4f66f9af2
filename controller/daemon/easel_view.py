"""Readings at the easel as a page shows them: a line for each spot, and what its burn or dodge is called."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from controller.easel.plan import ReadingsName
from controller.easel.spots import letter_of
from controller.easel.two_tones import Fallen
from controller.exposure.stops import seconds_text
from controller.model import Frozen
from controller.paper.graphs import Curves
from controller.paper.paper import Paper, Reference
from controller.paper.tones import tone_words
from controller.recipe.recipe import Burn, Dodge
from controller.store.easel_rows import SpotRead
from controller.words import say

STEP: Final = {"light": 0.02, "dark": 0.05}
"""By how much a tap on − or + wishes a tone otherwise: a light one is seen in smaller steps."""
DARK_FROM: Final = 0.8


class SpotLine(Frozen):
    """A spot on the page: where it falls, what is wished, and the burn or dodge that brings it there, in words."""

    letter: str
    name: str
    density: float
    doubt: float
    """The standard deviation of `density`, as the counts scatter."""
    print_density: float
    words: str
    wanted: float | None
    less: float
    more: float
    """What − and + would wish."""
    work: str = ""
    why: str = ""


class EaselView(Frozen):
    """Everything the page shows. Seconds are None before two spots are there, or where something stands against it."""

    paper: str
    source: str
    sensor: bool
    running: ReadingsName | None
    outcome: str
    """Why the last spot could not be measured."""
    reference: Reference | None
    new_reference: SpotRead | None
    """An empty light that was measured and is not the paper's reference yet."""
    spots: tuple[SpotLine, ...] = ()
    wishes: tuple[tuple[str, float], ...] = ()
    soft: Decimal | None = None
    hard: Decimal | None = None
    range: int = 0
    one: str = ""
    """Of one spot: what soft light alone would take."""
    why: str = ""
    """Why there are no seconds, or only the nearest."""
    offset: float = 0.0
    gain: str = ""
    """What was reckoned with where spots went through another gain than the reference, in a sentence."""
    curves: Curves | None = None
    works: int = 0


def line_of(paper: Paper, each: Fallen, doubt: float) -> SpotLine:
    """Return a spot as the page shows it."""
    spot, work = each.spot, each.work
    wished = each.print_density if spot.wanted is None else spot.wanted
    step = STEP["dark" if wished > DARK_FROM else "light"]
    words = ""
    if work is not None:
        stops = f"{abs(work.stops):.2f}"
        seconds = f"{work.seconds:.1f}"
        words = say(f"easel.work-{work.act}", filter=work.filter, stops=stops, seconds=seconds)
    return SpotLine(
        letter=letter_of(spot.name),
        name=spot.name,
        density=spot.density,
        doubt=doubt,
        print_density=each.print_density,
        words=tone_words(each.print_density, paper.dmin, paper.dmax),
        wanted=spot.wanted,
        less=round(max(paper.dmin + 0.01, wished - step), 2),
        more=round(min(paper.dmax - 0.01, wished + step), 2),
        work=words,
        why=each.why,
    )


def work_of(each: Fallen) -> Burn | Dodge:
    """Return the burn or dodge of a spot for a recipe: in twelfths of a stop, under its letter."""
    work = each.work
    assert work is not None
    area = what = each.spot.name
    stops = f"{max(1, round(abs(work.stops) * 12))}/12"
    if work.act == "burn":
        return Burn(act="burn", area=area, what=what, filter=work.filter, stops=stops)
    return Dodge(act="dodge", area=area, what=what, filter=work.filter, stops=stops)


def tenths(seconds: float) -> Decimal:
    """Return seconds as they are typed and lit: to 0.1 s."""
    return Decimal(seconds_text(int(seconds * 10.0 + 0.5) * 100))
