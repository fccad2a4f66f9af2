"""What has moved on a paper since a recipe was printed last: another box, or the lamp by its check. Pure.

The recipe's times follow at its next use and never by themselves: what is reckoned here is offered, with a check strip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from controller.carry.changes import FilterStops
from controller.model import Frozen
from controller.paper.paper import Paper, SpeedChange
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.recipe import Recipe
from controller.recipe.strip_templates import HARD, SOFT
from controller.store.entries import LampChecked
from controller.store.said_of_sheets import LightChange

TWELFTHS: Final = 12
LEAST_STOPS: Final = 1 / 12
"""A lamp that has moved by less than this has not moved: its check is not surer."""


class PaperThen(Frozen):
    """Paper and lamp as a recipe's times were right for: those of its last sheet, or of what was offered since."""

    paper: str = ""
    """Its id on the shelf, and below it its name; both empty where it is not known."""
    paper_title: str = ""
    paper_version: int | None = None
    """Which version of its readings was the last then."""
    box: str = ""
    enlarger: str = ""
    lamp: float | None = None
    """What the lamp's check counted a second, by `sensor`; None where it was never checked."""
    sensor: str = ""

    @staticmethod
    def of(bench: AtEnlarger, lamp: LampChecked | None) -> PaperThen:
        """Return what stands, with the lamp as it was checked last."""
        return PaperThen(
            paper=bench.paper,
            paper_title=bench.paper_title,
            paper_version=bench.paper_version,
            box=bench.box,
            enlarger=bench.enlarger,
            lamp=None if lamp is None else lamp.level,
            sensor="" if lamp is None else lamp.sensor,
        )

    def same_paper(self, other: PaperThen) -> bool:
        """Tell whether it is the same paper, of whatever box."""
        if self.paper and other.paper:
            return self.paper == other.paper
        return bool(self.paper_title) and self.paper_title.casefold() == other.paper_title.casefold()


class Moved(Frozen):
    """What has moved, and how much more (+) or less light each filter wants for it, in stops."""

    box: str = ""
    """The new box; empty where it is the same."""
    box_known: bool = False
    """How fast it is was read."""
    lamp_stops: float = 0.0
    """How much stronger the lamp is; 0 where it has not moved."""
    stops: tuple[FilterStops, ...]


def lamp_before(checks: Iterable[tuple[int, LampChecked]], row: int) -> LampChecked | None:
    """Return the last check of the lamp that was filed before a row; `checks` are in their order."""
    return next((check for at, check in reversed(list(checks)) if at < row), None)


def moved(recipe: Recipe, then: PaperThen, now: PaperThen, before: Paper | None, after: Paper | None) -> Moved | None:
    """Return what has moved, or None.

    `before` and `after` are the readings of the paper as they were then and are now, where they are kept.
    Times go by what they are for: a paper that is faster by a stop, or a lamp that is stronger by one, wants half.
    """
    if not then.same_paper(now):
        return None
    another = bool(then.box and now.box and then.box != now.box)
    speed = _speed(then, now, before, after) if another else None
    lamp = _lamp_stops(then, now)
    soft, hard = speed or (0.0, 0.0)
    wanted = {name: -(_of_filter(name, recipe, soft, hard) + lamp) for name in recipe.filter_names()}
    stops = tuple(
        FilterStops(filter=name, stops=round(more * TWELFTHS) / TWELFTHS + 0.0) for name, more in wanted.items()
    )
    if not another and not any(each.stops for each in stops):
        return None
    return Moved(box=now.box if another else "", box_known=speed is not None, lamp_stops=lamp, stops=stops)


def changes_of(recipe: Recipe, found: Moved, exponent: float = 1.0) -> tuple[LightChange, ...]:
    """Return what becomes of each base, beside its stops; nothing where no time changes.

    `exponent` is the paper's for long light: its stops of light take 1/p of them in time, as in `carry`.
    """
    stops = {each.filter: each.stops / exponent for each in found.stops}
    return tuple(
        LightChange(
            filter=light.filter,
            before=float(light.seconds),
            after=round(float(light.seconds) * 2.0 ** stops[light.filter], 1),
            twelfths=stops[light.filter] * TWELFTHS,
        )
        for light in recipe.light
        if stops[light.filter]
    )


def _lamp_stops(then: PaperThen, now: PaperThen) -> float:
    """Return how much stronger the lamp is; levels of two sensors, or of two enlargers' lamps, tell nothing."""
    known = then.lamp is not None and now.lamp is not None and then.sensor == now.sensor
    if not known or then.enlarger != now.enlarger:
        return 0.0
    assert then.lamp is not None
    assert now.lamp is not None
    stops = math.log2(now.lamp / then.lamp)
    return stops if round(abs(stops), 9) >= round(LEAST_STOPS, 9) else 0.0


def _speed(then: PaperThen, now: PaperThen, before: Paper | None, after: Paper | None) -> tuple[float, float] | None:
    """Return how much faster the new box is, to either light, in stops; None where nobody read it."""
    if before is None or after is None:
        return None
    new, old = _until(after.speeds, now.box), _until(before.speeds, then.box)
    if old is None and (then.paper_version is None or (not before.speeds and before.box.label in ("", then.box))):
        old = ()  # the box of the readings themselves
    if new is None or old is None:
        return None
    soft, hard = (
        sum(getattr(each, light) for each in new) - sum(getattr(each, light) for each in old)
        for light in ("soft_stops", "hard_stops")
    )
    return soft, hard


def _until(speeds: tuple[SpeedChange, ...], box: str) -> tuple[SpeedChange, ...] | None:
    """Return every change of speed up to the last one of a box; None where it has none."""
    last = max((n for n, each in enumerate(speeds, 1) if each.box.label == box), default=None)
    return None if last is None else speeds[:last]


def _of_filter(name: str, recipe: Recipe, soft: float, hard: float) -> float:
    """Return how much faster the paper is through one filter: one between soft and hard stands in their middle."""
    written = recipe.filters
    if name in (SOFT, written.soft if written else None):
        return soft
    if name in (HARD, written.hard if written else None):
        return hard
    return (soft + hard) / 2.0
