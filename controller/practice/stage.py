"""How the baseboard stands now: as hands have moved things, and where they have moved nothing, as the plan asks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Final, Literal, get_args

from controller.model import Frozen
from controller.picture.doses import Card, Carrier, Way, carrier_of
from controller.picture.hands import OFF_THE_PAPER, card_places, lying_in, staying
from controller.practice.board import Board, CardStand, board_of
from controller.practice.in_carrier import InCarrier
from controller.recipe.plan import Hands, Step, StepKind
from hardware.clock import NS_PER_MS
from hardware.practice.log import CardMoved, DodgerMoved, Entry, NegativeMoved, OpalMoved

if TYPE_CHECKING:
    from controller.foot.status import Status
    from controller.recipe.plan import Plan, StripPlan

ToolAct = Literal["dodge", "burn", "edge burn"]
TOOL_ACTS: Final[tuple[ToolAct, ...]] = get_args(ToolAct)
_UNDER_LAMP: Final = frozenset({"lead-in", "light", "gap", "held"})
"""Places of a sheet at which its next light is on, announced or stopped."""
_LAID_OUT: Final = _UNDER_LAMP | {"ready", "settling"}
_CARRIERS: Final[dict[Hands, Carrier]] = {
    Hands.NEGATIVE_OUT: "empty",
    Hands.NEGATIVE_BACK: "negative",
    Hands.OPAL_IN: "opal",
    Hands.OPAL_OUT: "negative",
}


class Tool(Frozen):
    """A dodger, or a card that burns in, for one area or edge."""

    act: ToolAct
    area: str
    inside: bool = False
    """It is held in the light."""


class Stage(Frozen):
    """What stands between lens and paper, and whether there is paper."""

    paper: bool = False
    carrier: Carrier = "negative"
    bands: int = 0
    """Of the strip that is chosen; 0 where there is none."""
    card: CardStand | None = None
    """A strip's card as it lies, or None where it is off the paper."""
    tools: tuple[Tool, ...] = ()
    lies: InCarrier = InCarrier()
    """Which negative lies in the carrier, or which on the paper."""

    def way(self) -> Way:
        """Return what a light passes."""

        def of(act: ToolAct) -> frozenset[str]:
            return frozenset(tool.area for tool in self.tools if tool.inside and tool.act == act)

        card = Card(*self.card) if self.card and self.bands else None
        return Way(self.carrier, of("dodge"), of("burn"), of("edge burn"), card)


def stage_of(log: Iterable[Entry], status: Status, opened_ns: int | None, now_ns: int) -> Stage:
    """Return how the baseboard stands.

    `opened_ns` is when the open sheet got its first light, None where none is open. What was moved since, or lies
    where it was put before, is as the log has it; the rest is where the plan wants it for the light that comes next,
    or is on.
    """
    entries = tuple(log)
    board = board_of(entries)
    moved = [entry for entry in entries if opened_ns is not None and entry.at_ns >= opened_ns]
    plan, step = status.plan, _step(status)
    strip = plan.strip if plan else None
    by_hand = board.card is not None or any(isinstance(entry, CardMoved) for entry in moved)
    return Stage(
        paper=board.paper or status.open or (plan is not None and plan.on_paper and status.place in _LAID_OUT),
        carrier=_carrier(board, moved, status, plan),
        bands=len(strip.totals_ms) if strip else 0,
        card=board.card if by_hand else _planned_card(plan, strip, step, _into_ms(status, now_ns)),
        tools=tuple(_tools(board, moved, status, now_ns)),
    )


def next_place(stage: Stage, strip: StripPlan | None) -> CardStand:
    """Return where a strip's card goes when it is moved on by hand: a band further, and off the paper in the end."""
    way = stage.card[0] if stage.card else strip.card if strip else "cover"
    bands = stage.bands or 1
    order = [*range(bands - 1, 0, -1)] if way == "cover" else [*range(1, bands + 1)]
    now = stage.card[1] if stage.card else OFF_THE_PAPER
    if now == OFF_THE_PAPER or (way == "cover" and now >= bands):
        return way, order[0] if order else OFF_THE_PAPER
    return way, order[order.index(now) + 1] if now in order[:-1] else OFF_THE_PAPER


def _step(status: Status) -> Step | None:
    """Return the step that comes next, or is being given."""
    if status.plan is None or status.next is None:
        return None
    return next((step for step in status.plan.steps if step.number == status.next.number), None)


def _into_ms(status: Status, now_ns: int) -> int:
    """Return how far the present step has come."""
    if status.next is None:
        return 0
    before = status.next.planned_ms - status.next.remaining_ms
    return before + ((now_ns - status.lit.on_ns) // NS_PER_MS if status.lit else 0)


def _carrier(board: Board, moved: Sequence[Entry], status: Status, plan: Plan | None) -> Carrier:
    by_hand = carrier_of(board.negative, opal=board.opal)
    if plan is None or status.next is None or any(isinstance(entry, NegativeMoved | OpalMoved) for entry in moved):
        return by_hand
    found = by_hand
    for step in _laid_out(status, plan):
        asked = _CARRIERS.get(step.hands) if step.hands else None
        if asked is not None and asked != "negative":
            found = asked
        elif asked is not None or step.carrier:
            found = carrier_of(step.carrier or "A", opal=False)
    return found


def _laid_out(status: Status, plan: Plan) -> Iterator[Step]:
    """Give the steps whose hands are done: those before the next one, and that one once all it asks is answered."""
    assert status.next is not None
    now = status.next.number
    yield from (s for s in plan.steps if s.number < now or (s.number == now and status.place in _LAID_OUT))


def _planned_card(plan: Plan | None, strip: StripPlan | None, step: Step | None, into_ms: int) -> CardStand | None:
    if plan is None or strip is None or step is None:
        return None
    places = card_places(strip, strip.card, plan.steps).get(step.number, ())
    reached = [place for at_ms, place in places if at_ms <= into_ms]
    return (strip.card, reached[-1]) if reached else None


def _tools(board: Board, moved: Sequence[Entry], status: Status, now_ns: int) -> Iterator[Tool]:
    step = _step(status)
    steps, stay = (status.plan.steps, staying(status.plan)) if status.plan else ((), ())
    planned = dict.fromkeys((*(each for one in steps for each in _asked(one)), *(("dodge", each) for each in stay)))
    in_use = set(_in_use(step, _into_ms(status, now_ns))) if step and status.place in _UNDER_LAMP else set()
    if stay and step and status.plan:
        for last in [*_laid_out(status, status.plan)][-1:]:
            in_use |= {("dodge", letter) for letter in lying_in(last)}
    touched = {entry.area for entry in moved if isinstance(entry, DodgerMoved)} | {area for _, area in board.tools}
    for act, area in dict.fromkeys((*planned, *board.tools)):
        if act in TOOL_ACTS:
            held = (act, area) in (board.tools if area in touched else in_use)
            yield Tool(act=act, area=area, inside=held)


def _asked(step: Step) -> Iterator[tuple[str, str]]:
    """Give what a step asks to be held in its light, (act, area)."""
    match step.act:
        case StepKind.PART:
            yield "dodge", step.area
        case StepKind.RUNNING:
            yield from (("dodge", mark.area) for mark in step.marks)
        case StepKind.BURN:
            yield "burn", step.area or "A"
        case StepKind.EDGE:
            yield "edge burn", step.edge or "top"
        case _:
            pass


def _in_use(step: Step, into_ms: int) -> Iterator[tuple[str, str]]:
    """Give what is held in a step's light so far into it."""
    if step.act is not StepKind.RUNNING:
        yield from _asked(step)
        return
    held = {mark.area: mark.cue == "dodger in" for mark in step.marks if mark.at_ms <= into_ms}
    yield from (("dodge", area) for area, inside in held.items() if inside)
