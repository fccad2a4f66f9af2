"""Every cell of the foot-switch table, played through a darkroom in virtual time: at rest, to light and in it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from tools.foot_bench import FootBench, one_step, rhythm_plan, sheet_plan, standing

from controller.foot import table_page as table
from controller.foot.places import AskClose, AskWhite, ChangeFilter, Gap, Held, LeadIn, Light, NothingChosen, Ready
from controller.foot.snapshot import NAMES
from controller.foot.table import TABLE

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs/reference/foot-switch-table.md"


@pytest.fixture
def bare() -> FootBench:
    return FootBench(chosen=False)


@pytest.fixture
def bench() -> FootBench:
    return FootBench()


# ---- the documented table


def test_the_documented_table_is_the_code_s() -> None:
    """The page in the reference is the table that the code obeys, cell for cell."""
    assert PAGE.read_text("utf-8") == table.page(), "run: python -m controller.foot.table_page > docs/reference/…"


def test_the_table_prints_itself() -> None:
    """`python -m controller.foot.table_page` prints the page of the reference."""
    told = subprocess.run(
        [sys.executable, "-m", "controller.foot.table_page"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=30,
    )
    assert told.stdout == table.page()


def test_every_place_has_a_row_and_every_rule_a_cell() -> None:
    """No place and no rule of the code is missing from the page."""
    text = table.page()
    assert {place for place, _ in TABLE} <= set(NAMES)
    for name in table.ROWS.values():
        assert f"\n| {name} | " in text
    for rule in TABLE.values():
        if rule.words != "nothing until release":
            assert rule.words in text


# ---- nothing chosen


def test_a_press_with_nothing_chosen_is_refused(bare: FootBench) -> None:
    """With nothing chosen a press is refused with a sound, and stays there."""
    first = bare.press()
    standing(bare, NothingChosen)
    assert bare.cues(first) == ["no"]
    bare.run(10_000)
    assert not bare.edges


def test_a_hold_with_nothing_chosen_asks_for_white_light(bare: FootBench) -> None:
    """With nothing chosen a hold asks whether white light is wanted."""
    first = bare.hold()
    standing(bare, AskWhite)
    assert bare.cues(first) == ["no", "question"]


def test_a_double_with_nothing_chosen_has_nothing_to_say(bare: FootBench) -> None:
    """With nothing chosen a double says that there is nothing, and starts nothing."""
    bare.double()
    standing(bare, NothingChosen)
    assert bare.cues(0) == ["no", "no"]


# ---- ready


def test_a_press_when_ready_begins_the_lead_in(bench: FootBench) -> None:
    """A press when ready begins a lead-in of 2.0 s from its first contact, with its sound at once."""
    first = bench.press()
    standing(bench, LeadIn)
    assert bench.cues(first) == ["lead-in"]
    assert bench.world.cues[-1].at_ns == bench.at(first + 25)
    bench.run_to(first + 2000)
    standing(bench, Light)
    assert bench.lights()[0][0] == first + 2000


def test_a_hold_when_ready_with_a_sheet_open_asks_to_close(bench: FootBench) -> None:
    """A hold when ready takes its own lead-in back; with a sheet open it asks to close."""
    bench = FootBench(sheet_plan(one_step(), one_step(2)))
    bench.give()
    standing(bench, Ready)
    first = bench.hold()
    standing(bench, AskClose)
    assert bench.cues(first) == ["lead-in", "question"]
    bench.run(10_000)
    standing(bench, Ready)
    assert len(bench.lights()) == 1


def test_a_hold_when_ready_with_no_sheet_open_asks_for_white_light(bench: FootBench) -> None:
    """A hold when ready takes its own lead-in back; with no sheet open it asks for white light."""
    bench.hold()
    standing(bench, AskWhite)
    bench.run(10_000)
    assert not bench.edges


def test_a_double_when_ready_says_again_and_starts_nothing(bench: FootBench) -> None:
    """A double when ready cancels the lead-in of its first press and says the step's number and family."""
    bench.double()
    standing(bench, Ready)
    assert bench.cues(0) == ["lead-in", "stopped", "lead-in"]
    assert bench.world.cues[-1].count == 1
    bench.run(10_000)
    assert not bench.edges


# ---- lead-in


def test_a_press_in_a_lead_in_cancels_it(bench: FootBench) -> None:
    """A press in a lead-in cancels it and brings no light."""
    bench.press()
    bench.run(1000)
    first = bench.press()
    standing(bench, Ready)
    assert bench.cues(first) == ["stopped"]
    bench.run(10_000)
    assert not bench.edges


def test_a_hold_in_a_lead_in_cancels_it_and_then_asks(bench: FootBench) -> None:
    """A hold in a lead-in cancels it and then asks as when ready."""
    bench.press()
    bench.run(1000)
    bench.hold()
    standing(bench, AskWhite)
    bench.run(10_000)
    assert not bench.edges


def test_a_double_in_a_lead_in_cancels_it_and_says_again(bench: FootBench) -> None:
    """The second press of a double falls into the lead-in of the first: it cancels it and says again."""
    bench.press(100)
    bench.run(50)
    standing(bench, LeadIn)
    first = bench.press(100)
    standing(bench, Ready)
    assert bench.cues(first) == ["stopped", "lead-in"]


def test_a_lead_in_that_is_over_brings_light(bench: FootBench) -> None:
    """At the end of its lead-in the step's light comes on, and the sheet is open from then on."""
    bench.light()
    standing(bench, Light)
    assert bench.state.sheet_open


# ---- light


def test_a_press_in_light_makes_it_dark_and_holds_the_step(bench: FootBench) -> None:
    """A press in a light makes it dark at the foot-down; the step stands held with what it has had."""
    bench.light(4000)
    first = bench.press()
    standing(bench, Held)
    (on, off), *_ = bench.lights()
    assert off == first + 25
    assert bench.sheet.steps[0].given_most_ms == round(off - on)


def test_a_press_in_light_with_nothing_missing_goes_on_to_the_next_step() -> None:
    """A press within the last two milliseconds of a light leaves nothing missing: the next step comes."""
    bench = FootBench(sheet_plan(one_step(1, 10_000), one_step(2)))
    bench.light(10_000 - 25 - 1)
    bench.press()
    standing(bench, Ready)
    assert bench.state.work is not None
    assert bench.state.work.index == 1
    assert [part.why for part in bench.sheet.steps[0].parts] == ["foot"]


def test_a_hold_in_light_makes_it_dark_and_then_asks_to_close(bench: FootBench) -> None:
    """A hold in a light makes it dark at its foot-down, and then asks to close."""
    bench.light(4000)
    first = bench.hold()
    standing(bench, AskClose)
    assert bench.lights()[0][1] == first + 25
    assert bench.cues(first + 1) == ["stopped", "question"]


def test_the_second_press_of_a_double_in_light_starts_nothing(bench: FootBench) -> None:
    """The first press of a double in a light makes it dark; the second starts nothing, and says what is left."""
    bench.light(4000)
    bench.double()
    standing(bench, Held)
    bench.run(10_000)
    assert len(bench.lights()) == 1
    assert (bench.world.cues[-1].cue, bench.world.cues[-1].count) == ("stopped", 6)


def test_a_light_that_reaches_its_plan_goes_on_to_the_next_step(bench: FootBench) -> None:
    """A light whose plan is reached goes dark with “done”, and the next step's wish comes."""
    bench.light()
    bench.run(10_001)
    standing(bench, ChangeFilter)
    assert bench.lights()[0][1] - bench.lights()[0][0] == 10_000
    assert bench.cues()[-1] == "done"


def test_a_band_that_reaches_its_plan_goes_on_to_the_gap() -> None:
    """In a rhythm strip the gap follows the light by itself."""
    bench = FootBench(rhythm_plan())
    bench.light()
    bench.run(3001)
    standing(bench, Gap)


# ---- gap


def in_gap(after_ms: float = 1000) -> FootBench:
    bench = FootBench(rhythm_plan())
    bench.light()
    bench.run(3000 + after_ms)
    standing(bench, Gap)
    return bench


def test_a_press_in_a_gap_holds_before_the_next_band() -> None:
    """A press in a gap cancels the next band's light and stands held before it."""
    bench = in_gap()
    bench.press()
    standing(bench, Held)
    bench.run(20_000)
    assert len(bench.lights()) == 1
    bench.light()
    assert bench.state.work is not None
    assert bench.state.work.index == 1


def test_a_hold_in_a_gap_holds_and_asks_to_close() -> None:
    """A hold in a gap cancels the next band's light and asks to close."""
    bench = in_gap()
    bench.hold()
    standing(bench, AskClose)
    bench.run(20_000)
    standing(bench, Held)
    assert len(bench.lights()) == 1


def test_a_double_in_a_gap_holds_and_says_what_is_left() -> None:
    """A double in a gap cancels the next band's light and says how long it is to be: the whole band."""
    bench = in_gap()
    bench.double()
    standing(bench, Held)
    assert (bench.world.cues[-1].cue, bench.world.cues[-1].count) == ("stopped", 3)
    bench.run(20_000)
    assert len(bench.lights()) == 1


def test_a_double_at_the_very_beginning_of_a_gap_holds() -> None:
    """A double whose first press falls into the gap's first moment holds before the band and says what is left."""
    bench = FootBench(rhythm_plan(each_ms=300, gap_ms=1500))
    bench.light()
    bench.run(301)
    standing(bench, Gap)
    bench.double()
    standing(bench, Held)
    assert (bench.world.cues[-1].cue, bench.world.cues[-1].count) == ("stopped", 1)


def test_a_gap_that_is_over_brings_the_next_band() -> None:
    """At the end of a gap the next band's light comes on, exactly a gap after the last went dark."""
    bench = in_gap()
    bench.run(3001)
    standing(bench, Light)
    (_, off), (on, _) = bench.lights()
    assert on - off == 4000
