"""Which ask comes next before a step's light or before the sheet is finished, and what is in place once it is answered.

The plan says what is asked where every step is given in its turn. Where steps were left out, put back or added, or the
daemon began anew, what is in place is held against what the step needs, so that no light goes through the wrong
negative or past a mask that was forgotten. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.model import replace
from controller.recipe.asks import carrier_ask, tool_ask
from controller.recipe.plan import Ask, Hands
from hardware.sounds import Cue

if TYPE_CHECKING:
    from controller.foot.state import Work
    from controller.recipe.plan import Plan
    from controller.recipe.recipe import Tool


@dataclass(frozen=True, slots=True)
class AsksDone:
    """What was answered on a sheet."""

    count: int = 0
    """Asks of the present step that were answered, those among them that had nothing to change."""
    hands: bool = False
    """Its flash's hands have done what they were asked."""
    past: int = 0
    """The asks of steps before this index were answered, or are the next step's no more."""
    end: int = 0
    """Asks after the last light that were answered."""
    carrier: str = ""
    """The carrier that is in; empty where that is unknown."""
    in_place: frozenset[str] = frozenset()
    """Letters of the tools that lie in their places."""
    doubted: frozenset[str] = frozenset()
    """Those of them that nobody has looked at since a restart, or since another recipe was loaded."""
    left: tuple[Tool, ...] = ()
    """Tools of another recipe that lie in their places still: they are asked out before anything else."""


NOTHING_ASKED: Final = AsksDone()
_BACK: Final = frozenset({Hands.NEGATIVE_BACK, Hands.OPAL_IN, Hands.TWO_STOPS_OPEN})
"""What puts something in, or back to where it stood."""


def next_ask(work: Work) -> Ask | None:
    """Return what is asked now, before anything else of the present step or of the finished sheet; None for nothing."""
    found = _next(work)
    return None if found is None else found[1]


def answered(work: Work) -> AsksDone:
    """Return what is known once the present ask, or the flash's hands where there is none, is answered."""
    found = _next(work)
    if found is not None:
        return found[0]
    back = work.step.hands is Hands.NEGATIVE_BACK
    return replace(work.asked, hands=True, carrier=work.step.carrier if back else work.asked.carrier)


def moved(work: Work, index: int) -> AsksDone:
    """Return what is known once the work stands at another step: its asks are still to come."""
    if index == work.index:
        return work.asked
    past = work.index + 1 if _next(work) is None else work.asked.past
    return replace(work.asked, count=0, hands=False, past=past)


def still_in(work: Work) -> AsksDone:
    """Return what is known when another sheet takes the place of this one: a mask that is in stays in."""
    return AsksDone(in_place=work.asked.in_place, doubted=work.asked.doubted, left=work.asked.left)


def left_in(work: Work, plan: Plan) -> AsksDone:
    """Return what is known when another recipe than that of `plan`, or none, is loaded: its tools that are in."""
    return AsksDone(left=(*work.asked.left, *(tool for tool in plan.tools if tool.letter in work.asked.in_place)))


def found_in(left: AsksDone, plan: Plan) -> AsksDone:
    """Return what is known of a recipe that is loaded while tools of another lie in their places.

    One that it has just so itself may stay there, once somebody has looked; all others are to go.
    """
    own = frozenset(tool.letter for tool in plan.tools if tool in left.left)
    return AsksDone(in_place=own, doubted=own, left=tuple(tool for tool in left.left if tool not in plan.tools))


def ask_cue(work: Work) -> Cue:
    """Return the sound of what is asked of the hands: one for something in, one for something out, else to use them."""
    ask = next_ask(work)
    if _others(work):
        return Cue.DODGER_OUT
    if ask is None:
        return Cue.DODGER_IN if work.step.hands in _BACK else Cue.DODGER_OUT
    return Cue.DODGER_IN if ask.brings else Cue.DODGER_OUT if ask.takes else Cue.HANDS


def _next(work: Work) -> tuple[AsksDone, Ask] | None:
    """Return the next ask, and what is known once it is answered."""
    asked = work.asked
    if others := _others(work):
        # its letter may be another tool's here, so that the ask takes none of this recipe's out
        ask = tool_ask(others[0], out=True).model_copy(update={"takes": ()})
        return replace(asked, left=others[1:]), ask
    if work.finished:
        for at, ask in enumerate(work.plan.end_asks[asked.end :], asked.end + 1):
            if _changes(asked, ask):
                return replace(_after(asked, ask), end=at), ask
        return _put_right(work, frozenset())
    step = work.step
    for at, ask in enumerate(_before(work)[asked.count :], asked.count + 1):
        if _changes(asked, ask):
            return replace(_after(asked, ask), count=at), ask
    goes_back = step.hands is Hands.NEGATIVE_BACK and not work.given[work.index].most_ns
    if step.carrier and step.carrier != asked.carrier and not goes_back:
        ask = carrier_ask(step.carrier)
        return _after(asked, ask), ask
    return _put_right(work, frozenset(step.in_place))


def _others(work: Work) -> tuple[Tool, ...]:
    """Return another recipe's tools that are to go; a check has no paper, and asks for nothing."""
    return () if work.check else work.asked.left


def _before(work: Work) -> tuple[Ask, ...]:
    """Return the asks before the present step, after those of the steps just before it that are settled unlit."""
    asks = work.step.asks
    for index in range(work.index - 1, work.asked.past - 1, -1):
        given = work.given[index]
        if not given.settled or given.most_ns:
            break
        asks = (*work.steps[index].asks, *asks)
    return asks


def _put_right(work: Work, needed: frozenset[str]) -> tuple[AsksDone, Ask] | None:
    """Return the ask that brings the tools nearer to what is needed, or None where they are as they should be."""
    there = work.asked.in_place
    for tool in work.plan.tools:
        is_in, wanted = tool.letter in there, tool.letter in needed
        if is_in != wanted or (wanted and tool.letter in work.asked.doubted):
            ask = tool_ask(tool, out=not wanted)
            return _after(work.asked, ask), ask
    return None


def _changes(asked: AsksDone, ask: Ask) -> bool:
    """Tell whether an ask is to be asked: one of a tool alone not where that is as it asks for already."""
    if ask.kind != "tool":
        return True
    sure = asked.in_place - asked.doubted
    return not sure.issuperset(ask.brings) or not asked.in_place.isdisjoint(ask.takes)


def _after(asked: AsksDone, ask: Ask) -> AsksDone:
    return replace(
        asked,
        carrier=ask.carrier or asked.carrier,
        in_place=asked.in_place.difference(ask.takes).union(ask.brings),
        doubted=asked.doubted.difference(ask.takes, ask.brings),
    )


def after_restart(work: Work, done: Iterable[Ask]) -> AsksDone:
    """Return what is held of an open sheet's asks after a restart: all of the present step's are to come again.

    `done` are those that were answered before. What they put in place is still there, but nobody has looked since.
    """
    asked = NOTHING_ASKED
    for ask in done:
        asked = _after(asked, ask)
    present = work.plan.end_asks if work.finished else work.step.asks
    in_place = asked.in_place.union(letter for ask in present for letter in ask.takes)
    return AsksDone(in_place=in_place, doubted=in_place)
