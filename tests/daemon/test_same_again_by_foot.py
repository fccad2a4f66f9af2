"""The set-up asked, and an edition of five, by a real foot: a practice darkroom with its keeper, in real time."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tools.daemon_bench import Bench, bench, until

from controller.foot import acts
from controller.store.entries import FilterSaid, StoodAtEnlarger

pytestmark = pytest.mark.usefixtures("by_real_time")


def five(opened: Bench) -> list[list[tuple[int, str]]]:
    """Work five sheets by foot; return what was asked of the drawer, and each sheet's steps in their order."""
    orders: list[list[tuple[int, str]]] = []
    for _ in range(5):
        order: list[tuple[int, str]] = []
        while opened.wait_for("change filter", "ready", "finished").place != "finished":
            opened.get_ready()
            next_ = opened.desk.status().next
            assert next_ is not None
            order.append((next_.number, next_.filter))
            opened.begin_light()
            opened.wait_lit(False)
            opened.rest()
        orders.append(order)
        opened.hold()
        until(lambda: not opened.desk.status().open or None)
    return orders


def test_an_edition_of_five_changes_the_filter_five_times(tmp_path: Path) -> None:
    """By a real foot: what is in is said once, and then there are five changes, not nine."""
    with bench(tmp_path) as opened:
        opened.load(0.3, filters=("soft", "hard"))
        orders = five(opened)
        said = [row.entry.filter for row in opened.rows() if isinstance(row.entry, FilterSaid) and row.entry.filter]
    soft, hard = (1, "soft"), (2, "hard")
    assert orders == [[soft, hard], [hard, soft], [soft, hard], [hard, soft], [soft, hard]]
    assert said == ["soft", "hard", "soft", "hard", "soft", "hard"]


def test_the_set_up_is_asked_and_a_press_notes_it(tmp_path: Path) -> None:
    """A recipe of another height is asked for before its filter; a press says that it is set, and it stays so."""
    tree = {
        "format": "treadle/recipe/1",
        "title": "Pier",
        "light": [{"filter": "soft", "seconds": 0.3}],
        "local": [],
        "lens": {"focal_mm": 80, "aperture": 11},
        "head_height_mm": 480,
    }
    with bench(tmp_path) as opened:
        kept = opened.desk.recipes().save(json.dumps(tree))
        opened.do(acts.Load(source=kept.id))
        opened.wait_for("set-up asked")
        opened.rest()
        opened.press()
        opened.wait_for("change filter")
        assert "f/11" in opened.desk.status().headline
        opened.begin_light()
        sheet = opened.wait_for("finished").sheet
        record = opened.desk.record(sheet)
        assert record.plan.set_up is not None
        assert record.plan.set_up.words == "head 480 · f/11 · 80 mm · 4x5 carrier"
        assert record.set_up is not None
        made = [row.entry for row in opened.rows() if isinstance(row.entry, StoodAtEnlarger) and row.entry.sheet]
        assert [(each.sheet, each.bench.head_height_mm) for each in made] == [(sheet, 480.0)]
        stands = opened.desk.at_enlarger().standing()
    with bench(tmp_path) as again:
        assert again.desk.at_enlarger().standing() == stands
