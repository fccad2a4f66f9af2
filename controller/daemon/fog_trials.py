"""The safelight's and the phone's test as pages see them: a grey first, a sheet, its answers, and what they set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller import wall
from controller.daemon.phones import FogTest
from controller.daemon.trial_desk import Trial, TrialDesk
from controller.errors import Impossible, NotThere
from controller.model import Frozen
from controller.store.trial_rows import GreyFound
from controller.trials.phone import PhoneFound, phone_found, together
from controller.trials.results import Changed
from controller.trials.safelight import (
    GREY,
    Answer,
    Glow,
    check_grey,
    check_waits,
    figures_of,
    found,
    grey_plan,
    sheet_plan,
)
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.phones import Phones
    from controller.foot.status import Status
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.store.archive import Archive
    from controller.store.records import SheetRecord
    from controller.store.settings import Settings
    from controller.trials.results import TrialResult

LOOKED_BACK: Final = 30
"""Sheets among which those of a test are looked for: an evening's."""
SAFE: Final = "trials.changed-safe"
RED: Final = "trials.changed-red"
FILTER: Final = "soft"
"""The grey is given through it: what a safelight fogs first is what soft light prints on."""


@dataclass(frozen=True, slots=True)
class FogView:
    """What the page of one of the two tests shows."""

    glow: Glow
    paper: str
    grey: GreyFound | None
    grey_strip: SheetRecord | None
    """A grey strip that was closed, and of which no band was said yet."""
    sheet: SheetRecord | None
    """A sheet of this test that was closed, and has no answers yet."""
    loaded: str
    """The name of the test whose plan is the next sheet's; empty where none is."""
    level: int = 0
    """The level of red that the phone stood at beside `sheet`."""


class FogTrials:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        trials: TrialDesk,
        archive: Archive,
        phones: Phones,
        status: Callable[[], Status],
        settings: Callable[[], Settings],
        change_settings: Callable[[dict[str, object]], Settings],
        longest_ms: Callable[[], int],
    ) -> None:
        self._trials, self._archive, self._phones, self._status = trials, archive, phones, status
        self._settings, self._change_settings, self._longest_ms = settings, change_settings, longest_ms
        trials.add(self)
        trials.register(Trial("safelight", self._paper, undo={SAFE: self._set_back}))
        trials.register(Trial("phone", undo={SAFE: self._set_back, RED: self._red_back}))

    # ---- looked at

    def view(self, glow: Glow) -> FogView:
        """Return how a test stands, on the paper that is out."""
        sheets = [record for record in reversed(self._archive.sheets(LOOKED_BACK)) if record.closed is not None]
        grey = self._grey()
        strip = next((each for each in sheets if each.plan.test == GREY), None)
        sheet = next((each for each in sheets if each.plan.test == glow), None)
        plan = self._status().plan
        return FogView(
            glow=glow,
            paper=self._paper()[1],
            grey=grey,
            grey_strip=None if strip is None or (grey is not None and grey.strip == strip.id) else strip,
            sheet=None if sheet is None or self._answered(glow, sheet.id) else sheet,
            loaded="" if plan is None else plan.test,
            level=0 if sheet is None else _level_of(sheet),
        )

    def _answered(self, glow: Glow, sheet: str) -> bool:
        return any(sheet in result.sheets for result in self._trials.results(glow))

    def _paper(self) -> tuple[str, str]:
        return _paper_of(self._status().bench)

    def _grey(self) -> GreyFound | None:
        bench = self._status().bench
        grey = self._trials.grey(_paper_of(bench)[0])
        return grey if grey is not None and grey.box == bench.box else None

    # ---- begun

    def begin_grey(self, number: int) -> Status:
        """Make the strip that finds the grey the next sheet, decided on snapshot `number`. Raises `WrongMoment`."""
        return self._trials.begin(grey_plan(FILTER, self._longest_ms()), number)

    def begin(self, glow: Glow, number: int, level: int = 0) -> Status:
        """Make a run's sheet the next one; `level` is the red that the phone's page stands at beside it.

        Raises:
            Impossible: no grey is known on this paper.
            WrongMoment: a sheet is open, or the snapshot is old.
        """
        grey = self._grey()
        if grey is None:
            raise Impossible(say("trials.no-grey"))
        return self._trials.begin(sheet_plan(glow, grey.filter, grey.ms, level), number)

    def keep_grey(self, band: int, density: float) -> GreyFound:
        """Keep which band of the last grey strip is a light grey, and how dark it is.

        Raises:
            NotThere: there is no such strip, or no such band.
            Unreadable: the grey is out of limits; nothing is kept.
        """
        strip = self.view("safelight").grey_strip
        totals = () if strip is None or strip.plan.strip is None else strip.plan.strip.totals_ms
        if strip is None or not 1 <= band <= len(totals):
            raise NotThere(say("trials.no-grey-strip"))
        check_grey(density)
        bench = strip.plan.bench or self._status().bench
        grey = GreyFound(
            strip=strip.id,
            paper=_paper_of(bench)[0],
            box=bench.box,
            filter=FILTER,
            ms=totals[band - 1],
            density=density,
        )
        self._trials.keep_grey(grey)
        return grey

    # ---- answered

    def answer_safelight(self, before: Answer, after: Answer, alone: Answer) -> TrialResult:
        """Keep what the safelight's sheet shows, and set the safe minutes by it.

        Raises:
            NotThere: there is no such sheet.
            Impossible, Unreadable: it leaves a doubt; nothing is kept, and nothing set.
        """
        sheet, grey = self._sheet("safelight")
        body = found(before, after, alone, grey.density)
        phones = [self._of_phone(phone.mark) for phone in self._phones.listed()]
        minutes = min([body.safe_minutes, *(one.safe_minutes for one in phones if one is not None and one.passed)])
        changed = self._set(minutes)
        return self._trials.keep(
            body, f"trials.outcome-{body.case.lower()}", figures_of(body), sheets=(sheet.id,), changed=changed
        )

    def answer_phone(self, mark: str, name: str, before: Answer, after: Answer, alone: Answer) -> TrialResult:
        """Keep what a phone's sheet shows, and set by it what level it may stand at, and the safe minutes beside it.

        Raises: as `answer_safelight`.
        """
        sheet, grey = self._sheet("phone")
        body = phone_found(before, after, alone, grey.density, _level_of(sheet))
        changed: tuple[Changed, ...] = ()
        if body.passed:
            changed = (
                self._set_red(mark, body),
                *self._set(together(self._settings().safe_minutes, body.safe_minutes)),
            )
        outcome = "trials.outcome-phone" if body.passed else "trials.outcome-phone-not"
        figures = {"minutes": f"{body.safe_minutes:g}", "level": str(body.level)}
        return self._trials.keep(body, outcome, figures, sheets=(sheet.id,), changed=changed, of=(mark, name))

    def _of_phone(self, mark: str) -> PhoneFound | None:
        last = self._trials.last("phone", mark)
        return last.body if last is not None and isinstance(last.body, PhoneFound) else None

    def _sheet(self, glow: Glow) -> tuple[SheetRecord, GreyFound]:
        sheet, grey = self.view(glow).sheet, self._grey()
        if sheet is None or grey is None:
            raise NotThere(say("trials.no-sheet"))
        if sheet.outcome != "complete" or sheet.lamp_failed:
            raise Impossible(say("trials.sheet-spoiled", number=sheet.number))
        waits = sheet.steps[-1].waits
        check_waits([wait.until_ns for wait in waits], [wait.ms for wait in waits])
        return sheet, grey

    # ---- set, and taken back

    def _set(self, minutes: float) -> tuple[Changed, ...]:
        was = self._settings().safe_minutes
        if was == minutes:
            return ()
        self._change_settings({"safe_minutes": minutes})
        return (Changed(what=SAFE, was=f"{was:g}", now=f"{minutes:g}"),)

    def _set_back(self, change: Changed) -> None:
        self._change_settings({"safe_minutes": float(change.was)})

    def _set_red(self, mark: str, body: PhoneFound) -> Changed:
        before = self._phones.fog_test(mark)
        paper = self._paper()[1] or say("trials.some-paper")
        day = wall.now().astimezone().date()
        self._phones.tested(mark, FogTest(level=body.level, paper=paper[:80], day=day))
        return Changed(
            what=RED,
            was="–" if before is None else str(before.level),
            now=str(body.level),
            back=_RedBefore(mark=mark, test=before).model_dump_json(),
        )

    def _red_back(self, change: Changed) -> None:
        before = _RedBefore.model_validate_json(change.back)
        self._phones.tested(before.mark, before.test)


class _RedBefore(Frozen):
    """Which phone was tested for another level, and what it was tested for until then."""

    mark: str
    test: FogTest | None


def _paper_of(bench: AtEnlarger) -> tuple[str, str]:
    return bench.paper or bench.paper_title, bench.paper_title


def _level_of(sheet: SheetRecord) -> int:
    return max((wait.level for step in sheet.plan.steps for wait in step.waits), default=0)
