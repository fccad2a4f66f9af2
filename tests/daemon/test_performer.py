"""The performer: intent on disk, then the order; dark heard, then the fact on disk; nothing lost where either fails."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from tools.foot_bench import BenchJournal, one_step, sheet_plan

from controller.daemon.performer import Performer
from controller.foot.effects import Darken, File, PlaceOrder
from controller.foot.events import StoreFailed
from controller.foot.places import Focus, LeadIn, Light, Place, Ready
from controller.store.entries import FilterSaid, FootRow, Intent, LightCame, NoLightCame, SheetPlanned
from hardware.errors import KeeperAway
from hardware.wire import Cancel, Order, RoomLight, Sound, ToKeeper


@dataclass
class Pipe:
    """Notes what is sent, and how many rows were on disk by then."""

    journal: BenchJournal
    sent: list[tuple[ToKeeper, int]] = field(default_factory=list)
    stops: list[str] = field(default_factory=list)
    known: list[int] = field(default_factory=list)
    away: bool = False

    def send(self, message: ToKeeper) -> None:
        if self.away:
            raise KeeperAway("away")
        self.sent.append((message, len(self.journal.rows)))

    def know(self, keeper: int) -> None:
        self.known.append(keeper)

    def stop(self, why: str = "page") -> None:
        self.stops.append(why)

    def orders(self) -> list[Order]:
        return [message for message, _ in self.sent if isinstance(message, Order)]


@pytest.fixture
def journal() -> BenchJournal:
    return BenchJournal(lambda: 77)


@pytest.fixture
def pipe(journal: BenchJournal) -> Pipe:
    return Pipe(journal)


@pytest.fixture
def performer(pipe: Pipe, journal: BenchJournal) -> Performer:
    return Performer(pipe, journal)


PLAN = sheet_plan(one_step(), one_step(2))
READY = Ready()
ANNOUNCED = LeadIn("run-1", 9)
LIT = Light("run-1", 9)


def order(number: int = 1, sheet: str = "sheet-1") -> PlaceOrder:
    id_ = f"run-{number}"
    return PlaceOrder(
        Order(id_, "step", sheet, 1, number, "lamp", 3, 2_000_000_000, 10_000),
        Intent(light=id_, sheet=sheet, step=1, part=number, filter="soft", lit_ms=10_000, start_ns=2_000_000_000),
        SheetPlanned(sheet=sheet, number=5, plan=PLAN),
    )


def came(number: int = 1) -> File:
    return File(LightCame(light=f"run-{number}", on_ns=9, least_ns=100, most_ns=100, why="foot"))


PRESS = File(FootRow(gesture="press", at_ns=1))


def test_the_intent_is_on_disk_before_the_order_is_sent(
    performer: Performer, pipe: Pipe, journal: BenchJournal
) -> None:
    """When the order leaves, the sheet's plan and the light's intent are on file already."""
    wanted = order()
    assert performer.perform((wanted,), ANNOUNCED, 0) == ()
    assert pipe.sent == [(wanted.order, 2)]
    assert [row.entry for row in journal.rows] == [wanted.planned, wanted.intent]


def test_a_plan_is_filed_once_a_sheet(performer: Performer, journal: BenchJournal) -> None:
    """The plan is filed with the first intent of its sheet, and not again."""
    performer.perform((order(),), ANNOUNCED, 0)
    performer.perform((File(NoLightCame(light="run-1", why="foot")),), READY, 0)
    performer.perform((order(2),), ANNOUNCED, 0)
    performer.perform((order(3, "sheet-2"),), ANNOUNCED, 0)
    kinds = [row.entry.kind for row in journal.rows]
    assert kinds == ["planned", "intent", "no light", "intent", "planned", "intent"]


def test_what_cannot_be_filed_is_not_ordered(performer: Performer, pipe: Pipe, journal: BenchJournal) -> None:
    """With the card full there is no order; the grammar is told, and nothing of the intent is left over."""
    journal.full = True
    (told,) = performer.perform((File(FilterSaid(filter="soft")), order()), ANNOUNCED, 42)
    assert told == StoreFailed("run-1", 42)
    assert pipe.sent == []
    journal.full = False
    assert performer.file()
    assert [row.entry.kind for row in journal.rows] == ["filter"]


def test_the_sheet_that_could_not_be_filed_is_planned_the_next_time(
    performer: Performer, journal: BenchJournal
) -> None:
    """After a refusal for want of room the next order brings its sheet's plan along."""
    journal.full = True
    performer.perform((order(),), ANNOUNCED, 0)
    journal.full = False
    performer.perform((order(2),), ANNOUNCED, 0)
    assert [row.entry.kind for row in journal.rows] == ["planned", "intent"]


def test_an_order_that_cannot_be_sent_is_filed_as_no_light(
    performer: Performer, pipe: Pipe, journal: BenchJournal
) -> None:
    """With the keeper away the grammar is told, and the intent that is on file gets its outcome."""
    pipe.away = True
    (told,) = performer.perform((order(),), ANNOUNCED, 1)
    assert told == StoreFailed("run-1", 1)
    assert [entry.why for entry in journal.of(NoLightCame)] == ["keeper"]


@pytest.mark.parametrize("lit", [LIT, Focus("run-1", 9)], ids=["step", "focus"])
def test_nothing_is_filed_while_lit_and_all_of_it_after_dark(
    performer: Performer, journal: BenchJournal, lit: Place
) -> None:
    """Rows that come up in a light wait in memory, and are filed in their order when it is dark."""
    performer.perform((order(),), ANNOUNCED, 0)
    rows = len(journal.rows)
    performer.perform((PRESS,), lit, 0)
    performer.note(FilterSaid(filter="hard"), lit=True)
    assert len(journal.rows) == rows
    assert performer.unfiled
    performer.perform((came(),), READY, 0)
    assert [row.entry.kind for row in journal.rows[rows:]] == ["foot", "filter", "light"]
    assert not performer.unfiled


def test_the_fact_goes_before_the_next_intent(performer: Performer, journal: BenchJournal) -> None:
    """Dark heard and the next order in one turn: the fact is on disk with the intent, before the order is sent."""
    performer.perform((order(),), ANNOUNCED, 0)
    performer.perform((came(), order(2)), ANNOUNCED, 0)
    assert [row.entry.kind for row in journal.rows] == ["planned", "intent", "light", "intent"]


def test_a_fact_that_cannot_be_filed_keeps_the_next_light_away(
    performer: Performer, pipe: Pipe, journal: BenchJournal
) -> None:
    """While a fact waits to be filed no order is sent; it is filed first when there is room."""
    performer.perform((order(),), ANNOUNCED, 0)
    journal.full = True
    told = performer.perform((came(), order(2)), ANNOUNCED, 0)
    assert [type(event) for event in told] == [StoreFailed]
    assert len(pipe.orders()) == 1
    journal.full = False
    performer.perform((order(3),), ANNOUNCED, 0)
    assert [row.entry.kind for row in journal.rows] == ["planned", "intent", "light", "intent"]


def test_sounds_and_cancels_are_sent_and_nobody_minds_a_keeper_that_is_away(performer: Performer, pipe: Pipe) -> None:
    """A cue or a cancel that finds no keeper is dropped: there is nothing to be cancelled."""
    wanted = (Sound("wait", 2), Cancel("run-4"), RoomLight(False))
    performer.perform(wanted, READY, 0)
    assert tuple(message for message, _ in pipe.sent) == wanted
    pipe.away = True
    assert performer.perform(wanted, READY, 0) == ()


def test_darken_goes_past_the_pipe_s_queue(performer: Performer, pipe: Pipe) -> None:
    """Light that nobody meant is stopped at once, as a fault."""
    performer.perform((Darken(),), READY, 0)
    assert pipe.stops == ["fault"]
