"""The reciprocity test as its page sees it: the strip, a look at it or its densities, and the exponent these set."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final, Literal

from controller import wall
from controller.daemon.trial_desk import Trial, TrialDesk
from controller.errors import ControllerError, Impossible, NotThere
from controller.paper.paper import Reciprocity
from controller.recipe.plan import StepKind
from controller.trials import reciprocity
from controller.trials.reciprocity import Grey, ReciprocityFound
from controller.trials.results import Changed, TrialResult
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.paper_shelf import PaperShelf
    from controller.foot.status import Status
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.store.archive import Archive
    from controller.store.records import SheetRecord

LOOKED_BACK: Final = 30
"""Sheets among which those of a test are looked for: an evening's."""
EXPONENT: Final = "reciprocity.changed"


@dataclass(frozen=True, slots=True)
class ReciprocityView:
    """What the page of the reciprocity test shows."""

    paper: str
    kept: bool
    """The paper that is out is kept with its readings, or known by its name alone."""
    exponent: float | None
    """What is reckoned with now; None where it was never tested."""
    grey: Grey | None
    """The light that the strip would begin from."""
    why_not: str
    """Why none can be made just now."""
    sheet: SheetRecord | None
    """A strip that was closed, and has no answer yet."""
    loaded: bool


class ReciprocityTrial:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        trials: TrialDesk,
        archive: Archive,
        papers: PaperShelf,
        status: Callable[[], Status],
        longest_ms: Callable[[], int],
    ) -> None:
        self._trials, self._archive, self._papers = trials, archive, papers
        self._status, self._longest_ms = status, longest_ms
        trials.add(self)
        trials.register(Trial("reciprocity", self._paper, undo={EXPONENT: self._back}))

    def view(self) -> ReciprocityView:
        """Return how the test of the paper that is out stands."""
        status, (source, title) = self._status(), self._paper()
        sheet = self._unanswered()
        grey, why = None, ""
        try:
            grey = self._grey()
            reciprocity.plan(grey, title, self._longest_ms())
        except ControllerError as problem:
            why = str(problem)
        return ReciprocityView(
            paper=title,
            kept=bool(status.bench.paper),
            exponent=self._exponent(source, title),
            grey=grey,
            why_not=why,
            sheet=sheet,
            loaded=status.plan is not None and status.plan.test == reciprocity.NAME,
        )

    def begin(self, number: int) -> Status:
        """Make the strip the next sheet, decided on snapshot `number`.

        Raises:
            Impossible: no paper is out, or no light was found on it yet that can be begun from.
            WrongMoment: a sheet is open, or the snapshot is old.
        """
        grey = self._grey()
        title = say("reciprocity.title", paper=self._paper()[1])
        return self._trials.begin(reciprocity.plan(grey, title, self._longest_ms()), number)

    def keep_by_eye(self, sheet: str, band: int | Literal["lighter", "darker"], between: bool = False) -> TrialResult:
        """Keep what a look at the strip says, and reckon with it from now on.

        Raises:
            Impossible: no band is like the last one, or the strip tells nothing; nothing is set.
            NotThere: there is no such strip of this paper without an answer.
        """
        record = self._strip(sheet)
        if isinstance(band, str):
            raise reciprocity.none_alike(band)
        return self._keep(record, reciprocity.by_eye(band, between=between, grey=_grey_of(record)))

    def keep_by_densities(self, sheet: str, read: Sequence[float]) -> TrialResult:
        """Keep what the densities of all bands say; raises as `keep_by_eye`."""
        record = self._strip(sheet)
        return self._keep(record, reciprocity.by_densities(read, _grey_of(record)))

    def _strip(self, sheet: str) -> SheetRecord:
        record = self._unanswered()
        if record is None or record.id != sheet:
            raise NotThere(say("trials.no-result"))
        if record.outcome != "complete":
            raise Impossible(say("reciprocity.not-complete"))
        if any(sum(not part.struck for part in step.parts) > 1 for step in record.steps):
            raise Impossible(say("reciprocity.stopped"))
        return record

    def _keep(self, record: SheetRecord, found: ReciprocityFound) -> TrialResult:
        source, title = self._paper()
        before = self._exponent(source, title)
        if self._status().bench.paper:
            self._papers.set_reciprocity(source, Reciprocity(exponent=found.exponent, date=_today()))
        was = {"paper": self._status().bench.paper, "exponent": before}
        figures = {
            "exponent": f"{found.exponent:.2f}",
            "uncertain": f"{max(found.uncertain, 0.01):.2f}",
            "paper": title,
        }
        changed = Changed(
            what=EXPONENT,
            was=say("reciprocity.never") if before is None else f"{before:.2f}",
            now=f"{found.exponent:.2f}",
            back=json.dumps(was),
        )
        key = "reciprocity.found-none" if found.exponent == 1.0 else "reciprocity.found"
        try:
            return self._trials.keep(found, key, figures, sheets=(record.id,), changed=(changed,))
        except ControllerError:  # what is not on file sets nothing
            self._back(changed)
            raise

    def _back(self, changed: Changed) -> None:
        was = json.loads(changed.back)
        if was["paper"]:
            before = was["exponent"]
            found = None if before is None else Reciprocity(exponent=float(before), date=_today())
            self._papers.set_reciprocity(was["paper"], found)

    def exponent_of(self, title: str) -> float | None:
        """Return the exponent that was tested of a paper known by its name alone; None where none was."""
        last = self._trials.last("reciprocity", title)
        return last.body.exponent if last is not None and isinstance(last.body, ReciprocityFound) else None

    def _exponent(self, source: str, title: str) -> float | None:
        if not self._status().bench.paper:
            return self.exponent_of(title)
        found = self._papers.fetch(source).reciprocity
        return None if found is None else found.exponent

    def _grey(self) -> Grey:
        """Return the light of the last print or pick on this paper, as the enlarger stands.

        Raises:
            Impossible: there is none, or nobody has said at which aperture.
        """
        bench = self._status().bench
        if not bench.paper_title:
            raise Impossible(say("reciprocity.no-paper"))
        found = last_light(self._sheets(), bench)
        if found is None:
            raise Impossible(say("reciprocity.no-grey"))
        return reciprocity.grey_at(bench, *found)

    # ---- little helps

    def _paper(self) -> tuple[str, str]:
        bench = self._status().bench
        return bench.paper or bench.paper_title, bench.paper_title

    def _sheets(self) -> Iterator[SheetRecord]:
        """Give the last sheets that were closed, the newest first."""
        return (record for record in reversed(self._archive.sheets(LOOKED_BACK)) if record.closed is not None)

    def _unanswered(self) -> SheetRecord | None:
        """Return the last strip of the test on the paper that is out, where it has no answer yet."""
        bench = self._status().bench
        strips = (each for each in self._sheets() if each.plan.test == reciprocity.NAME and _same_paper(each, bench))
        newest = next(strips, None)
        answered = {sheet for result in self._trials.results("reciprocity") for sheet in result.sheets}
        return None if newest is None or newest.id in answered else newest


def last_light(sheets: Iterable[SheetRecord], bench: AtEnlarger) -> tuple[float, str] | None:
    """Return the seconds and the filter of the last pick or base on the paper that is out, as the enlarger stands."""
    for record in sheets:
        if record.plan.test or not _same_paper(record, bench) or not _stands_as(record, bench):
            continue
        if record.picks and not record.picks[-1].stops:
            return record.picks[-1].seconds, record.picks[-1].filter
        bases = [step.step for step in record.steps if step.step.act is StepKind.BASE]
        if bases and record.outcome == "complete":
            return bases[0].planned_ms / 1000, bases[0].filter
    return None


def _grey_of(record: SheetRecord) -> Grey:
    return reciprocity.grey_of(record.plan)


def _same_paper(record: SheetRecord, bench: AtEnlarger) -> bool:
    stood = record.plan.bench
    return stood is not None and (stood.paper, stood.paper_title) == (bench.paper, bench.paper_title)


def _stands_as(record: SheetRecord, bench: AtEnlarger) -> bool:
    """Tell whether a light that was found then does the same now."""
    stood = record.plan.bench
    if stood is None:
        return False
    same = stood.aperture == bench.aperture and stood.head_height_mm == bench.head_height_mm
    return same and stood.magnification == bench.magnification


def _today() -> date:
    return wall.now().astimezone().date()
