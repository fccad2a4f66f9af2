"""The performer: intent on disk, then the order; dark heard, then the fact on disk; nothing lost where either fails."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import pytest
from tools.foot_bench import Paper, one_step, sheet_plan

from controller.daemon.performer import Performer
from controller.foot import effects as do
from controller.foot.effects import PlaceOrder
from controller.foot.events import StoreFailed
from controller.foot.places import Focus, LeadIn, Light, Ready
from controller.foot.state import State, Work
from controller.store.entries import Closed, FilterSaid, FootRow, Intent, LightCame, NoLightCame, SheetPlanned, Struck
from hardware.errors import KeeperAway
from hardware.wire import Cancel, Order, Sound, ToKeeper


@dataclass
class Pipe:
    """Notes what is sent, and how many rows were on disk by then."""

    paper: Paper
    sent: list[tuple[ToKeeper, int]] = field(default_factory=list)
    stops: list[str] = field(default_factory=list)
    known: list[int] = field(default_factory=list)
    away: bool = False

    def send(self, message: ToKeeper) -> None:
        if self.away:
            raise KeeperAway("away")
        self.sent.append((message, len(self.paper.rows)))

    def know(self, keeper: int) -> None:
        self.known.append(keeper)

    def stop(self, why: str = "page") -> None:
        self.stops.append(why)

    def orders(self) -> list[Order]:
        return [message for message, _ in self.sent if isinstance(message, Order)]


@pytest.fixture
def paper() -> Paper:
    return Paper(lambda: 77)


@pytest.fixture
def pipe(paper: Paper) -> Pipe:
    return Pipe(paper)


@pytest.fixture
def performer(pipe: Pipe, paper: Paper) -> Performer:
    ids = iter(f"sheet-{n}" for n in range(1, 99))
    made = Performer(pipe, paper, run="run", number=5, make_id=lambda: next(ids))
    made.follow(READY)
    return made


WORK = Work.fresh(1, sheet_plan(one_step(), one_step(2)))
READY = State(Ready(), work=WORK)
ANNOUNCED = replace(READY, place=LeadIn(1, 9), orders=1, outstanding=1)
LIT = replace(ANNOUNCED, place=Light(1, 9))


def order(number: int = 1, kind: str = "step") -> PlaceOrder:
    return PlaceOrder(number, kind, 3, 2_000_000_000, 10_000, (), 0, 1, "soft")  # type: ignore[arg-type]


def came(number: int = 1) -> do.FileLight:
    return do.FileLight(number, 9, 100, 100, "foot")


def test_the_intent_is_on_disk_before_the_order_is_sent(performer: Performer, pipe: Pipe, paper: Paper) -> None:
    """When the order leaves, the sheet's plan and the light's intent are on file already."""
    assert performer.perform(READY, ANNOUNCED, (order(),), 0) == ()
    ((message, rows),) = pipe.sent
    assert isinstance(message, Order)
    assert rows == 2
    assert [row.entry.kind for row in paper.rows] == ["planned", "intent"]
    assert (message.id, message.sheet, message.foot_seq, message.lit_ms) == ("run-1", "sheet-1", 3, 10_000)
    planned = paper.of(SheetPlanned)[0]
    assert (planned.sheet, planned.number, planned.plan) == ("sheet-1", 5, WORK.plan)


def test_a_plan_is_filed_once_a_sheet(performer: Performer, paper: Paper) -> None:
    """The plan is filed with the first intent of its sheet, and not again."""
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    performer.perform(ANNOUNCED, READY, (do.FileNone(1, "foot"),), 0)
    performer.perform(READY, ANNOUNCED, (order(2),), 0)
    assert [row.entry.kind for row in paper.rows] == ["planned", "intent", "no light", "intent"]


def test_what_cannot_be_filed_is_not_ordered(performer: Performer, pipe: Pipe, paper: Paper) -> None:
    """With the card full there is no order; the grammar is told, and nothing of the intent is left over."""
    paper.full = True
    (told,) = performer.perform(READY, ANNOUNCED, (do.FileFilter("soft"), order()), 42)
    assert told == StoreFailed(1, 42, "foot.not-filed")
    assert pipe.sent == []
    paper.full = False
    assert performer.file()
    assert [row.entry.kind for row in paper.rows] == ["filter"]


def test_the_sheet_that_could_not_be_filed_is_planned_the_next_time(performer: Performer, paper: Paper) -> None:
    """After a refusal for want of room the next order brings its sheet's plan along."""
    paper.full = True
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    paper.full = False
    performer.perform(READY, ANNOUNCED, (order(2),), 0)
    assert [row.entry.kind for row in paper.rows] == ["planned", "intent"]


def test_an_order_that_cannot_be_sent_is_filed_as_no_light(performer: Performer, pipe: Pipe, paper: Paper) -> None:
    """With the keeper away the grammar is told, and the intent that is on file gets its outcome."""
    pipe.away = True
    (told,) = performer.perform(READY, ANNOUNCED, (order(),), 1)
    assert told == StoreFailed(1, 1, "foot.keeper-away")
    assert [entry.why for entry in paper.of(NoLightCame)] == ["keeper"]


def test_nothing_is_filed_while_lit_and_all_of_it_after_dark(performer: Performer, paper: Paper) -> None:
    """Rows that come up in a light wait in memory, and are filed in their order when it is dark."""
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    rows = len(paper.rows)
    performer.perform(ANNOUNCED, LIT, (do.FileGesture("press", 1),), 0)
    performer.note(FilterSaid(filter="hard"), lit=True)
    assert len(paper.rows) == rows
    assert performer.unfiled
    performer.perform(LIT, READY, (came(),), 0)
    assert [row.entry.kind for row in paper.rows[rows:]] == ["foot", "filter", "light"]
    assert not performer.unfiled


def test_focus_light_belongs_to_no_sheet(performer: Performer, pipe: Pipe, paper: Paper) -> None:
    """Focus light's intent names no sheet and no step, and plans none; nothing is filed while it is on."""
    performer.perform(READY, replace(READY, place=LeadIn(1, 9)), (order(kind="focus"),), 0)
    (intent,) = paper.of(Intent)
    assert (intent.light_kind, intent.sheet, intent.step, intent.lag_ms) == ("focus", "", 0, 0)
    assert paper.of(SheetPlanned) == []
    performer.perform(READY, replace(READY, place=Focus(1, 9)), (do.FileGesture("press", 1),), 0)
    assert paper.of(FootRow) == []
    assert pipe.orders()[0].kind == "focus"


def test_the_fact_goes_before_the_next_intent(performer: Performer, paper: Paper) -> None:
    """Dark heard and the next order in one turn: the fact is on disk with the intent, before the order is sent."""
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    performer.perform(LIT, ANNOUNCED, (came(), order(2)), 0)
    assert [row.entry.kind for row in paper.rows] == ["planned", "intent", "light", "intent"]


def test_a_fact_that_cannot_be_filed_keeps_the_next_light_away(performer: Performer, pipe: Pipe, paper: Paper) -> None:
    """While a fact waits to be filed no order is sent; it is filed first when there is room."""
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    paper.full = True
    told = performer.perform(LIT, ANNOUNCED, (came(), order(2)), 0)
    assert [type(event) for event in told] == [StoreFailed]
    assert len(pipe.orders()) == 1
    paper.full = False
    performer.perform(READY, ANNOUNCED, (order(3),), 0)
    assert [row.entry.kind for row in paper.rows] == ["planned", "intent", "light", "intent"]


def test_closing_numbers_the_next_sheet(performer: Performer, paper: Paper) -> None:
    """A closed sheet's number is used; the next sheet has an id of its own and the next number."""
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    following = replace(READY, work=Work.fresh(2, WORK.plan), sheets=2)
    performer.perform(LIT, following, (do.FileClosed("spoiled", "page"),), 0)
    assert paper.of(Closed) == [Closed(sheet="sheet-1", outcome="spoiled", by="page")]
    assert (performer.sheet, performer.number) == ("sheet-2", 6)
    performer.perform(following, replace(following, place=LeadIn(2, 9)), (order(2),), 0)
    assert [(row.sheet, row.number) for row in paper.of(SheetPlanned)] == [("sheet-1", 5), ("sheet-2", 6)]


def test_a_sheet_without_light_uses_no_number(performer: Performer) -> None:
    """Choosing something else before any light gives another id and the same number."""
    performer.perform(READY, replace(READY, work=Work.fresh(2, WORK.plan)), (), 0)
    assert (performer.sheet, performer.number) == ("sheet-2", 5)
    performer.perform(READY, replace(READY, work=None), (), 0)
    assert performer.sheet == ""


def test_a_sheet_that_was_open_at_the_start_goes_on_under_its_id(performer: Performer, paper: Paper) -> None:
    """After a restart the open sheet keeps its id, its plan is not filed again, and its last light can be struck."""
    performer.adopt_sheet(1, "old-sheet")
    performer.adopt_order(0, "old-run-9")
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    assert paper.of(SheetPlanned) == []
    assert paper.of(Intent)[0].sheet == "old-sheet"
    performer.perform(READY, READY, (do.FileStruck(0),), 0)
    assert paper.of(Struck) == [Struck(sheet="old-sheet", light="old-run-9")]


def test_ids_and_numbers_belong_together(performer: Performer) -> None:
    """An order's id leads back to its number; ids of another run lead nowhere."""
    assert performer.number_of(performer.id_of(7)) == 7
    assert performer.number_of("other-7") is None
    assert performer.number_of("run-x") is None
    assert performer.number_of("") is None


def test_old_orders_are_forgotten_in_time(performer: Performer) -> None:
    """The memory of orders does not grow for ever, and keeps far more than one sheet needs."""
    for number in range(1, 500):
        performer.perform(READY, ANNOUNCED, (order(number),), 0)
    assert performer.standing(499) is not None
    assert performer.standing(350) is not None
    assert performer.standing(200) is None


def test_sounds_and_cancels_are_sent_and_nobody_minds_a_keeper_that_is_away(performer: Performer, pipe: Pipe) -> None:
    """A cue or a cancel that finds no keeper is dropped: there is nothing to be cancelled."""
    performer.perform(READY, READY, (do.Say("wait", 2), do.TakeBack(4)), 0)
    assert [message for message, _ in pipe.sent] == [Sound("wait", 2), Cancel("run-4")]
    pipe.away = True
    assert performer.perform(READY, READY, (do.Say("wait"), do.TakeBack(4)), 0) == ()


def test_darken_goes_past_the_pipe_s_queue(performer: Performer, pipe: Pipe) -> None:
    """Light that nobody meant is stopped at once, as a fault."""
    performer.perform(READY, READY, (do.Darken(),), 0)
    assert pipe.stops == ["fault"]


def test_light_on_record_names_its_order(performer: Performer, paper: Paper) -> None:
    """A fact is filed under the id its order was sent with."""
    performer.perform(READY, ANNOUNCED, (order(),), 0)
    performer.perform(LIT, READY, (came(),), 0)
    assert paper.of(LightCame)[0].light == "run-1"
