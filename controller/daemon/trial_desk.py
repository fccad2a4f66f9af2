"""The desk of a test evening: what is tested, when it was, when it is due, what it changed; begun and taken back here.

Each test has a part of its own that reads its answers; here its result is kept, and found again.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date
from typing import TYPE_CHECKING, Final, TypeVar, get_args

from controller import wall
from controller.errors import Impossible, NotThere
from controller.model import Frozen, new_id
from controller.recipe.plan import Plan
from controller.store import last_trials
from controller.store.lookups import OF_THE_JOURNAL, Lookups
from controller.store.trial_rows import GreyFound, TrialDone, TrialInterval, TrialTakenBack
from controller.trials.results import USUAL_DAYS, Changed, Due, TrialBody, TrialName, TrialResult, due
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.answers import Answers
    from controller.daemon.inbox import Inbox
    from controller.foot.status import Status
    from controller.store.entries import Entry

P = TypeVar("P")
ORDER: Final[tuple[TrialName, ...]] = get_args(TrialName)
DUE_S: Final = 60.0
"""How long it is held to be known whether a test is due."""
INTERVALS: Final = (90, 180, 365, 730)
"""Days after which a test can be set to be due again."""


def _of_one() -> tuple[str, str]:
    return "", ""


@dataclass(frozen=True, slots=True)
class Trial:
    """One test as this desk needs to know it; its own part registers it."""

    name: TrialName
    of: Callable[[], tuple[str, str]] = _of_one
    """The id and the title of what it is of just now: the paper that is out, the enlarger; empty where there is one."""
    since: Callable[[TrialResult], str] = lambda _: ""
    """What changed since a result, so that it is due: a key of the catalogue, or nothing."""
    undo: Mapping[str, Callable[[Changed], object]] = field(default_factory=dict)
    """How each change of a result is taken back, by its key; a result with another change is not taken back."""
    read: Callable[[], TrialResult | None] | None = None
    """Where its last result stands in rows of its own."""


class TrialLine(Frozen):
    """One test on the page."""

    trial: TrialName
    of_title: str
    last: TrialResult | None
    outcome: str
    changes: tuple[str, ...]
    due: Due
    days: int | None
    """After how long it is due again; None: when what it is of changes."""
    may_take_back: bool


class TrialDesk:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        lookups: Lookups,
        inbox: Inbox,
        answers: Answers,
        today: Callable[[], date] = lambda: wall.now().astimezone().date(),
    ) -> None:
        self._lookups, self._inbox, self._answers, self._today = lookups, inbox, answers, today
        self._trials: dict[TrialName, Trial] = {}
        self._due: tuple[bool, float] | None = None
        self._parts: dict[type[object], object] = {}

    def add(self, part: object) -> None:
        """Have one more part, which reads the answers of a test, or of several."""
        self._parts[type(part)] = part

    def part(self, kind: type[P]) -> P:
        """Return the part of this kind."""
        found = self._parts[kind]
        assert isinstance(found, kind)
        return found

    def register(self, trial: Trial) -> None:
        """Have one more test on the page."""
        self._trials[trial.name] = trial

    # ---- looked at

    def lines(
        self, of: Mapping[TrialName, tuple[str, str]] | None = None, why: Mapping[TrialName, str] | None = None
    ) -> tuple[TrialLine, ...]:
        """Return every test, in order, with how it stands.

        `of` says what a test is of where a page alone knows it: a phone; `why` likewise what changed since.
        """
        self._lookups.follow(*OF_THE_JOURNAL)
        intervals = last_trials.intervals(self._lookups)
        return tuple(
            self._line(self._trials[name], intervals, (of or {}).get(name), (why or {}).get(name, ""))
            for name in ORDER
            if name in self._trials
        )

    def line(self, name: TrialName) -> TrialLine:
        """Return how one test stands."""
        return next(line for line in self.lines() if line.trial == name)

    def grey(self, paper: str) -> GreyFound | None:
        """Return the light that gives a light grey on a paper; None where none was found."""
        self._lookups.follow(*OF_THE_JOURNAL)
        return last_trials.grey_of(self._lookups, paper)

    def results(self, name: TrialName) -> tuple[TrialResult, ...]:
        """Return the last results of a test, of whatever they are, the newest first."""
        self._lookups.follow(*OF_THE_JOURNAL)
        return last_trials.results(self._lookups, name)

    def last(self, name: TrialName, of: str | None = None) -> TrialResult | None:
        """Return the last result of a test, of what it is of now, or of `of`; None where there is none."""
        trial = self._trials[name]
        if trial.read is not None:
            return trial.read()
        self._lookups.follow(*OF_THE_JOURNAL)
        wanted = trial.of()[0] if of is None else of
        return next((one for one in last_trials.results(self._lookups, name) if one.of == wanted), None)

    def due(self) -> bool:
        """Tell whether a test that was made once is to be made again; looked up once a minute, and after a result."""
        now = time.monotonic()
        if self._due is None or now - self._due[1] > DUE_S:
            self._due = any(line.due.state == "due" for line in self.lines()), now
        return self._due[0]

    def _line(
        self,
        trial: Trial,
        intervals: Mapping[TrialName, int | None],
        of: tuple[str, str] | None = None,
        why: str = "",
    ) -> TrialLine:
        last = self.last(trial.name, None if of is None else of[0])
        days = intervals.get(trial.name, USUAL_DAYS[trial.name])
        stands = due(last, self._today(), days=days, why=why or ("" if last is None else trial.since(last)))
        return TrialLine(
            trial=trial.name,
            of_title=(of or trial.of())[1],
            last=last,
            outcome="" if last is None else last_trials.outcome_of(last),
            changes=() if last is None else last_trials.changes_of(last),
            due=stands,
            days=days,
            may_take_back=last is not None
            and trial.read is None
            and all(each.what in trial.undo for each in last.changed),
        )

    # ---- begun, kept, taken back

    def begin(self, plan: Plan, number: int) -> Status:
        """Make a test's plan the next sheet's, decided on snapshot `number`.

        Raises:
            WrongMoment: a sheet is open, or the snapshot is old.
        """
        status: Status = self._inbox.ask(lambda: self._answers.load_check(plan, number))
        return status

    def _note(self, row: Entry) -> None:
        self._due = None
        self._inbox.ask(lambda: self._answers.note(row), even_late=True)

    def keep(
        self,
        body: TrialBody,
        outcome: str,
        figures: Mapping[str, str] | None = None,
        *,
        sheets: Sequence[str] = (),
        changed: Sequence[Changed] = (),
        of: tuple[str, str] | None = None,
    ) -> TrialResult:
        """Keep what a test found, of what it is of now, or of `of`; what it `changed` is set already.

        Raises:
            StoreTrouble: it could not be filed.
        """
        id_, title = of or self._trials[body.trial].of()
        result = TrialResult(
            id=new_id(),
            body=body,
            at=wall.now().astimezone(UTC).isoformat(timespec="seconds"),
            of=id_,
            of_title=title,
            sheets=tuple(sheets),
            outcome=outcome,
            figures=dict(figures or {}),
            due_days=USUAL_DAYS[body.trial],
            changed=tuple(changed),
        )
        self._note(TrialDone(result=result))
        return result

    def keep_grey(self, grey: GreyFound) -> None:
        """Keep which light gives a light grey on a paper; the last one counts."""
        self._note(grey)

    def take_back(self, name: TrialName, id_: str, of: str | None = None) -> None:
        """Let a result count no more, and have what it set as it was before.

        Raises:
            NotThere: it is not the last of what its test is of now.
            Impossible: something that it set is not taken back.
        """
        last, trial = self.last(name, of), self._trials[name]
        if last is None or last.id != id_ or trial.read is not None:
            raise NotThere(say("trials.no-result"))
        if not all(each.what in trial.undo for each in last.changed):
            raise Impossible(say("trials.not-back"))
        for each in reversed(last.changed):
            trial.undo[each.what](each)
        self._note(TrialTakenBack(trial=name, id=id_))

    def set_interval(self, name: TrialName, days: int | None) -> None:
        """Have a test due again after so many days; None: only when what it is of changes."""
        if days is not None and days not in INTERVALS:
            raise Impossible(say("trials.no-interval"))
        self._note(TrialInterval(trial=name, days=days))
