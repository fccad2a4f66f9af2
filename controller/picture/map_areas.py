"""Where the areas of a recipe's steps lie on its print, for its printing map."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.picture.frames import frames_on, open_box, outlines_on, pixels_per_mm
from controller.picture.negatives import INVENTED
from controller.picture.scene import negatives_named, scene_for

if TYPE_CHECKING:
    from controller.picture.negatives import Outline
    from controller.recipe.plan import Step
    from controller.recipe.recipe import Recipe, Tool

_PIXELS: Final = 20_000
"""Outlines need no more."""


@dataclass(frozen=True)
class PrintAreas:
    """The outlines on a print: what the easel leaves open, `across` by `down` mm; places are shares of it."""

    negative: str
    """The practice negative's short name; empty where it is a print of the printer's own."""
    across: float
    down: float
    outlines: tuple[tuple[str, Outline], ...]
    """(letter, outline); what lies outside the print is cut off."""


def map_letters(steps: Iterable[Step]) -> tuple[str, ...]:
    """Return the letters of the areas that steps work on, or that a mask keeps from their light, each once."""
    named = (
        letter for step in steps for letter in (step.area, *(mark.area for mark in step.marks), *step.tools) if letter
    )
    return tuple(dict.fromkeys(named))


def map_of(
    tools: Iterable[Tool], on_negative: Mapping[str, Outline], letters: Iterable[str], sides: tuple[float, float]
) -> PrintAreas | None:
    """Return the outlines of the areas `letters`, as a recipe's tools have them, else as its negative has.

    `sides` are the print's width and height; None where not one of the areas is drawn.
    """
    own = {tool.letter: tuple((float(x), float(y)) for x, y in tool.outline) for tool in tools if tool.outline}
    known = {**on_negative, **own}
    found = tuple((letter, known[letter]) for letter in letters if letter in known)
    return PrintAreas("", *sides, found) if found else None


def print_areas(recipe: Recipe, negative: str, letters: Iterable[str]) -> PrintAreas | None:
    """Return the outlines of the areas `letters`; None where `negative` is no invented one."""
    if negative not in INVENTED:
        return None
    scene = scene_for(recipe, negatives_named(negative), pixels=_PIXELS)
    left, top, right, bottom = open_box(scene)
    frames, per_mm = frames_on(scene), pixels_per_mm(scene)
    found = []
    for letter in dict.fromkeys(letters):
        for outline in outlines_on(letter, scene, frames):
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
