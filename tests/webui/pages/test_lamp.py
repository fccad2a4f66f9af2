"""The lamp's page: its three ways, its check, and what it says where something is missing; then the real darkroom."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import pytest
from tools.daemon_bench import SHORT, Bench, bench
from tools.phone import ORIGIN, Paired, words_of
from tools.stand_in_desk import CODE, StandInDesk

from controller.errors import Impossible, WrongMoment
from controller.foot import acts
from controller.lamp.check_plans import paper_test
from controller.lamp.history import CheckLine, LagLine, LampView
from controller.model import Frozen
from controller.recipe.plan import StepKind
from hardware.practice.bulb import Bulb, put_bulb
from hardware.practice.faults import PracticeFault
from hardware.practice.meter import LampModel
from webui.app import create_app

Model = TypeVar("Model", bound=Frozen)


def paired(desk: StandInDesk) -> Paired:
    client = create_app(desk, hosts=["localhost"]).test_client()
    client.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    return Paired(client)


def test_the_page_is_for_the_day_face(desk: StandInDesk) -> None:
    """With the dark face only, the lamp's page says how the day face can be had."""
    phone = paired(desk)
    assert phone.look("/lamp").status_code == 409
    desk.say_day()
    assert phone.look("/lamp").status_code == 200


def test_the_page_shows_three_ways_and_the_checks(desk: StandInDesk) -> None:
    """Paper, sensor, typed in; each check in words against the reference's day."""
    desk.say_day()
    checks = (
        CheckLine(wall="2026-09-01T10:00:00", level=89.0, sensor="practice", stops=-1 / 6, since="2026-05-03T10:00:00"),
        CheckLine(wall="2026-05-03T10:00:00", level=100.0, sensor="practice", stops=None),
    )
    desk.lamp().shown = LampView(
        lag_ms=120.0, operate_ms=8.0, release_ms=5.0, sensor="gone", test=paper_test(), checks=checks, warm_up_s=60.0
    )
    words = words_of(paired(desk).look("/lamp"))
    assert "a sixth of a stop weaker than on 3 May" in words
    assert "band 5: 1.105 s each, lag 0.120 s" in words
    assert "The sensor does not answer" in words
    assert "0.120 s" in words


def test_the_checks_of_more_than_a_year_are_drawn_and_named_by_their_year(desk: StandInDesk) -> None:
    """Two checks of one sensor make a chart that says them in words; another sensor's, and those of no day, are out.

    A day of another year has it beside it, and an uncertainty is never said to be nought.
    """
    desk.say_day()
    old = CheckLine(wall="2025-11-03T10:00:00", level=100.0, sensor="one", stops=None)
    new = CheckLine(wall="2026-11-02T10:00:00", level=80.0, sensor="one", stops=-1 / 3, since="2025-11-03T10:00:00")
    others = (replace_model(old, sensor="two"), replace_model(old, wall=""))
    found = LagLine(wall="2026-11-02T10:00:00", way="sensor", lag_ms=120.0, uncertain_ms=0.3, taken=False)
    view = LampView(lag_ms=120.0, operate_ms=0, release_ms=0, sensor="ready", found=found, lags=(found,))
    phone = paired(desk)
    desk.lamp().shown = replace_model(view, checks=(new, *others, old))
    answer = phone.look("/lamp")
    assert "<svg" in answer.text
    assert "2 lamp checks in stops, from 3 November 2025 to 2 November." in answer.text
    assert "a third of a stop weaker than on 3 November 2025" in words_of(answer)
    assert "Found 0.120 s, give or take 0.001 s." in words_of(answer)
    desk.lamp().shown = replace_model(view, checks=(new, *others))
    assert "<svg" not in phone.look("/lamp").text


def replace_model(model: Model, **changes: object) -> Model:
    return model.model_copy(update=changes)


def test_what_matches_and_what_is_typed_is_taken(desk: StandInDesk) -> None:
    """A band, the place after a band, and a typed figure reach the bench as they were meant."""
    desk.say_day()
    phone = paired(desk)
    assert phone.send("/lamp/take-paper", {"band": "5 between"}).status_code == 303
    assert phone.send("/lamp/take-typed", {"lag": "0,12"}).status_code == 303
    assert desk.lamp().asked == [("take paper", 5, True), ("take typed", 0.12)]


def test_what_is_no_figure_is_refused_and_stays(desk: StandInDesk) -> None:
    """A word for a figure gets a sentence, and the page keeps what was typed."""
    desk.say_day()
    answer = paired(desk).send("/lamp/paper", {"long": "eight"})
    assert answer.status_code == 422
    assert "“eight” is not a number" in words_of(answer)
    assert 'value="eight"' in answer.text


# ---- the real darkroom

QUICK = replace(SHORT, longest_light_ms=60_000)


def wait_for(what: Callable[[], bool], seconds: float = 20.0) -> None:
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.05)


def day_and(one: Bench, begin: Callable[[int], object]) -> None:
    one.do(acts.PaperAway())
    begin(one.desk.status().number)
    wait_for(lambda: one.place() == "ready")
    time.sleep(0.4)


@pytest.mark.usefixtures("by_real_time")
def test_a_lamp_is_checked_and_its_alarm_is_raised(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Through a real keeper: a check by sensor is kept, opens no sheet, and a welded relay raises the alarm.

    Then the sensor goes: it has a sentence, and light goes on as ever.
    """
    monkeypatch.setattr("controller.lamp.check_plans.REFERENCE_MS", 1_700)
    with bench(tmp_path, timing=QUICK) as one:
        put_bulb(one.runtime, Bulb(LampModel(lag_ms=120)))
        one.desk.change_settings({"light_sensor": "tsl2591"})
        desk = one.desk.lamp()
        wait_for(lambda: desk.view().sensor == "ready")
        time.sleep(1.0)
        with pytest.raises(WrongMoment):
            desk.begin_by_sensor("reference", one.desk.status().number)
        day_and(one, lambda number: desk.begin_by_sensor("reference", number))
        one.press()
        wait_for(lambda: bool(desk.view().checks))
        assert desk.view().checks[0].level == pytest.approx(40_000, rel=0.01)
        assert one.desk.status().place == "nothing chosen"
        assert not one.desk.sheets().sessions

        one.load(1.0)
        one.press()  # the filter is in
        wait_for(lambda: one.place() == "ready")
        time.sleep(0.2)
        one.press()
        wait_for(lambda: one.place() == "light")
        one.room.fault(PracticeFault.RELAY_WELDED)
        wait_for(lambda: any("own switch" in words for words in one.desk.status().troubles))
        wait_for(lambda: any(heard.cue == "alarm" for heard in one.desk.heard(0)))
        one.room.fault(PracticeFault.RELAY_WELDED, on=False)
        wait_for(lambda: not any("own switch" in words for words in one.desk.status().troubles))
        record = one.desk.record(one.desk.status().sheet)
        assert record.steps[0].parts[0].seen == "stayed"
        assert record.steps[0].step.act is StepKind.BASE

        one.room.fault(PracticeFault.SENSOR_GONE)
        wait_for(lambda: any("sensor does not answer" in words for words in one.desk.status().troubles))
        with pytest.raises(WrongMoment, match="does not answer"):
            desk.begin_by_sensor("sensor", one.desk.status().number)
        with pytest.raises(Impossible):
            desk.take_found()
        assert desk.take_typed(0.12) == 120.0
        assert one.desk.settings().lamp_lag_seconds == 0.12


@pytest.mark.usefixtures("by_real_time")
def test_a_cold_lamp_is_told_and_warmed(tmp_path: Path) -> None:
    """Where warming is set a cold lamp is told before a sheet, one that begins cold says so, and warming ends it."""
    with bench(tmp_path, timing=QUICK) as one:
        one.desk.change_settings({"warm_up_seconds": 0.5})
        assert any("lamp is cold" in words for words in one.desk.status().troubles)
        one.load(0.3)
        one.press()  # the filter is in
        wait_for(lambda: one.place() == "ready")
        time.sleep(0.2)
        one.press()
        wait_for(lambda: one.place() == "finished")
        record = one.desk.record(one.desk.status().sheet)
        assert [trouble.what for trouble in record.troubles] == ["lamp.cold"]
        time.sleep(0.2)
        one.hold()
        wait_for(lambda: not one.desk.status().open)
        time.sleep(0.3)
        day_and(one, one.desk.lamp().begin_warm_up)
        one.press()
        wait_for(lambda: bool(one.desk.lamp().view().outcome == "The lamp is warm."))
        assert not any("lamp is cold" in words for words in one.desk.status().troubles)
        assert len(one.desk.sheets().sessions[0].sheets) == 1
        plan = one.desk.status().plan
        assert plan is not None
        assert plan.title == "Bench"


@pytest.mark.usefixtures("by_real_time")
def test_a_check_that_ended_with_its_daemon_is_told_of(tmp_path: Path) -> None:
    """A check cut by a restart is dark, over, and said on every page until the next light; its paper is away first."""
    with bench(tmp_path, timing=QUICK) as one:
        day_and(one, one.desk.lamp().begin_paper_test)
        one.press()
        one.wait_lit()
    with bench(tmp_path, timing=None) as one:
        assert not one.room.driven()
        assert any("during a lamp check" in words for words in one.desk.status().troubles)
        assert "put it away first" in one.desk.lamp().view().outcome
        for _ in range(2):
            one.hold()
            time.sleep(0.3)
        assert one.place() == "nothing chosen"
        assert not one.room.driven()
    with bench(tmp_path, timing=QUICK) as one:
        assert not any("during a lamp check" in words for words in one.desk.status().troubles)
