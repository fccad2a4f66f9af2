"""Readings at the easel by foot: press, light, press, dark; a hold takes its own back and ends without a word."""

from __future__ import annotations

import pytest
from tools.foot_bench import FootBench, sheet_plan

from controller.easel.plan import reference_plan, spots_plan
from controller.foot import acts
from controller.foot.events import Chosen, SpotTold
from controller.foot.places import AskWhite, Finished, Light, NothingChosen, Ready
from controller.store.entries import FilterSaid, Intent, LightCame, Loaded, SheetPlanned


@pytest.fixture
def bench() -> FootBench:
    """All paper is away, and spots are to be measured."""
    bench = FootBench(chosen=False)
    assert bench.do(acts.PaperAway()) is None
    assert bench.ask(Chosen(spots_plan(), bench.world.clock.now_ns())) is None
    bench.run(1)
    return bench


def _measure(bench: FootBench, *, lit_ms: float = 5000, taken: bool = True) -> str:
    """Press for light, press again, and let the sensor tell; return the light's id."""
    bench.press()
    bench.run(2000 + lit_ms)
    assert isinstance(bench.state.place, Light)
    bench.press()
    light = bench.journal.of(LightCame)[-1].light
    bench.run(1700)
    bench.ask(SpotTold(light, taken, bench.world.clock.now_ns()))
    bench.run(300)
    return light


def _step(bench: FootBench) -> str:
    return bench.state.loaded.step.name


def test_two_spots_are_four_presses(bench: FootBench) -> None:
    """Highlight, then shadow, then A: a press for light and one for dark each; no sheet is opened, no filter asked."""
    names = []
    for _ in range(3):
        assert isinstance(bench.state.place, Ready)
        names.append(_step(bench))
        _measure(bench)
    assert names == ["highlight", "shadow", "A"]
    assert [came.why for came in bench.journal.of(LightCame)] == ["foot"] * 3
    assert {intent.light_kind for intent in bench.journal.of(Intent)} == {"check"}
    assert not bench.journal.of(SheetPlanned)
    assert not bench.journal.of(Loaded)
    assert not any(said.filter for said in bench.journal.of(FilterSaid))


def test_the_warning_sounds_in_place_of_the_tick(bench: FootBench) -> None:
    """Whoever hears it knows that light comes which fogs paper; nothing ticks before it or in it."""
    begun = bench.now_ms
    _measure(bench, lit_ms=12_000)
    heard = bench.cues(begun)
    assert heard[0] == "warning"
    assert "tick" not in heard
    assert "lead-in" not in heard
    assert heard.count("beat") == 2
    assert heard[-1] == "done"


def test_every_foot_down_ends_the_light(bench: FootBench) -> None:
    """The law stands: the light is dark 25 ms after the first contact, as any."""
    bench.press()
    bench.run(4000)
    first = bench.press()
    came = bench.journal.of(LightCame)[-1]
    assert came.on_ns + came.most_ns == pytest.approx(bench.at(first + 25), abs=1_000_000)


def test_a_press_while_the_dark_is_counted_starts_nothing(bench: FootBench) -> None:
    """For 1.8 s after the light the probe lies in the dark that is counted: a press is too soon, and says so."""
    bench.press()
    bench.run(5000)
    bench.press()
    bench.run(1000)
    begun = bench.now_ms
    bench.press()
    assert bench.cues(begun) == ["wait"]
    assert isinstance(bench.state.place, Ready)


def test_a_spot_that_could_not_be_measured_is_asked_for_again(bench: FootBench) -> None:
    """The sensor's no sounds, and the same spot comes again; what it says of a light long ago changes nothing."""
    light = _measure(bench, taken=False)
    assert _step(bench) == "highlight"
    _measure(bench)
    assert _step(bench) == "shadow"
    bench.ask(SpotTold(light, False, bench.world.clock.now_ns()))
    assert _step(bench) == "shadow"


def test_a_late_no_does_not_disturb_the_next_light(bench: FootBench) -> None:
    """A no that comes when the next spot's light is on is heard, and its spot comes once that light is over."""
    bench.press()
    bench.run(5000)
    bench.press()
    light = bench.journal.of(LightCame)[-1].light
    bench.run(2000)
    bench.press()
    bench.run(3000)
    assert isinstance(bench.state.place, Light)
    bench.ask(SpotTold(light, False, bench.world.clock.now_ns()))
    assert isinstance(bench.state.place, Light)
    bench.run(2000)
    bench.press()
    bench.run(2000)
    assert _step(bench) == "highlight"


def test_a_hold_takes_its_own_reading_back(bench: FootBench) -> None:
    """A hold that ends a light is no reading: the readings are over, nothing is asked and no white light comes."""
    _measure(bench)
    bench.press()
    bench.run(5000)
    begun = bench.now_ms
    bench.hold()
    bench.run(5000)
    assert isinstance(bench.state.place, NothingChosen)
    assert bench.cues(begun) == ["closed"]
    assert len(bench.journal.of(Intent)) == 2


def test_a_hold_in_the_dark_is_done(bench: FootBench) -> None:
    """Between two spots a hold takes the light that its own press announced back, and ends without a question."""
    _measure(bench)
    begun = bench.now_ms
    bench.hold()
    bench.run(5000)
    assert isinstance(bench.state.place, NothingChosen)
    assert "question" not in bench.cues(begun)
    assert len(bench.journal.of(LightCame)) == 1


def test_a_hold_right_after_the_day_began_is_done_too(bench: FootBench) -> None:
    """With nothing measured yet a hold ends them just as well."""
    bench.hold()
    bench.run(3000)
    assert isinstance(bench.state.place, NothingChosen)
    assert not bench.journal.of(LightCame)


def test_what_was_loaded_is_loaded_again(bench: FootBench) -> None:
    """Readings lay aside what was chosen, and give it back."""
    bench.hold()
    bench.run(2000)
    now = bench.world.clock.now_ns()
    bench.ask(Chosen(sheet_plan(), now))
    bench.ask(Chosen(spots_plan(), now + 1))
    bench.hold()
    bench.run(2000)
    assert bench.state.loaded.plan.source == "crane"


def test_a_minute_of_dark_ends_them(bench: FootBench) -> None:
    """A forgotten reading lights no fresh paper: 60 s after the last light, or the beginning, it is over."""
    _measure(bench)
    bench.run(57_000)
    assert isinstance(bench.state.place, Ready)
    bench.run(3000)
    assert isinstance(bench.state.place, NothingChosen)
    begun = bench.now_ms
    bench.press()
    assert bench.cues(begun) == ["no"]


def test_a_minute_of_light_is_dark_and_no_reading(bench: FootBench) -> None:
    """At 60 s the light goes by itself; nothing was measured, and the same spot is asked for again."""
    bench.press()
    bench.run(63_000)
    assert bench.journal.of(LightCame)[-1].why == "complete"
    assert isinstance(bench.state.place, Ready)
    assert _step(bench) == "highlight"


def test_a_page_stop_is_no_reading(bench: FootBench) -> None:
    """STOP is dark, and the spot is asked for again."""
    bench.press()
    bench.run(5000)
    bench.stop()
    bench.run(2000)
    assert bench.journal.of(LightCame)[-1].why == "page"
    assert _step(bench) == "highlight"


def test_the_day_face_stays_while_spots_are_measured(bench: FootBench) -> None:
    """All paper is away: the page stays white through lead-in and light, so that no word of it is needed twice."""
    _measure(bench)
    assert bench.state.day_until_ns is not None
    assert bench.do(acts.PaperAway()) is None


def test_a_question_from_the_page_is_still_answered_by_a_hold(bench: FootBench) -> None:
    """Asked for focus light within readings, a hold answers that, and ends nothing."""
    assert bench.do(acts.AskFocus()) is None
    assert isinstance(bench.state.place, AskWhite)
    bench.hold()
    assert bench.state.work is not None
    assert bench.state.work.readings


def test_none_begin_while_a_sheet_is_open() -> None:
    """With a sheet open they are refused as any load is."""
    bench = FootBench()
    bench.press()
    bench.run(3000)
    bench.press()
    bench.run(2000)
    assert bench.ask(Chosen(spots_plan(), bench.world.clock.now_ns())) == "foot.sheet-open"


def test_a_reference_is_one_spot(bench: FootBench) -> None:
    """Two presses; then nothing is left to be measured, and a hold, or a minute, ends it."""
    bench.ask(Chosen(reference_plan(), bench.world.clock.now_ns()))
    _measure(bench)
    assert isinstance(bench.state.place, Finished)
    bench.run(60_000)
    assert isinstance(bench.state.place, NothingChosen)
