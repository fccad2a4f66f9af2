"""What the page may ask of the grammar. Each is refused with a sentence's key where the moment is not right."""

from __future__ import annotations

from controller.foot import acts, room_light, trays
from controller.foot.asks import NOTHING_ASKED, found_in, left_in, still_in
from controller.foot.effects import Refuse
from controller.foot.events import Asked, Chosen
from controller.foot.legal_acts import must_have_line, refusal
from controller.foot.places import Focus, is_dark
from controller.foot.sheet_changes import (
    add_burn,
    assume,
    call_given,
    close_sheet,
    leave_out,
    make_set_up,
    paper_away_first,
    put_back,
    stand_at_enlarger,
    strike_last,
)
from controller.foot.state import State, Work
from controller.foot.turn import Turn
from controller.model import replace
from controller.recipe.compile_recipe import more_burn
from controller.recipe.plan import Step
from controller.store.entries import Loaded
from hardware.sounds import Cue
from hardware.wire import RoomLight


def asking(state: State, act: acts.Act, at_ns: int) -> Asked:
    """Return a page's act as the grammar takes it in: one more burn with the step that it makes of this sheet.

    What the moment refuses is left for the grammar to refuse.

    Raises:
        Impossible: one more burn that cannot be given, or that no lamp line has the filter for.
    """
    if not isinstance(act, acts.MoreBurn) or refusal(state, act.verb, at_ns) is not None:
        return Asked(act, at_ns)
    return Asked(act, at_ns, _more_burn(state, act))


def _more_burn(state: State, act: acts.MoreBurn) -> Step:
    work = state.loaded
    must_have_line(act.filter, state.habits)
    return more_burn(
        work.plan,
        len(work.steps) + 1,
        filter=act.filter,
        stops=act.stops,
        seconds=act.seconds,
        area=act.area,
        longest_ms=state.habits.timing.longest_light_ms,
    )


def asked(turn: Turn, event: Asked) -> None:
    """Do what was asked on a page, or refuse it."""
    act, at_ns = event.act, event.at_ns
    why = refusal(turn.state, act.verb, at_ns)
    if why is not None:
        _refuse(turn, act, why)
        return
    match act:
        case acts.StandAtEnlarger():
            stand_at_enlarger(turn, act.bench, at_ns)
        case acts.SetUpMade():
            make_set_up(turn)
            turn.rest(at_ns)
        case acts.CallGiven():
            call_given(turn, "page", at_ns)
        case acts.LeaveOut():
            leave_out(turn, at_ns)
        case acts.PutBack():
            put_back(turn, at_ns)
        case acts.MoreBurn():
            assert event.step is not None
            add_burn(turn, event.step, at_ns)
        case acts.NoLight():
            strike_last(turn, at_ns)
        case acts.CloseSheet():
            close_sheet(turn, "page", at_ns)
        case acts.Assume():
            assume(turn, act.which, at_ns)
        case acts.AskFocus():
            place = turn.state.place
            assert is_dark(place)
            turn.ask_white(at_ns, place)
        case acts.StartStep():
            turn.file_gesture("press", at_ns)
            turn.begin_light(at_ns)
        case acts.PaperAway():
            room_light.begin_day(turn, at_ns)
        case acts.PaperOut():
            room_light.end_day(turn)
        case acts.RoomLightOn():
            room_light.switch_on(turn)
        case acts.RoomLightOff():
            room_light.end(turn)
        case acts.NoPaperInTrays():
            trays.none_there(turn, at_ns)
        case _:
            raise TypeError(f"{act.verb} is not the grammar's")


def _refuse(turn: Turn, act: acts.Act, why: str) -> None:
    turn.do(Refuse(why))
    if isinstance(act, acts.RoomLightOff):
        turn.do(RoomLight(False))  # off is the answer to doubt
    if isinstance(act, acts.StartStep) and why == "foot.wait":
        turn.say(Cue.WAIT)


def choose(turn: Turn, event: Chosen) -> None:
    """Load a plan for the next sheet, or put down what is loaded; or refuse it."""
    place, plan = turn.state.place, event.plan
    why = refusal(turn.state, "put down" if plan is None else "load", event.at_ns)
    if why is not None:
        turn.do(Refuse(why))
        return
    work, old = None if plan is None else Work.fresh(plan.standing(turn.state.bench)), turn.state.work
    stood = None if old is None else old.aside if old.check else old.plan  # what was loaded, or was before a check
    left = turn.state.put_down if old is None or stood is None else left_in(old, stood)
    if work is not None and old is not None and (work.check or (stood and work.plan.source == stood.source)):
        work = replace(work, asked=still_in(old))
    elif work is not None and not work.check:
        work = replace(work, asked=found_in(left, work.plan))
    if work is not None and work.check:
        # what the check leaves in the drawer is none of that plan's
        work = replace(work, aside=None if old is None else old.aside if old.check else old.plan.beginning_with(""))
    elif work is not None and event.again and old is not None and old.follows:
        work = replace(work.following(turn.state.filter_in), asked=work.asked)
    before = paper_away_first(turn.state, event.at_ns) if turn.state.check_begun else turn.state
    gone = work is None or (work.check and stood is None)
    turn.state = replace(before, work=work, put_down=left if gone else NOTHING_ASKED)
    if not event.again:
        turn.say_filter("")
    if plan is None:
        turn.file(Loaded(source="", version=0, title=""))
    elif not plan.of_no_sheet:
        turn.file(Loaded(source=plan.source, version=plan.version, title=plan.title))
    if not isinstance(place, Focus):
        turn.rest(event.at_ns)
