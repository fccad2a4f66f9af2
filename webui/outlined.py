"""Where a recipe's areas lie on its print, as far as the web room can know: in the practice darkroom alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.picture.map_areas import print_areas
from controller.recipes import Recipe
from webui.darkened import tray
from webui.pictures.map_outlines import letters_of
from webui.pictures.printing_map import local_steps

if TYPE_CHECKING:
    from controller.picture.map_areas import PrintAreas
    from controller.sheet import Plan
    from webui.review import Written


def areas_of(plan: Plan, written: Written) -> PrintAreas | None:
    """Return the areas' outlines where an invented negative lies in the practice darkroom's carrier; else None."""
    prints = tray()
    letters = [letter for step in local_steps(plan) for letter in letters_of(step)]
    if prints is None or not letters or not isinstance(written, Recipe):
        return None
    return print_areas(written, prints.scene().negative, letters)
