"""The table of tests in the reference, against the product's own: names, pages, intervals, faults, how-tos, records."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
from tools.stand_in_desk import StandInDesk, day_desk

from controller.daemon.trial_desk import ORDER
from controller.practice.practice_scene import PracticeScene
from controller.trials.results import USUAL_DAYS, TrialBody
from controller.words import has
from hardware.practice.faults import PracticeFault
from webui.app import create_app

DOCS = Path(__file__).resolve().parents[2] / "docs"
COLUMNS = (
    *("test", "plan worked by foot", "cues", "page", "picture", "record", "due again", "practice fault"),
    *("how-to and source", "what the result changes"),
)


def table() -> dict[str, dict[str, str]]:
    """Return the table's rows by the test's name."""
    lines = [line for line in (DOCS / "reference" / "tests.md").read_text("utf-8").splitlines() if line[:1] == "|"]
    head, _, *rows = ([cell.strip() for cell in line.strip("|").split("|")] for line in lines)
    assert tuple(head) == COLUMNS
    return {row[0].strip("`"): dict(zip(head, row, strict=True)) for row in rows}


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


def named(cell: str) -> list[str]:
    return re.findall(r"`([^`]+)`", cell)


def test_every_test_has_a_row_and_every_cell_is_filled() -> None:
    """In the order of the page; a dash is an answer, an empty cell is none."""
    rows = table()
    assert tuple(rows) == ORDER
    assert all(cell for row in rows.values() for cell in row.values())
    for row in rows.values():
        assert all(row[column].startswith("✓") for column in COLUMNS[1:3] + COLUMNS[4:6])


def test_what_the_table_says_of_a_test_is_there(desk: StandInDesk) -> None:
    """Its page opens, its words are in the catalogue, interval and faults are the product's, its how-to exists."""
    rows = table()
    shown = [line.trial for line in desk.trials().lines()]
    assert {"safelight", "phone"} <= set(shown)
    adapter = create_app(desk, hosts=["localhost"]).url_map.bind("localhost")
    faults = {*PracticeScene.model_fields, *(fault.value for fault in PracticeFault)}
    bodies = {kind.model_fields["trial"].default for kind in get_args(get_args(TrialBody)[0])}
    for name in shown:
        row = rows[name]
        (page,) = named(row["page"])
        assert adapter.match(page, method="GET")
        assert has(f"trials.name-{name}")
        assert has(f"trials.what-{name}")
        assert name in bodies
        days = USUAL_DAYS[name]
        assert row["due again"].startswith(f"{days} days") == (days is not None), name
        assert named(row["practice fault"])
        assert set(named(row["practice fault"])) <= faults, name
        (how,) = named(row["how-to and source"])
        assert (DOCS / how).is_file(), name
