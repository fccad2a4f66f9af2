"""A flash: light without a negative, just under what the paper shows by itself, and what it does to a print.

It goes to every part of the sheet alike, so that it counts where a print has least light: the highlights. How much
is given says the printer, in seconds or by the level that a threshold strip found. What a flash alone prints has to
stay under the paper's low point (0.04 over base + fog, ISO 6846), or white paper is white no more. Importing this
module loads neither numpy nor scipy, reckoning does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import Field

from controller.errors import Impossible
from controller.model import Frozen
from controller.paper.iso import LOW
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper

MOST_ALONE: Final = LOW
"""Print density over base + fog that a flash may have by itself."""
FlashSeconds = Annotated[float, Field(ge=0.0, le=3600.0)]


class Flash(Frozen):
    """A flash on a paper: its seconds in the set-up of the paper's readings, and the light it is given through."""

    seconds: FlashSeconds
    filter: Literal["soft", "hard"] = "soft"


def alone(paper: Paper, flash: Flash) -> float:
    """Return the print density over base + fog that a flash has by itself."""
    from controller.paper.emulsions import densities, mixture, steady

    mix = steady(mixture(paper))
    soft, hard = (flash.seconds if flash.filter == name else 0.0 for name in ("soft", "hard"))
    return float(densities(mix, soft, hard, 0.0)) - mix.dmin


def most_seconds(paper: Paper, filter_name: Literal["soft", "hard"] = "soft", density: float = MOST_ALONE) -> float:
    """Return the longest flash through a filter that prints no more than `density` over base + fog by itself."""
    from controller.paper.emulsions import mixture, steady, thinnest

    mix = steady(mixture(paper))
    unit = (1.0, 0.0) if filter_name == "soft" else (0.0, 1.0)
    return float(10.0 ** -thinnest(mix, *unit, mix.dmin + density))


def refuse_over(paper: Paper, flash: Flash, factor: float = 1.0) -> float:
    """Return what a flash alone prints; `factor` is how the print's seconds stand to the paper's, for the refusal.

    Raises:
        Impossible: it is a grey of its own; the sentence says which flash would be none.
    """
    printed = alone(paper, flash)
    if printed > MOST_ALONE:
        raise Impossible(prints_by_itself(paper, flash, factor), ("flash",))
    return printed


def prints_by_itself(paper: Paper, flash: Flash, factor: float = 1.0) -> str:
    """Return what to say of a flash that is a grey of its own; `factor` as in `refuse_over`."""
    most = most_seconds(paper, flash.filter) * factor
    return say(
        "paper.flash-prints",
        seconds=f"{flash.seconds * factor:.2f}",
        filter=flash.filter,
        density=f"{alone(paper, flash):.2f}",
        limit=f"{MOST_ALONE:.2f}",
        most=f"{int(most * 100.0) / 100.0:.2f}",
    )


def just_under(paper: Paper) -> Flash:
    """Return the flash that stands for one whose seconds say nothing here: half a low point, through soft."""
    return Flash(seconds=most_seconds(paper, density=MOST_ALONE / 2.0))
