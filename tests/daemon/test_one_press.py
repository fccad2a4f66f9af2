"""One press, traced from the runner to the journal's row and the snapshot: the page that follows it is true."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from tools.foot_bench import MS, START_MS, one_step, sheet_plan

from controller.daemon.answers import Answers, Snapshots
from controller.daemon.recipe_shelf import RecipeShelf
from controller.daemon.world import World
from controller.foot.places import LeadIn, Ready
from controller.foot.state import State, Work
from controller.store.entries import Intent
from controller.store.journal import Journal, Stamp
from controller.store.shelf import Shelf
from hardware.wire import FootDown, Greeting

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs/explanation/one-press.md"
MOST = 12
BEFORE = ["hardware/tether/tether.py", "controller/daemon/inbox.py"]
"""The way to the runner, which virtual time does without."""
VALUES = {
    *(f"controller/foot/{name}.py" for name in ("state", "places", "effects", "events", "acts", "status")),
    *(f"controller/{name}.py" for name in ("model", "wall", "words/__init__", "recipe/plan", "recipe/set_up")),
    *(f"controller/store/{name}.py" for name in ("entries", "rows", "database")),
    "controller/daemon/world.py",
}
"""Frozen values with their checksums, the catalogue, and virtual time's own pipe."""


def listed() -> list[str]:
    """Return the files of the page's numbered list, in order."""
    text = PAGE.read_text("utf-8").split("twelve files")[1].split("## And back")[0]
    return re.findall(r"^\d+\. `([^`]+)`", text, re.M)


def traced(work: Callable[[], object]) -> set[str]:
    """Return the controller's files whose functions are entered while `work` is done."""
    seen: set[str] = set()

    def note(frame: FrameType, event: str, _argument: Any) -> None:
        path = Path(frame.f_code.co_filename)
        if event == "call" and path.is_relative_to(ROOT / "controller"):
            seen.add(str(path.relative_to(ROOT)))

    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(None)
    return seen


def test_the_page_names_the_files_that_a_press_goes_through(tmp_path: Path) -> None:
    """From the tether's message to the journal's row and the snapshot: the twelve files of the page, and no others."""
    journals: list[Journal] = []

    def journal(clock: Any) -> Journal:
        journals.append(Journal.in_memory(clock, Stamp("virtual", "test", 0)))
        return journals[0]

    plan = sheet_plan(one_step())
    world = World(State(Ready(), work=Work.fresh(plan), filter_in="soft", run="v", stop_down=False), journal)
    board, shelf = Snapshots(), Shelf.open(tmp_path / "shelf.db")
    answers = Answers(
        world.runner, board, RecipeShelf(shelf, lambda: 600_000), world.clock, lambda _: None, lambda: None
    )
    greeting = Greeting(1, 1, "virtual", 0, True, ("lamp",), ("sounder",), "fifo", False, "{}", True)
    answers.begin(practice=True, greeting=greeting, opened_ns=None)
    world.run_until(START_MS * MS)
    world.runner.ask_again(START_MS * MS)
    now_ns, number = world.clock.now_ns(), board.latest().number
    files = traced(lambda: world.runner.take(FootDown(1, now_ns - 25 * MS, now_ns), now_ns))
    assert isinstance(world.runner.state.place, LeadIn)
    assert board.latest().number > number
    assert [row.entry.kind for row in journals[0].rows() if isinstance(row.entry, Intent)] == ["intent"]
    shelf.close()
    journals[0].close()
    assert files - VALUES == set(listed()) - set(BEFORE)
    assert listed()[:2] == BEFORE
    assert len(listed()) <= MOST


@pytest.mark.parametrize("name", listed())
def test_every_file_on_the_page_is_there(name: str) -> None:
    """No file that the page names has gone."""
    assert (ROOT / name).is_file()
