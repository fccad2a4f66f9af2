"""Turns the grammar's state into a snapshot for the outside, words included. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from controller.foot import waits, wrong_light
from controller.foot.asks import next_ask
from controller.foot.legal_acts import offered, refusal
from controller.foot.places import (
    AfterRestart,
    AskClose,
    AskGiven,
    AskWhite,
    ChangeFilter,
    Fault,
    Finished,
    Focus,
    Gap,
    HandsAsked,
    Held,
    LeadIn,
    Light,
    NothingChosen,
    Place,
    Ready,
    Settling,
    SetUpAsked,
    Waiting,
    WhiteWarning,
)
from controller.foot.room_light import ended_words
from controller.foot.state import State, Work
from controller.foot.status import (
    Doubt,
    LitNow,
    PlaceName,
    Status,
    card_words,
    given_ms,
    next_step,
    nominal_ms,
    step_lines,
)
from controller.foot.tray_words import NOT_YET, first_line, prints_now, white_later, white_words
from controller.recipe.plan import Ask
from controller.trials.easel_lights import ALIGNMENT
from controller.words import say

NAMES: Final[dict[type[Place], PlaceName]] = {
    NothingChosen: "nothing chosen",
    Ready: "ready",
    LeadIn: "lead-in",
    Light: "light",
    Gap: "gap",
    Held: "held",
    SetUpAsked: "set-up asked",
    ChangeFilter: "change filter",
    HandsAsked: "hands asked",
    Settling: "settling",
    Waiting: "waiting",
    Finished: "finished",
    AskClose: "close this sheet?",
    AskGiven: "call it given?",
    AskWhite: "white light?",
    WhiteWarning: "white-light warning",
    Focus: "focus light",
    AfterRestart: "open after a restart",
    Fault: "fault",
}


@dataclass(frozen=True, slots=True)
class Facts:
    """What a snapshot says beside the grammar's state."""

    keeper: Literal["ready", "away", "fault"] = "away"
    practice: bool = False
    realtime: bool = False
    troubles: tuple[str, ...] = ()


def describe(state: State, facts: Facts, at_ns: int) -> Status:
    """Return the snapshot of `state` at `at_ns`, its number still 0."""
    work, place = state.work, state.place
    return Status(
        number=0,
        at_ns=at_ns,
        place=NAMES[type(place)],
        question=isinstance(place, AskClose | AskGiven | AskWhite),
        sheet=state.sheet,
        sheet_number=state.number if state.sheet_open else None,
        open=state.sheet_open,
        closed_sheet=state.closed_sheet,
        plan=None if work is None else work.plan,
        bench=state.bench,
        next=None if work is None or work.finished or work.wait else next_step(work, state.habits.lag_ms),
        steps=() if work is None else tuple(step_lines(state, work)),
        just_given=_just_given(state),
        headline=headline(state),
        filter_in=state.filter_in,
        filter_wanted="" if work is None or work.finished else work.step.filter,
        ask=_ask(state),
        lit=_lit(state),
        due_ns=place.start_ns if isinstance(place, LeadIn | Gap | WhiteWarning) else None,
        stop_possible=isinstance(place, LeadIn | Light | Gap | WhiteWarning | Focus),
        doubt=_doubt(state),
        keeper=facts.keeper,
        practice=facts.practice,
        realtime=facts.realtime,
        sounder=state.habits.sounder,
        troubles=facts.troubles,
        day_until_ns=state.day_until_ns,
        day_refused=_day_refused(state, at_ns),
        room_light="" if not state.habits.room_light else "on" if state.room_on else "off",
        room_said=ended_words(state) if state.room_ended_why else "",
        prints=prints_now(state) if state.prints else (),
        white_from_ns=state.white_from_ns or None,
        white_refused=white_later(state) if state.white_from_ns else "",
        hurry=state.habits.hurry,
        start_from_phone=state.habits.start_from_phone,
        can=offered(state, at_ns),
    )


def refused(state: State, key: str, at_ns: int) -> str:
    """Return the sentence of a refusal by its key, with the step, sheet and seconds left that it may speak of."""
    if key == NOT_YET:
        return white_words(state.white_from_ns, at_ns, followed=bool(state.prints))
    return say(key, step=0 if state.work is None else state.work.step.number, number=state.number)


def _day_refused(state: State, at_ns: int) -> str:
    """Return why there is no day face now, in words, or nothing where there can be."""
    why = refusal(state, "paper away", at_ns)
    if why is None:
        return ""
    return white_later(state) if why == NOT_YET else refused(state, why, at_ns)


def headline(state: State) -> str:
    """Return the one sentence that says what is asked of the printer now."""
    work = state.work
    if state.prints and (line := first_line(state)):
        return line
    if isinstance(state.place, HandsAsked | Waiting) and (line := waits.headline(state.place, work)):
        return line
    match state.place:
        case Ready() | LeadIn() | Light() | Finished() if work is not None and work.readings:
            at, by_eye = _MEASURING[type(state.place)], work.plan.source == ALIGNMENT
            return say(f"alignment.place-{at}" if by_eye else f"easel.place-{at}", name=work.step.name)
        case Ready() | Held() | SetUpAsked() | HandsAsked() | ChangeFilter() | AfterRestart() if work is not None:
            return _asked(state, work)
        case Fault():
            return say(f"foot.place-fault-{state.place.why}")
        case AskClose() if work is not None and work.check:
            return say("lamp.place-ask-close")
        case _:
            return say(f"foot.place-{_SENTENCES[type(state.place)]}")


_MEASURING: Final[dict[type[Place], str]] = {
    Ready: "ready",
    LeadIn: "lead-in",
    Light: "light",
    Finished: "finished",
}
_SENTENCES: Final[dict[type[Place], str]] = {
    NothingChosen: "nothing-chosen",
    LeadIn: "lead-in",
    Light: "light",
    Gap: "gap",
    Settling: "settling",
    Finished: "finished",
    AskClose: "ask-close",
    AskGiven: "ask-given",
    AskWhite: "ask-white",
    WhiteWarning: "warning",
    Focus: "focus",
}


def _asked(state: State, work: Work) -> str:
    step = work.step
    missing = nominal_ms(step, work.missing_ns(state.habits.lag_ms), state.habits.lag_ms)
    if work.doubt(state.habits.lag_ms) is not None:
        return say("foot.doubt", step=step.number)
    match state.place:
        case SetUpAsked():
            return say("foot.place-set-up-asked")
        case ChangeFilter():
            key = "foot.place-change-filter-stop-down" if state.stop_down else "foot.place-change-filter"
            return say(key, filter=step.filter, aperture=_to_aperture(work))
        case HandsAsked() if (ask := next_ask(work)) is not None:
            return say("foot.place-ask", words=ask.words[:1].upper() + ask.words[1:].rstrip("."))
        case HandsAsked() if step.hands is not None:
            return say(f"foot.place-{step.hands.value.replace(' ', '-')}")
        case Held() if wrong_light.stood_open(state):
            return say("foot.place-held-open", seconds=seconds(missing), aperture=_to_aperture(work))
        case Held() if work.given[work.index].most_ns:
            return say("foot.place-held", seconds=seconds(missing))
        case Held():
            return say("foot.place-held-before")
        case AfterRestart():
            given = work.given[work.index].most_ns
            return say(
                "foot.place-after-restart",
                number=state.number,
                step=step.number,
                name=step.name,
                given=seconds(nominal_ms(step, given, state.habits.lag_ms)),
                missing=seconds(missing),
            )
        case _ if state.stop_down and state.habits.filters == "lines":
            return say("wiring.place-ready-stop-down", aperture=_to_aperture(work))
        case _ if step.card:
            return say("foot.place-ready-card", card=card_words(step))
        case _ if work.plan.first_filter == step.filter and not work.open:
            return say("foot.place-ready-filter-in", filter=step.filter)
        case _:
            return say("foot.place-ready")


def _to_aperture(work: Work) -> str:
    """Return to which f-number the lens is stopped down, by the recipe, or by what stands where it is silent."""
    return say("foot.to-aperture", aperture=work.plan.aperture) if work.plan.aperture else ""


def _ask(state: State) -> Ask | None:
    work = state.work
    return None if work is None or not isinstance(state.place, HandsAsked) else next_ask(work)


def _just_given(state: State) -> str:
    work = state.work
    if work is None or work.last is None:
        return say("foot.closed", number=state.closed_number) if state.closed_number else ""
    if wrong := wrong_light.happened(state):
        return wrong
    step, given = work.steps[work.last.index], work.given[work.last.index]
    if work.readings:
        return say("easel.measured", name=step.name)
    least, most = given_ms(step, given, state.habits.lag_ms)
    if seconds(least) != seconds(most):
        return say("foot.given-between", name=step.name, least=seconds(least), most=seconds(most))
    return say("foot.given", name=step.name, seconds=seconds(most))


def _lit(state: State) -> LitNow | None:
    place, work = state.place, state.work
    match place:
        case Light():
            kind: Literal["step", "check"] = "check" if work is not None and work.check else "step"
            return LitNow(kind=kind, on_ns=place.on_ns, lit_ms=state.lit_ms)
        case Focus():
            return LitNow(kind="focus", on_ns=place.on_ns, lit_ms=state.lit_ms)
        case _:
            return None


def _doubt(state: State) -> Doubt | None:
    work = state.work
    index = None if work is None else work.doubt(state.habits.lag_ms)
    if work is None or index is None:
        return None
    least, most = given_ms(work.steps[index], work.given[index], state.habits.lag_ms)
    return Doubt(
        light=work.last.light if work.last else "", step=work.steps[index].number, least_ms=least, most_ms=most
    )


def seconds(ms: int) -> str:
    """Return milliseconds as seconds to a tenth."""
    return f"{(ms + 50) // 100 / 10:.1f}"
