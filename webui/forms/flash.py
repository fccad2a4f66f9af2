"""A flash as pages ask for it: none, a level that a threshold strip found, seconds, or the density it has by itself."""

from __future__ import annotations

from contextlib import suppress
from decimal import Decimal
from typing import TYPE_CHECKING, Final, Literal

from controller.contrast.asks import EnlargerStand, FlashAsk
from controller.contrast.flash_level import SHARES, flash_from, flash_of_density, light_of, stand_on
from controller.errors import Impossible, NotThere, Unreadable
from controller.words import say
from webui.frame.context import desk

if TYPE_CHECKING:
    from controller.contrast.flash_level import FlashLevel, Share
    from controller.paper.paper import Paper
    from webui.forms.form import Fields

FLASH: Final = ("flash", "flash-seconds", "flash-density", "flash-through")
MOST_LEVELS: Final = 6
"""So many levels are offered, each whole and by half: those found last."""


def level_choices(paper: str) -> tuple[tuple[str, str], ...]:
    """Return the levels found on a paper, as a list offers them: what is sent, and what is read.

    Without a paper those found last, on whichever.
    """
    title = ""
    if paper:
        with suppress(NotThere, Unreadable):
            title = desk().contrast().paper(paper).name
    found = [level for level in desk().flash_levels() if not paper or level.of(paper, title)]
    return tuple((f"{share} {level.sheet}", _words(level, share)) for level in found[:MOST_LEVELS] for share in SHARES)


def share_words(level: FlashLevel, share: Share) -> str:
    """Return a share of a level as a button says it: "just under: 4.5 s soft, sheet 12"."""
    return _words(level, share)


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
            return flash_from(level, share, stand_on(paper, stand), light_of(paper, level))
    raise Impossible(say("contrast.level-gone"), ("flash",))


def _level(sheet: str) -> FlashLevel:
    for level in desk().flash_levels():
        if level.sheet == sheet:
            return level
    raise Impossible(say("contrast.level-gone"), ("flash",))


def _words(level: FlashLevel, share: Share) -> str:
    key = f"contrast.flash-{'half' if share == 'half' else 'under'}{'-opal' if level.opal else ''}"
    seconds = level.seconds / 2 if share == "half" else level.seconds
    return say(key, seconds=f"{_plain(seconds)}", filter=level.filter, number=level.number)


def _plain(seconds: Decimal) -> str:
    return f"{float(seconds):.4g}"
