"""Where a recipe's areas lie on the print of a practice negative, for its printing map."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.picture.frames import frames_on, open_box, outlines, pixels_per_mm
from controller.picture.negatives import INVENTED
from controller.picture.scene import negatives_named, scene_for

if TYPE_CHECKING:
    from controller.picture.negatives import Outline
    from controller.recipe.recipe import Recipe

_PIXELS: Final = 20_000
"""Outlines need no more."""


@dataclass(frozen=True)
class PrintAreas:
    """The outlines on a print: what the easel leaves open, `across` by `down` mm; places are shares of it."""

    negative: str
    """The practice negative's short name."""
    across: float
    down: float
    outlines: tuple[tuple[str, Outline], ...]
    """(letter, outline); what lies outside the print is cut off."""


def print_areas(recipe: Recipe, negative: str, letters: Iterable[str]) -> PrintAreas | None:
    """Return the outlines of the areas `letters`; None where `negative` is no invented one."""
    if negative not in INVENTED:
        return None
    scene = scene_for(recipe, negatives_named(negative), pixels=_PIXELS)
    left, top, right, bottom = open_box(scene)
    frames, per_mm = frames_on(scene), pixels_per_mm(scene)
    found = []
    for letter in dict.fromkeys(letters):
        for outline in outlines(letter, frames):
            shares = tuple(((x - left) / (right - left), (y - top) / (bottom - top)) for x, y in outline)
            if cut := _cut(shares):
                found.append((letter, cut))
    return PrintAreas(negative, (right - left) / per_mm, (bottom - top) / per_mm, tuple(found))


def _cut(outline: Outline) -> Outline:
    """Return what of an outline lies on the print, side by side (Sutherland and Hodgman, 1974)."""
    for axis in (0, 1):
        for limit, sign in ((0.0, 1.0), (1.0, -1.0)):
            outline = _cut_at(outline, axis, limit, sign)
    return outline


def _cut_at(outline: Outline, axis: int, limit: float, sign: float) -> Outline:
    kept = []
    for one, two in zip(outline, (*outline[1:], *outline[:1]), strict=True):
        inside, next_inside = sign * (one[axis] - limit) >= 0, sign * (two[axis] - limit) >= 0
        if inside:
            kept.append(one)
        if inside != next_inside:
            share = (limit - one[axis]) / (two[axis] - one[axis])
            kept.append((one[0] + share * (two[0] - one[0]), one[1] + share * (two[1] - one[1])))
    return tuple(kept)
