"""What pages ask of the runner, answered on its thread, and the snapshots published after each change."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final, Literal

from controller.daemon.recipe_shelf import RecipeShelf
from controller.daemon.runner import Runner
from controller.errors import Impossible, WrongMoment
from controller.foot import acts
from controller.foot.acts import Act
from controller.foot.effects import Effect, Watchers, filed
from controller.foot.events import Chosen, DayUsed, DoseTold, Event, LevelWrong
from controller.foot.legal_acts import must_have_lines
from controller.foot.page_acts import asking
from controller.foot.places import DarkPlace, Fault, Light, is_dark
from controller.foot.snapshot import Facts, describe, refused
from controller.foot.state import Habits, State
from controller.foot.status import Heard, Status
from controller.recipe.plan import Plan
from controller.store.entries import Closed, Entry, Trouble
from controller.store.said_of_sheets import Remark, RemarkChanged
from controller.words import has, say
from hardware.clock import Clock
from hardware.sounds import Cue
from hardware.wire import Greeting, Sounded

_KEPT_CUES: Final = 100


class Snapshots:
    """One snapshot at a time, numbered from 1; the number rises only when something has changed."""

    def __init__(self) -> None:
        self._turn = threading.Condition()
        self._status: Status | None = None
        self._cues: deque[Heard] = deque(maxlen=_KEPT_CUES)
        self._cue = 0

    def publish(self, status: Status) -> Status:
        """Publish a snapshot and return it with its number; one that says nothing new is dropped.

        That the day face lasts longer is nothing new: what was decided on the snapshot before still holds, so it keeps
        its number.
        """
        with self._turn:
            old = self._status
            if old is not None and _same(old, status):
                return old
            if old is not None and _same(old, status, "day_until_ns") and None not in _days(old, status):
                self._status = status.model_copy(update={"number": old.number, "since": old.since})
                return self._status
            number = 1 if old is None else old.number + 1
            since = old.since if old is not None and _same(old, status, *_OF_TRAYS) else number
            self._status = status.model_copy(update={"number": number, "since": since})
            self._turn.notify_all()
            return self._status

    def latest(self) -> Status:
        """Return the present snapshot.

        Raises:
            LookupError: nothing has been published yet.
        """
        with self._turn:
            if self._status is None:
                raise LookupError("no snapshot yet")
            return self._status

    def wait(self, after: int, timeout_s: float) -> Status:
        """Return the present snapshot as soon as its number is above `after`, or at the timeout."""
        with self._turn:
            self._turn.wait_for(lambda: self._status is not None and self._status.number > after, timeout_s)
        return self.latest()

    def note_cue(self, sounded: Sounded) -> None:
        """Note a cue."""
        with self._turn:
            self._cue += 1
            self._cues.append(Heard(number=self._cue, cue=sounded.cue, count=sounded.count, at_ns=sounded.at_ns))
            self._turn.notify_all()

    def cues(self, after: int) -> tuple[Heard, ...]:
        """Return the cues sounded since cue number `after`, at most the last hundred."""
        with self._turn:
            return tuple(cue for cue in self._cues if cue.number > after)


_OF_TRAYS: Final = ("prints", "white_from_ns", "white_refused", "day_refused", "headline", "can")
"""What a print that goes on may change, and nothing else; what is asked for is held to the moment all the same."""


def _same(old: Status, new: Status, *but: str) -> bool:
    """Tell whether a snapshot says the same as the one before, `but` for some of it."""
    names = ("number", "at_ns", "since", *but)
    return old == new.model_copy(update={name: getattr(old, name) for name in names})


def _days(*statuses: Status) -> tuple[int | None, ...]:
    return tuple(status.day_until_ns for status in statuses)


_KEPT: Final = 5


class Troubles:
    """The troubles that were told, in the order in which they came; a repeated one counts as the newest."""

    def __init__(self) -> None:
        self._told: tuple[str, ...] = ()

    def add(self, what: str) -> None:
        """Take in a trouble: the keeper's word for it, a key of the catalogue, or a sentence."""
        key = _SAID_OF.get(what, what)
        self._told = (*(told for told in self._told if told != key), key)[-_KEPT:]

    def drop(self, mended: frozenset[str]) -> None:
        """Drop what is mended."""
        self._told = tuple(key for key in self._told if key not in mended)

    def sentences(self) -> list[str]:
        """Return the sentences to show, oldest first."""
        return [say(key) if has(key) else key for key in self._told]


_SAID_OF: Final = {
    "keeper.unreadable": "foot.trouble-unreadable",
    "keeper.dropped": "foot.trouble-dropped",
    "keeper.sounder": "foot.trouble-sounder",
    "keeper.foot-wire": "foot.trouble-foot-wire",
    "keeper.outlet": "foot.trouble-outlet",
}
_BY_FOOT: Final = frozenset({"foot.trouble-foot-wire"})
"""What a foot switch that answers again has mended; below it, what a light that came has, and what a new keeper."""
_BY_LIGHT: Final = frozenset(
    {"foot.trouble-slow-card", "foot.trouble-too-long", "foot.box-open", "wiring.trouble-no-lamp"}
)
_BY_GREETING: Final = frozenset({"foot.trouble-late-dark", "foot.trouble-unreadable", "foot.trouble-dropped"})


class Answers:
    """Lives on the runner's thread. `later` has something done there after the present word is dealt with."""

    def __init__(
        self,
        runner: Runner,
        snapshots: Snapshots,
        library: RecipeShelf,
        clock: Clock,
        later: Callable[[Callable[[], object]], object],
        between_sheets: Callable[[], None],
        *,
        also: Callable[[State, State, Sequence[Effect]], object] = lambda _before, _after, _wanted: None,
        more_troubles: Callable[[], Sequence[str]] = tuple,
    ) -> None:
        """`also` is told of each change once the pages are; `more_troubles` stay while true, as a cold lamp's does."""
        self._runner, self._snapshots, self._library, self._clock = runner, snapshots, library, clock
        self._later, self._between_sheets = later, between_sheets
        self._facts = Facts()
        self._troubles = Troubles()
        self._waiting_plan: Plan | None = None
        self.opened_ns: int | None = None
        """When the open sheet had its first light."""
        self._also, self._more_troubles = also, more_troubles
        runner.watchers = Watchers(self._changed, snapshots.note_cue, self.trouble, self.lost, self.greeted)

    def begin(self, *, practice: bool, greeting: Greeting, opened_ns: int | None) -> None:
        """Publish the first snapshot."""
        self._facts = replace(self._facts, practice=practice)
        self.opened_ns = opened_ns
        self.greeted(greeting)

    # ---- acts

    def do(self, act: Act, number: int) -> Status:
        """Carry out one act that was decided on snapshot `number`.

        Raises:
            WrongMoment: the snapshot is not the present one, or the act does not fit; the sentence says what to do.
            Impossible: one more burn that cannot be given, or that no lamp line has the filter for.
        """
        if isinstance(act, acts.WriteRemark):
            return self.note(Remark(sheet=act.sheet, text=act.text))
        if isinstance(act, acts.ChangeRemark | acts.TakeBackRemark):
            text = act.text if isinstance(act, acts.ChangeRemark) else ""
            return self.note(RemarkChanged(sheet=act.sheet, remark=act.remark, text=text))
        self.check(number)
        if isinstance(act, acts.Load):
            self._load(self._library.plan(act.source, act.version))
        elif isinstance(act, acts.PutDown):
            self._take(Chosen(None, self._clock.now_ns()))
        else:
            self._take(asking(self._runner.state, act, self._clock.now_ns()))
        return self.publish()

    def used(self) -> Status:
        """Let the day face last, where it is there: a page of it was used. Nothing else comes of it."""
        now_ns = self._clock.now_ns()
        self._runner.take(DayUsed(now_ns), now_ns)
        return self.publish()

    def check(self, number: int) -> None:
        """Refuse what was decided on a snapshot that does not hold any more; raises `WrongMoment`."""
        if not self._snapshots.latest().holds(number):
            raise WrongMoment(say("foot.stale"))

    def note(self, *entries: Entry) -> Status:
        """File rows of the page's, all or none: a remark, a pick."""
        self._runner.note(*entries)
        return self.publish()

    def load_check(self, plan: Plan, number: int) -> Status:
        """Load a plan that is on no shelf: a check, on the day face only, or a test; raises `WrongMoment`."""
        self.check(number)
        if plan.of_no_sheet and self._runner.state.day_until_ns is None:
            raise WrongMoment(say("lamp.day-first"))
        must_have_lines(plan, self._runner.state.habits)
        self._take(Chosen(plan, self._clock.now_ns()))
        return self.publish()

    def alarm(self) -> Status:
        """Sound the alarm, and publish what is said with it."""
        self._runner.sound(Cue.ALARM)
        return self.publish()

    def judged(self, wrong: LevelWrong | DoseTold) -> None:
        """Take in what the light sensor's watch has found of the light that is on."""
        self._runner.take(wrong, self._clock.now_ns())

    def hear(self, cue: Cue, count: int) -> Status:
        """Sound a cue that means nothing, to be learnt: on the white page, in the dark; raises `WrongMoment`."""
        state = self._runner.state
        if state.day_until_ns is None or not is_dark(state.place) or state.outstanding is not None:
            raise WrongMoment(say("sounds.not-now"))
        if not state.habits.sounder:
            raise WrongMoment(say("sounds.no-sounder"))
        self._runner.sound(cue, count)
        return self.publish()

    def saved(self, plan: Plan) -> Status:
        """Take a new version of what is loaded for the next sheet: at once where none is open."""
        work = self._runner.state.work
        if work is not None and plan.source == work.plan.source and plan.version != work.plan.version:
            try:
                must_have_lines(plan, self._runner.state.habits)
            except Impossible as problem:  # it is kept; the version that can be lit stays loaded
                self.trouble(str(problem))
                return self.publish()
            self._waiting_plan = plan
            self._between()
        return self.publish()

    def settle_changes(self) -> Status:
        """Take changed settings over, at once where no sheet is open and nothing is lit."""
        self._between()
        return self.publish()

    def take_over(self, habits: Habits) -> None:
        """Have the grammar keep to other habits; only between sheets."""
        self._runner.state = replace(self._runner.state, habits=habits)

    def rest(self) -> Status:
        """Stand where the work that was found wants the printer."""
        self._runner.ask_again(self._clock.now_ns())
        return self.publish()

    def _take(self, event: Event) -> None:
        why = self._runner.take(event, self._clock.now_ns())
        if why is not None:
            raise WrongMoment(refused(self._runner.state, why, self._clock.now_ns()))

    def _load(self, plan: Plan) -> None:
        must_have_lines(plan, self._runner.state.habits)
        self._take(Chosen(plan, self._clock.now_ns()))
        self._waiting_plan = None
        self._library.used(plan.source)

    # ---- what the runner tells

    def _changed(self, before: State, after: State, wanted: Sequence[Effect]) -> None:
        if after.sheet_open and self.opened_ns is None:
            self.opened_ns = self._clock.now_ns()
        if filed(wanted, Closed):
            self.opened_ns = None
        if isinstance(before.place, Fault) and not isinstance(after.place, Fault):
            self._troubles.drop(_BY_FOOT)
        if isinstance(after.place, Light):
            self._troubles.drop(_BY_LIGHT)
        if (
            (before.sheet_open or not isinstance(before.place, DarkPlace))
            and not after.sheet_open
            and is_dark(after.place)
        ):
            self._later(self._between)
        self.publish()
        self._also(before, after, wanted)

    def _between(self) -> None:
        """Between two sheets: the version that was saved meanwhile, and the settings that were changed."""
        state = self._runner.state
        if state.sheet_open or not is_dark(state.place) or state.outstanding is not None:
            return
        plan, self._waiting_plan = self._waiting_plan, None
        if plan is not None:
            self._runner.take(Chosen(plan, self._clock.now_ns(), again=True), self._clock.now_ns())
        self._between_sheets()
        self.publish()

    def greeted(self, greeting: Greeting) -> None:
        """Note what the keeper says of itself."""
        self._facts = replace(self._facts, keeper="ready", realtime=greeting.scheduling == "fifo")
        self._troubles.drop(_BY_GREETING)
        self.publish()

    def lost(self, why: str) -> None:
        """Note that the keeper is gone: away, or for good."""
        keeper: Literal["away", "fault"] = "fault" if why == "fault" else "away"
        self._facts = replace(self._facts, keeper=keeper)
        if why in ("fault", "start"):
            self.trouble("foot.trouble-keeper-fault" if why == "fault" else "foot.trouble-late-dark")
        self.publish()

    def trouble(self, what: str) -> None:
        """Show a trouble, by its key or in its own words, until it is mended or five newer ones have come."""
        self._troubles.add(what)
        self._runner.note(Trouble(sheet=self._runner.state.sheet, what=what))
        self.publish()

    def publish(self) -> Status:
        """Publish a snapshot of how things stand, and return it."""
        state = self._runner.state
        facts = replace(self._facts, troubles=tuple(self._sentences(state)))
        return self._snapshots.publish(describe(state, facts, self._clock.now_ns()))

    def _sentences(self, state: State) -> list[str]:
        sentences = self._troubles.sentences()
        if not state.habits.sounder:
            sentences.append(say("foot.trouble-sounder"))
        if not self._facts.realtime and self._facts.keeper == "ready":
            sentences.append(say("foot.trouble-realtime"))
        if self._runner.store_trouble:
            sentences.append(self._runner.store_trouble)
        sentences.extend(self._more_troubles())
        return sentences
