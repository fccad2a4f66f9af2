"""A safelight test in the practice darkroom, whole: a fault is made, worked by foot, developed, answered, and found."""

from __future__ import annotations

from pathlib import Path

import pytest
from tools.daemon_bench import bench, until

from controller.daemon.fog_trials import FogTrials
from controller.practice.practice_scene import PracticeScene
from controller.practice.printed import Print
from controller.store.trial_rows import GreyFound
from controller.trials.safelight import Answer, Minutes
from controller.words import say

SEEN = 0.02
"""Density that an eye sees between two greys side by side: common practice."""


def eye(made: Print, strip: int) -> Answer:
    """Return the most minutes whose quarter looks like the covered one, as the print's own readings have it."""
    density = {each.tone: each.density for each in made.swatches}
    tones: dict[Minutes, float] = {m: density[say(f"picture.tone-strip-{strip}-{m}")] for m in (0, 1, 3, 7)}  # type: ignore[misc]
    same: Minutes = 0
    for minutes in (1, 3, 7):
        if tones[minutes] - tones[0] >= SEEN:  # type: ignore[index]
            return same
        same = minutes  # type: ignore[assignment]
    return same


@pytest.mark.usefixtures("by_real_time")
def test_a_bright_safelight_is_found_by_foot(tmp_path: Path) -> None:
    """Five times the usual light: a change after 2.3 minutes, so paper is safe for 1.1; the test says one minute."""
    with bench(tmp_path) as darkroom:
        desk = darkroom.desk
        practice = desk.practice()
        assert practice is not None
        prints = practice.prints()
        assert prints is not None
        prints.keep_scene(PracticeScene(trays="once", safelight_times=5.0))
        stands = desk.status().bench
        paper = stands.paper or stands.paper_title
        desk.trials().keep_grey(GreyFound(strip="g", filter="soft", ms=3800, density=0.35, paper=paper, box=stands.box))
        part = desk.trials().part(FogTrials)
        until(lambda: part.view("safelight").grey)
        part.begin("safelight", desk.status().number)
        while desk.status().place != "ready":  # whatever is asked before the first light
            if desk.status().place != "settling":
                darkroom.rest()
                darkroom.press()
            darkroom.rest()
        darkroom.begin_light()
        darkroom.wait_for("hands asked", seconds=9)
        while (headline := desk.status().headline) and desk.status().place == "hands asked":
            assert "card" in headline
            darkroom.rest()
            darkroom.press()
            until(lambda before=headline: desk.status().headline != before or None)  # type: ignore[misc]
            until(lambda: desk.status().place != "waiting" or None)
        darkroom.begin_light()
        darkroom.wait_for("finished", seconds=9)
        darkroom.rest()
        darkroom.hold()
        until(lambda: not desk.status().open or None)
        sheet = part.view("safelight").sheet
        assert sheet is not None
        assert [wait.ms for wait in sheet.steps[1].waits] == [240_000, 120_000, 60_000]
        darkroom.washed(sheet.id)
        made = prints.develop(sheet.id)
        result = part.answer_safelight(*(eye(made, strip) for strip in (2, 1, 3)))
        assert desk.settings().safe_minutes == 1.0
        assert result.sheets == (sheet.id,)
        assert part.view("safelight").sheet is None
        kept = tmp_path / "data"
    with bench(tmp_path) as again:  # after a restart it stands, and is due in a year
        line = again.desk.trials().line("safelight")
        assert line.last == result
        assert line.due.state == "fine"
        assert kept.is_dir()
