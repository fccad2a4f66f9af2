"""The test of the developer's least time as its page sees it: pieces, what they show, and the process that has it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.daemon.reciprocity_trial import last_light
from controller.daemon.trial_desk import Trial, TrialDesk
from controller.errors import ControllerError, Impossible
from controller.trials import developer
from controller.trials.developer import DeveloperFound
from controller.trials.results import Changed, TrialResult
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.tray_desk import TrayDesk
    from controller.foot.status import Status
    from controller.recipe.at_enlarger import AtEnlarger
    from controller.store.archive import Archive
    from controller.store.records import SheetRecord
    from controller.store.settings import Settings
    from controller.trays.process import Process, Support

LOOKED_BACK: Final = 30
"""Sheets among which its pieces are looked for: an evening's."""
SECONDS: Final = "developer.changed"
NEARLY_MS: Final = 3_000
"""A piece may come out of the developer by so much sooner or later than it was to."""
USUAL: Final = (10.0, "hard")
"""What the pieces begin from where nothing was printed yet: seconds of a base, and its filter; common practice."""


@dataclass(frozen=True, slots=True)
class DeveloperView:
    """What the page of the developer's test shows."""

    support: Support
    seconds: float
    """Of the process as it is."""
    pieces: tuple[tuple[int, SheetRecord | None], ...]
    """Each time, and the piece that was developed for it since the last answer."""
    upcoming: int | None
    """The time of the next piece."""
    loaded: int | None
    """The time of the piece that is loaded."""
    why_not: str


class DeveloperTrial:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        trials: TrialDesk,
        archive: Archive,
        trays: TrayDesk,
        status: Callable[[], Status],
        settings: Callable[[], Settings],
        longest_ms: Callable[[], int],
    ) -> None:
        self._trials, self._archive, self._trays = trials, archive, trays
        self._status, self._settings, self._longest_ms = status, settings, longest_ms
        trials.add(self)
        trials.register(Trial("developer", self._developer, self._other_developer, undo={SECONDS: self._back}))

    def view(self) -> DeveloperView:
        """Return how the test of the developer for the paper that is out stands."""
        status, support, process = self._status(), self._support(), self._process()
        pieces = self._pieces(support)
        times = developer.TIMES_S[support]
        plan = status.plan
        own = plan.develop_seconds if plan is not None and plan.test == developer.NAME else None
        return DeveloperView(
            support=support,
            seconds=process.developer_seconds,
            pieces=tuple((seconds, pieces.get(seconds)) for seconds in times),
            upcoming=developer.next_piece(support, frozenset(pieces)),
            loaded=None if own is None else round(own),
            why_not="" if self._settings().trays == "clocks" else say("developer.no-clocks"),
        )

    def begin(self, seconds: int, number: int) -> Status:
        """Make the piece that is developed for so long the next sheet, decided on snapshot `number`.

        Raises:
            Impossible: no piece has this time, or trays are not followed by clocks.
            WrongMoment: a sheet is open, or the snapshot is old.
        """
        if self._settings().trays != "clocks":
            raise Impossible(say("developer.no-clocks"))
        closed = (record for record in reversed(self._archive.sheets(LOOKED_BACK)) if record.closed is not None)
        base, filter_name = last_light(closed, self._status().bench) or USUAL
        plan = developer.plan(self._support(), seconds, filter_name, round(base * 1000), self._longest_ms())
        return self._trials.begin(plan, number)

    def keep(self, black_from: int | None, fog_from: int | None) -> TrialResult:
        """Keep what the pieces say, and have the process develop for long enough, and not so long that it fogs.

        Raises:
            Impossible: a piece is wanting, or what they say is in doubt; nothing is set.
            StoreTrouble: it could not be written; nothing is set.
        """
        support, pieces = self._support(), self._pieces(self._support())
        wanting = [seconds for seconds in developer.TIMES_S[support] if seconds not in pieces]
        if wanting:
            raise Impossible(say("developer.wanting", seconds=", ".join(map(str, wanting))))
        process = self._process()
        found = developer.judged(support, black_from, fog_from, process.notes)
        seconds = developer.time_for(found, process.developer_seconds)
        changed: tuple[Changed, ...] = ()
        if seconds != process.developer_seconds:
            self._trays.keep_process(process.model_copy(update={"developer_seconds": seconds}))
            was = json.dumps({"support": support, "seconds": process.developer_seconds})
            changed = (Changed(what=SECONDS, was=f"{process.developer_seconds:g}", now=f"{seconds:g}", back=was),)
        try:
            return self._trials.keep(
                found,
                developer.outcome_of(found),
                developer.figures_of(found),
                sheets=[record.id for record in pieces.values()],
                changed=changed,
            )
        except ControllerError:  # what is not on file sets nothing
            for each in changed:
                self._back(each)
            raise

    def _back(self, changed: Changed) -> None:
        was = json.loads(changed.back)
        process = self._trays.processes()[was["support"]]
        self._trays.keep_process(process.model_copy(update={"developer_seconds": float(was["seconds"])}))

    def _pieces(self, support: Support) -> dict[int, SheetRecord]:
        """Return the pieces that lay as long in the developer as they were to, by their time, since the last answer."""
        answered = {sheet for result in self._trials.results("developer") for sheet in result.sheets}
        found: dict[int, SheetRecord] = {}
        for record in reversed(self._archive.sheets(LOOKED_BACK)):
            own, lay_ms = record.plan.develop_seconds, record.lay_ms("developer")
            if record.plan.test != developer.NAME or own is None or record.id in answered:
                continue
            if _support_of(record.plan.bench) != support or lay_ms is None:
                continue
            if abs(lay_ms - own * 1000) <= NEARLY_MS and record.outcome == "complete":
                found.setdefault(round(own), record)
        return found

    def _support(self) -> Support:
        return _support_of(self._status().bench)

    def _process(self) -> Process:
        return self._trays.processes()[self._support()]

    def _developer(self) -> tuple[str, str]:
        support = self._support()
        notes = self._process().notes.partition("\n")[0][:80]
        return support, say("developer.of", support=support, notes=notes) if notes else support

    def _other_developer(self, last: TrialResult) -> str:
        """Tell that another developer is noted at the process than was tested."""
        known = last.body.developer if isinstance(last.body, DeveloperFound) else ""
        return "" if known == self._process().notes else "developer.since"


def _support_of(bench: AtEnlarger | None) -> Support:
    return "RC" if bench is not None and bench.support == "RC" else "FB"
