"""The practice darkroom's trays go as fast as its page has it; real trays go as they go, whatever a file says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tools.daemon_bench import bench, fit, until

from controller.daemon.in_force import InForce
from controller.practice.practice_scene import PracticeScene, keep_scene, read_scene
from controller.store.shelf import Shelf


@pytest.mark.parametrize(("practice", "hurry"), [(True, 20), (False, 1)])
def test_real_trays_are_never_hurried(tmp_path: Path, practice: bool, hurry: int) -> None:
    """A scene that somebody left in the data folder hurries nothing where the lines are real."""
    fitting = replace(fit(tmp_path, None), practice=practice)
    shelf = Shelf.open(tmp_path / "shelf.db")
    assert InForce(fitting, shelf, hurry=lambda: 20).habits(sounder=True).hurry == hurry
    shelf.close()


@pytest.mark.usefixtures("by_real_time")
def test_the_pace_is_taken_over_at_once_and_kept(tmp_path: Path) -> None:
    """A new practice darkroom goes 20 times as fast; what is chosen counts with no restart, and after one."""
    with bench(tmp_path, pace=None) as darkroom:
        habits = lambda: darkroom.darkroom._runner.state.habits  # noqa: E731 - what the grammar keeps to
        assert habits().hurry == 20
        practice = darkroom.desk.practice()
        assert practice is not None
        prints = practice.prints()
        assert prints is not None
        for pace, hurry in (("real", 1), ("once", 1000)):
            prints.keep_scene(PracticeScene(trays=pace))
            until(lambda wanted=hurry: habits().hurry == wanted or None)
    with bench(tmp_path, pace=None) as again:
        assert again.darkroom._runner.state.habits.hurry == 1000


def test_a_scene_of_an_earlier_version_is_read(tmp_path: Path) -> None:
    """What was kept before there were trays is kept on, with the usual pace and a fresh developer."""
    keep_scene(tmp_path, PracticeScene(paper="two"))
    text = (tmp_path / "scene.json").read_text()
    lines = [line for line in text.splitlines() if '"trays"' not in line and '"developer"' not in line]
    (tmp_path / "scene.json").write_text("\n".join(lines))
    scene = read_scene(tmp_path)
    assert (scene.paper, scene.trays, scene.developer) == ("two", "hurried", "fresh")
