"""Readings at the easel through a whole real darkroom: reference, two spots, their pair, the print in the tray."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from tools.daemon_bench import Bench, bench, until
from tools.fitted_papers import demo

from controller.errors import ControllerError, Impossible, WrongMoment
from controller.foot import acts
from controller.picture.raster import raster
from controller.practice.in_carrier import InCarrier
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.easel_rows import SpotRead
from hardware.practice.faults import PracticeFault

STANDS = {"negative_title": "Crane", "magnification": 2.0, "aperture": 8.0, "head_height_mm": 620.0}


@pytest.fixture
def darkroom(tmp_path: Path) -> Iterator[Bench]:
    """A practice darkroom with a probe, the demo paper out, all paper away."""
    with bench(tmp_path, light_sensor="tsl2591") as found:
        until(lambda: found.desk.lamp().sensor_ready() or None)
        kept = found.desk.papers().keep(demo())
        found.do(acts.StandAtEnlarger(bench=AtEnlarger(paper=kept.id, paper_title=kept.title, **STANDS)))
        found.do(acts.PaperAway())
        yield found


def _measure(darkroom: Bench, x: float, y: float, *, lit_s: float = 2.3) -> SpotRead | None:
    """Press, lay the probe, press; return what was measured, or None where the sensor said no."""
    easel, before = darkroom.desk.easel(), len(darkroom.desk.easel()._spots.read())
    darkroom.rest(1900)
    darkroom.press()
    darkroom.wait_for("light")
    darkroom.room.log_probe(x, y)
    time.sleep(lit_s)
    darkroom.press()
    time.sleep(2.1)
    read = easel._spots.read()
    return read[-1] if len(read) > before else None


def _reference(darkroom: Bench) -> None:
    darkroom.room.log_filter("soft")
    darkroom.room.log_negative(False)
    darkroom.desk.easel().begin("reference", darkroom.desk.status().number)
    assert _measure(darkroom, 0.5, 0.5) is not None
    darkroom.rest(100)
    darkroom.hold()
    darkroom.wait_for("nothing chosen")
    darkroom.desk.easel().keep_reference()
    darkroom.room.log_negative(True)


def _places(darkroom: Bench) -> dict[str, tuple[tuple[float, float], float]]:
    """Return an even place of a dense and of a thin tone on the baseboard's picture, and its density."""
    tray = darkroom.desk.practice().prints()  # type: ignore[union-attr]
    image = raster(tray.scene_lying(InCarrier(name="crane", magnification=2.0, aperture=8.0))).image  # type: ignore[union-attr]
    height, width = image.shape
    found: dict[str, tuple[float, tuple[float, float], float]] = {}
    for row in range(30, height - 30, 4):
        for column in range(30, width - 30, 4):
            patch = image[row - 4 : row + 5, column - 4 : column + 5]
            if patch.min() <= 0.001:
                continue
            density = -math.log10(float(patch.mean()))
            uneven = float(np.log10(patch.max() / patch.min()))
            for name, wanted in (("highlight", 1.25), ("shadow", 0.35), ("A", 0.8)):
                bad = abs(density - wanted) / 4 + uneven
                if name not in found or bad < found[name][0]:
                    found[name] = bad, ((column + 0.5) / width, (row + 0.5) / height), density
    return {name: (place, density) for name, (_, place, density) in found.items()}


@pytest.mark.usefixtures("by_real_time")
def test_the_first_print_is_as_it_was_promised(darkroom: Bench) -> None:
    """Reference and two spots by foot, the pair made the next sheet, printed and developed: both within tolerance.

    The tolerances are those of docs/explanation/paper-economy.md; nothing in the tray knows of the readings.
    """
    _reference(darkroom)
    reference = darkroom.desk.papers().fetch(darkroom.desk.status().bench.paper).reference
    assert reference is not None
    assert reference.filter == "soft"
    places, easel = _places(darkroom), darkroom.desk.easel()
    easel.begin("spots", darkroom.desk.status().number)
    for name in ("highlight", "shadow"):
        read = _measure(darkroom, *places[name][0])
        assert read is not None, easel._spots.outcome()
        assert read.spot == name
    darkroom.rest(100)
    darkroom.hold()
    darkroom.wait_for("nothing chosen")
    view = easel.view({})
    assert [spot.density for spot in view.spots] == pytest.approx(
        [places[n][1] for n in ("highlight", "shadow")], abs=0.02
    )
    assert not view.why
    easel.use({}, darkroom.desk.status().number, works=False)
    plan = darkroom.desk.status().plan
    assert plan is not None
    assert [(step.filter, step.planned_ms) for step in plan.steps] == [
        ("soft", round(view.soft * 1000)),  # type: ignore[operator]
        ("hard", round(view.hard * 1000)),  # type: ignore[operator]
    ]
    for filter_name in ("soft", "hard"):
        darkroom.wait_for("change filter", seconds=60)
        darkroom.room.log_filter(filter_name)
        darkroom.begin_light()
        darkroom.wait_for("change filter", "finished", seconds=60)
    sheet = darkroom.desk.status().sheet
    darkroom.rest()
    darkroom.hold()
    darkroom.wait_for("change filter", "ready")
    record = until(lambda: r if (r := darkroom.desk.record(sheet)).closed else None)
    tray = darkroom.desk.practice().prints()  # type: ignore[union-attr]
    out, *_ = tray._out_of_the_tray(record, tray.scene(), tray.negative_of(record.plan))  # type: ignore[union-attr]
    height, width = out.dry.shape
    for spot, within in zip(view.spots, (0.04, 0.08), strict=True):
        (x, y), _ = places[spot.name]
        row, column = round(y * height), round(x * width)
        printed = float(out.dry[row - 6 : row + 7, column - 6 : column + 7].mean())
        assert printed == pytest.approx(spot.wanted, abs=within), spot.name


@pytest.mark.usefixtures("by_real_time")
def test_what_cannot_be_measured_is_said_and_asked_for_again(darkroom: Bench) -> None:
    """Too soon, a lit phone, a sensor that goes: no row, a sentence with the remedy, and the same spot again."""
    _reference(darkroom)
    easel = darkroom.desk.easel()
    easel.begin("spots", darkroom.desk.status().number)
    assert _measure(darkroom, 0.5, 0.5, lit_s=0.9) is None
    assert "Too soon" in easel.view({}).outcome
    darkroom.room.log_glow("phone", True)
    assert _measure(darkroom, 0.3, 0.3) is None
    assert "phone over" in easel.view({}).outcome
    darkroom.room.log_glow("phone", False)
    assert darkroom.desk.status().headline.endswith("highlight. Hold when done.")
    darkroom.room.fault(PracticeFault.SENSOR_GONE)
    until(lambda: not darkroom.desk.lamp().sensor_ready() or None)
    assert _measure(darkroom, 0.3, 0.3) is None
    assert [row for row in darkroom.rows() if row.entry.kind == "read"][1:] == []


@pytest.mark.usefixtures("by_real_time")
def test_a_hold_takes_its_own_reading_back(darkroom: Bench) -> None:
    """A light that a hold ends leaves no row; what was measured before it stays."""
    _reference(darkroom)
    easel = darkroom.desk.easel()
    easel.begin("spots", darkroom.desk.status().number)
    assert _measure(darkroom, 0.4, 0.4) is not None
    darkroom.rest(100)
    darkroom.press()
    darkroom.wait_for("light")
    time.sleep(2.3)
    darkroom.hold()
    darkroom.wait_for("nothing chosen")
    time.sleep(2.2)
    spots = [row.entry for row in darkroom.rows() if isinstance(row.entry, SpotRead) and row.entry.what == "spots"]
    assert [spot.spot for spot in spots] == ["highlight"]
    assert "through soft alone" in easel.view({}).one


@pytest.mark.usefixtures("by_real_time")
def test_they_are_refused_at_the_wrong_moment(darkroom: Bench) -> None:
    """Without a reference, without the day face or without a paper they do not begin; each says what to do."""
    easel = darkroom.desk.easel()
    with pytest.raises(Impossible, match="has no reference yet"):
        easel.begin("spots", darkroom.desk.status().number)
    darkroom.do(acts.PaperOut())
    with pytest.raises(WrongMoment):
        easel.begin("reference", darkroom.desk.status().number)
    darkroom.do(acts.StandAtEnlarger(bench=AtEnlarger()))
    with pytest.raises(Impossible, match="not calibrated, or none is out"):
        easel.begin("reference", darkroom.desk.status().number)
    with pytest.raises(ControllerError):
        easel.use({}, darkroom.desk.status().number, works=False)
