"""Turns the grammar's state into a snapshot for the outside, words included. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

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
    WhiteWarning,
    is_dark,
)
from controller.foot.state import State, Work
from controller.foot.status import Doubt, LitNow, PlaceName, Status
from controller.foot.step_lines import card_words, given_ms, next_step, nominal_ms, seconds, step_lines
from controller.words import say

NAMES: Final[dict[type[Place], PlaceName]] = {
    NothingChosen: "nothing chosen",
    Ready: "ready",
    LeadIn: "lead-in",
    Light: "light",
    Gap: "gap",
    Held: "held",
    ChangeFilter: "change filter",
    HandsAsked: "hands asked",
    Settling: "settling",
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

    sheet: str = ""
    sheet_number: int = 1
    lit_ms: int = 0
    keeper: Literal["ready", "away", "fault"] = "away"
    practice: bool = False
    realtime: bool = False
    troubles: tuple[str, ...] = ()
    day_until_ns: int | None = None
    room_said: str = ""
    """Why the room light went off."""
    closed: str = ""
    """Words for the sheet that was closed last."""
    doubt_light: str = ""


def describe(state: State, facts: Facts, at_ns: int) -> Status:
    """Return the snapshot of `state` at `at_ns`, its number still 0."""
    work, place = state.work, state.place
    return Status(
        number=0,
        at_ns=at_ns,
        place=NAMES[type(place)],
        question=isinstance(place, AskClose | AskGiven | AskWhite),
        sheet=facts.sheet,
        sheet_number=facts.sheet_number if state.sheet_open else None,
        open=state.sheet_open,
        plan=None if work is None else work.plan,
        next=None if work is None or work.finished else next_step(work, state.habits.lag_ms),
        steps=() if work is None else tuple(step_lines(state, work)),
        just_given=_just_given(state, facts),
        headline=headline(state, facts),
        filter_in=state.filter_in,
        filter_wanted="" if work is None or work.finished else work.step.filter,
        lit=_lit(state, facts),
        due_ns=place.start_ns if isinstance(place, LeadIn | Gap | WhiteWarning) else None,
        stop_possible=isinstance(place, LeadIn | Light | Gap | WhiteWarning | Focus),
        doubt=_doubt(state, facts),
        keeper=facts.keeper,
        practice=facts.practice,
        realtime=facts.realtime,
        sounder=state.habits.sounder,
        troubles=facts.troubles,
        day_until_ns=facts.day_until_ns,
        day_refused=day_refused(state, facts),
        room_light="" if not state.habits.room_light else "on" if state.room_on else "off",
        room_said="" if state.room_on else facts.room_said,
        start_from_phone=state.habits.start_from_phone,
        can=tuple(_can(state, facts)),
    )


def day_refused(state: State, facts: Facts) -> str:
    """Return why the day face cannot be had, in words, or nothing where it can."""
    if state.sheet_open:
        return say("foot.day-refused-open", number=facts.sheet_number)
    if isinstance(state.place, LeadIn | Light | Gap):
        return say("foot.day-refused-light")
    if state.check_begun:
        return say("lamp.check-begun")
    if state.lid_open:
        return say("foot.day-refused-box")
    return ""


def headline(state: State, facts: Facts) -> str:
    """Return the one sentence that says what is asked of the printer now."""
    work = state.work
    match state.place:
        case Ready() | Held() | HandsAsked() | ChangeFilter() | AfterRestart() if work is not None:
            return _asked(state, work, facts)
        case Fault():
            return say(f"foot.place-fault-{state.place.why}")
        case AskClose() if work is not None and work.check:
            return say("lamp.place-ask-close")
        case _:
            return say(f"foot.place-{_SENTENCES[type(state.place)]}")


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


def _asked(state: State, work: Work, facts: Facts) -> str:
    step = work.step
    missing = nominal_ms(step, work.missing_ns(state.habits.lag_ms), state.habits.lag_ms)
    if work.doubt(state.habits.lag_ms) is not None:
        return say("foot.doubt", step=step.number)
    match state.place:
        case ChangeFilter():
            key = "foot.place-change-filter-stop-down" if state.stop_down else "foot.place-change-filter"
            return say(key, filter=step.filter)
        case HandsAsked() if step.hands is not None:
            return say(f"foot.place-{step.hands.value.replace(' ', '-')}")
        case Held() if work.given[work.index].most_ns:
            return say("foot.place-held", seconds=seconds(missing))
        case Held():
            return say("foot.place-held-before")
        case AfterRestart():
            given = work.given[work.index].most_ns
            return say(
                "foot.place-after-restart",
                number=facts.sheet_number,
                step=step.number,
                name=step.name,
                given=seconds(nominal_ms(step, given, state.habits.lag_ms)),
                missing=seconds(missing),
            )
        case _ if state.stop_down and state.habits.filters == "lines":
            return say("wiring.place-ready-stop-down")
        case _ if step.card:
            return say("foot.place-ready-card", card=card_words(step))
        case _:
            return say("foot.place-ready")


def _just_given(state: State, facts: Facts) -> str:
    work = state.work
    if work is None or work.last is None:
        return facts.closed
    step, given = work.steps[work.last.index], work.given[work.last.index]
    least, most = given_ms(step, given, state.habits.lag_ms)
    if seconds(least) != seconds(most):
        return say("foot.given-between", name=step.name, least=seconds(least), most=seconds(most))
    return say("foot.given", name=step.name, seconds=seconds(most))


def _lit(state: State, facts: Facts) -> LitNow | None:
    place, work = state.place, state.work
    match place:
        case Light():
            kind: Literal["step", "check"] = "check" if work is not None and work.check else "step"
            return LitNow(kind=kind, on_ns=place.on_ns, lit_ms=facts.lit_ms)
        case Focus():
            return LitNow(kind="focus", on_ns=place.on_ns, lit_ms=facts.lit_ms)
        case _:
            return None


def _doubt(state: State, facts: Facts) -> Doubt | None:
    work = state.work
    index = None if work is None else work.doubt(state.habits.lag_ms)
    if work is None or index is None:
        return None
    least, most = given_ms(work.steps[index], work.given[index], state.habits.lag_ms)
    return Doubt(light=facts.doubt_light, step=work.steps[index].number, least_ms=least, most_ms=most)


def _can(state: State, facts: Facts) -> list[str]:
    """Return the verbs of `controller.foot.acts` that make sense now."""
    place, work = state.place, state.work
    quiet = is_dark(place) or isinstance(place, AskClose | AskGiven | AskWhite)
    verbs = ["remark", "pick"]
    if not state.sheet_open:
        if quiet or isinstance(place, Focus):
            verbs += ["load", *(["put down"] if work is not None else [])]
        if not day_refused(state, facts):
            verbs.append("paper out" if facts.day_until_ns is not None else "paper away")
        if state.habits.room_light and (state.room_until_ns is not None or state.room_on):
            verbs.append("room light off")
        elif state.habits.room_light and is_dark(place) and facts.day_until_ns is not None:
            verbs.append("room light on")
        if is_dark(place) and facts.day_until_ns is not None and state.habits.sounder:
            verbs.append("ask focus")
    elif quiet and work is not None:
        if not work.finished:
            verbs += ["call given", "leave out"]
        verbs += ["more burn", "close"]
        if work.last is not None:
            verbs.append("no light")
        if work.doubt(state.habits.lag_ms) is not None:
            verbs.append("assume")
    if state.habits.start_from_phone and isinstance(place, Ready | Held):
        verbs.append("start")
    return verbs
