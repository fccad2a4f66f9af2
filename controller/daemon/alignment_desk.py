"""Alignment as its page sees it: begun, its heights read, and how the carrier lies kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from controller.daemon.evenness_view import stand_words, standing
from controller.daemon.trial_desk import Trial, TrialDesk
from controller.errors import Impossible
from controller.model import Frozen
from controller.trials import alignment
from controller.trials.alignment import AlignmentFound, Corner, Lens
from controller.trials.easel_lights import ALIGNMENT, corners_plan
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.enlarger_shelf import EnlargerShelf
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.foot.status import Status
    from controller.lamp.bench import LampBench
    from controller.trials.evenness import Stand
    from controller.trials.results import TrialResult


class AlignmentView(Frozen):
    """Everything the page shows."""

    running: bool
    stand: str
    lacking: bool
    """Lens, size or aperture is not known: nothing can be reckoned."""
    found: AlignmentFound | None
    outcome: str


class AlignmentDesk:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        trials: TrialDesk,
        lamp: LampBench,
        recipes: RecipeShelf,
        enlargers: EnlargerShelf,
        *,
        status: Callable[[], Status],
    ) -> None:
        self._trials, self._lamp, self._recipes, self._enlargers = trials, lamp, recipes, enlargers
        self._status = status
        trials.add(self)
        trials.register(Trial("alignment", of=self._of, since=self._since))

    def begin(self, number: int) -> Status:
        """Make the lights of centre and corners the next ones, decided on snapshot `number`.

        Raises:
            Impossible: lens, size or aperture is not known.
            WrongMoment: not on the day face, a sheet is open, or the snapshot is old.
        """
        self._lens()
        return self._lamp.begin_readings(corners_plan(self._recipes.longest_ms()), number, by_eye=True)

    def view(self) -> AlignmentView:
        """Return what the page shows."""
        plan, stand, last = self._status().plan, self._stand(), self._trials.last("alignment")
        body = last.body if last is not None and isinstance(last.body, AlignmentFound) else None
        return AlignmentView(
            running=plan is not None and plan.source == ALIGNMENT,
            stand=stand_words(stand),
            lacking=None in (stand.focal_mm, stand.magnification, stand.aperture),
            found=body,
            outcome="" if body is None else self._trials.line("alignment").outcome,
        )

    def keep(self, heights_mm: Mapping[Corner, float], again_mm: float) -> TrialResult:
        """Keep how the carrier lies, from the heights at which a grain focuser was sharp.

        Raises:
            Unreadable: a height is missing, or can be none; its place is the corner.
            Impossible: the focus moved meanwhile, the corners lie in no plane, or the lens is not known; nothing is
                kept then.
        """
        found = alignment.found(heights_mm, self._lens(), again_mm=again_mm)
        if alignment.bent(found):
            raise Impossible(say("alignment.bent", bent=f"{found.bent_mm:.2f}"))
        return self._trials.keep(found, *outcome_of(found))

    def _stand(self) -> Stand:
        return standing(self._status().bench, self._enlargers)

    def _lens(self) -> Lens:
        stand = self._stand()
        if stand.focal_mm is None or stand.magnification is None or stand.aperture is None:
            raise Impossible(say("alignment.lacking"))
        return Lens(stand.focal_mm, stand.magnification, stand.aperture)

    def _of(self) -> tuple[str, str]:
        bench = self._status().bench
        return bench.enlarger, bench.enlarger_title

    def _since(self, last: TrialResult) -> str:
        stand, body = self._stand(), last.body
        if isinstance(body, AlignmentFound) and stand.focal_mm not in (None, body.focal_mm):
            return "evenness.since-lens"
        return ""


def outcome_of(found: AlignmentFound) -> tuple[str, dict[str, str]]:
    """Return the sentence of how a carrier lies: its key, and what it is filled in with."""
    sides = alignment.higher_sides(found)
    figures = {
        "out": f"{found.out_mm:.2f}",
        "depth": f"{found.depth_mm:.2f}",
        "f_number": f"{found.f_number:g}",
        "m": f"{found.magnification:g}",
        "sides": " ".join(say(f"alignment.side-{side}", mm=f"{mm:.2f}") for side, mm in sides),
    }
    if found.square:
        return ("alignment.outcome-within" if sides else "alignment.outcome-square"), figures
    return "alignment.outcome-out", figures | {"enough": f"{alignment.sharp_from(found):.1f}"}
