"""A recipe's tools as the preview lays them into the light: where each lies, and how soft its edge is."""

from __future__ import annotations

from collections.abc import Mapping

from controller.errors import Impossible
from controller.exposure.penumbra import penumbra
from controller.preview.orders import DrawnArea
from controller.recipe.recipe import Recipe, Tool


def drawn_areas(recipe: Recipe, known: Mapping[str, DrawnArea]) -> dict[str, DrawnArea]:
    """Return the areas of a recipe's tools by their letters; one without an outline takes that of `known`."""
    found = {}
    for tool in recipe.tools:
        before = known.get(tool.letter)
        own = tuple((float(x), float(y)) for x, y in tool.outline or ())
        if own or before is not None:
            outline = own or (before.outline if before else ())
            spread = spread_share(recipe, tool)
            found[tool.letter] = DrawnArea(letter=tool.letter, outline=outline, still=tool.stays, spread=spread)
    return found


def spread_share(recipe: Recipe, tool: Tool) -> float:
    """Return the standard deviation of a tool's half-shadow as a share of the image's longer side.

    0 where its height, the lens, the magnification or the image's size is not known, or it would be over the lens.
    """
    lens, m, image = recipe.lens, recipe.magnification, recipe.image_mm
    if not tool.height_mm or lens is None or lens.focal_mm is None or lens.aperture is None or not m or not image:
        return 0.0
    try:
        found = penumbra(float(tool.height_mm), float(lens.focal_mm), float(lens.aperture), float(m))
    except Impossible:
        return 0.0
    return min(1.0, found.spread_mm / float(image[0]))
