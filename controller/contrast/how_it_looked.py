"""How did it look? What a printer says of a highlight and a shadow, and the lights that follow from it.

A word stands for a density off: 0, 1.1, 2.25 and 4.0 times what is tolerated in that tone, 0.04 in a highlight and 0.08
in a shadow (common practice; the same words and sizes as in docs/explanation/paper-economy.md). Both are mended
together, by what a twelfth of a stop of each light does at the wished densities.

Where the paper is not read a typical one stands in, and without numpy the highlight alone is mended, both lights
alike. A flash that the print had stays as it was, and is part of what both tones print. Nothing heavy is loaded by
importing this.
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import Field

from controller.errors import Impossible, Unreadable
from controller.exposure.stops import shown
from controller.model import Frozen
from controller.paper.flash import MOST_ALONE, Flash, alone, just_under, prints_by_itself
from controller.paper.libraries import curves_can_be_had
from controller.paper.tones import PrintDensity, density_of
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper

Look = Annotated[int, Field(ge=-3, le=3)]
"""How a tone looked: −3 far too light, −2 clearly, −1 a little, 0 right, to 3 far too dark."""
Said = Literal["paper", "typical", "highlight"]
"""What the new lights rest on: the paper as it was read, a typical one, or the highlight alone."""
FlashCounts = Literal["", "as given", "just under"]
LOOKS: Final[dict[str, int]] = {
    "far light": -3,
    "clearly light": -2,
    "a little light": -1,
    "right": 0,
    "a little dark": 1,
    "clearly dark": 2,
    "far dark": 3,
}
"""A look as it is typed on a command line."""
TIMES_TOLERATED: Final = (0.0, 1.1, 2.25, 4.0)
LIGHT_WITHIN: Final = 0.04
DARK_WITHIN: Final = 0.08
MOST_TWELFTHS: Final = 8.0
"""At most two thirds of a stop at a time; the next print says the rest."""
_DENSITY_A_TWELFTH: Final = 0.0194
"""What a twelfth of a stop more of both lights adds to a first tone on the typical paper; a test holds it."""
_EDGE: Final = 0.01
"""Of the scale: a tone beyond this from white or black is nowhere on the curve, and counts as lying here."""


class Looks(Frozen):
    """What was said of a print: its highlight, its shadow, and a third tone that is noted only.

    On a strip the shadow is often farther off than any word says: `dark_density` is then its print density, matched
    against a grey scale, and counts in place of the word.
    """

    light: Look
    dark: Look
    third: Look | None = None
    dark_density: PrintDensity | None = None

    def off(self, wish: Wish) -> tuple[float, float]:
        """Return how far from their places the two tones are, in density: over 0 too dark."""
        by_word = density_off(self.dark, DARK_WITHIN)
        dark = by_word if self.dark_density is None else self.dark_density - wish.dark
        return density_off(self.light, LIGHT_WITHIN), dark


class Wish(Frozen):
    """The print densities that the two tones were to have."""

    light: PrintDensity
    dark: PrintDensity


class Twelfths(Frozen):
    """A change of soft and of hard light, in twelfths of a stop, to half a twelfth."""

    soft: float
    hard: float


class NewTimes(Frozen):
    """The lights for the next print; seconds of the print's own set-up, to 0.1 s."""

    soft_seconds: Decimal = Field(ge=0)
    hard_seconds: Decimal = Field(ge=0)
    twelfths: Twelfths
    by: Said
    was: Wish | None = None
    """What the two tones had by the words, for patches of grey; None without a curve to read them on."""
    will_be: Wish | None = None
    flash: FlashCounts = ""
    """How a flash was taken in: by its seconds, or as one just under what a paper of this kind shows."""
    why: str = ""
    """Why no pair mends it and what would help, in one sentence; these lights then come nearest. Else empty."""

    @property
    def changed(self) -> bool:
        """Whether any light is another."""
        return bool(self.twelfths.soft or self.twelfths.hard)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What a printer is to know of these lights, one sentence each."""
        said = [] if self.by == "paper" else [say(f"contrast.looked-by-{self.by}")]
        said += [say("contrast.looked-flash-just-under")] if self.flash == "just under" else []
        return (self.why, say("contrast.looked-nearest"), *said) if self.why else tuple(said)


def read_look(text: str, option: str) -> int:
    """Return the look that was typed; `option` is what it was typed for.

    Raises:
        Unreadable: it is none; the sentence says which there are.
    """
    look = LOOKS.get(" ".join(text.lower().split()))
    if look is None:
        raise Unreadable(say("contrast.looked-word", option=option, found=shown(text), words=", ".join(LOOKS)))
    return look


def density_off(look: int, within: float) -> float:
    """Return how far from its place a look says that a tone is, in density: over 0 too dark."""
    return math.copysign(TIMES_TOLERATED[abs(look)] * within, look)


def usual_wish(paper: Paper) -> Wish:
    """Return where a first and a last tone with detail stand on a paper."""
    light, dark = (density_of(tone, paper.dmin, paper.dmax) for tone in ("first", "last"))
    return Wish(light=light, dark=dark)


def half_twelfths(exact: float) -> float:
    """Return a change in twelfths of a stop as it is made: to half a twelfth, two thirds of a stop at the most."""
    rounded = math.copysign(math.floor(2.0 * abs(exact) + 0.5) / 2.0, exact)
    return max(-MOST_TWELFTHS, min(MOST_TWELFTHS, rounded)) + 0.0


def tenths(seconds: float) -> Decimal:
    """Return seconds to 0.1 s, half up."""
    return Decimal(math.floor(seconds * 10.0 + 0.5)) / 10


def changed_seconds(seconds: Decimal, twelfths: float) -> Decimal:
    """Return seconds after a change, to 0.1 s half up; unchanged they stay as they were typed."""
    if not twelfths:
        return seconds
    return tenths(float(seconds) * 2.0 ** (twelfths / 12.0))


def mend(
    looks: Looks,
    soft_seconds: Decimal,
    hard_seconds: Decimal,
    *,
    paper: Paper | None = None,
    factor: float = 1.0,
    wish: Wish | None = None,
    longest_seconds: float = 600.0,
    flash: Flash | Literal["just under"] | None = None,
) -> NewTimes:
    """Return the lights for the next print, from what was said of one that had these seconds.

    `paper` is the paper as it was read, and `factor` how its seconds stand to the print's (print = paper · factor);
    without one a typical paper stands in. `wish` is what the tones were to have, first and last tone unless told.
    With soft or hard alone the other light is found as well: two looks of one soft print, or one strip, are a pair.
    `flash` is in the paper's seconds; where it cannot be told in them, or no paper was read, it counts as just under.

    Raises:
        Impossible: no light was given, or a wish that the paper cannot have; the sentence says which.
    """
    if not soft_seconds and not hard_seconds:
        raise Impossible(say("contrast.no-light"))
    if not curves_can_be_had():
        return _by_highlight(looks, soft_seconds, hard_seconds)
    from controller.paper.typical import typical

    on = paper if paper is not None else typical()
    by: Said = "paper" if paper is not None else "typical"
    wished = wish if wish is not None else usual_wish(on)
    under, counted = counted_flash(flash, paper, on)
    found = _both(looks, (soft_seconds, hard_seconds), factor, on, wished, by, longest_seconds / factor, under)
    return found.model_copy(update={"flash": counted})


def counted_flash(
    flash: Flash | Literal["just under"] | None, paper: Paper | None, on: Paper
) -> tuple[Flash | None, FlashCounts]:
    """Return a flash as it counts `on` a paper: by its seconds where that was read, else as just under."""
    if flash is None:
        return None, ""
    if isinstance(flash, Flash) and paper is not None:
        return flash, "as given"
    return just_under(on), "just under"


def by_highlight(look: int) -> float:
    """Return the change of time for a highlight that looked so, in twelfths of a stop: all there is without a curve."""
    return half_twelfths(-density_off(look, LIGHT_WITHIN) / _DENSITY_A_TWELFTH)


def _by_highlight(looks: Looks, soft_seconds: Decimal, hard_seconds: Decimal) -> NewTimes:
    """Return both lights changed alike, by the highlight."""
    more = by_highlight(looks.light)
    return NewTimes(
        soft_seconds=changed_seconds(soft_seconds, more),
        hard_seconds=changed_seconds(hard_seconds, more),
        twelfths=Twelfths(soft=more if soft_seconds else 0.0, hard=more if hard_seconds else 0.0),
        by="highlight",
    )


def _both(
    looks: Looks,
    typed: tuple[Decimal, Decimal],
    factor: float,
    paper: Paper,
    wish: Wish,
    by: Said,
    longest: float,
    flash: Flash | None,
) -> NewTimes:
    """Return the lights that a curve gives; `longest` in its own seconds."""
    import numpy as np

    from controller.paper.emulsions import densities, mixture, thinnest
    from controller.paper.solver import OutOfReach, Tone, pair, solved

    mix, seconds = mixture(paper), [float(each) / factor for each in typed]
    wishes = np.array([wish.light, wish.dark])
    if not ((mix.dmin < wishes) & (wishes < mix.dmax)).all():
        raise Impossible(say("paper.off-scale", dmin=f"{mix.dmin:.2f}", dmax=f"{mix.dmax:.2f}"))
    off = np.array(looks.off(wish))
    # Nothing is lighter than the flash by itself: a tone that is said to be counts as lying just over it.
    least = mix.dmin + (alone(paper, flash) if flash is not None else 0.0)
    was = np.clip(wishes + off, least + _EDGE * mix.net, mix.dmax - _EDGE * mix.net)
    if wishes[0] >= wishes[1] or was[0] >= was[1]:
        raise Impossible(say("contrast.looked-crossed"))
    tones = [float(each) for each in thinnest(mix, seconds[0], seconds[1], was, flash)]
    answer = solved(paper, Tone(tones[0], float(wishes[0])), Tone(tones[1], float(wishes[1])), longest, flash)
    found = answer.nearest if isinstance(answer, OutOfReach) else answer.pair
    missed = np.abs(np.array(found.predicted) - wishes) > np.array([LIGHT_WITHIN, DARK_WITHIN])
    why = answer.sentence if isinstance(answer, OutOfReach) and missed.any() else ""
    if why and flash is not None and alone(paper, flash) > MOST_ALONE:
        why = prints_by_itself(paper, flash, factor)
    aims = found.soft_seconds, found.hard_seconds
    if not off.any():
        moves = [(each, 0.0) for each in typed]
    elif why:
        moves = [_limited(each, now, aim, factor) for each, now, aim in zip(typed, seconds, aims, strict=True)]
    elif not all(seconds):
        moves = [_exactly(each, aim, factor) for each, aim in zip(typed, aims, strict=True)]
    else:
        placed = [
            float(each) for each in thinnest(mix, seconds[0], seconds[1], np.maximum(wishes, least + 1e-3), flash)
        ]
        by_soft, by_hard = pair(paper, seconds[0], seconds[1], placed[0], placed[1], flash).sensitivity
        exact = np.linalg.lstsq(np.array([by_soft.more, by_hard.more]).T, -off, rcond=None)[0]
        steps = [half_twelfths(float(each)) for each in exact]
        moves = [(changed_seconds(each, step), step) for each, step in zip(typed, steps, strict=True)]
    (soft, by_soft_light), (hard, by_hard_light) = moves
    after = densities(mix, float(soft) / factor, float(hard) / factor, tones, flash)
    return NewTimes(
        soft_seconds=soft,
        hard_seconds=hard,
        twelfths=Twelfths(soft=by_soft_light, hard=by_hard_light),
        by=by,
        was=Wish(light=float(was[0]), dark=float(was[1])),
        will_be=Wish(light=float(after[0]), dark=float(after[1])),
        why=why,
    )


def _exactly(typed: Decimal, aim: float, factor: float) -> tuple[Decimal, float]:
    """Return a light as it is to be, and how far that is from what it was; a light that was none has no distance."""
    seconds = tenths(aim * factor)
    moved = 12.0 * math.log2(seconds / typed) if typed and seconds else 0.0
    return seconds, math.copysign(math.floor(2.0 * abs(moved) + 0.5) / 2.0, moved) + 0.0


def _limited(typed: Decimal, now: float, aim: float, factor: float) -> tuple[Decimal, float]:
    """Return a light moved toward what comes nearest, no farther than at one time."""
    if not typed:
        return tenths(aim * factor), 0.0
    step = half_twelfths(12.0 * math.log2(aim / now)) if aim > 0.0 else -MOST_TWELFTHS
    return changed_seconds(typed, step), step
