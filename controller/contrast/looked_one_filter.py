"""How did it look, for a print through one filter: the time from its highlight, the filter's number from its shadow.

A filter is where its R stands among the paper's own lights. Where the printer's filters have been read, the time
through another is read off their curves; elsewhere they count as matched at 0.60 over base + fog, as makers match
them (common practice; in classic sets 4 and 5 take double, which the first print through them will say).
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING, Final, Literal

from pydantic import Field

from controller.contrast.how_it_looked import (
    DARK_WITHIN,
    LIGHT_WITHIN,
    FlashCounts,
    Looks,
    Said,
    Wish,
    by_highlight,
    changed_seconds,
    counted_flash,
    half_twelfths,
    usual_wish,
)
from controller.errors import Impossible
from controller.model import Frozen
from controller.paper.flash import Flash, alone
from controller.paper.iso import SPEED
from controller.paper.ladder import TYPICAL, Ladder, Rung, nearest_filter
from controller.paper.libraries import curves_can_be_had
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper

MOST_FILTERS: Final = 2
"""So many places along the set at one time, however far off the shadow looked."""
_EDGE: Final = 0.01


class NewFilter(Frozen):
    """The light for the next print; seconds of the print's own set-up, to 0.1 s."""

    filter: str
    seconds: Decimal = Field(gt=0)
    twelfths: float
    """Of the time, through whichever filter, to half a twelfth."""
    by: Said
    flash: FlashCounts = ""
    """How a flash was taken in, as with soft and hard."""
    why: str = ""
    """Why none of the filters mends it, in one sentence; this one then comes nearest. Else empty."""
    matched: bool = False
    """The new filter counts as matched to the old one, since neither has been read."""

    @property
    def sentences(self) -> tuple[str, ...]:
        """What a printer is to know of this light, one sentence each."""
        said = [say("contrast.looked-matched")] if self.matched else []
        said += [] if self.by == "paper" else [say(f"contrast.looked-by-{self.by}")]
        said += [say("contrast.looked-flash-just-under")] if self.flash == "just under" else []
        return (self.why, say("contrast.looked-nearest-filter"), *said) if self.why else tuple(said)


def mend_one_filter(
    looks: Looks,
    filter_name: str,
    seconds: Decimal,
    *,
    paper: Paper | None = None,
    ladder: Ladder = TYPICAL,
    wish: Wish | None = None,
    flash: Flash | Literal["just under"] | None = None,
) -> NewFilter:
    """Return filter and time for the next print, from what was said of one that had `seconds` through `filter_name`.

    `paper` is the paper as it was read, `ladder` its filters; typical ones stand in. A filter that is not in the set
    stays, and so does every filter without numpy: then the time alone is mended. `flash` as in `how_it_looked.mend`.

    Raises:
        Impossible: the highlight would come out darker than the shadow.
    """
    present = next((rung for rung in ladder.rungs if rung.filter == filter_name), None)
    if present is None or not curves_can_be_had():
        more = by_highlight(looks.light)
        return NewFilter(filter=filter_name, seconds=changed_seconds(seconds, more), twelfths=more, by="highlight")
    return _mended(looks, present, seconds, paper, ladder, wish, flash)


def _mended(
    looks: Looks,
    present: Rung,
    seconds: Decimal,
    paper: Paper | None,
    ladder: Ladder,
    wish: Wish | None,
    flash: Flash | Literal["just under"] | None,
) -> NewFilter:
    from controller.paper.emulsions import mixture, thinnest
    from controller.paper.iso import range_of
    from controller.paper.solver import LONGEST_SECONDS, OutOfReach, Tone, solved
    from controller.paper.typical import typical

    on = paper if paper is not None else typical()
    mix, wished = mixture(on), wish if wish is not None else usual_wish(on)
    under, counted = counted_flash(flash, paper, on)
    white = mix.dmin + (alone(on, under) if under is not None else 0.0)
    least, most = white + _EDGE * mix.net, mix.dmax - _EDGE * mix.net
    off = looks.off(wished)
    light = min(most, max(least, wished.light + off[0]))
    dark = min(most, max(least, wished.dark + off[1]))
    if light >= dark or wished.light >= wished.dark:
        raise Impossible(say("contrast.looked-crossed"))
    lit = _light_of(on, present.range_exact)
    tones = [float(each) for each in thinnest(mix, *lit, [light, dark], under)]
    answer = solved(on, Tone(tones[0], wished.light), Tone(tones[1], wished.dark), LONGEST_SECONDS, under)
    found = answer.nearest if isinstance(answer, OutOfReach) else answer.pair
    # By how much R is to change, on top of the filter's own: the paper's lights may not reach as far as the set does.
    aim = present.range_exact + found.range_exact - range_of(mix, *lit) if any(off) else None
    chosen = present if aim is None else _along(ladder, present, aim)
    past = aim is None or nearest_filter(aim, ladder) == chosen
    missed = max(
        abs(found.predicted[0] - wished.light) / LIGHT_WITHIN, abs(found.predicted[1] - wished.dark) / DARK_WITHIN
    )
    why = answer.sentence if isinstance(answer, OutOfReach) and past and missed > 1.0 else ""
    decades, matched = _through(on, present, chosen, lit, tones[0], max(wished.light, least), under)
    exact = 12.0 * decades / math.log10(2.0) / mix.exponent
    step = half_twelfths(exact) if chosen == present else math.floor(2.0 * exact + 0.5) / 2.0
    return NewFilter(
        filter=chosen.filter,
        seconds=max(Decimal("0.1"), changed_seconds(seconds, step)),
        twelfths=step,
        by="paper" if paper is not None else "typical",
        flash=counted,
        why=why,
        matched=matched,
    )


def _light_of(paper: Paper, wanted_range: float) -> tuple[float, float]:
    """Return some soft and hard seconds that amount to a filter of this R, or the nearest to it that the paper has."""
    from controller.paper.emulsions import mixture, thinnest
    from controller.paper.solver import OutOfReach, hold

    mix = mixture(paper)
    middle = float(thinnest(mix, 1.0, 1.0, mix.dmin + SPEED))
    answer = hold(paper, 1.0, 1.0, middle, wanted_range)
    found = answer.nearest if isinstance(answer, OutOfReach) else answer.pair
    return found.soft_seconds, found.hard_seconds


def _along(ladder: Ladder, present: Rung, wanted_range: float) -> Rung:
    """Return the filter nearest to an R, not more than two places from the present one."""
    places = sorted(ladder.rungs, key=lambda rung: -rung.range_exact)
    at, aim = places.index(present), places.index(nearest_filter(wanted_range, ladder))
    return places[max(at - MOST_FILTERS, min(at + MOST_FILTERS, aim))]


def _through(
    paper: Paper,
    present: Rung,
    chosen: Rung,
    lit: tuple[float, float],
    tone: float,
    wished: float,
    flash: Flash | None,
) -> tuple[float, bool]:
    """Return the decades of time from the present filter to the chosen one that print a tone of the negative as wished.

    Also whether the two count as matched, for want of readings.
    """
    from controller.paper.emulsions import mixture, thinnest
    from controller.paper.single_filters import filters_of

    mix = mixture(paper)
    same = tone - float(thinnest(mix, *lit, wished, flash))
    if chosen == present:
        return same, False
    filters = filters_of(paper)
    if {present.filter, chosen.filter} <= set(filters.names):
        try:
            return same + math.log10(filters.change(present.filter, chosen.filter, 1.0, wished).factor), False
        except Impossible:
            pass  # a print of theirs does not reach this tone; then they are matched like any others
    other = _light_of(paper, chosen.range_exact)
    apart = [float(thinnest(mix, *each, mix.dmin + SPEED)) for each in (lit, other)]
    shifted = float(thinnest(mix, *other, wished, flash)) + apart[0] - apart[1]
    return tone - shifted, True
