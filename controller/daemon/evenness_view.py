"""Evenness as a page shows it: the map, what it says, and the edge burns that mend it, in words and for a recipe."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from string import ascii_uppercase
from typing import TYPE_CHECKING, Final

from controller.easel.one_light import seconds_for
from controller.errors import ControllerError, Impossible
from controller.exposure.stops import round_ms
from controller.model import Frozen
from controller.paper.paper import seconds_factor
from controller.paper.typical import typical
from controller.recipe.fields import BOTH
from controller.recipe.recipe import EdgeBurn, Recipe
from controller.recipe.strip_templates import make
from controller.trials import evenness
from controller.trials.evenness import PLACES, SIDES, Judged, Place, Side, Stand, Way, place_words
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from controller.daemon.enlarger_shelf import EnlargerShelf
    from controller.paper.paper import Paper
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.recipe.strip import Strip
    from controller.store.easel_rows import SpotRead


GREY_DENSITY: Final = 0.7
"""A middle grey's print density."""
USUAL_S: Final = 8.0
LEAST_S, MOST_S = 1.0, 30.0
"""Between these a strip's middle band lies: an empty carrier is bright."""
HALF: Final = Fraction(1, 2)


SET_UP: Final = ("magnification", "aperture", "focal_mm", "negative_format")


@dataclass(frozen=True, slots=True)
class Draft:
    """The last map, before it is kept; `readings` are the last ones there were when it was made."""

    way: Way
    stops: dict[Place, float]
    bench: AtEnlarger
    readings: str
    steady: bool = False
    sheet: str = ""


class MapView(Frozen):
    """A map as the page shows it."""

    way: Way
    stops: dict[Place, float]
    outcome: str
    covered: bool
    fresh: bool
    """It is not kept yet."""
    burns: tuple[tuple[Side, int], ...] = ()
    """Twelfths of a stop on each edge."""
    left: float = 0.0
    """Stops by which the worst place is off with them."""
    no_burn: str = ""
    turned: bool = True
    """Whether it matters where the picture's head lies."""


class EvennessView(Frozen):
    """Everything the page shows."""

    running: bool
    sensor: bool
    outcome: str
    """Why the last place could not be measured."""
    stand: str
    """What is known of lens, size and negative."""
    lacking: bool
    map: MapView | None = None
    why: str = ""
    """Why there is no map of what was measured."""
    recipe: str = ""
    """The title of the recipe that edge burns would go into."""


def probed(rows: list[SpotRead]) -> Draft:
    """Return the map of what a probe measured in one go.

    Raises:
        Impossible: a place is missing, they were counted through different gains, or they cannot be so.
    """
    bench = rows[0].bench
    if any(getattr(row.bench, name) != getattr(bench, name) for row in rows for name in SET_UP):
        raise Impossible(say("evenness.set-up"))
    by_words: dict[str, Place] = {place_words(place): place for place in PLACES}
    if len({row.gain for row in rows}) > 1:
        raise Impossible(say("evenness.gains"))
    levels: dict[Place, float] = {by_words[row.spot]: row.level for row in rows if row.spot in by_words}
    again = next((row.level for row in reversed(rows) if row.spot == say("evenness.place-again")), None)
    return Draft("probe", evenness.stops_at(levels, again), bench, rows[0].readings, steady=again is not None)


def standing(bench: AtEnlarger, enlargers: EnlargerShelf) -> Stand:
    """Return what is known of the enlarger: as it stands, and what its own figures say beside."""
    focal, source = bench.focal_mm, ""
    if bench.enlarger:
        with suppress(ControllerError):
            enlarger = enlargers.fetch(bench.enlarger)
            source = enlarger.light_source
            focal = focal or (None if enlarger.focal_mm is None else float(enlarger.focal_mm))
    return Stand(bench.magnification, focal, bench.aperture, bench.negative_format, source)  # type: ignore[arg-type]


def map_view(way: Way, stops: dict[Place, float], outcome: str, *, covered: bool, fresh: bool) -> MapView:
    """Return a map with the edge burns that mend it; where light ends nothing is burnt."""
    about = MapView(way=way, stops=stops, outcome=outcome, covered=covered, fresh=fresh)
    if not covered:
        return about
    try:
        burns = evenness.edge_burns(stops)
    except Impossible as problem:
        return about.model_copy(update={"no_burn": str(problem)})
    left = max(map(abs, evenness.burnt(stops, burns).values()))
    turned = burns.get("far", 0) != burns.get("near", 0) or burns.get("left", 0) != burns.get("right", 0)
    told = tuple((side, burns[side]) for side in SIDES if side in burns)
    return about.model_copy(update={"burns": told, "left": left, "turned": turned})


def grey_strip(bench: AtEnlarger, paper: Paper, longest_ms: int) -> Strip:
    """Return the strip whose middle grey through hard is printed on a whole sheet: seven bands by halves.

    On a paper that is read its middle band is to be that grey, by the paper's own light and what size and aperture
    make of it; on any other it is eight seconds.
    """
    seconds = USUAL_S
    if paper != typical():
        factor, _ = seconds_factor(paper, bench.magnification, bench.aperture)
        seconds = factor * seconds_for(paper, "hard", 0.0, GREY_DENSITY)
    centre_ms = round_ms(Fraction(1000 * min(max(seconds, LEAST_S), MOST_S)))
    made = make("first", bench, centre_ms=centre_ms, filter_name="hard", step=HALF, bands=7, longest_ms=longest_ms)
    return made.model_copy(update={"title": say("evenness.strip-title"), "negative": None, "template": None})


def edge_work(recipe: Recipe, burns: Mapping[Side, int], head: Side, what: str) -> tuple[EdgeBurn, ...]:
    """Return the edge burns of a recipe: those of one strength together, through all that it has for a base."""
    by_edge = evenness.as_it_lies(burns, head)
    taken = {work.area for work in recipe.local}
    letters = (letter for letter in reversed(ascii_uppercase) if letter not in taken)
    through = recipe.light[0].filter if len(recipe.light) == 1 else BOTH
    return tuple(
        EdgeBurn(
            act="edge burn",
            area=next(letters),
            what=what,
            filter=through,
            stops=f"{twelfths}/12",
            edges=tuple(edge for edge in ("top", "right", "bottom", "left") if by_edge.get(edge) == twelfths),
        )
        for twelfths in sorted(set(by_edge.values()), reverse=True)
    )


# ---- in words


def said(judged: Judged, stand: Stand) -> str:
    """Return what a map says, as a sentence."""
    key, figures = outcome_of(judged, stand)
    return say(key, **figures)


def outcome_of(judged: Judged, stand: Stand) -> tuple[str, dict[str, str]]:
    """Return the sentence of what a map says: its key, and what it is filled in with."""
    figures = {"place": _capital(place_words(judged.worst)), "stops": _stops(judged.worst_stops)}
    match judged.cause:
        case "lens":
            natural = judged.natural or 0.0
            less = judged.worst_stops > natural + evenness.AS_THE_LENS
            return f"evenness.outcome-{'less' if less else 'lens'}", figures | {"natural": _stops(natural)}
        case "uneven" if judged.natural is None:
            return "evenness.outcome-uneven-unknown", figures
        case "uneven":
            return "evenness.outcome-uneven", figures | {"natural": _stops(judged.natural or 0.0)}
        case "one side":
            return "evenness.outcome-one-side", figures | {"side": say(f"evenness.side-{judged.side}")}
        case "light source" | "short lens":
            return _ends(judged, stand)
        case "shaded":
            return "evenness.outcome-shaded", {"places": ", ".join(map(place_words, judged.ended))}
        case cause:
            return f"evenness.outcome-{cause}", figures if cause == "even" else {}


def _ends(judged: Judged, stand: Stand) -> tuple[str, dict[str, str]]:
    low, high = judged.circle_mm or (0.0, 0.0)
    figures = {
        "format": stand.negative_format.replace("x", "×"),
        "diagonal": f"{stand.diagonal_mm or 0.0:.0f}",
        "circle": say("evenness.circle", low=f"{low:.0f}", high=f"{high:.0f}"),
    }
    if judged.cause == "short lens":
        return "evenness.outcome-short-lens", figures | {"focal": f"{stand.focal_mm or 0.0:g}"}
    fits = " " + say("evenness.fits", name=judged.fits.replace("x", "×")) if judged.fits else ""
    which = "condenser" if stand.light_source == "condenser" else "light-source"
    return f"evenness.outcome-{which}", figures | {"fits": fits}


def stand_words(stand: Stand) -> str:
    """Return what is known of the enlarger, in one line."""
    known = (
        "" if stand.focal_mm is None else say("evenness.stand-lens", focal=f"{stand.focal_mm:g}"),
        "" if stand.magnification is None else say("evenness.stand-size", m=f"{stand.magnification:g}"),
        "" if stand.aperture is None else say("evenness.stand-aperture", f_number=f"{stand.aperture:g}"),
        stand.negative_format.replace("x", "×"),
        say(f"evenness.stand-{stand.light_source}") if stand.light_source else "",
    )
    return " · ".join(each for each in known if each)


def _stops(stops: float) -> str:
    return f"{stops:+.2f}".replace("-", "−")


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
