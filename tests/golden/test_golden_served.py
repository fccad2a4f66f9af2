"""A daemon of today opens a data folder that an older one left, and everything in it stays what it was."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from golden.front import OLD, OLD_EXPORT, exported, files, index_of, serve_once

pytestmark = pytest.mark.usefixtures("by_real_time")

READY = "Treadle is ready, in the practice darkroom: no lamp, no paper, nothing to spoil."


def test_a_daemon_opens_an_old_folder_and_loses_nothing(tmp_path: Path) -> None:
    """Served once, an old data folder holds every old row and every text as they were; new rows only follow."""
    old = Path(shutil.copytree(OLD, tmp_path / "data"))
    said = serve_once(old, tmp_path / "run")
    assert said[0] == READY
    now, before = exported(old, tmp_path / "out"), files(OLD_EXPORT)
    rows, old_rows = (export["journal.jsonl"].splitlines() for export in (now, before))
    assert rows[: len(old_rows)] == old_rows
    assert len(rows) > len(old_rows), "the daemon's own start is a row"
    listed, old_listed = index_of(now), index_of(before)
    assert {**listed, "rows": 0} == {**old_listed, "rows": 0}
    texts = [name for name in before if name.startswith(("recipes/", "strips/", "papers/", "carried/", "settings"))]
    assert texts
    assert [name for name in texts if now[name] != before[name]] == []
    closed = [name for name in before if name.startswith("sheets/") and json.loads(before[name])["outcome"] != "open"]
    assert closed
    assert [name for name in closed if now[name] != before[name]] == []
