"""The lights of a print: of a pair alone, or of a recipe with its burns and dodges, as its own compiler gives them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from controller.contrast.how_it_looked import usual_wish
from controller.errors import Impossible
from controller.preview.orders import GRID_SIDE, Light, Lit
from controller.recipe.plan import Hands, Plan, Step, StepKind
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper
    from controller.preview.orders import Tie

THIRD: Final = Fraction(1, 3)
Pair = tuple[Decimal, Decimal]
"""Seconds through soft and through hard, to 0.1 s; 0 for none."""
_WHOLE: Final = frozenset({StepKind.BASE, StepKind.OPEN})
_LEAST: Final = Decimal("0.1")


def of_pair(soft: float, hard: float) -> tuple[Lit, ...]:
    """Return the lights of a straight print."""
    lights: tuple[tuple[Light, float], ...] = (("soft", soft), ("hard", hard))
    return tuple(Lit(light=light, seconds=seconds) for light, seconds in lights if seconds)


def of_plan(plan: Plan, which: Callable[[str], Light | None]) -> tuple[Lit, ...]:
    """Return the lights of a recipe's steps, and of the flash that its paper had before them.

    `which` tells by its name which of the two a filter is.

    Raises:
        Impossible: one of them goes through another filter.
    """
    steps = tuple(lit for step in plan.steps for lit in _with_masks(step, which(step.filter), plan.title))
    return (*_beforehand(plan, which), *steps)


def _beforehand(plan: Plan, which: Callable[[str], Light | None]) -> Sequence[Lit]:
    flashed = plan.flashed
    if flashed is None:
        return ()
    light = which(flashed.filter)
    if light is None:
        raise Impossible(say("contrast.other-filter", title=plan.title, filter=flashed.filter))
    return (Lit(light=light, seconds=flashed.planned_ms / 1000, way="opal" if flashed.opal else "bare"),)


def _with_masks(step: Step, light: Light | None, title: str) -> Sequence[Lit]:
    found, masked = _of_step(step, light, title), tuple(each for each in step.in_place if each != step.area)
    return [lit.model_copy(update={"masked": masked}) for lit in found] if masked else found


def _of_step(step: Step, light: Light | None, title: str) -> Sequence[Lit]:
    if light is None:
        raise Impossible(say("contrast.other-filter", title=title, filter=step.filter or "–"))
    seconds = step.planned_ms / 1000
    match step.act:
        case StepKind.PART:
            return (Lit(light=light, seconds=seconds, way="past", areas=(step.area,)),)
        case StepKind.RUNNING:
            return _running(step, light)
        case StepKind.BURN:
            return (Lit(light=light, seconds=seconds, way="hole", areas=(step.area,)),)
        case StepKind.EDGE:
            return (Lit(light=light, seconds=seconds, way="edge", areas=(step.edge or "top",)),)
        case StepKind.FLASH:
            return (Lit(light=light, seconds=seconds, way="opal" if step.hands is Hands.OPAL_IN else "bare"),)
        case _:
            return (Lit(light=light, seconds=seconds),)


def _running(step: Step, light: Light) -> Sequence[Lit]:
    """Return a light in which dodgers go in and out, as the spans between its cues."""
    found: list[Lit] = []
    inside: set[str] = set()
    begun = 0
    for mark in (*step.marks, None):
        at = step.planned_ms if mark is None else mark.at_ms
        if at > begun:
            way: dict[str, object] = {"way": "past", "areas": tuple(sorted(inside))} if inside else {}
            found.append(Lit.model_validate({"light": light, "seconds": (at - begun) / 1000} | way))
        begun = max(begun, at)
        if mark is not None and mark.area:
            (inside.add if mark.cue == "dodger in" else inside.discard)(mark.area)
    return found


def letters_in(prints: Sequence[Lit]) -> tuple[str, ...]:
    """Return the letters of the areas that lights are given to, or kept from, each once."""
    named = ((*(lit.areas if lit.way in ("past", "hole") else ()), *lit.masked) for lit in prints)
    return tuple(dict.fromkeys(letter for each in named for letter in each))


def round_a_pair(pair: Pair, stop: Fraction = THIRD) -> tuple[tuple[Pair, ...], ...]:
    """Return five by five pairs round one, `stop` apart: rows soft, from less to more, columns hard.

    Each to 0.1 s; a light that is none stays none, so that all its rows or columns are alike.
    """
    rows = [[_moved(each, stop * (n - GRID_SIDE // 2)) for n in range(GRID_SIDE)] for each in pair]
    return tuple(tuple((soft, hard) for hard in rows[1]) for soft in rows[0])


def _moved(seconds: Decimal, stops: Fraction) -> Decimal:
    if not seconds or not stops:
        return seconds
    return max(_LEAST, Decimal(str(float(seconds) * 2.0 ** float(stops))).quantize(_LEAST, "ROUND_HALF_UP"))


def tenths(seconds: float) -> Decimal:
    """Return seconds as a pair has them: to 0.1 s."""
    return (Decimal(int(seconds * 10.0 + 0.5)) / 10).quantize(Decimal("0.1"))


def proposed(paper: Paper, ties: tuple[Tie, ...], factor: float) -> Pair:
    """Return the pair that puts the denser tone where a highlight belongs, and the thinner where a shadow does."""
    from controller.paper.solver import Reached, Tone, soft_hard

    wish, (light, dark) = usual_wish(paper), sorted(ties, key=lambda tie: -tie.density)
    found = soft_hard(paper, Tone(light.density, wish.light), Tone(dark.density, wish.dark))
    best = found.pair if isinstance(found, Reached) else found.nearest
    pair = tenths(best.soft_seconds * factor), tenths(best.hard_seconds * factor)
    return pair if any(pair) else (Decimal("0.1"), Decimal(0))
