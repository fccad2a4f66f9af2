"""What a tool's height does to its edge on the paper, in a sentence beside it."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from controller.errors import Impossible
from controller.exposure.penumbra import penumbra
from controller.words import say

if TYPE_CHECKING:
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.recipe.recipe import Recipe

Figure = Decimal | float | None


def edge_words(height_mm: Figure, focal_mm: Figure, f_number: Figure, magnification: Figure) -> str:
    """Return how a tool's edge falls; empty where its height is not known.

    Where lens, f-number or magnification are not known it says so; over the lens it says how high that hangs.
    """
    if height_mm is None:
        return ""
    if not height_mm:
        return say("shelf.penumbra-lies")
    if not focal_mm or not f_number or not magnification:
        return say("shelf.penumbra-unknown")
    try:
        found = penumbra(float(height_mm), float(focal_mm), float(f_number), float(magnification))
    except Impossible as error:
        return str(error)
    return say("shelf.penumbra", blur=f"{found.blur_mm:.1f}", share=round(100 / found.larger))


def tools_said(recipe: Recipe, bench: AtEnlarger | None = None) -> tuple[str, ...]:
    """Return a line for each tool of known height; what the recipe does not say of the lens, the enlarger does."""
    lens = recipe.lens
    focal: Figure = lens.focal_mm if lens else None
    f_number: Figure = lens.aperture if lens else None
    magnification: Figure = recipe.magnification
    if bench is not None:
        focal, f_number = focal or bench.focal_mm, f_number or bench.aperture
        magnification = magnification or bench.magnification
    return tuple(
        say(
            "shelf.penumbra-line",
            tool=f"{tool.letter} {tool.name}" if tool.name != tool.letter else tool.letter,
            height=f"{tool.height_mm:f}",
            edge=edge_words(tool.height_mm, focal, f_number, magnification),
        )
        for tool in recipe.tools
        if tool.height_mm is not None
    )
