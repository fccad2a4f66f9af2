"""Readings at the easel as pages see them: begun here, reckoned from what was measured, and made the next sheet's.

What is wished of each spot comes with every question, and nothing of it is kept until a recipe is made. A spot that
was measured twice counts as it was measured last.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final

from controller import wall
from controller.contrast.asks import EnlargerStand
from controller.contrast.recipe_lights import new_recipe
from controller.daemon.easel_view import EaselView, line_of, tenths, work_of
from controller.easel.evening import Verdict, evening_offset
from controller.easel.keeps import level_against, reference_of
from controller.easel.one_light import seconds_for
from controller.easel.plan import ReadingsName, readings_of, reference_plan, spots_plan
from controller.easel.spots import Measured, Spot, measured
from controller.easel.two_tones import reckon
from controller.errors import ControllerError, Impossible, WrongMoment
from controller.foot.acts import Act, Load
from controller.lamp.spot_bench import Through
from controller.paper.graphs import NamedTone, curves_of
from controller.paper.paper import Paper, set_up_factor
from controller.paper.tones import density_of
from controller.recipe.fields import LONGEST_MS
from controller.recipe.files import write
from controller.recipe.recipe import Negative as NegativeNamed
from controller.store.easel_rows import SpotRead, SpotsTaken
from controller.words import say
from hardware.light_sensor import GAINS

if TYPE_CHECKING:
    from controller.daemon.paper_shelf import PaperShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.easel.gains import Ratio
    from controller.foot.status import Status
    from controller.lamp.bench import LampBench
    from controller.lamp.spot_bench import SpotBench
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.store.entries import Entry
    from hardware.light_sensor import Gain

Wishes = Mapping[str, float]
_SET_UP: Final = ("magnification", "aperture", "head_height_mm")


class EaselDesk:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        papers: PaperShelf,
        recipes: RecipeShelf,
        lamp: LampBench,
        spots: SpotBench,
        *,
        status: Callable[[], Status],
        do: Callable[[Act, int], Status],
        note: Callable[[Entry], object],
        verdicts: Callable[[], tuple[Verdict, ...]],
        lines: bool = False,
    ) -> None:
        """`lines` says that soft and hard are lamp lines; `verdicts` are those of this evening."""
        self._papers, self._recipes, self._lamp, self._spots = papers, recipes, lamp, spots
        self._status, self._do, self._note, self._verdicts, self._lines = status, do, note, verdicts, lines
        self._taken: tuple[str, int] | None = None

    # ---- as what comes next goes by it

    def answers(self) -> bool:
        """Tell whether a probe answers: alone of what follows it leaves no row in the journal."""
        return self._lamp.sensor_ready()

    def measured(self) -> bool:
        """Tell whether two spots or more of the negative in the carrier are measured, on the paper that is out."""
        return len(self._of_now(self._status().bench)) > 1

    def taken(self) -> tuple[str, int] | None:
        """Return the recipe, and its version, that was last made of spots."""
        return self._taken

    # ---- begun

    def can_measure(self) -> bool:
        """Tell whether a probe answers, and the paper that is out has a reference."""
        paper = self._paper(self._status().bench)
        return paper is not None and paper.reference is not None and self._lamp.sensor_ready()

    def begin(self, what: ReadingsName, number: int, filter_name: str = "soft") -> Status:
        """Load readings, decided on snapshot `number`; a reference is read through `filter_name`, spots as it was.

        Raises:
            Impossible: no kept paper is out, or it has no reference to read spots against.
            WrongMoment: not on the day face, a sheet is open, no sensor answers, or the snapshot is old.
        """
        paper = self._need_paper()
        if what == "spots" and paper.reference is None:
            raise Impossible(say("easel.reference-none", paper=paper.name))
        through = paper.reference.filter if what == "spots" and paper.reference else filter_name
        present = self._status().filter_in
        if what == "spots" and present and through and present != through:
            raise Impossible(say("easel.reference-filter", was=through, now=present))
        make = spots_plan if what == "spots" else reference_plan
        plan = make(through, self._recipes.longest_ms(), lines=self._lines)
        status = self._lamp.begin_readings(plan, number)
        self._spots.go_through(self._gains_for(what, paper))
        return status

    def _gains_for(self, what: ReadingsName, paper: Paper) -> Through:
        """Return the gains that compare: of a reference all, of spots those whose ratio to its own was measured."""
        known = paper.reference
        if what == "reference" or known is None or known.gain not in GAINS:
            return Through("high", GAINS)
        first: Gain = known.gain
        return Through(first, self._spots.gains(known.sensor).linked(first) or (first,))

    def keep_reference(self) -> None:
        """Keep the empty light that was measured last as the reference of the paper; raises `Impossible`."""
        paper, new = self._need_paper(), self._new_reference(self._status().bench)
        if new is None:
            raise Impossible(say("easel.no-reference-light"))
        box = paper.speeds[-1].box if paper.speeds else paper.box
        reference = reference_of(new, box.label, wall.now().date())
        self._papers.keep(paper.model_copy(update={"reference": reference}), self._status().bench.paper)

    # ---- looked at

    def view(self, wishes: Wishes) -> EaselView:
        """Return what the page shows, with these wishes by the spots' names; others are as usual, or as they fall."""
        status = self._status()
        bench, paper = status.bench, self._paper(status.bench)
        rows = self._of_now(bench)
        about = EaselView(
            paper=paper.name if paper else bench.paper_title,
            source=bench.paper if paper else "",
            sensor=self._lamp.sensor_ready(),
            running=readings_of(status.plan) if status.plan else None,
            outcome=self._spots.outcome(),
            reference=paper.reference if paper else None,
            new_reference=self._new_reference(bench),
            why="" if paper else say("easel.paper-none"),
        )
        if paper is None or not rows:
            return about
        try:
            return self._reckoned(about, paper, rows, wishes)
        except ControllerError as problem:
            return about.model_copy(update={"why": str(problem)})

    def densities_of(self, negative: str) -> tuple[tuple[str, float], ...]:
        """Return what was read of a negative that lies in the carrier: each spot's name, and its density.

        As the light of the paper's readings would find it: size and aperture are in an effective density, and who
        prints a tone at some set-up reckons with that set-up by itself.
        """
        bench = self._status().bench
        paper = self._paper(bench)
        if not negative or bench.negative != negative or paper is None:
            return ()
        weaker = math.log10(set_up_factor(paper.setup, bench.magnification, bench.aperture)[0])
        return tuple((spot.name, spot.density - weaker) for spot in self.view({}).spots)

    def _reckoned(self, about: EaselView, paper: Paper, rows: dict[str, SpotRead], wishes: Wishes) -> EaselView:
        self._same_set_up(rows)
        offset = self._offset(paper)
        tones = self._tones(paper, rows, wishes, offset)
        shown = {spot.name: spot.wanted for spot in tones if spot.wanted is not None}
        if len(tones) == 1:
            light = tones[0]
            assert light.wanted is not None
            seconds = seconds_for(paper, "soft", light.density, light.wanted)
            one = say("easel.one-light", seconds=f"{seconds:.1f}", name=light.name, density=f"{light.wanted:.2f}")
            return about.model_copy(update={"one": one, "wishes": tuple(shown.items()), "offset": offset})
        found = reckon(paper, tones, longest_seconds=LONGEST_MS / 1000)
        pair = found.pair
        flags = [
            NamedTone(
                name=each.spot.name,
                negative_density=each.spot.density,
                moved_stops=each.work.stops if each.work else 0.0,
            )
            for each in found.spots
        ]
        from controller.paper.iso import stated

        return about.model_copy(
            update={
                "spots": tuple(line_of(paper, each, self._doubt(paper, rows[each.spot.name])) for each in found.spots),
                "gain": self._gain_words(paper, rows),
                "wishes": tuple(shown.items()),
                "soft": tenths(pair.soft_seconds),
                "hard": tenths(pair.hard_seconds),
                "range": stated(pair.range_exact),
                "why": found.why,
                "offset": offset,
                "curves": curves_of(paper, pair.soft_seconds, pair.hard_seconds, flags),
                "works": sum(each.work is not None for each in found.spots),
            }
        )

    # ---- taken

    def use(self, wishes: Wishes, number: int, *, works: bool, seen: tuple[str, str] = ("", "")) -> Status:
        """Make a recipe of the pair, with the burns and dodges where asked for, and make that the next sheet.

        Decided on snapshot `number`, or where that has gone by, as it does while the last spot's dark is counted, on
        the pair that was `seen`, which must be what the spots come to now.

        Raises:
            Impossible, Unreadable: something stands against it, or the two tones cannot be had; nothing is kept.
            WrongMoment: as `Desk.do`; the recipe is kept all the same.
        """
        status = self._status()
        bench, paper = status.bench, self._need_paper()
        if "load" not in status.can:
            raise WrongMoment(say("foot.stale"))
        rows = self._of_now(bench)
        if not rows:
            raise Impossible(say("easel.no-spots"))
        self._same_set_up(rows)
        offset = self._offset(paper)
        found = reckon(paper, self._tones(paper, rows, wishes, offset), longest_seconds=LONGEST_MS / 1000)
        if found.why:
            raise Impossible(found.why)
        seconds = tenths(found.pair.soft_seconds), tenths(found.pair.hard_seconds)
        if not status.holds(number) and seen != (f"{seconds[0]:.1f}", f"{seconds[1]:.1f}"):
            raise WrongMoment(say("foot.stale"))
        title = bench.negative_title or say("easel.title-spots")
        stand = EnlargerStand(magnification=bench.magnification, aperture=bench.aperture)
        recipe = new_recipe(title[:100], paper, stand, seconds, say("easel.note"))
        local = tuple(work_of(each) for each in found.spots if each.work is not None) if works else ()
        named = NegativeNamed(name=bench.negative_title) if bench.negative_title else None
        made = recipe.model_copy(update={"local": local, "negative": named})
        kept = self._recipes.save(write(made))
        self._taken = kept.id, kept.version
        status = self._do(Load(source=kept.id, version=kept.version), status.number)
        self._note(
            SpotsTaken(
                recipe=kept.id,
                version=kept.version,
                paper=bench.paper,
                box=paper.box.label,
                light_density=found.spots[0].spot.density - offset,
                dark_density=found.spots[1].spot.density - offset,
                light_wanted=found.pair.predicted[0],
                dark_wanted=found.pair.predicted[1],
                soft_seconds=float(seconds[0]),
                hard_seconds=float(seconds[1]),
            )
        )
        return status

    # ---- little helps

    def _paper(self, bench: AtEnlarger) -> Paper | None:
        if not bench.paper:
            return None
        try:
            return self._papers.fetch(bench.paper)
        except ControllerError:
            return None

    def _need_paper(self) -> Paper:
        paper = self._paper(self._status().bench)
        if paper is None:
            raise Impossible(say("easel.paper-none"))
        return paper

    def _offset(self, paper: Paper) -> float:
        """Return what this evening's verdicts add to every density on the paper that is out."""
        source = self._status().bench.paper
        return evening_offset(paper, (each for each in self._verdicts() if each.taken.paper == source)).density

    def _of_now(self, bench: AtEnlarger) -> dict[str, SpotRead]:
        """Return the last readings' spots, by name, where they are of this negative on this paper; in their order."""
        read = [each for each in self._spots.read() if each.what == "spots"]
        last = read[-1] if read else None
        stands = bench.negative, bench.negative_title, bench.paper
        if last is None or (last.bench.negative, last.bench.negative_title, last.bench.paper) != stands:
            return {}
        return {each.spot: each for each in read if each.readings == last.readings}

    def _new_reference(self, bench: AtEnlarger) -> SpotRead | None:
        read = self._spots.read()
        last = read[-1] if read else None
        if last is None or last.what != "reference" or last.bench.paper != bench.paper:
            return None
        paper = self._paper(bench)
        known = None if paper is None else paper.reference
        return None if known is not None and known.level == last.level else last

    def _same_set_up(self, rows: dict[str, SpotRead]) -> None:
        """Refuse spots that were measured at another size or aperture than the sheet would be printed at."""
        bench = self._status().bench
        for each in rows.values():
            if any(getattr(each.bench, name) != getattr(bench, name) for name in _SET_UP):
                raise Impossible(say("easel.set-up-changed"))

    def _step(self, paper: Paper, row: SpotRead) -> Ratio | None:
        """Return how much more a spot's gain counts than the reference's."""
        was = paper.reference
        return None if was is None else self._spots.gains(row.sensor).between(was.gain, row.gain)

    def _doubt(self, paper: Paper, row: SpotRead) -> float:
        """Return the standard deviation of a spot's density: of its own counts, and of its gain's ratio."""
        step = self._step(paper, row)
        return math.hypot(row.doubt, 0.0 if step is None else step.uncertain / math.log(10.0))

    def _gain_words(self, paper: Paper, rows: dict[str, SpotRead]) -> str:
        """Return what was reckoned with where spots went through another gain than the reference; else nothing."""
        for row in rows.values():
            step, was = self._step(paper, row), paper.reference
            if was is not None and step is not None and row.gain != was.gain:
                figures = {"ratio": f"{step.ratio:.3g}", "off": f"{100.0 * step.uncertain:.1f}", "day": step.day or "–"}
                return say("easel.gain-ratio", gain=row.gain, was=was.gain, **figures)
        return ""

    def _tones(self, paper: Paper, rows: dict[str, SpotRead], wishes: Wishes, offset: float) -> tuple[Measured, ...]:
        # to the hundredth, as wishes are shown and sent back: what is used must be what was seen
        usual = {
            "highlight": round(density_of("first", paper.dmin, paper.dmax), 2),
            "shadow": round(density_of("last", paper.dmin, paper.dmax), 2),
        }
        against = {
            name: level_against(paper, row.sensor, row.gain, row.filter, self._spots.gains(row.sensor))
            for name, row in rows.items()
        }
        order = sorted(rows, key=lambda name: ({"highlight": 0, "shadow": 1}.get(name, 2), name))
        # each as a share of the reference as its own gain would count it
        spots = [Spot(name, rows[name].level / against[name], wishes.get(name, usual.get(name))) for name in order]
        return measured(1.0, spots, offset)
