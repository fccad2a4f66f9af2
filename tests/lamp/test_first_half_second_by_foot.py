"""The first half second in a real darkroom: keeper, practice lamp and sensor; a sheet that was begun wrong is saved.

What the print got is told by the practice darkroom's own optics and paper, which know nothing of the watch.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT, Bench, bench, until
from tools.evening_sheets import PIXELS

from controller.foot import acts
from controller.picture.develop import Conditions, develop_light, sheet_light
from controller.picture.doses import SheetExposure
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import negatives_named, scene_for
from controller.recipe.files import read_recipe
from controller.store.levels import Dose, WrongLight
from controller.store.records import SheetRecord
from hardware.practice.faults import PracticeFault

pytestmark = pytest.mark.usefixtures("by_real_time")

QUICK = replace(SHORT, longest_light_ms=60_000, lead_in_ms=900)
"""The sensor sees the dark before each light, as it does in any lead-in of a printer's."""
TONES = ("sky", "cloud", "steel", "quay", "stones", "under_cab")
DARK_BY_MS = 600.0
LATE_MS = 60.0
"""So much later than 0.6 s a dark may come on a machine that is busy with other tests."""
SOFT_S, HARD_S = 5.0, 3.0


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Bench]:
    with bench(tmp_path, timing=QUICK) as found:
        found.desk.change_settings({"light_sensor": "tsl2591"})
        until(lambda: found.desk.lamp().view().sensor == "ready" or None, 10)
        time.sleep(1.0)
        yield found


def load(one: Bench) -> str:
    tree = {
        "format": "treadle/recipe/2",
        "title": "Crane",
        "keep_order": True,  # each sheet begins with soft, whatever is in
        "light": [{"filter": "soft", "seconds": SOFT_S}, {"filter": "hard", "seconds": HARD_S}],
        "local": [],
    }
    kept = one.desk.recipes().save(json.dumps(tree))
    one.do(acts.Load(source=kept.id))
    return json.dumps(tree)


def entries(one: Bench, kind: type[Dose] | type[WrongLight]) -> list[Dose | WrongLight]:
    return [row.entry for row in one.rows() if isinstance(row.entry, kind)]


def give(one: Bench, filter_name: str) -> None:
    """Put a filter in, press, and wait until that light is over, and its dose on file."""
    one.room.log_filter(filter_name)
    told = len(entries(one, Dose))
    one.begin_light()
    one.wait_lit(False, 10)
    until(lambda: len(entries(one, Dose)) > told or None, 5, one.place)


def close(one: Bench) -> SheetRecord:
    one.wait_for("finished")
    one.rest()
    sheet = one.desk.status().sheet
    one.hold()
    until(lambda: one.desk.record(sheet).closed, 5, one.place)
    return one.washed(sheet)


def given_light(one: Bench, record: SheetRecord) -> SheetExposure:
    return sheet_light(record, one.room.log(), Conditions(), one.room.edges())


def densities(light: SheetExposure, record: SheetRecord, text: str) -> dict[str, float]:
    scene = scene_for(read_recipe(text.encode(), "crane"), negatives_named("crane"), pixels=PIXELS)
    out = develop_light(light, record, scene, practice_paper("one"))
    return {tone: float(out.density(tone)) for tone in TONES}


def more(light: SheetExposure, stops: float) -> SheetExposure:
    return replace(light, doses=tuple(replace(dose, light=dose.light.times(2.0**stops)) for dose in light.doses))


def is_the_right_one(one: Bench, saved: SheetRecord, right: SheetRecord, text: str) -> None:
    """Hold every tone of a print between those of the right one with a twelfth of a stop less light and more."""
    light = given_light(one, right)
    least, most = (densities(more(light, stops), right, text) for stops in (-1 / 12, 1 / 12))
    found = densities(given_light(one, saved), saved, text)
    for tone in TONES:
        assert least[tone] - 1e-6 <= found[tone] <= most[tone] + 1e-6, f"{tone}: {found}, not {least} to {most}"


def right_sheet(one: Bench) -> SheetRecord:
    give(one, "soft")
    give(one, "hard")
    return close(one)


def broken_off(one: Bench, filter_name: str) -> None:
    """Begin a light that must not go on, and hold it dark in time, with the alarm."""
    one.room.log_filter(filter_name)
    before = one.room.edges()[-1].at_ns
    one.begin_light()
    one.wait_lit(False, 3)
    ((on, off),) = one.lights(before + 1)
    assert (off - on) / 1e6 <= DARK_BY_MS + LATE_MS
    until(lambda: any(heard.cue == "alarm" for heard in one.desk.heard(0)) or None, 3, one.place)


def test_a_lens_left_open_costs_no_sheet(one: Bench) -> None:
    """Three stops too much are dark by 0.6 s; what is left is given by a press, and the print is the right one."""
    text = load(one)
    right = right_sheet(one)
    one.room.fault(PracticeFault.LENS_OPEN)
    broken_off(one, "soft")
    status = one.wait_for("held", "change filter")
    assert "lens stands open" in status.headline or "filter" in status.headline
    (wrong,) = entries(one, WrongLight)
    assert isinstance(wrong, WrongLight)
    assert wrong.found == "open"
    assert wrong.stops == pytest.approx(3.0, abs=0.1)
    lit_ns = one.lights()[-1][1] - one.lights()[-1][0]
    assert wrong.counts_ns == pytest.approx(8 * lit_ns, rel=0.07)
    one.room.fault(PracticeFault.LENS_OPEN, on=False)
    give(one, "soft")
    give(one, "hard")
    saved = close(one)
    assert saved.outcome == "complete"
    assert [part.why for part in saved.steps[0].parts] == ["level", "complete"]
    is_the_right_one(one, saved, right, text)


def test_a_filter_left_in_costs_no_sheet(one: Bench) -> None:
    """The soft filter under the hard light is known by its own light: it counts as soft, and hard is given whole."""
    text = load(one)
    right = right_sheet(one)
    give(one, "soft")
    one.room.fault(PracticeFault.FILTER_LEFT_IN)
    broken_off(one, "hard")
    status = one.wait_for("change filter")
    assert "looks like the soft filter" in status.just_given
    (wrong,) = entries(one, WrongLight)
    assert isinstance(wrong, WrongLight)
    assert (wrong.found, wrong.filter, wrong.counts_ns) == ("filter", "soft", 0)
    one.room.fault(PracticeFault.FILTER_LEFT_IN, on=False)
    give(one, "hard")
    saved = close(one)
    assert [(part.filter, part.full_ns[1] > 0) for part in saved.steps[1].parts] == [("soft", False), ("hard", True)]
    assert saved.steps[1].given_most_ms == right.steps[1].given_most_ms
    hard = {record.id: given_light(one, record) for record in (saved, right)}
    assert densities(hard[saved.id], saved, text)["sky"] == pytest.approx(
        densities(hard[right.id], right, text)["sky"], abs=0.1
    )


def test_low_mains_are_in_the_dose(one: Bench) -> None:
    """5 % less voltage ends no light; the record has a quarter of a stop less, and so has the paper.

    Source: light goes by V^3.4 (from memory).
    """
    load(one)
    right = right_sheet(one)
    one.room.fault(PracticeFault.MAINS_SAG)
    give(one, "soft")
    give(one, "hard")
    weak = close(one)
    for step in weak.steps:
        assert step.dose_stops == pytest.approx(-0.25, abs=0.03)
    blue = [sum(dose.light.blue for dose in given_light(one, record).doses) for record in (weak, right)]
    assert blue[0] / blue[1] == pytest.approx(0.95**3.4, rel=0.01)
    assert right.steps[0].dose_stops is None  # nothing was known yet: not watched


def test_the_dose_is_given_where_the_mains_are_low(one: Bench) -> None:
    """With “give the dose” a light goes on until the paper has had it, within its longest: 1.19 times as long.

    Without it, or where the sensor goes, the light ends by its plan.
    """
    load(one)
    right = right_sheet(one)
    one.desk.change_settings({"give_dose": True})
    one.room.fault(PracticeFault.MAINS_SAG)
    give(one, "soft")
    ((on, off),) = one.lights(one.room.edges()[-2].at_ns)
    assert (off - on) / 1e9 == pytest.approx(SOFT_S / 0.95**3.4, rel=0.02)
    give(one, "hard")
    ((on, off),) = one.lights(one.room.edges()[-2].at_ns)
    assert (off - on) / 1e9 == pytest.approx(HARD_S, abs=0.02), "under 4 s it is given by its time"
    dosed = close(one)
    assert dosed.steps[0].dose_stops == pytest.approx(0.0, abs=0.05)
    assert given_light(one, dosed).doses[0].light.green == pytest.approx(
        given_light(one, right).doses[0].light.green, rel=0.03
    )
    one.room.log_filter("soft")
    one.begin_light()
    time.sleep(1.0)
    one.room.fault(PracticeFault.SENSOR_GONE)
    one.wait_lit(False, 10)
    ((on, off),) = one.lights(one.room.edges()[-2].at_ns)
    assert (off - on) / 1e9 == pytest.approx(SOFT_S, abs=0.02)
