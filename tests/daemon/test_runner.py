"""The runner: orders, leases, filing and retries, keepers lost and found, in virtual time."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tools.foot_bench import MS, FootBench, greeting, one_step, rhythm_plan, sheet_plan

from controller.foot import acts
from controller.foot.events import Asked, Chosen, KeeperCame, KeeperWent
from controller.foot.places import ChangeFilter, Fault, Focus, Held, LeadIn, Light, Ready
from controller.foot.state import Last
from controller.store.entries import Closed, Intent, LightCame, NoLightCame, SheetPlanned, Struck


def standing(bench: FootBench, kind: type) -> None:
    assert isinstance(bench.place, kind), f"stands at {bench.place}"


@pytest.fixture
def bench() -> FootBench:
    return FootBench(sheet_plan(one_step(), one_step(2, 8000)))


class Slow:
    """Makes the runner busy for the next of these spans after each word, in ms."""

    def __init__(self) -> None:
        self.spans: list[int] = []

    def __call__(self) -> int:
        return self.spans.pop(0) * MS if self.spans else 0


# ---- orders


def test_a_light_is_ordered_once_with_the_number_of_the_press_that_began_it(bench: FootBench) -> None:
    """One press, one intent on disk, one light."""
    bench.light(100)
    (intent,) = bench.journal.of(Intent)
    assert (intent.step, intent.part, intent.lit_ms, intent.filter) == (1, 1, 10_000, "soft")
    assert intent.start_ns == bench.edges[0].at_ns


def test_each_part_of_a_held_step_has_a_number_of_its_own(bench: FootBench) -> None:
    """Attempts are numbered on, whether they brought light or not: an order's id is never used twice."""
    bench.press()
    bench.run(500)
    bench.press()
    bench.run(1000)
    bench.hold_step()
    bench.give()
    intents = bench.journal.of(Intent)
    assert [intent.part for intent in intents] == [1, 2, 3]
    assert len({intent.light for intent in intents}) == 3


def test_no_order_is_meant_for_another_keeper_than_the_one_that_is_known() -> None:
    """A press heard by a keeper that is lost brings no light of the next one, however late it is read."""
    slow = Slow()
    bench = FootBench(busy_ns=slow)
    slow.spans = [250]
    assert bench.do(acts.CloseSheet()) is not None  # any word: the runner is busy after it
    bench.world.tell(Asked(acts.CloseSheet(), bench.now_ns))
    first = bench.now_ms
    bench.move(True)
    bench.run(30)
    bench.world.lose_keeper(bench.now_ns)
    bench.run(20)
    bench.move(False)
    bench.run(70)
    bench.move(True)
    bench.run(30)
    bench.move(False)
    bench.run_to(first + 2500)
    assert not bench.edges
    assert {entry.light for entry in bench.journal.of(NoLightCame)} == {
        entry.light for entry in bench.journal.of(Intent)
    }


def test_a_hold_that_is_read_late_brings_no_light() -> None:
    """A press that became a hold brings no light, even where the runner reads the hold only after the lead-in."""
    slow = Slow()
    bench = FootBench(busy_ns=slow)
    slow.spans = [2500]
    bench.hold()
    bench.run(5000)
    assert not bench.edges


def test_a_press_that_is_read_only_after_its_hold_brings_no_light() -> None:
    """An order that comes after its own foot-down has become a hold is refused."""
    slow = Slow()
    bench = FootBench(busy_ns=slow)
    slow.spans = [1500, 2500]
    bench.world.tell(Asked(acts.CloseSheet(), bench.now_ns))
    bench.hold()
    bench.run(6000)
    assert not bench.edges
    assert [entry.why for entry in bench.journal.of(NoLightCame)] == ["foot moved on"]


def test_a_phone_may_start_soon_after_a_hold() -> None:
    """A start from the phone right after a hold that asked nothing is no late order of that hold."""
    bench = FootBench(sheet_plan(one_step(), one_step(2)), start_from_phone=True)
    bench.hold_step()
    bench.hold()
    bench.press()  # the sheet stays open
    bench.run(500)
    asked = bench.now_ms
    assert bench.do(acts.StartStep()) is None
    bench.run_to(asked + 2000)
    assert bench.lit


def test_an_order_that_comes_too_late_is_no_light_and_no_fault() -> None:
    """Too little time to commit an intent: no light, a sound, and ready again."""
    slow = Slow()
    bench = FootBench(busy_ns=slow)
    slow.spans = [2300]
    bench.world.tell(Asked(acts.CloseSheet(), bench.now_ns))
    bench.press()
    bench.run(3000)
    standing(bench, Ready)
    assert bench.cues()[-1] == "no"
    assert [entry.why for entry in bench.journal.of(NoLightCame)] == ["start has passed"]


# ---- focus light and its lease


def test_the_runner_renews_the_lease_of_focus_light(bench: FootBench) -> None:
    """Focus light stays for minutes while the runner renews its lease."""
    bench.focus(120_000)
    standing(bench, Focus)


def test_focus_light_ends_with_its_lease_where_the_runner_hangs() -> None:
    """A runner that hangs lets focus light go dark after two seconds, by the keeper's own hand."""
    slow = Slow()
    bench = FootBench(busy_ns=slow)
    bench.focus(700)
    slow.spans = [8000]
    bench.world.tell(Asked(acts.CloseSheet(), bench.now_ns))
    hung = bench.now_ms
    bench.run(9000)
    (_, off), *_ = bench.lights()
    assert 1400 <= off - hung <= 2000
    assert bench.journal.of(LightCame)[0].why == "lease"
    standing(bench, ChangeFilter)


def test_a_timed_step_ends_on_time_where_the_runner_hangs() -> None:
    """A runner that hangs lets a step end by its plan."""
    slow = Slow()
    bench = FootBench(busy_ns=slow)
    bench.light(500)
    slow.spans = [30_000]
    bench.world.tell(Asked(acts.CloseSheet(), bench.now_ns))
    bench.run(40_000)
    assert bench.lights()[0][1] - bench.lights()[0][0] == 10_000
    assert bench.sheet.steps[0].given_most_ms == 10_000


# ---- filing


def test_a_full_card_means_no_light_and_says_so(bench: FootBench) -> None:
    """What cannot be written down is not lit; the press is refused with a sound and everything stands as before."""
    bench.journal.full = True
    first = bench.press()
    standing(bench, Ready)
    assert bench.cues(first) == ["lead-in", "no"]
    assert bench.world.performer.store_trouble == "the card is full: make room"
    bench.run(10_000)
    assert not bench.edges
    bench.journal.full = False
    bench.run(6000)
    bench.light(100)
    assert bench.world.performer.store_trouble == ""
    assert len(bench.journal.of(Intent)) == 1


def test_facts_that_cannot_be_filed_are_kept_and_filed_later(bench: FootBench) -> None:
    """A card that fills up in a light keeps nothing from the record: the fact is filed when there is room again."""
    bench.light(4000)
    bench.journal.full = True
    bench.press()
    bench.run(3000)
    standing(bench, Held)
    assert bench.journal.of(LightCame) == []
    bench.press()
    standing(bench, Held)  # nothing is lit until what waits is filed
    bench.run(3000)
    assert len(bench.lights()) == 1
    bench.journal.full = False
    bench.run(5001)
    assert [entry.why for entry in bench.journal.of(LightCame)] == ["foot"]
    bench.run(1000)
    bench.give()
    assert sum(off - on for on, off in bench.lights()) == 10_000
    assert bench.sheet.steps[0].given_most_ms == 10_000


def test_a_full_card_in_a_gap_holds_before_the_band() -> None:
    """In a rhythm the next band waits where its intent cannot be filed."""
    bench = FootBench(rhythm_plan())
    bench.light(1000)
    bench.journal.full = True
    bench.run(20_000)
    standing(bench, Held)
    assert len(bench.lights()) == 1


def test_nothing_waits_for_the_disk_while_lit(bench: FootBench) -> None:
    """No row is written while a light is on; the gesture that ended it is filed with its fact."""
    bench.light(4000)
    rows = len(bench.journal.rows)
    bench.run(1000)
    assert len(bench.journal.rows) == rows
    bench.press()
    assert [row.entry.kind for row in bench.journal.rows[rows:]] == ["light", "foot"]


def test_a_runner_with_something_unfiled_has_nothing_due_in_the_light(bench: FootBench) -> None:
    """A retry that is due waits for dark: it must not keep the runner's thread spinning through a light."""
    bench.light(100)
    bench.world.runner._retry_ns = bench.now_ns  # as after a fact that could not be filed
    assert bench.world.runner.due_ns() is None


# ---- the keeper's loss


def test_a_light_in_which_the_keeper_is_lost_is_filed_between_least_and_most(bench: FootBench) -> None:
    """A keeper lost in a light leaves a least and a most that bracket what the lamp gave; nothing restarts."""
    bench.light(6000)
    bench.world.lose_keeper(bench.now_ns - 40 * MS)
    (came,) = bench.journal.of(LightCame)
    assert (came.least_ns, came.most_ns, came.why) == (5960 * MS, 6000 * MS, "keeper")
    standing(bench, Held)
    bench.run(10_000)
    assert len(bench.lights()) == 1
    bench.give()
    assert sum(off - on for on, off in bench.lights()) == 10_000


def test_a_lead_in_in_which_the_keeper_is_lost_brings_nothing(bench: FootBench) -> None:
    """A keeper lost in a lead-in brings no light, and what was intended is filed as that."""
    bench.press()
    bench.run(500)
    standing(bench, LeadIn)
    bench.world.lose_keeper(bench.now_ns)
    standing(bench, Ready)
    bench.run(10_000)
    assert not bench.edges
    assert [entry.why for entry in bench.journal.of(NoLightCame)] == ["keeper"]


def test_the_next_keeper_takes_orders_of_its_own_foot(bench: FootBench) -> None:
    """After a keeper was lost the first press counts: both sides count foot-downs from the start."""
    for _ in range(3):
        bench.double()
        bench.run(1000)
    bench.world.lose_keeper(bench.now_ns)
    bench.run(2000)
    bench.light()
    standing(bench, Light)


def test_a_step_in_doubt_waits_for_the_printer_s_word(bench: FootBench) -> None:
    """A keeper lost early in a short light leaves a doubt of over 1/12 stop: a press is refused."""
    bench = FootBench(sheet_plan(one_step(1, 500)))
    bench.light(300)
    bench.world.lose_keeper(bench.now_ns - 50 * MS)
    bench.run(2000)
    standing(bench, Held)
    bench.press()
    standing(bench, Held)


def test_a_keeper_without_a_sounder_means_a_longer_lead_in(bench: FootBench) -> None:
    """What a new keeper says of its sounder counts from then on."""
    runner = bench.world.runner
    runner.take(KeeperWent(bench.now_ns, "gone"), bench.now_ns)
    standing(bench, Fault)
    runner.take(KeeperCame(replace(greeting(bench), features=())), bench.now_ns)
    assert not bench.state.habits.sounder


# ---- ids and numbers


def test_closing_numbers_the_next_sheet_and_gives_it_an_id_of_its_own() -> None:
    """A closed sheet's number is used; the next sheet has another id and the next number, on file and in the state."""
    bench = FootBench(sheet_plan(one_step()))
    bench.hold_step()
    first = bench.state.sheet
    bench.do(acts.CloseSheet())
    assert [(row.sheet, row.outcome) for row in bench.journal.of(Closed)] == [(first, "spoiled")]
    assert bench.state.sheet not in ("", first)
    bench.run(11_000)
    bench.light()
    planned = [(row.sheet, row.number) for row in bench.journal.of(SheetPlanned)]
    assert planned == [(first, 1), (bench.state.sheet, 2)]


def test_a_sheet_without_light_uses_no_number(bench: FootBench) -> None:
    """Choosing something else before any light gives another id and the same number; choosing nothing gives none."""
    first = bench.state.sheet
    bench.ask(Chosen(sheet_plan(one_step()), bench.now_ns))
    assert bench.state.sheet not in ("", first)
    assert bench.state.number == 1
    bench.ask(Chosen(None, bench.now_ns))
    assert bench.state.sheet == ""


def test_every_light_is_on_file_under_the_id_its_order_was_sent_with(bench: FootBench) -> None:
    """The head of an order's id is the run of the daemon; intent and fact bear the same id."""
    bench.hold_step()
    bench.light(100)
    bench.press()
    assert [entry.light for entry in bench.journal.of(Intent)] == ["v-1", "v-2"]
    assert [entry.light for entry in bench.journal.of(LightCame)] == ["v-1", "v-2"]


def test_a_sheet_that_was_open_at_the_start_goes_on_under_its_id() -> None:
    """After a restart the open sheet keeps its id, its plan is not filed again, and its last light can be struck."""
    bench = FootBench(sheet_plan(one_step()))
    work = bench.state.work
    assert work is not None
    before = replace(work.given[0], most_ns=2000 * MS, least_ns=2000 * MS)
    reopened = replace(
        work.with_given(0, before), sheet="old-sheet", open=True, last=Last("old-run-9", 0, work.given[0])
    )
    bench.world.runner.state = replace(bench.state, work=reopened)
    bench.world.runner.ask_again(bench.now_ns)
    assert bench.do(acts.NoLight()) is None
    assert bench.journal.of(Struck) == [Struck(sheet="old-sheet", light="old-run-9")]
    bench.light(10)
    assert bench.journal.of(SheetPlanned) == []
    assert [entry.sheet for entry in bench.journal.of(Intent)] == ["old-sheet"]
