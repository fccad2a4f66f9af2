"""What an act of the page comes to for the foot-switch grammar: one of its events. Pure."""

from __future__ import annotations

from controller.errors import WrongMoment
from controller.foot import acts
from controller.foot import events as told
from controller.foot.acts import Act
from controller.foot.events import Event
from controller.foot.state import State, must_have_line
from controller.recipe.compile_recipe import more_burn
from controller.words import say


def event_of(act: Act, state: State, now_ns: int) -> Event:
    """Return the event of an act.

    Raises:
        WrongMoment: the act is none of the grammar's, or there is nothing that it could be about.
        Impossible: one more burn that cannot be given, or that no lamp line has the filter for.
    """
    work = state.work
    match act:
        case acts.CallGiven():
            return told.SaidGiven(now_ns)
        case acts.LeaveOut():
            return told.SaidLeaveOut(now_ns)
        case acts.NoLight():
            return told.SaidNoLight(now_ns)
        case acts.CloseSheet():
            return told.SaidClose(now_ns)
        case acts.Assume():
            return told.SaidAssume(act.which, now_ns)
        case acts.AskFocus():
            return told.SaidFocus(now_ns)
        case acts.StartStep():
            return told.SaidStart(now_ns)
        case acts.MoreBurn() if work is not None:
            must_have_line(act.filter, state.habits)
            step = more_burn(
                work.plan,
                len(work.steps) + 1,
                filter=act.filter,
                stops=act.stops,
                seconds=act.seconds,
                area=act.area,
                longest_ms=state.habits.timing.longest_light_ms,
            )
            return told.SaidMore(step, now_ns)
        case _:
            raise WrongMoment(say("foot.not-now"))
