"""A light sensor in a real darkroom: real keeper, practice lamp, practice sensor; what it finds and what it misses."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT, Bench, bench

from controller.foot import acts
from controller.lamp import check_plans as plans
from hardware.practice.bulb import Bulb, put_bulb
from hardware.practice.faults import PracticeFault
from hardware.practice.meter import LampModel
from hardware.practice.sensor import TIMES

pytestmark = pytest.mark.usefixtures("by_real_time")

QUICK = replace(SHORT, longest_light_ms=60_000)
LAGS_S = {"simple": (LampModel(lag_ms=120), 0.120), "tungsten": (LampModel(tau_up_ms=120, tau_down_ms=15), 0.105)}
"""Each lamp's own lag. Source: derived; a first-order lamp loses tau up less tau down at each switching."""


def wait_for(what: Callable[[], bool], seconds: float = 20.0) -> None:
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.05)


def look(one: Bench) -> None:
    """Fit the sensor, and let it see some dark."""
    one.desk.change_settings({"light_sensor": "tsl2591"})
    wait_for(lambda: one.desk.lamp().view().sensor == "ready")
    time.sleep(1.0)


def calibrate(one: Bench) -> tuple[float, float]:
    """Work the sensor's check lights by foot; return the lag found and its uncertainty, in s."""
    desk = one.desk.lamp()
    one.do(acts.PaperAway())
    desk.begin_by_sensor("sensor", one.desk.status().number)
    wait_for(lambda: one.place() == "ready")
    time.sleep(0.4)
    one.press()
    wait_for(lambda: bool(desk.view().lags), 60.0)
    found = desk.view().found
    assert found is not None, desk.view().outcome
    return found.lag_ms / 1000, found.uncertain_ms / 1000


def found_in(folder: Path, lamp: str) -> None:
    model, lag_s = LAGS_S[lamp]
    with bench(folder, timing=QUICK) as one:
        put_bulb(one.runtime, Bulb(model))
        look(one)
        found, uncertain = calibrate(one)
        assert 0 < uncertain < 0.005
        assert abs(found - lag_s) <= 3 * uncertain, f"{lamp}: {found} ± {uncertain} s of {lag_s} s"
        assert not one.desk.sheets().sessions, "a check opens no sheet"
        assert one.desk.lamp().take_found() == pytest.approx(found * 1000)
        assert one.desk.settings().lamp_lag_seconds == pytest.approx(found, abs=0.0001)
        one.load(1.0, 0.8)
        one.begin_light()
        intent = [row.entry for row in one.rows() if row.entry.kind == "intent"][-1]
        assert intent.lag_ms == round(found * 1000)  # the sheet that follows is lit by it, and says so


def every_lag_is_found(folder: Path) -> None:
    """Calibrate each lamp in a darkroom of its own, all at the same time: the time goes by in waiting for light."""
    with ThreadPoolExecutor(len(LAGS_S)) as rooms:
        for done in [rooms.submit(found_in, folder / lamp, lamp) for lamp in LAGS_S]:
            done.result()


def test_a_sensor_finds_the_lag_of_the_lamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Through a real keeper the lag found is the lamp's own within three times its stated uncertainty, and is used."""
    monkeypatch.setattr(plans, "SENSOR_LIGHTS_MS", (1000, 3000, 2000, 1000, 3000))
    every_lag_is_found(tmp_path)


@pytest.mark.long
def test_a_whole_sensor_run_finds_the_lag_of_the_lamp(tmp_path: Path) -> None:
    """The same with the lights at their whole lengths."""
    every_lag_is_found(tmp_path)


def says_unseen(one: Bench) -> bool:
    return any("No light seen" in words for words in one.desk.status().troubles)


def test_a_dead_bulb_is_said_while_its_light_is_due(tmp_path: Path) -> None:
    """A step whose light the sensor does not see has a sentence at once, and “no light came” takes it off the record.

    The next light that comes has none.
    """
    with bench(tmp_path, timing=QUICK) as one:
        look(one)
        one.room.fault(PracticeFault.BULB_DEAD)
        one.load(3.0)
        one.begin_light()
        wait_for(lambda: says_unseen(one) and one.place() == "light", 3.0)
        wait_for(lambda: one.place() == "finished")
        wait_for(lambda: any(trouble.what == "lamp.unseen" for trouble in _record(one).troubles))
        status = one.desk.status()
        assert says_unseen(one)
        assert "no light" in status.can
        assert _record(one).steps[0].parts[0].seen == "missed"
        one.do(acts.NoLight())
        wait_for(lambda: not says_unseen(one))
        assert _record(one).steps[0].parts[0].struck
        assert _record(one).steps[0].full_ns == (0, 0)
        one.room.fault(PracticeFault.BULB_DEAD, on=False)
        one.begin_light()
        wait_for(lambda: one.place() == "finished")
        wait_for(lambda: _record(one).steps[0].parts[-1].seen == "came")
        assert not says_unseen(one)


def _record(one: Bench):  # type: ignore[no-untyped-def]
    return one.desk.record(one.desk.status().sheet)


def test_one_press_measures_the_sensor_s_gains(tmp_path: Path) -> None:
    """Through a real keeper: the practice sensor's own ratio, with its error, which outlives a restart.

    The gain that is set counts again after it, and nothing is said of a lamp that stays lit.
    """
    with bench(tmp_path, timing=QUICK) as one:
        look(one)
        desk = one.desk.lamp()
        one.do(acts.PaperAway())
        desk.begin_by_sensor("gains", one.desk.status().number)
        wait_for(lambda: one.place() == "ready")
        time.sleep(0.4)
        one.press()
        wait_for(lambda: bool(desk.view().gains), 40.0)
        (step,) = desk.view().gains
        assert (step.sensor, step.low, step.high) == ("practice", "medium", "high")
        true = TIMES["high"] / TIMES["medium"]
        assert step.ratio == pytest.approx(true, rel=0.004)
        assert abs(step.ratio / true - 1.0) <= 4.0 * step.uncertain
        assert "medium to high" in desk.view().outcome
        assert not one.desk.sheets().sessions, "a check opens no sheet"
        wait_for(lambda: desk._watch is not None and desk._watch.name == "practice high", 5.0)
        assert not [words for words in one.desk.status().troubles if "light" in words.lower()]
    with bench(tmp_path, timing=QUICK) as again:
        assert [(each.low, each.ratio) for each in again.desk.lamp().view().gains] == [("medium", step.ratio)]
