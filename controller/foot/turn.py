"""One turn of the foot-switch grammar: the state as it is being changed, and the effects it asks for, in order.

Every order is made here: how long the line is to be lit, and the cues that go with it.
"""

from __future__ import annotations

from typing import Final, Literal

from controller.exposure import lag
from controller.foot.asks import next_ask
from controller.foot.effects import Effect, File, PlaceOrder
from controller.foot.light_cues import focus_cues, marked_cues, reading_cues
from controller.foot.places import (
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    DarkPlace,
    Finished,
    Gap,
    HandsAsked,
    Held,
    LeadIn,
    NothingChosen,
    Place,
    Ready,
    Settling,
    SetUpAsked,
    Waiting,
    WhiteWarning,
)
from controller.foot.state import Habits, State, Work
from controller.model import replace
from controller.recipe.plan import Step
from controller.store.entries import Entry, FilterSaid, FootRow, Intent, SheetPlanned
from hardware.clock import NS_PER_MS, soonest
from hardware.sounds import Cue
from hardware.wire import LONGEST_DOSE, Beat, Cancel, Order, Sound

CUE_AFTER_MS = 700
"""The filter's and the hands' cue waits this long, so that it does not cover the sound of the light's end."""
LAPSE_MS: Final = 60_000
"""Readings that stand dark for so long are over: a forgotten one must light no fresh paper."""

LEAST_DOSED_MS: Final = 4000
"""A shorter light is given by its time."""
_SECOND: Final = 1000
_AFTER_HANDS_MS: Final = 450
_AFTER_DONE_MS: Final = 450
"""How long after a band's end the card is asked for: "done" has been heard to its end by then."""
_LAST: Final = 3

_Kind = Literal["step", "focus", "check"]
_Filed = Literal["press", "hold", "double", "wait", "page stop"]


class Turn:
    """Collects what one event changes. It is made, used and dropped inside `table.decide`."""

    def __init__(self, state: State) -> None:
        self.state = state
        self.effects: list[Effect] = []

    def do(self, *effects: Effect) -> None:
        """Ask for effects, after those already asked for."""
        self.effects.extend(effects)

    def say(self, cue: Cue, count: int = 0) -> None:
        """Ask for a cue, after `count` short beats that say a number."""
        self.do(Sound(cue, count))

    def file(self, *entries: Entry) -> None:
        """Ask for entries to be filed."""
        self.do(*(File(entry) for entry in entries))

    def file_gesture(self, gesture: _Filed, at_ns: int) -> None:
        """Have a gesture filed, for the sheet's record."""
        self.file(FootRow(sheet=self.state.sheet, gesture=gesture, at_ns=at_ns))

    def go(self, place: Place) -> None:
        """Stand at `place`."""
        self.state = replace(self.state, place=place)

    def wait_until(self, at_ns: int) -> None:
        """Let no press whose first contact is before `at_ns` start anything."""
        if at_ns > self.state.wait_until_ns:
            self.state = replace(self.state, wait_until_ns=at_ns)

    # ---- where things stand without a light

    def rest(self, at_ns: int) -> None:
        """Stand where the present step wants the printer: set-up, hands, filter, ready, held, finished."""
        work = self.state.work
        if work is None:
            self.go(NothingChosen())
            return
        work = work.moved_on()
        self.state = replace(self.state, work=work, lapse_ns=at_ns + LAPSE_MS * NS_PER_MS)
        self.go(self._wanted(at_ns))

    def _wanted(self, at_ns: int) -> DarkPlace:
        work = self.state.loaded
        remind_ns = at_ns + CUE_AFTER_MS * NS_PER_MS
        if self.set_up_wanted:
            return SetUpAsked(remind_ns)
        if next_ask(work) is not None:
            return HandsAsked(remind_ns)
        if work.finished:
            return Finished()
        step, given = work.step, work.given[work.index]
        hands = work.waited < len(step.waits) or (step.hands is not None and not work.asked.hands)
        if hands and not given.most_ns:
            return HandsAsked(remind_ns)
        if step.filter != self.state.filter_in and self.state.habits.filters == "drawer":
            return ChangeFilter(remind_ns)
        return Held() if given.most_ns else Ready()

    @property
    def set_up_wanted(self) -> bool:
        """Whether the sheet to be begun is set up otherwise than is known to stand."""
        work = self.state.work
        wanted = None if work is None or work.open else work.plan.set_up
        return wanted is not None and wanted.to_be_made(self.state.set_up)

    # ---- light

    def begin_light(self, from_ns: int) -> None:
        """Order the present step's light, a lead-in after `from_ns`, and announce it."""
        state, work = self.state, self.state.loaded
        announced = lead_in_ms(state.habits)
        self.say(first_cue(work))
        order = self._order_step(from_ns + announced * NS_PER_MS, announced)
        self.go(LeadIn(order.id, order.start_ns))

    def begin_gap(self, dark_ns: int) -> None:
        """Order the next band of a rhythm strip, a gap after the last one went dark."""
        work = self.state.loaded
        gap_ms = work.step.gap_ms
        assert gap_ms is not None
        order = self._order_step(dark_ns + gap_ms * NS_PER_MS, min(gap_ms, lead_in_ms(self.state.habits)), gap_ms)
        self.go(Gap(order.id, order.start_ns))

    def begin_warning(self, from_ns: int, back: DarkPlace) -> None:
        """Announce white light and order it."""
        timing, before = self.state.habits.timing, self.state.outstanding
        if before is not None:
            self.state = replace(self.state, withdrawn=(*self.state.withdrawn, before))
        start_ns = from_ns + (timing.hold_ms + timing.warning_ms) * NS_PER_MS
        order = self._order("focus", start_ns, timing.focus_limit_ms, focus_cues(timing))
        self.state = replace(self.state, focus_order=order.id)
        self.say(Cue.WARNING)
        self.go(WhiteWarning(order.id, start_ns, back))

    def take_back(self, order: str, at_ns: int) -> None:
        """Cancel a standing order; presses start nothing for a moment."""
        self.do(Cancel(order))
        self.wait_until(at_ns + self.state.habits.timing.wait_after_cancel_ms * NS_PER_MS)

    def _order_step(self, start_ns: int, announced_ms: int, gap_ms: int = 0) -> Order:
        habits, work = self.state.habits, self.state.loaded
        lit_ms, cues = remainder_ms(work, habits), step_cues(work, habits, announced_ms, gap_ms)
        order = self._order("check" if work.check else "step", start_ns, lit_ms, cues, work)
        # the part counts attempts too: an order's id is never used twice
        given = work.given[work.index]
        self.state = replace(self.state, work=work.with_given(work.index, replace(given, parts=order.part)))
        return order

    def _order(
        self, kind: _Kind, start_ns: int, lit_ms: int, cues: tuple[Beat, ...], work: Work | None = None
    ) -> Order:
        """Ask for a light: of `work`'s present step, or of none."""
        state = self.state
        id_, sheet = f"{state.run}-{state.orders + 1}", state.sheet
        step, filter_name, part, longest_ms = 0, "", 0, 0
        if work is not None:
            step, filter_name, part = work.step.number, work.step.filter, work.given[work.index].parts + 1
            longest_ms = longest_dose_ms(work, state.habits, lit_ms)
        order = Order(
            id=id_,
            kind=kind,
            sheet="" if kind == "check" else sheet,
            step=step,
            part=part,
            lamp=state.habits.lamp_of(filter_name),
            foot_seq=state.foot.seq,
            start_ns=start_ns,
            lit_ms=lit_ms,
            cues=cues,
            longest_ms=longest_ms,
        )
        of_sheet = work is not None and kind == "step"
        intent = Intent(
            light=id_,
            light_kind=kind,
            sheet=sheet if of_sheet else "",
            step=step,
            part=part,
            filter=filter_name,
            lit_ms=lit_ms,
            longest_ms=longest_ms,
            lag_ms=state.habits.lag_ms if of_sheet else 0,
            start_ns=start_ns,
        )
        planned = None
        if work is not None and of_sheet and not work.open:
            planned = SheetPlanned(sheet=sheet, number=state.number, plan=work.plan)
        self.do(PlaceOrder(order, intent, planned))
        self.state = replace(state, orders=state.orders + 1, outstanding=id_, lit_ms=lit_ms)
        return order

    # ---- filter and questions

    def say_filter(self, name: str) -> None:
        """Hold that filter `name` is in the drawer; empty is unknown."""
        if name != self.state.filter_in:
            self.state = replace(self.state, filter_in=name)
            self.file(FilterSaid(filter=name))

    def ask_close(self, at_ns: int, back: DarkPlace) -> None:
        """Ask whether to close the open sheet."""
        self.say(Cue.QUESTION)
        self.go(AskClose(self._until(at_ns), self.state.foot.seq, back))

    def ask_given(self, at_ns: int, back: DarkPlace) -> None:
        """Ask whether to call the held step given."""
        self.say(Cue.QUESTION)
        self.go(AskGiven(self._until(at_ns), self.state.foot.seq, back))

    def ask_white(self, at_ns: int, back: DarkPlace) -> None:
        """Ask whether white light is wanted; refused without a sounder, since nothing would announce it."""
        if not self.state.habits.sounder or self.state.lid_open:
            self.say(Cue.NO)
            return
        self.say(Cue.QUESTION)
        self.go(AskWhite(self._until(at_ns), self.state.foot.seq, back))

    def _until(self, at_ns: int) -> int:
        return at_ns + self.state.habits.timing.question_ms * NS_PER_MS


def filter_cue(name: str) -> Cue:
    """Return the filter family's cue: one long low for soft, two for hard."""
    return {"soft": Cue.SOFT, "hard": Cue.HARD}.get(name, Cue.OTHER)


# ---- what one light is to be: its length, and its cues


def lead_in_ms(habits: Habits) -> int:
    """Return the span between a press and its light."""
    return habits.timing.announced_ms(sounder=habits.sounder)


def remainder_ms(work: Work, habits: Habits) -> int:
    """Return how long the line is to be lit for what the present step still wants."""
    return lag.lit_ms(work.missing_ns(habits.lag_ms), habits.lag_ms)


def step_cues(work: Work, habits: Habits, announced_ms: int, gap_ms: int = 0) -> tuple[Beat, ...]:
    """Return the cues of the present step's next light, `announced_ms` before it and while it is on.

    Where it follows another by itself after `gap_ms`, nobody presses: the card is asked for once that one is dark.
    """
    if work.readings:
        return reading_cues(habits.timing, work.step.planned_ms)
    step = work.step
    lit = remainder_ms(work, habits)
    before = _announcing(step, announced_ms)
    if gap_ms and wants_hands(step):
        card = Beat(_AFTER_DONE_MS - gap_ms, Cue.MOVE_CARD)
        before = [card, *(beat for beat in before if beat.at_ms >= card.at_ms + _SECOND // 2)]
    own = marked_cues(work, habits.lag_ms, lit) if step.marks else []
    beats = [*before, *_counting(lit), *own]
    return tuple(sorted(beats, key=lambda beat: beat.at_ms))


def longest_dose_ms(work: Work, habits: Habits, lit_ms: int) -> int:
    """Return how long the present step's light may last for its dose, in ms; 0 where none is asked for.

    A strip's times are what is read from it, and where a hand moves by a cue its share of the light would change; a
    short light is over before much is known of it.
    """
    step = work.step
    wanted = habits.give_dose and work.plan.kind == "recipe" and lit_ms >= LEAST_DOSED_MS
    if not wanted or step.marks or step.card or step.gap_ms is not None:
        return 0
    return max(lit_ms, min(int(lit_ms * LONGEST_DOSE), habits.timing.longest_light_ms))


def first_cue(work: Work) -> Cue:
    """Return the sound of the press that begins the present step: hands before the tick, so the right tool is taken.

    Readings have the warning's: their light would fog paper, whatever stage it is at.
    """
    if work.readings:
        return Cue.WARNING
    return Cue.HANDS if wants_hands(work.step) else Cue.LEAD_IN


def wants_hands(step: Step) -> bool:
    """Tell whether a tool has its place under this step's light from the start: a dodger or a card."""
    return bool(step.card)


def _announcing(step: Step, announced_ms: int) -> list[Beat]:
    first = [Beat(_AFTER_HANDS_MS - announced_ms, Cue.LEAD_IN)] if wants_hands(step) else []
    ticks = [Beat(-at, Cue.TICK) for at in range(_SECOND, announced_ms - _AFTER_HANDS_MS, _SECOND)]
    return [*first, *reversed(ticks)]


def _counting(lit_ms: int) -> list[Beat]:
    last = [lit_ms - n * _SECOND for n in range(_LAST, 0, -1)] if lit_ms > (_LAST + 1) * _SECOND else []
    until = last[0] - _SECOND // 2 if last else lit_ms
    return [
        *(Beat(at, Cue.TICK) for at in range(_SECOND, until, _SECOND)),
        *(Beat(at, Cue.LAST) for at in last),
    ]


# ---- what is due by itself


def easel_due_ns(state: State) -> int | None:
    """Return when something is due at the easel, or the day face is over; None where nothing is."""
    return soonest((place_due_ns(state), state.day_until_ns))


def place_due_ns(state: State) -> int | None:
    """Return when the place changes by itself; None where it waits for somebody."""
    place = state.place
    match place:
        case Ready() | Finished():
            return state.lapse_ns if state.work is not None and state.work.readings else None
        case SetUpAsked() | ChangeFilter() | HandsAsked():
            return place.remind_ns
        case Settling() | Waiting():
            return place.until_ns
        case AskClose() | AskGiven() | AskWhite():
            if state.foot.down and state.foot.seq != place.seq:
                return None  # a contact that closed in time stops the clock until it is read
            return place.until_ns + state.habits.timing.down_window_ms * NS_PER_MS
        case _:
            return None
