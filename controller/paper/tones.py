"""Words for print densities, as a printer says them: paper white, first tone, skin, last detail, full black."""

from __future__ import annotations

from typing import Final

from controller.words import say

OVER_WHITE: Final = ((0.04, "paper.tone-white"), (0.15, "paper.tone-first"), (0.45, "paper.tone-skin"))
"""Density over base + fog under which a tone goes by each name (common practice)."""
OF_SCALE: Final = ((0.60, "paper.tone-middle"), (0.88, "paper.tone-dark"), (0.96, "paper.tone-last"))
"""The same, of the whole scale from white to black."""


def tone_words(density: float, dmin: float, dmax: float) -> str:
    """Return what a print density is called on a paper with this white and black."""
    over = density - dmin
    for most, key in OVER_WHITE:
        if over < most:
            return say(key)
    for share, key in OF_SCALE:
        if over < share * (dmax - dmin):
            return say(key)
    return say("paper.tone-black")
