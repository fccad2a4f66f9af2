"""A paper as it stands under the enlarger: its figures, how its seconds stand to the print's, and what it is trusted.

numpy and scipy are loaded when something is reckoned, never before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from controller.contrast.asks import EnlargerStand, FlashAsk, FlashSaid, Shade
from controller.errors import Impossible
from controller.paper.ladder import TYPICAL, Ladder, equivalent
from controller.paper.paper import Paper
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.emulsions import Mixture
    from controller.paper.flash import Flash
    from controller.paper.solver import Pair

ROUGH_TENTH: Final = 0.03
"""Density: where rounding to 0.1 s moves a tone by more, the times are too short to be worked with."""


@dataclass(frozen=True)
class AtTheEasel:
    """A paper, and how its seconds stand to the print's: print = paper · factor."""

    paper: Paper
    mix: Mixture
    factor: float
    setup: str
    longest: float
    """In the paper's seconds."""
    ladder: Ladder
    """The printer's own filters, or a typical set until they are read."""


def standing(paper: Paper, stand: EnlargerStand, longest_ms: int, ladder: Ladder = TYPICAL) -> AtTheEasel:
    """Return a paper as it stands for a print."""
    from controller.paper.emulsions import mixture
    from controller.paper.paper import seconds_factor

    factor, whole = seconds_factor(paper, stand.magnification, stand.aperture)
    if whole:
        setup = "" if abs(factor - 1.0) < 1e-9 else say("contrast.setup-other", factor=f"{factor:.2f}")
    else:
        setup = say("contrast.setup-unknown")
    return AtTheEasel(paper, mixture(paper), factor, setup, longest_ms / 1000.0 / factor, ladder)


def off_scale(at: AtTheEasel) -> str:
    """Return what to say where a wanted density is none of the paper's."""
    return say("paper.off-scale", dmin=f"{at.mix.dmin:.2f}", dmax=f"{at.mix.dmax:.2f}")


def rounded(at: AtTheEasel, soft: float, hard: float) -> tuple[Decimal, Decimal]:
    """Return the print's seconds to 0.1 s, half up; a light under that is none.

    Raises:
        Impossible: both are, so nothing would be given.
    """
    tenths = [int(each * at.factor * 10.0 + 0.5) for each in (soft, hard)]
    if not any(tenths):
        raise Impossible(say("contrast.too-short"))
    return Decimal(tenths[0]) / 10, Decimal(tenths[1]) / 10


def given_by(
    at: AtTheEasel, seconds: tuple[Decimal, Decimal], light: float, dark: float, flash: Flash | None = None
) -> Pair:
    """Return what the print's seconds do to two tones of the negative, over a flash."""
    from controller.paper.solver import pair

    return pair(at.paper, float(seconds[0]) / at.factor, float(seconds[1]) / at.factor, light, dark, flash)


def flash_on(at: AtTheEasel, ask: FlashAsk | None) -> tuple[Flash | None, FlashSaid | None]:
    """Return a flash in the paper's seconds, and what is said of it.

    An opal passes nobody knows how much: a level that was found with it counts as just under what the paper shows.

    Raises:
        Impossible: it prints a grey of its own.
    """
    from controller.paper.flash import Flash, just_under, refuse_over

    if ask is None:
        return None, None
    if ask.opal:
        whole = just_under(at.paper)
        flash = Flash(seconds=whole.seconds / (2.0 if ask.half else 1.0))
    else:
        flash = Flash(seconds=float(ask.seconds) / at.factor, filter=ask.filter)
    return flash, FlashSaid(**dict(ask), alone=refuse_over(at.paper, flash, at.factor))


def lights_said(
    at: AtTheEasel, seconds: tuple[Decimal, Decimal], given: Pair, tones: Sequence[float], off: float
) -> dict[str, Any]:
    """Return what every answer says of its two lights."""
    from controller.paper.iso import grade_of, stated
    from controller.paper.support import trust

    _, plain, advice = trust(at.paper, (given.soft_seconds, given.hard_seconds), tones)
    if off > ROUGH_TENTH:
        advice += (say("contrast.tenths-matter"),)
    return {
        "paper": at.paper.name,
        "soft_seconds": seconds[0],
        "hard_seconds": seconds[1],
        "range_stated": stated(given.range_exact),
        "range_exact": given.range_exact,
        "grade": str(grade_of(given.range_exact / 100.0)),
        "filter": equivalent(given.range_exact, at.ladder).sentence,
        "trust": plain,
        "advice": advice,
        "setup": at.setup,
    }


def words_of(at: AtTheEasel, density: float) -> str:
    """Return what a print density is called on this paper."""
    from controller.paper.tones import tone_words

    return tone_words(density, at.mix.dmin, at.mix.dmax)


def shade(at: AtTheEasel, negative: float, density: float) -> Shade:
    """Return a tone with its words."""
    return Shade(negative_density=negative, density=density, words=words_of(at, density))
