"""What the pages call a line of a recipe or strip: the third dodge or burn, area C."""

from __future__ import annotations

from controller.words import say
from webui.forms.recipe import RecipeForm
from webui.forms.strip import StripForm


def line_name(form: RecipeForm | StripForm, key: str, number: int) -> str:
    """Return the words for line `number` (from 0) of the document's list `key`; empty where no such line is shown."""
    match key:
        case "light":
            return say("shelf.nth-light", nth=_nth(number))
        case "local" if isinstance(form, RecipeForm) and number < len(form.work) and (area := form.work[number].area):
            return say("shelf.nth-work-area", nth=_nth(number), area=area)
        case "local":
            return say("shelf.nth-work", nth=_nth(number))
        case "under":
            return say("shelf.nth-under", nth=_nth(number))
        case "after":
            return say("shelf.nth-after", nth=_nth(number))
    return ""


def _nth(number: int) -> str:
    words = say("shelf.nths").split()
    return words[number] if number < len(words) else say("shelf.nth-more", number=number + 1)
