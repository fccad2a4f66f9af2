"""A piece of the developer's test in the practice darkroom, whole: loaded, worked by foot, developed, counted."""

from __future__ import annotations

from pathlib import Path

import pytest
from tools.daemon_bench import bench, until

from controller.daemon.developer_trial import DeveloperTrial
from controller.foot import acts
from controller.practice.practice_scene import PracticeScene
from controller.recipe.at_enlarger import AtEnlarger


@pytest.mark.usefixtures("by_real_time")
def test_a_piece_is_developed_for_its_own_time(tmp_path: Path) -> None:
    """45 s on RC, whatever the process has: half of it white, half of it not as black as it gets."""
    with bench(tmp_path) as darkroom:
        desk = darkroom.desk
        practice = desk.practice()
        assert practice is not None
        prints = practice.prints()
        assert prints is not None
        prints.keep_scene(PracticeScene(trays="once"))
        darkroom.do(acts.StandAtEnlarger(bench=AtEnlarger(paper_title="paper one", support="RC", aperture=8.0)))
        darkroom.load(0.4)
        darkroom.begin_light()
        darkroom.wait_for("finished")
        darkroom.rest()
        darkroom.hold()
        until(lambda: not desk.status().open or None)
        part = desk.trials().part(DeveloperTrial)
        part.begin(45, desk.status().number)
        assert part.view().loaded == 45
        darkroom.wait_for("hands asked")
        darkroom.rest()
        darkroom.press()
        darkroom.wait_for("settling", "ready")
        darkroom.begin_light()
        darkroom.wait_for("finished", seconds=9)
        darkroom.rest()
        darkroom.hold()
        until(lambda: not desk.status().open or None)
        record = until(lambda: dict(part.view().pieces)[45], seconds=9)
        assert record.plan.steps[0].planned_ms == 1600
        darkroom.washed(record.id)
        assert record.lay_ms("developer") == 45_000
        made = prints.develop(record.id)
        black, white = (next(each.density for each in made.swatches if each.band == band) for band in (2, 1))
        assert white < 0.08
        assert black > 0.5
        assert desk.trays().processes()["RC"].developer_seconds == 90
