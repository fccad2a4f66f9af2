"""The walk to another card: a darkroom backs up to a stick, its card is gone, and a new card has all of it again."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tools.daemon_bench import bench
from tools.stick import stick_beside

import treadle
from controller.backup.second_place import NAMED_BY
from controller.foot import acts

pytestmark = pytest.mark.usefixtures("by_real_time")
WIRING = "[lamp]\npin = 17\n[foot]\npin = 27\n[sounder]\npin = 18\n[lid]\npin = 23\n"


def commanded(capsys: pytest.CaptureFixture[str], *words: str) -> list[str]:
    assert treadle.main(list(words)) == 0
    return capsys.readouterr().out.splitlines()


def test_the_walk_to_a_new_card(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Records, recipes and settings are there again, and sheets are counted on; phones pair anew, pins are copied."""
    with stick_beside(tmp_path) as stick:
        monkeypatch.setenv(NAMED_BY, str(stick))
        with bench(tmp_path / "old", wiring=WIRING, safe_minutes=7.5) as old:
            source = old.load(0.2, 0.15)
            for _ in range(2):
                old.begin_light()
                old.wait_lit(False)
            sheet = old.wait_for("finished").sheet
            old.do(acts.CloseSheet())
            record, rows = old.washed(sheet), old.rows()
            kept, key = old.desk.recipes().fetch(source), old.desk.key()
            phone = old.desk.phones().add()
        card = tmp_path / "old" / "data"
        here, there = commanded(capsys, "backup", "--simulate", "--data", str(card))
        assert str(card) in here
        assert str(stick / "data") in there
        shutil.rmtree(tmp_path / "old")

        new = tmp_path / "new" / "data"
        nothing_here, listed = commanded(capsys, "restore", "--simulate", "--data", str(new))
        assert "no backup" in nothing_here
        assert listed in there
        commanded(capsys, "restore", listed, "--simulate", "--data", str(new))
        pins = (Path(listed) / "wiring.toml").read_text()
        assert pins == WIRING
        with bench(tmp_path / "new", wiring=pins) as later:
            assert later.desk.record(sheet) == record
            assert later.rows()[: len(rows)] == rows
            assert later.desk.recipes().fetch(source) == kept
            assert later.desk.settings().safe_minutes == 7.5
            assert later.desk.key() != key
            assert phone not in later.desk.phones().listed()
            later.load(0.1)
            later.begin_light()
            assert later.wait_for("finished").sheet_number == record.number + 1
