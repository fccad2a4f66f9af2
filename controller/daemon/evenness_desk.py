"""Evenness and coverage as their page sees them: begun, read from a probe, a scan or by eye, kept, and mended."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, BinaryIO, Final

from controller.daemon.evenness_view import (
    GREY_DENSITY,
    Draft,
    EvennessView,
    edge_work,
    grey_strip,
    map_view,
    outcome_of,
    probed,
    said,
    stand_words,
    standing,
)
from controller.daemon.trial_desk import Trial, TrialDesk
from controller.easel.one_light import seconds_for
from controller.errors import ControllerError, Impossible, Unreadable
from controller.foot.acts import Act, Load, StandAtEnlarger
from controller.lamp.spot_bench import Through
from controller.paper.typical import typical
from controller.recipe.files import write
from controller.recipe.recipe import EdgeBurn, Recipe
from controller.trials import evenness
from controller.trials.easel_lights import EVENNESS, places_plan
from controller.trials.evenness import PLACES, CoverageFound, EvennessFound, Place, Side, Stand, Way, place_words
from controller.words import say
from hardware.light_sensor import GAINS

if TYPE_CHECKING:
    from controller.daemon.enlarger_shelf import EnlargerShelf
    from controller.daemon.paper_shelf import PaperShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.daemon.scans import ScanDrawer
    from controller.foot.status import Status
    from controller.lamp.bench import LampBench
    from controller.lamp.spot_bench import SpotBench
    from controller.paper.paper import Paper
    from controller.store.versions import Kept
    from controller.trials.results import TrialResult

LOOKS: Final[dict[str, float]] = {"same": 0.0, "a-little": 0.08, "clearly": 0.2, "far": 0.4}
"""By how much density a place is lighter than the centre, as an eye says it of a middle grey (common practice: some
0.02 is seen edge to edge, several times that across a sheet)."""
WHITE: Final = "white"
"""And where there is no grey at all."""
LEAST_GREY, MOST_GREY = 0.35, 1.40
"""Where hard light tells small differences: on the steep part of the curve."""
SINCE: Final = {
    "negative_format": "evenness.since-format",
    "focal_mm": "evenness.since-lens",
    "light_source": "evenness.since-source",
}
"""What makes it due again where it is another one now, and how that is said."""
SAME_SIZE: Final = 0.02
"""Share by which a recipe's magnification may differ from that of the map that mends it."""


class EvennessDesk:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        trials: TrialDesk,
        lamp: LampBench,
        spots: SpotBench,
        recipes: RecipeShelf,
        papers: PaperShelf,
        enlargers: EnlargerShelf,
        scans: Callable[[], ScanDrawer],
        *,
        status: Callable[[], Status],
        do: Callable[[Act, int], Status],
    ) -> None:
        self._trials, self._lamp, self._spots, self._recipes = trials, lamp, spots, recipes
        self._papers, self._enlargers, self._scans, self._status = papers, enlargers, scans, status
        self._do, self._lock = do, threading.Lock()
        self._draft: Draft | None = None
        trials.add(self)
        trials.register(Trial("evenness", of=self._of, since=self._since))
        trials.register(Trial("coverage", of=self._of, since=self._since))

    # ---- begun

    def begin(self, number: int) -> Status:
        """Make the nine lights the next ones, decided on snapshot `number`. Raises as `LampBench.begin_readings`."""
        status = self._lamp.begin_readings(places_plan(self._recipes.longest_ms()), number)
        self._spots.go_through(Through("high", GAINS))
        with self._lock:
            self._draft = None
        return status

    def begin_strip(self, number: int) -> Status:
        """Load a strip through hard for the grey sheet, as one that is printed with an empty carrier.

        Raises:
            WrongMoment: a sheet is open, or the snapshot is old.
            StoreTrouble: the strip cannot be kept.
        """
        bench = self._status().bench
        empty = bench.model_copy(update={"negative": "", "negative_title": ""})
        made = grey_strip(empty, self._paper(), self._recipes.longest_ms())
        text = write(made)
        known = next((kept for kept in self._recipes.kept("strip") if kept.body == text), None)
        kept = known or self._recipes.save(text)
        if empty != bench:  # or its sheets would count as prints of the negative
            number = self._do(StandAtEnlarger(bench=empty), number).number
        return self._do(Load(source=kept.id, version=kept.version), number)

    # ---- answered

    def by_scan(self, file: BinaryIO, name: str, sheet: str = "") -> None:
        """Take a scan of a whole sheet of even grey; `sheet` is the one that was printed last.

        Raises:
            Unreadable: it is no picture, or has no such grey; nothing is kept.
            Impossible: the centre is no middle grey, or the places cannot be so.
        """
        try:
            from controller.trials import grey_sheet
        except ImportError:
            raise Impossible(say("picture.libraries")) from None
        levels, linear = self._scans().small(file, name, grey_sheet.MOST_PIXELS, grey_sheet.LONGEST_SIDE)
        paper = self._paper()
        found = grey_sheet.densities(levels, linear=linear, white=paper.dmin)
        self._take("scan", found, sheet)

    def by_eye(self, looks: Mapping[Place, str], sheet: str = "") -> None:
        """Take what an eye says of each place against the centre: a word of `LOOKS`, or `WHITE`.

        Raises:
            Unreadable: a word is none of these; its place is the field.
            Impossible: the places cannot be so.
        """
        paper, found = self._paper(), {}
        for place in PLACES:
            look = looks.get(place, "same")
            if look not in (*LOOKS, WHITE):
                raise Unreadable(say("evenness.look", place=place_words(place)), (place,))
            found[place] = paper.dmin if look == WHITE else GREY_DENSITY - LOOKS[look]
        self._take("eye", found, sheet)

    def _take(self, way: Way, densities: Mapping[Place, float], sheet: str) -> None:
        paper, centre = self._paper(), densities["centre"]
        if not LEAST_GREY <= centre <= MOST_GREY:
            raise Impossible(
                say("evenness.grey", found=f"{centre:.2f}", least=f"{LEAST_GREY:.2f}", most=f"{MOST_GREY:.2f}")
            )
        inside = (paper.dmin + 0.015, paper.dmax - 0.015)
        levels = {
            place: seconds_for(paper, "hard", 0.0, min(max(density, inside[0]), inside[1]))
            if density > inside[0]
            else 2.0**-evenness.MOST * seconds_for(paper, "hard", 0.0, centre)
            for place, density in densities.items()
        }
        stops = evenness.stops_at(levels)
        with self._lock:
            self._draft = Draft(way, stops, self._status().bench, self._newest(), sheet=sheet)

    # ---- looked at

    def view(self) -> EvennessView:
        """Return what the page shows."""
        status, stand = self._status(), self._stand()
        running = status.plan is not None and status.plan.source == EVENNESS
        about = EvennessView(
            running=running,
            sensor=self._lamp.sensor_ready(),
            outcome=self._spots.outcome() if running else "",
            stand=stand_words(stand),
            lacking=stand.frame_mm is None or stand.focal_mm is None or stand.magnification is None,
            recipe="" if (kept := self._loaded()) is None else kept.title,
        )
        draft = None
        try:
            draft = self._present()
        except ControllerError as problem:
            about = about.model_copy(update={"why": "" if running else str(problem)})
        last = self._trials.last("evenness")
        if draft is not None:
            stand = standing(draft.bench, self._enlargers)
            judged = evenness.judged(draft.stops, stand)
            shown = map_view(draft.way, draft.stops, said(judged, stand), covered=judged.covered, fresh=True)
            return about.model_copy(update={"map": shown})
        if last is not None and isinstance(last.body, EvennessFound):
            judged = evenness.judged(last.body.stops, _stand_of(last.body, stand))
            words = self._trials.line("evenness").outcome
            shown = map_view(last.body.way, last.body.stops, words, covered=judged.covered, fresh=False)
            return about.model_copy(update={"map": shown})
        return about

    # ---- kept, and mended

    def keep(self) -> TrialResult:
        """Keep the map, and whether the format is covered.

        Raises:
            Impossible: there is none, or it leaves a doubt: something stood in the light; nothing is kept then.
        """
        draft = self._present()
        if draft is None:
            raise Impossible(say("evenness.nothing"))
        stand = standing(draft.bench, self._enlargers)
        judged = evenness.judged(draft.stops, stand)
        if judged.cause == "shaded":
            raise Impossible(said(judged, stand))
        key, figures = outcome_of(judged, stand)
        sheets = (draft.sheet,) if draft.sheet else ()
        body = EvennessFound(
            way=draft.way,
            stops=draft.stops,
            cause=judged.cause,
            magnification=stand.magnification,
            focal_mm=stand.focal_mm,
            aperture=stand.aperture,
            negative_format=stand.negative_format,
            light_source=stand.light_source,
            steady=draft.steady,
            readings=draft.readings,
        )
        result = self._trials.keep(body, key, figures, sheets=sheets)
        covers = CoverageFound(
            negative_format=stand.negative_format,
            focal_mm=stand.focal_mm,
            light_source=stand.light_source,
            covered=judged.covered,
            cause=judged.cause,
            circle_mm=judged.circle_mm,
        )
        if judged.covered:
            self._trials.keep(covers, "evenness.outcome-covered", sheets=sheets)
        else:
            self._trials.keep(covers, key, figures, sheets=sheets)
        with self._lock:
            self._draft = None
        return result

    def mend(self, head: Side) -> Kept:
        """Write the edge burns into the recipe that is loaded, as its next version; its head lies on side `head`.

        Raises:
            Impossible: no recipe is loaded, it has them, it stands at another size, or no burn mends the light.
        """
        kept, shown = self._loaded(), self.view().map
        if kept is None:
            raise Impossible(say("evenness.no-recipe"))
        if shown is None or not shown.burns:
            raise Impossible(shown.no_burn if shown is not None and shown.no_burn else say("evenness.no-need"))
        recipe = self._recipes.recipe(kept.id)
        what = say("evenness.burn-what")
        if any(isinstance(work, EdgeBurn) and work.what == what for work in recipe.local):
            raise Impossible(say("evenness.has-burns", title=kept.title))
        self._same_size(recipe)
        made = recipe.model_copy(update={"local": (*recipe.local, *edge_work(recipe, dict(shown.burns), head, what))})
        return self._recipes.save(write(made), kept.id)

    def _same_size(self, recipe: Recipe) -> None:
        draft, last = self._present(), self._trials.last("evenness")
        known = None if draft is None else draft.bench.magnification
        if draft is None and last is not None and isinstance(last.body, EvennessFound):
            known = last.body.magnification
        size = recipe.magnification
        if size is not None and known and abs(math.log(float(size) / known)) > SAME_SIZE:
            raise Impossible(say("evenness.other-size", found=f"{float(size):g}", known=f"{known:g}"))

    # ---- little helps

    def _newest(self) -> str:
        """Return which readings were the last of empty light."""
        read = [each for each in self._spots.read() if each.what == "evenness"]
        return read[-1].readings if read else ""

    def _present(self) -> Draft | None:
        """Return the map that is not kept yet: of a sheet, or of the last readings; None where there is none.

        Raises:
            Impossible: a place is missing, or they cannot be so.
        """
        with self._lock:
            draft = self._draft
        newest, last = self._newest(), self._trials.last("evenness")
        here = self._status().bench.enlarger
        if draft is not None and draft.readings == newest:
            return draft if draft.bench.enlarger == here else None
        kept = last is not None and isinstance(last.body, EvennessFound) and last.body.readings == newest
        rows = [each for each in self._spots.read() if each.readings == newest]
        # what was measured under another enlarger is none of this one's
        return None if not newest or kept or rows[0].bench.enlarger != here else probed(rows)

    def _stand(self) -> Stand:
        return standing(self._status().bench, self._enlargers)

    def _paper(self) -> Paper:
        bench = self._status().bench
        try:
            return self._papers.fetch(bench.paper) if bench.paper else typical()
        except ControllerError:
            return typical()

    def _loaded(self) -> Kept | None:
        plan = self._status().plan
        if plan is None or plan.kind != "recipe":
            return None
        try:
            return self._recipes.fetch(plan.source)
        except ControllerError:
            return None

    def _of(self) -> tuple[str, str]:
        bench = self._status().bench
        return bench.enlarger, bench.enlarger_title

    def _since(self, last: TrialResult) -> str:
        """Return what changed since the light was measured."""
        stand, body = self._stand(), last.body
        if not isinstance(body, EvennessFound | CoverageFound):
            return ""
        for name, key in SINCE.items():
            was, is_now = getattr(body, name), getattr(stand, name)
            if was and is_now and was != is_now:
                return key
        return ""


def _stand_of(body: EvennessFound, now: Stand) -> Stand:
    return Stand(body.magnification, body.focal_mm, body.aperture, body.negative_format, now.light_source)
