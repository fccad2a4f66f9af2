"""A flash as pages ask for it: none, a level that a threshold strip found, seconds, or the density it has by itself.

Also its fields in the form of a recipe, and of a strip that has it under its bands.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Final, Literal

from controller.contrast.asks import EnlargerStand, FlashAsk
from controller.contrast.flash_level import (
    SHARES,
    LevelStand,
    flash_from,
    flash_of_density,
    levels_on,
    light_of,
    stand_on,
)
from controller.errors import Impossible, NotThere, Unreadable
from controller.exposure.decimals import decimal_of, typed_text_of
from controller.model import Frozen
from controller.recipe.recipe import Recipe as RecipeModel
from controller.recipe.strip import STRIP
from controller.words import say
from webui.forms.form import Form, Tree, number
from webui.frame.context import desk

if TYPE_CHECKING:
    from controller.contrast.flash_level import FlashLevel, Share
    from controller.paper.paper import Paper
    from controller.recipe.recipe import Flash, Recipe
    from controller.recipe.strip import Strip
    from webui.forms.form import Fields

FLASH: Final = ("flash", "flash-seconds", "flash-density", "flash-through")
USUAL_SHEETS: Final = "5"
MOST_SHEETS: Final = 50


def flash_levels() -> tuple[FlashLevel, ...]:
    """Return the flash levels that threshold strips found lately, newest first, each sheet's last pick."""
    return levels_on(desk().record, desk().at_enlarger().enlargers().levels_picked())


def level_choices(paper: str) -> tuple[tuple[str, str], ...]:
    """Return the levels found on a paper, as a list offers them: what is sent, and what is read.

    Without a paper those found last, on whichever.
    """
    title = ""
    if paper:
        with suppress(NotThere, Unreadable):
            title = desk().contrast().paper(paper).name
    found = [level for level in flash_levels() if not paper or level.of(paper, title)]
    return tuple((f"{share} {level.sheet}", _words(level, share)) for level in found for share in SHARES)


@dataclass(frozen=True)
class FlashForm(Form):
    """A flash, as typed."""

    flash_seconds: str = ""
    flash_filter: str = ""
    flash_way: str = ""
    flash_beforehand: str = ""

    def flash(self) -> Tree:
        """Return the flash as the document has it; nothing where none is typed."""
        if not (self.flash_seconds or self.flash_filter):
            return {}
        beforehand = {"beforehand": True} if self.flash_beforehand else {}
        typed = {"seconds": number(self.flash_seconds), "filter": self.flash_filter, "way": self.flash_way}
        return typed | beforehand

    def flash_sum(self) -> str:
        """Return what is typed of it, in short."""
        if not self.flash_seconds:
            return ""
        return say("shelf.flash-sum-beforehand" if self.flash_beforehand else "shelf.flash-sum", s=self.flash_seconds)


def flash_fields(flash: Flash | None) -> dict[str, str]:
    """Return the fields of `FlashForm` that show a kept flash."""
    return {
        "flash_seconds": typed_text_of(flash.seconds if flash else None),
        "flash_filter": (flash.filter if flash else None) or "",
        "flash_way": flash.way if flash else "no negative",
        "flash_beforehand": "yes" if flash and flash.beforehand else "",
    }


def levels_of(paper_name: str) -> tuple[tuple[str, str], ...]:
    """Return the levels found on a paper of this name, as a form's buttons have them; of any paper without a name."""
    found = [level for level in flash_levels() if not paper_name or level.of("", paper_name)]
    return tuple((f"{share} {level.sheet}", _words(level, share)) for level in found for share in SHARES)


def sheets_to_flash(written: Recipe | Strip, sheets: str) -> str:
    """Return the document of a plan that flashes so many sheets as a recipe's flash is, one press each.

    Raises:
        Unreadable: it has no flash, as after an edit in another window; or what was typed is no such number.
    """
    flash = written.flash
    if flash is None:
        raise Unreadable(say("shelf.sheets-no-flash"), ("sheets",))
    first = written.light[0].filter if isinstance(written, RecipeModel) else written.filter
    name = flash.filter or first
    count = decimal_of(sheets)
    if count is None or count != int(count) or not 2 <= count <= MOST_SHEETS:
        raise Unreadable(say("shelf.sheets-no-number", most=MOST_SHEETS), ("sheets",))
    title = say("shelf.flash-sheets-title", sheets=int(count), seconds=typed_text_of(flash.seconds), filter=name)
    tree: Tree = {
        "format": STRIP,
        "title": title,
        "filter": name,
        "times": {"kind": "sheets", "seconds": float(flash.seconds), "sheets": int(count)},
        "card": "cover",
        "pace": "press",
    }
    if flash.way == "opal under the lens":
        tree["opal"] = True
    for key in ("paper", "lens", "head_height_mm", "magnification", "filters"):
        if (value := getattr(written, key)) is not None:
            tree[key] = value.model_dump(mode="json", exclude_none=True) if isinstance(value, Frozen) else float(value)
    return json.dumps(tree, ensure_ascii=False)


def opal_unknown(flash_way: str, paper_name: str) -> bool:
    """Tell whether a flash is to go through an opal that no level was found with on this paper."""
    if flash_way != "opal under the lens":
        return False
    return not any(level.opal and (not paper_name or level.of("", paper_name)) for level in flash_levels())


def with_level(chosen: str, magnification: str, head_height: str, aperture: str) -> dict[str, str]:
    """Return the fields of a flash that a level gives, where the enlarger stands as is typed.

    Raises:
        Impossible: it says nothing there, or is not there any more; the place is "flash".
    """
    share: Share = "half" if chosen.startswith("half ") else "just under"
    level = _level(chosen.removeprefix(f"{share} "))
    figures = [decimal_of(text) for text in (magnification, head_height, aperture)]
    stand = [None if figure is None else float(figure) for figure in figures]
    at = LevelStand(magnification=stand[0], head_height_mm=stand[1], aperture=stand[2])
    found = flash_from(level, share, at, "soft", _exponent_of(level))
    return {
        "flash_seconds": typed_text_of(found.seconds),
        "flash_filter": level.filter,
        "flash_way": "opal under the lens" if level.opal else "no negative",
    }


def flash_asked(fields: Fields, paper: Paper, stand: EnlargerStand) -> FlashAsk | None:
    """Return the flash that was chosen for a print on this paper.

    Raises:
        Unreadable: a figure is missing or wrong; its place is the field.
        Impossible: the level cannot be had here; the sentence says why.
    """
    through: Literal["soft", "hard"] = "hard" if fields["flash-through"] == "hard" else "soft"
    match fields["flash"]:
        case "":
            return None
        case "seconds":
            return FlashAsk(seconds=fields.needed("flash-seconds", "0.1", "3600"), filter=through)
        case "density":
            return flash_of_density(paper, stand, float(fields.needed("flash-density", "0.001", "0.04")), through)
    for share in SHARES:
        if fields["flash"].startswith(f"{share} "):
            level = _level(fields["flash"].removeprefix(f"{share} "))
            if not level.of(fields["paper"], paper.name):
                raise Impossible(say("contrast.level-other-paper", paper=level.paper_title or "–"), ("flash",))
            return flash_from(level, share, stand_on(paper, stand), light_of(paper, level), paper.exponent)
    raise Impossible(say("contrast.level-gone"), ("flash",))


def opal_choice(flash: FlashAsk, source: str, stand: EnlargerStand) -> str:
    """Return the level, and the share of it, that a recipe's flash through an opal is on a paper; empty for none."""
    with suppress(NotThere, Unreadable):
        paper = desk().contrast().paper(source)
        for level in flash_levels():
            for share in SHARES if level.opal and level.of(source, paper.name) else ():
                with suppress(Impossible):
                    if (
                        flash_from(level, share, stand_on(paper, stand), flash.filter, paper.exponent).seconds
                        == flash.seconds
                    ):
                        return f"{share} {level.sheet}"
    return ""


def _level(sheet: str) -> FlashLevel:
    for level in flash_levels():
        if level.sheet == sheet:
            return level
    raise Impossible(say("contrast.level-gone"), ("flash",))


def _exponent_of(level: FlashLevel) -> float:
    """Return how the paper of a level fails in long light; 1 where it was never read."""
    contrast = desk().contrast()
    with suppress(NotThere, Unreadable):
        source = level.paper or contrast.paper_called(level.paper_title)
        if source:
            return contrast.paper(source).exponent
    return 1.0


def _words(level: FlashLevel, share: Share) -> str:
    key = f"contrast.flash-{'half' if share == 'half' else 'under'}{'-opal' if level.opal else ''}"
    seconds = level.seconds / 2 if share == "half" else level.seconds
    return say(key, seconds=f"{_plain(seconds)}", filter=level.filter, number=level.number)


def _plain(seconds: Decimal) -> str:
    return f"{float(seconds):.4g}"
