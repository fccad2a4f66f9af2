"""Contrast at the desk: two lights for two tones on a kept paper, or another contrast with one tone left as it is.

numpy and scipy are loaded when something is reckoned, never before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from controller.contrast.asks import (
    ByNegative,
    ByPicks,
    EnlargerStand,
    Grid,
    HeldTone,
    HoldAsk,
    Lights,
    Moved,
    Nudge,
    Papers,
    Recipes,
    Split,
    SplitAsk,
)
from controller.contrast.at_the_easel import (
    AtTheEasel,
    flash_on,
    given_by,
    lights_said,
    off_scale,
    rounded,
    shade,
    standing,
    words_of,
)
from controller.contrast.looked_sheet import Next, can_be_looked_at, next_of, take
from controller.contrast.recipe_lights import (
    TwoLights,
    lights_of,
    new_recipe,
    put_lights,
    stand_of,
    with_flash,
    with_note,
)
from controller.errors import Impossible
from controller.paper.graphs import Curves, NamedTone, curves_of, reach_of
from controller.paper.ladder import TYPICAL, Ladder
from controller.paper.libraries import with_libraries
from controller.paper.paper import Paper
from controller.paper.tones import TonePlace, density_of
from controller.recipe.files import write
from controller.words import say

if TYPE_CHECKING:
    from controller.contrast.how_it_looked import Looks
    from controller.paper.flash import Flash
    from controller.paper.solver import Tone
    from controller.store.records import SheetRecord
    from controller.store.said_of_sheets import Looked
    from controller.store.versions import Kept

SHOWN: Final[tuple[TonePlace, ...]] = ("first", "skin", "middle", "dark", "last")
"""The tones that are shown before and after a change of contrast."""
GRID_STOP: Final = 1.0 / 3.0
GRID_SIDE: Final = 5


class ContrastDesk:
    """What pages may ask of contrast. Safe from any thread, as the shelves are."""

    def __init__(self, papers: Papers, longest_ms: Callable[[], int], recipes: Recipes) -> None:
        self._papers, self._longest_ms, self._recipes = papers, longest_ms, recipes

    def papers(self) -> Sequence[Kept]:
        """Return the papers that can be chosen."""
        return self._papers.kept()

    def paper(self, source: str) -> Paper:
        """Return one of them.

        Raises:
            NotThere, Unreadable: it is not kept, or cannot be read.
        """
        return self._papers.fetch(source)

    def ladder(self, source: str) -> Ladder:
        """Return a paper's filters, each with its R: its own, or a typical set's; without a paper the typical set's.

        Raises:
            NotThere, Unreadable: the paper is not kept, or cannot be read.
            Impossible: its filters cannot be reckoned here; the sentence says what to do.
        """
        if not source:
            return TYPICAL
        with with_libraries():
            return self._papers.ladder(source)

    def density_of(self, source: str, tone: TonePlace | float) -> float:
        """Return the print density that a tone's name stands for on a paper."""
        paper = self.paper(source)
        return density_of(tone, paper.dmin, paper.dmax)

    def split(self, ask: SplitAsk) -> Split:
        """Return the soft and hard seconds for two tones, or the nearest that can be had.

        Raises:
            Impossible: one sentence, with the field it belongs to ("light", "dark", "tones") where there is one.
        """
        with with_libraries():
            from controller.paper.solver import Reached, least_flash, soft_hard

            at = standing(self.paper(ask.paper), ask.stand, self._longest_ms(), self.ladder(ask.paper))
            under, said = flash_on(at, ask.flash)
            light, dark = _tones(at, ask, under)
            answer = soft_hard(at.paper, light, dark, longest_seconds=at.longest, flash=under)
            more = None
            if not isinstance(answer, Reached) and under is None:
                more = least_flash(at.paper, light, dark, longest_seconds=at.longest, step_seconds=0.1 / at.factor)
            found = answer.pair if isinstance(answer, Reached) else answer.nearest
            seconds = rounded(at, found.soft_seconds, found.hard_seconds)
            given = given_by(at, seconds, light.negative_density, dark.negative_density, under)
            reached = isinstance(answer, Reached)
            off = max(abs(a - b) for a, b in zip(given.predicted, found.predicted, strict=True))
            lights = lights_said(at, seconds, given, (light.negative_density, dark.negative_density), off)
            q = ask.callier if isinstance(ask.tones, ByNegative) else 1.0
            shades = [
                shade(at, tone.negative_density / q, density)
                for tone, density in zip((light, dark), given.predicted, strict=True)
            ]
            return Split(
                **lights,
                flash=said,
                callier=q,
                least_flash=None if more is None else Decimal(round(more.seconds * at.factor * 10)) / 10,
                reached=reached,
                sentence=say("contrast.both-had") if isinstance(answer, Reached) else answer.sentence,
                light=shades[0],
                dark=shades[1],
                wanted=(light.print_density, dark.print_density),
                nudges=tuple(Nudge(light=each.light, more=each.more, less=each.less) for each in given.sensitivity),
                grid=_grid(at, seconds, light.negative_density, dark.negative_density, under),
                reach=reach_of(at.paper, light, dark, answer, at.factor, under),
                curves=_curves(at, seconds, light.negative_density, dark.negative_density, under),
            )

    def hold(self, ask: HoldAsk) -> HeldTone:
        """Return the pair with another contrast that leaves one tone as it prints now.

        Raises:
            Impossible: one sentence, with the field it belongs to where there is one.
        """
        with with_libraries():
            import numpy as np

            from controller.paper.emulsions import densities, thinnest
            from controller.paper.iso import range_of, stated
            from controller.paper.solver import Reached, hold

            at = standing(self.paper(ask.paper), ask.stand, self._longest_ms(), self.ladder(ask.paper))
            now = ask.soft_seconds / at.factor, ask.hard_seconds / at.factor
            if sum(now) <= 0.0:
                raise Impossible(say("contrast.no-light"), ("soft-seconds",))
            under, said = flash_on(at, ask.flash)
            density = density_of(ask.held, at.mix.dmin, at.mix.dmax)
            kept = float(thinnest(at.mix, *now, density, under))
            if not np.isfinite(kept):
                raise Impossible(off_scale(at), ("held",))
            before = range_of(at.mix, *now)
            answer = hold(at.paper, *now, kept, before + ask.by, longest_seconds=at.longest, flash=under)
            found = answer.pair if isinstance(answer, Reached) else answer.nearest
            seconds = rounded(at, found.soft_seconds, found.hard_seconds)
            shown = [(name, density_of(name, at.mix.dmin, at.mix.dmax)) for name in SHOWN]
            named = [(say(f"contrast.tone-{name}"), tone) for name, tone in shown if name != ask.held]
            named.append((say("contrast.held-tone"), density))
            named.sort(key=lambda pair: pair[1])
            named = [each for each in named if np.isfinite(thinnest(at.mix, *now, each[1], under))]
            negatives = thinnest(at.mix, *now, [tone for _, tone in named], under)
            lit = float(seconds[0]) / at.factor, float(seconds[1]) / at.factor
            after = densities(at.mix, *lit, negatives, under)
            off = abs(float(densities(at.mix, *lit, kept, under)) - density)
            given = given_by(at, seconds, kept, kept, under)
            return HeldTone(
                **lights_said(at, seconds, given, tuple(float(each) for each in negatives), off),
                flash=said,
                reached=isinstance(answer, Reached),
                sentence=say("contrast.held") if isinstance(answer, Reached) else answer.sentence,
                range_before=stated(before),
                tones=tuple(
                    Moved(
                        name=name,
                        before=tone,
                        after=float(new),
                        words_before=words_of(at, tone),
                        words_after=words_of(at, float(new)),
                        held=name == say("contrast.held-tone"),
                    )
                    for (name, tone), new in zip(named, after, strict=True)
                ),
                curves=_curves(at, seconds, float(negatives[0]), float(negatives[-1]), under),
            )

    def ends(self, source: str) -> tuple[float, float]:
        """Return a paper's R through soft and through hard light alone."""
        with with_libraries():
            from controller.paper.emulsions import mixture
            from controller.paper.iso import range_of

            mix = mixture(self.paper(source))
            return range_of(mix, 1.0, 0.0), range_of(mix, 0.0, 1.0)

    # ---- recipes that lights come from, and go to

    def stand_of(self, source: str) -> EnlargerStand:
        """Return how the enlarger stands for a kept recipe, as far as it says; raises as `recipe` of the shelf."""
        return stand_of(self._recipes.recipe(source))

    def paper_for(self, source: str) -> str:
        """Return the id of the kept paper that a recipe names; empty where it names none that is kept."""
        recipe = self._recipes.recipe(source)
        return self._papers.called(recipe.paper.name) if recipe.paper and recipe.paper.name else ""

    def paper_called(self, name: str) -> str:
        """Return the id of the paper of this name that was read, so that its flash can be reckoned with; else empty."""
        return self._papers.called(name) if name else ""

    def lights_of(self, source: str, paper: str) -> TwoLights:
        """Return the soft and hard seconds that a kept recipe gives on a paper.

        Raises:
            Impossible: it has other lights than soft and hard.
            NotThere, Unreadable: the paper is not kept, or cannot be read.
        """
        return lights_of(self._recipes.recipe(source), self.paper(paper).setup)

    def keep(self, found: Lights, paper: str, stand: EnlargerStand, *, into: str = "", title: str = "") -> Kept:
        """Keep two lights that were found for this paper and stand: in the recipe `into`, or in a new one.

        Raises:
            Impossible, Unreadable: one sentence, with the field it belongs to where there is one; nothing is kept.
            NotThere, StoreTrouble: recipe or paper is not kept, or it cannot be written; nothing is kept.
        """
        on, seconds = self.paper(paper), (found.soft_seconds, found.hard_seconds)
        note = _note(found) if isinstance(found, Split) else ""
        if not into:
            return self._recipes.save(write(new_recipe(title, on, stand, seconds, note, found.flash)))
        made = put_lights(self._recipes.recipe(into), on.setup, stand, seconds)
        if isinstance(found, Split):
            made = with_flash(made, on.setup, found.flash)
        return self._recipes.save(write(with_note(made, note) if note else made), into)

    def looked(self, record: SheetRecord, looks: Looks) -> Next:
        """Return what would come of how a sheet looked; nothing is kept. Raises as `looked_sheet.next_of`."""
        return next_of(record, looks, self._papers, self._recipes, self._longest_ms)

    @staticmethod
    def can_be_looked_at(record: SheetRecord) -> bool:
        """Tell whether anything can come of how a sheet looked."""
        return can_be_looked_at(record)

    def take_looks(self, record: SheetRecord, looks: Looks) -> Looked:
        """Keep the recipe's next version, where a look makes one; return the row to be filed. Raises as `looked`."""
        return take(self.looked(record, looks), record, self._recipes)[0]

    def keep_note(self, note: str, into: str) -> Kept:
        """Keep a line more in a recipe's notes; raises as `keep`."""
        return self._recipes.save(write(with_note(self._recipes.recipe(into), note)), into)


def _note(found: Split) -> str:
    note = say(
        "contrast.note-split",
        paper=found.paper,
        light_negative=f"{found.light.negative_density:.2f}",
        light=f"{found.light.density:.2f}",
        light_words=found.light.words,
        dark_negative=f"{found.dark.negative_density:.2f}",
        dark=f"{found.dark.density:.2f}",
        dark_words=found.dark.words,
        r=found.range_stated,
    )
    return note if found.callier == 1.0 else say("contrast.note-callier", note=note, q=f"{found.callier:g}")


def _tones(at: AtTheEasel, ask: SplitAsk, flash: Flash | None) -> tuple[Tone, Tone]:
    from controller.paper.solver import Tone, from_picks

    light, dark = (density_of(tone, at.mix.dmin, at.mix.dmax) for tone in (ask.light, ask.dark))
    match ask.tones:
        case ByNegative():
            if ask.tones.light <= ask.tones.dark:
                words = {"light": f"{ask.tones.light:.2f}", "dark": f"{ask.tones.dark:.2f}"}
                raise Impossible(say("paper.tones-crossed", **words), ("light-negative",))
            return Tone(ask.tones.light * ask.callier, light), Tone(ask.tones.dark * ask.callier, dark)
        case ByPicks():
            picks = ask.tones.soft_seconds / at.factor, ask.tones.hard_seconds / at.factor
            for name, wanted in (("light", light), ("dark", dark)):
                if not at.mix.dmin < wanted < at.mix.dmax:
                    raise Impossible(off_scale(at), (name,))
            found = from_picks(at.paper, *picks, light, dark, flash if ask.tones.flashed else None)
            if found[0].negative_density <= found[1].negative_density:
                raise Impossible(say("contrast.picks-crossed"), ("hard-pick",))
            return found


def _grid(
    at: AtTheEasel, seconds: tuple[Decimal, Decimal], light: float, dark: float, flash: Flash | None
) -> Grid | None:
    """Return the neighbourhood of a pair, in thirds of a stop; None where one light is none."""
    from controller.paper.emulsions import densities

    if not all(seconds):
        return None
    middle = GRID_SIDE // 2
    rows = [
        [float(int(float(each) * 2.0 ** (GRID_STOP * (n - middle)) * 10.0 + 0.5)) / 10.0 for n in range(GRID_SIDE)]
        for each in seconds
    ]
    if any(one == two for row in rows for one, two in pairwise(row)):
        return None
    cells = []
    for hard in rows[1]:
        printed = [densities(at.mix, soft / at.factor, hard / at.factor, [light, dark], flash) for soft in rows[0]]
        cells.append(tuple((float(one), float(two)) for one, two in printed))
    return Grid(soft_seconds=tuple(rows[0]), hard_seconds=tuple(rows[1]), cells=tuple(cells), chosen=(middle, middle))


def _curves(at: AtTheEasel, seconds: tuple[Decimal, Decimal], light: float, dark: float, flash: Flash | None) -> Curves:
    tones = (
        NamedTone(name=say("contrast.light-tone"), negative_density=light),
        NamedTone(name=say("contrast.dark-tone"), negative_density=dark),
    )
    return curves_of(at.paper, float(seconds[0]) / at.factor, float(seconds[1]) / at.factor, tones, flash)
