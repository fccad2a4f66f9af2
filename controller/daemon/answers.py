"""What pages ask of the runner, answered on its thread, and the snapshots published after each change."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

from controller.daemon.library import Library
from controller.daemon.publish import Snapshots, Troubles
from controller.daemon.runner import Runner
from controller.errors import Impossible, WrongMoment
from controller.foot import acts
from controller.foot.acts import Act
from controller.foot.effects import Effect, Watchers, filed
from controller.foot.events import Asked, Chosen, Event
from controller.foot.places import Dark, Fault, Light, is_dark
from controller.foot.snapshot import Facts, describe, refused
from controller.foot.state import Habits, State, must_have_lines
from controller.foot.status import Status
from controller.recipe.plan import Plan
from controller.store.entries import Closed, Entry, Remark, Trouble
from controller.words import say
from hardware.clock import Clock
from hardware.sounds import Cue
from hardware.wire import Greeting


class Answers:
    """Lives on the runner's thread. `later` has something done there after the present word is dealt with."""

    def __init__(
        self,
        runner: Runner,
        snapshots: Snapshots,
        library: Library,
        clock: Clock,
        later: Callable[[Callable[[], object]], object],
        between_sheets: Callable[[], None],
    ) -> None:
        self._runner, self._snapshots, self._library, self._clock = runner, snapshots, library, clock
        self._later, self._between_sheets = later, between_sheets
        self._facts = Facts()
        self._troubles = Troubles()
        self._waiting_plan: Plan | None = None
        self.opened_ns: int | None = None
        """When the open sheet had its first light."""
        self.more_troubles: Callable[[], Sequence[str]] = tuple
        """Sentences that stay as long as they are true, such as a cold lamp's."""

    def watchers(self) -> Watchers:
        """Return what the runner tells: changes, cues, troubles, greetings."""
        return Watchers(self._changed, self._snapshots.note_cue, self.trouble, self.lost, self.greeted)

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
        """
        if isinstance(act, acts.WriteRemark):
            return self.note(Remark(sheet=act.sheet, text=act.text))
        self.check(number)
        if isinstance(act, acts.Load):
            self._load(self._library.plan(act.source, act.version))
        elif isinstance(act, acts.PutDown):
            self._take(Chosen(None, self._clock.now_ns()))
        else:
            self._take(Asked(act, self._clock.now_ns()))
        return self.publish()

    def check(self, number: int) -> None:
        """Refuse what was decided on another snapshot than the present one; raises `WrongMoment`."""
        if number != self._snapshots.latest().number:
            raise WrongMoment(say("foot.stale"))

    def note(self, entry: Entry) -> Status:
        """File a row of the page's: a remark, a pick."""
        self._runner.note(entry)
        return self.publish()

    def load_check(self, plan: Plan, number: int) -> Status:
        """Load a check of the lamp, on the day face only; raises `WrongMoment`."""
        self.check(number)
        if self._runner.state.day_until_ns is None:
            raise WrongMoment(say("lamp.day-first"))
        self._take(Chosen(plan, self._clock.now_ns()))
        return self.publish()

    def alarm(self) -> Status:
        """Sound the alarm, and publish what is said with it."""
        self._runner.sound(Cue.ALARM)
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
            raise WrongMoment(refused(self._runner.state, why))

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
            self._troubles.mended_by_foot()
        if isinstance(after.place, Light):
            self._troubles.mended_by_light()
        if (before.sheet_open or not isinstance(before.place, Dark)) and not after.sheet_open and is_dark(after.place):
            self._later(self._between)
        self.publish()

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
        self._troubles.mended_by_greeting()
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
        sentences.extend(self.more_troubles())
        return sentences
