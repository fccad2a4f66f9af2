"""What happens to the sheet: lights heard of, steps called given, left out, added, struck; the sheet closed."""

from __future__ import annotations

from typing import Literal

from controller.exposure import lag
from controller.foot import trays, wrong_light
from controller.foot.asks import next_ask, still_in
from controller.foot.places import AskWhite, Fault, Ready, Settling, SetUpAsked, ToBeDone
from controller.foot.state import Given, Last, State, Work
from controller.foot.turn import Turn
from controller.model import replace
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Step
from controller.recipe.set_up import SetUp
from controller.store.entries import (
    Added,
    Assumed,
    CalledGiven,
    Closed,
    LeftOut,
    LightCame,
    Loaded,
    PutBack,
    StoodAtEnlarger,
    Struck,
)
from hardware.clock import NS_PER_MS
from hardware.sounds import Cue

_WHOLE_NS = 2 * NS_PER_MS
"""A step short by less than this has had its plan: integer milliseconds round down at each part."""


def light_came(turn: Turn, came: LightCame) -> None:
    """File a step's light, add it to the sheet, and stand where the sheet then is."""
    state, work = turn.state, turn.state.loaded
    turn.file(came)
    why = came.why
    index, lag_ms, timing = work.index, state.habits.lag_ms, state.habits.timing
    before = work.given[index]
    least_ns, most_ns = lag.given_full_ns(came.least_ns, lag_ms), lag.given_full_ns(came.most_ns, lag_ms)
    wrong = wrong_light.counted(state, came)
    if wrong is not None:
        turn.file(wrong)
        least_ns, most_ns = (wrong.least_ns, wrong.most_ns) if wrong.counts_ns is None else (wrong.counts_ns,) * 2
        state = replace(state, wrong=wrong, stop_down=wrong.found != "filter")
    given = replace(
        before,
        least_ns=before.least_ns + least_ns,
        most_ns=before.most_ns + most_ns,
        done=why == "complete" and wrong is None,
    )
    work = replace(work.with_given(index, given), open=not work.check, last=Last(came.light, index, before))
    if work.lit_ns is None:
        work = replace(work, lit_ns=came.on_ns)
    end_ns = came.on_ns + came.most_ns
    wait_ms = timing.wait_after_plan_ms if why == "complete" else timing.wait_after_stop_ms
    turn.state = replace(state, work=work)
    turn.wait_until(end_ns + wait_ms * NS_PER_MS)
    if wrong is not None and wrong.found == "filter":
        turn.say_filter(wrong.filter)
    if work.check:
        turn.say(Cue.DONE if why == "complete" else Cue.STOPPED)  # the keeper sounds the ends of steps alone
    if work.check and (why != "complete" or work.finished):
        drop_check(turn, end_ns)
    elif why != "complete" or wrong is not None:
        _stopped(turn, end_ns)
    elif not isinstance(state.place, Fault) and (follower := _follower(turn.state)) is not None:
        turn.state = replace(turn.state, work=follower)
        turn.begin_gap(end_ns)
    else:
        turn.rest(end_ns)


def _stopped(turn: Turn, end_ns: int) -> None:
    work = turn.state.loaded
    lag_ms, given = turn.state.habits.lag_ms, work.given[work.index]
    missing = work.missing_ns(lag_ms)
    if work.doubt(lag_ms) is not None or lag.worth_lighting(missing, lag_ms):
        turn.rest(end_ns)
        return
    if missing > _WHOLE_NS:
        turn.file(CalledGiven(sheet=work.sheet, step=work.step.number, by="rule"))
        given = replace(given, called=True)
    turn.state = replace(turn.state, work=work.with_given(work.index, replace(given, done=not given.called)))
    turn.rest(end_ns)


def _follower(state: State) -> Work | None:
    """Return the work standing at the band that a rhythm goes on to by itself, or None."""
    work = state.loaded
    if work.finished:
        return None
    ahead = work.moved_on()
    step = ahead.step
    by_itself = step.gap_ms is not None and ahead.index == work.index + 1 and not ahead.given[ahead.index].most_ns
    in_place = state.habits.filters == "lines" or step.filter == state.filter_in
    return ahead if by_itself and in_place and step.hands is None and next_ask(ahead) is None else None


def call_given(turn: Turn, by: Literal["foot", "page"], at_ns: int) -> None:
    """Count the present step as given as it is, and go on to the next."""
    work = turn.state.loaded
    turn.file(CalledGiven(sheet=work.sheet, step=work.step.number, by=by))
    _settle(turn, work, replace(work.given[work.index], called=True), at_ns)
    turn.say(Cue.DONE)


def leave_out(turn: Turn, at_ns: int) -> None:
    """Leave the present step out, and go on to the next."""
    work = turn.state.loaded
    turn.file(LeftOut(sheet=work.sheet, step=work.step.number))
    _settle(turn, work, replace(work.given[work.index], left_out=True), at_ns)


def put_back(turn: Turn, at_ns: int) -> None:
    """Want the last of the steps that were left out after all: it comes before all that is still to come."""
    work = turn.state.loaded
    index = work.left_out
    assert index is not None
    turn.file(PutBack(sheet=work.sheet, step=work.steps[index].number))
    given = replace(work.given[index], left_out=False)
    turn.state = replace(turn.state, work=work.with_given(index, given))
    turn.rest(at_ns)


def _settle(turn: Turn, work: Work, given: Given, at_ns: int) -> None:
    turn.state = replace(turn.state, work=work.with_given(work.index, given))
    turn.rest(at_ns)


def add_burn(turn: Turn, step: Step, at_ns: int) -> None:
    """Add one more burn to this sheet; a finished sheet is open again for that burn only."""
    work = turn.state.loaded
    turn.file(Added(sheet=work.sheet, step=step))
    turn.state = replace(turn.state, work=replace(work, steps=(*work.steps, step), given=(*work.given, Given())))
    turn.rest(at_ns)


def strike_last(turn: Turn, at_ns: int) -> None:
    """Take the last light back out of the reckoning: the bulb was dead."""
    work = turn.state.loaded
    last = work.last
    assert last is not None
    turn.file(Struck(sheet=work.sheet, light=last.light))
    parts = work.given[last.index].parts
    before = replace(last.before, parts=parts, called=False, done=False, left_out=False)
    turn.state = replace(turn.state, work=replace(work.with_given(last.index, before), last=None))
    turn.rest(at_ns)


def assume(turn: Turn, which: Literal["least", "middle", "most"], at_ns: int) -> None:
    """Settle what to count of the light in doubt."""
    work = turn.state.loaded
    lag_ms, last = turn.state.habits.lag_ms, work.last
    assert last is not None
    index = last.index
    given, before = work.given[index], last.before
    least_ns, most_ns = given.least_ns - before.least_ns, given.most_ns - before.most_ns
    this_light = max(0, {"least": least_ns, "most": most_ns, "middle": (least_ns + most_ns) // 2}[which])
    lit_ns = this_light + (lag_ms * NS_PER_MS if this_light > 0 else 0)
    turn.file(Assumed(sheet=work.sheet, light=last.light, given_ns=lit_ns))
    # what an earlier light may have given stays as it is
    given = replace(given, least_ns=before.least_ns + this_light, most_ns=before.most_ns + this_light)
    turn.state = replace(turn.state, work=work.with_given(index, given))
    _stopped(turn, at_ns)


def stand_at_enlarger(turn: Turn, bench: AtEnlarger, at_ns: int) -> None:
    """Note what a page says stands at the enlarger from now on; the plan of the sheet that is begun next says so too.

    What was said needs no foot: a set-up that it makes is asked for no more.
    """
    was, place = turn.state.bench, turn.state.place
    if bench == was:
        return
    stand(turn, bench, (turn.state.set_up or SetUp()).told(was, bench))
    if isinstance(place, Settling) and place.stood is not None:
        before = (place.stood[1] or SetUp()).told(was, bench)
        turn.go(replace(place, stood=(bench, before)))  # what is taken back is the press alone
    elif isinstance(place, Ready | ToBeDone | AskWhite):
        asked = isinstance(place.back if isinstance(place, AskWhite) else place, SetUpAsked)
        if asked != turn.set_up_wanted:
            turn.rest(at_ns)


def make_set_up(turn: Turn) -> None:
    """Hold that the set-up of the sheet to be begun is made: so it stands at the enlarger from now on."""
    wanted = turn.state.loaded.plan.set_up
    assert wanted is not None
    stand(turn, wanted.on(turn.state.bench), wanted.over(turn.state.set_up or SetUp()), turn.state.sheet)


def stand(turn: Turn, bench: AtEnlarger, set_up: SetUp | None, sheet: str = "") -> None:
    """File what stands at the enlarger, and how it is set up, in one row, and have the next sheet's plan say so.

    `sheet` is the one that it was made for; empty where it was not asked for.
    """
    work = turn.state.work
    turn.file(StoodAtEnlarger(bench=bench, set_up=set_up, sheet=sheet))
    work = None if work is None else work.standing(bench)
    turn.state = replace(turn.state, bench=bench, set_up=set_up, work=work)


def drop_check(turn: Turn, at_ns: int) -> None:
    """Put a check down, over or broken off (a light cut short tells nothing); what was loaded before is again."""
    state, work = turn.state, turn.state.loaded
    after = None if work.aside is None else replace(Work.fresh(work.aside), asked=still_in(work))
    turn.state = replace(paper_away_first(state, at_ns), work=after)
    if not isinstance(state.place, Fault):
        turn.rest(at_ns)


def close_sheet(turn: Turn, by: Literal["foot", "page"], at_ns: int) -> None:
    """Close the open sheet; the same recipe stands ready for the next one."""
    state, work = turn.state, turn.state.loaded
    if work.check and state.outstanding is not None:
        turn.say(Cue.WAIT)  # what became of its last light is not yet known
        turn.rest(at_ns)
        return
    if work.check:
        turn.say(Cue.CLOSED)
        turn.state = replace(state, hold_from_ns=at_ns + state.habits.timing.after_close_ms * NS_PER_MS)
        drop_check(turn, at_ns)
        return
    turn.file(Closed(sheet=work.sheet, outcome="complete" if work.finished else "spoiled", by=by))
    turn.say(Cue.CLOSED)
    again = work.plan.kind != "strip" or state.habits.strip_again
    if not again:
        turn.file(Loaded(source="", version=0, title=""))
    fresh = Work.fresh(work.plan.standing(state.bench)) if again else None
    if fresh is not None:
        begins = state.habits.begin_with_filter_in and state.habits.filters == "drawer" and fresh.plan.kind == "recipe"
        fresh = replace(fresh.following(state.filter_in if begins else ""), asked=still_in(work))
    turn.state = replace(
        no_hold_yet(state, at_ns),
        work=fresh,
        number=state.number + 1,
        closed_number=state.number,
        closed_sheet=work.sheet,
    )
    if not work.plan.flashes_sheets:  # these go back into a box, and into the trays with the print on them
        trays.begin(turn, work, state.number, by, at_ns)
    turn.rest(at_ns)


def paper_away_first(state: State, at_ns: int) -> State:
    """Return the state after what was under way is over: where paper had light, no hold, and later no white light."""
    work = state.work
    if work is None or not work.plan.on_paper or (work.check and not state.check_begun):
        return state
    return trays.by_time(no_hold_yet(state, at_ns), at_ns)


def no_hold_yet(state: State, at_ns: int) -> State:
    """Return the state in which holds are refused for a moment: paper has to go away first."""
    return replace(state, hold_from_ns=at_ns + state.habits.timing.after_close_ms * NS_PER_MS)
