"""One turn of the foot-switch grammar: the state as it is being changed, and the effects it asks for, in order."""

from __future__ import annotations

from dataclasses import replace

from controller.foot.cues import first_cue, focus_cues, lead_in_ms, remainder_ms, step_cues
from controller.foot.effects import Effect, FileFilter, PlaceOrder, Say, TakeBack
from controller.foot.places import (
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    Dark,
    Finished,
    Gap,
    HandsAsked,
    Held,
    LeadIn,
    NothingChosen,
    Place,
    Ready,
    WhiteWarning,
)
from controller.foot.state import State
from controller.recipe.plan import Hands
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue

CUE_AFTER_MS = 700
"""The filter's and the hands' cue waits this long, so that it does not cover the sound of the light's end."""


class Turn:
    """Collects what one event changes. It is made, used and dropped inside `pedal.decide`."""

    def __init__(self, state: State) -> None:
        self.state = state
        self.effects: list[Effect] = []

    def do(self, *effects: Effect) -> None:
        """Ask for effects, after those already asked for."""
        self.effects.extend(effects)

    def say(self, cue: Cue, count: int = 0) -> None:
        """Ask for a cue."""
        self.effects.append(Say(cue, count))

    def go(self, place: Place) -> None:
        """Stand at `place`."""
        self.state = replace(self.state, place=place)

    def wait_until(self, at_ns: int) -> None:
        """Let no press whose first contact is before `at_ns` start anything."""
        if at_ns > self.state.wait_until_ns:
            self.state = replace(self.state, wait_until_ns=at_ns)

    # ---- where things stand without a light

    def rest(self, at_ns: int) -> None:
        """Stand where the present step wants the printer: filter, hands, ready, held, finished, nothing chosen."""
        work = self.state.work
        if work is None:
            self.go(NothingChosen())
            return
        work = work.moved_on()
        self.state = replace(self.state, work=work)
        self.go(self._wanted(at_ns))

    def _wanted(self, at_ns: int) -> Dark:
        work = self.state.work
        assert work is not None
        if work.finished:
            return Finished()
        step, given = work.step, work.given[work.index]
        remind_ns = at_ns + CUE_AFTER_MS * NS_PER_MS
        if step.hands is not None and not work.hands_done and not given.most_ns:
            return HandsAsked(remind_ns)
        if step.filter != self.state.filter_in and self.state.habits.filters == "drawer":
            return ChangeFilter(remind_ns)
        return Held() if given.most_ns else Ready()

    # ---- light

    def begin_light(self, from_ns: int) -> None:
        """Order the present step's light, a lead-in after `from_ns`, and announce it."""
        state, work = self.state, self.state.work
        assert work is not None
        announced = lead_in_ms(state.habits)
        self.say(first_cue(work))
        order = self._order_step(from_ns + announced * NS_PER_MS, announced)
        self.go(LeadIn(order.order, order.start_ns))

    def begin_gap(self, dark_ns: int) -> None:
        """Order the next band of a rhythm strip, a gap after the last one went dark."""
        work = self.state.work
        assert work is not None
        gap_ms = work.step.gap_ms
        assert gap_ms is not None
        order = self._order_step(dark_ns + gap_ms * NS_PER_MS, min(gap_ms, lead_in_ms(self.state.habits)), gap_ms)
        self.go(Gap(order.order, order.start_ns))

    def begin_warning(self, from_ns: int, back: Dark) -> None:
        """Announce white light and order it."""
        timing = self.state.habits.timing
        number, before = self.state.orders + 1, self.state.outstanding
        withdrawn = self.state.withdrawn if before is None else (*self.state.withdrawn, before)
        start_ns = from_ns + (timing.hold_ms + timing.warning_ms) * NS_PER_MS
        self.state = replace(self.state, orders=number, outstanding=number, withdrawn=withdrawn, focus_order=number)
        self.do(
            PlaceOrder(
                number,
                "focus",
                self.state.foot.seq,
                start_ns,
                timing.focus_limit_ms,
                focus_cues(timing),
                lamp=self.state.habits.lamp_of(""),
            )
        )
        self.say(Cue.WARNING)
        self.go(WhiteWarning(number, start_ns, back))

    def take_back(self, order: int, at_ns: int) -> None:
        """Cancel a standing order; presses start nothing for a moment."""
        self.do(TakeBack(order))
        self.wait_until(at_ns + self.state.habits.timing.wait_after_cancel_ms * NS_PER_MS)

    def _order_step(self, start_ns: int, announced_ms: int, gap_ms: int = 0) -> PlaceOrder:
        state, work = self.state, self.state.work
        assert work is not None
        number = state.orders + 1
        given = work.given[work.index]
        order = PlaceOrder(
            number,
            "check" if work.check else "step",
            state.foot.seq,
            start_ns,
            remainder_ms(work, state.habits),
            step_cues(work, state.habits, announced_ms, gap_ms),
            work.index,
            given.parts + 1,
            work.step.filter,
            state.habits.lamp_of(work.step.filter),
        )
        # the part counts attempts too: an order's id is never used twice
        work = work.with_given(work.index, replace(given, parts=given.parts + 1))
        self.state = replace(state, orders=number, outstanding=number, work=work)
        self.do(order)
        return order

    # ---- filter and questions

    def say_filter(self, name: str) -> None:
        """Hold that filter `name` is in the drawer; empty is unknown."""
        if name != self.state.filter_in:
            self.state = replace(self.state, filter_in=name)
            self.do(FileFilter(name))

    def ask_close(self, at_ns: int, back: Dark) -> None:
        """Ask whether to close the open sheet."""
        self.say(Cue.QUESTION)
        self.go(AskClose(self._until(at_ns), self.state.foot.seq, back))

    def ask_given(self, at_ns: int, back: Dark) -> None:
        """Ask whether to call the held step given."""
        self.say(Cue.QUESTION)
        self.go(AskGiven(self._until(at_ns), self.state.foot.seq, back))

    def ask_white(self, at_ns: int, back: Dark) -> None:
        """Ask whether white light is wanted; refused without a sounder, since nothing would announce it."""
        if not self.state.habits.sounder or self.state.lid_open:
            self.say(Cue.NO)
            return
        self.say(Cue.QUESTION)
        self.go(AskWhite(self._until(at_ns), self.state.foot.seq, back))

    def _until(self, at_ns: int) -> int:
        return at_ns + self.state.habits.timing.question_ms * NS_PER_MS


def hands_after(hands: Hands) -> Cue:
    """Return the cue for what is asked of the hands."""
    return Cue.DODGER_IN if hands in (Hands.NEGATIVE_BACK, Hands.OPAL_IN) else Cue.DODGER_OUT


def filter_cue(name: str) -> Cue:
    """Return the filter family's cue: one long low for soft, two for hard."""
    return {"soft": Cue.SOFT, "hard": Cue.HARD}.get(name, Cue.OTHER)
