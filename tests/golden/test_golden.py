"""What the front door puts out today is what it put out before: kept outputs, compared byte for byte.

A difference is a change of what people see and keep. `renew.py` writes the goldens anew where that was meant.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path

import pytest
from golden.asked import GOLDENS, read_golden, told
from golden.front import EXAMPLES, OLD, OLD_EXPORT, ask, ask_many, exported, files, index_of


@pytest.mark.parametrize("name", GOLDENS)
def test_every_command_says_what_it_said(name: str, tmp_path: Path) -> None:
    """Replays, papers, `calc` and `wiring` say, byte for byte, what is kept; nothing asked is without a golden."""
    kept = read_golden(name)
    now = told(GOLDENS[name](tmp_path), tmp_path)
    assert list(now) == list(kept)
    for asked, answer in now.items():
        assert answer == kept[asked], asked


def test_a_process_of_its_own_says_the_same() -> None:
    """A command by itself, as a person types it, says what it says among many in one process."""
    alone = ask("replay", EXAMPLES / "crane.recipe.json", "--feet", EXAMPLES / "crane.feet.json", "--json")
    assert alone == read_golden("replays.json")["crane.recipe.json: as it is"]


def _differ(one: dict[str, bytes], two: dict[str, bytes]) -> list[str]:
    return [name for name in sorted({*one, *two}) if one.get(name) != two.get(name)]


def test_an_old_folder_s_export_is_what_it_was(tmp_path: Path) -> None:
    """The export of an old data folder is, in every byte of every file, the one that is kept."""
    old = Path(shutil.copytree(OLD, tmp_path / "data"))
    assert _differ(exported(old, tmp_path / "out"), files(OLD_EXPORT)) == []


def test_an_old_export_comes_back_whole(tmp_path: Path) -> None:
    """An old export, brought into a fresh folder and exported again, is the same in every byte of every file."""
    fresh, out = tmp_path / "fresh", tmp_path / "out"
    brought, again = ask_many([["import", OLD_EXPORT, "--data", fresh], ["export", out, "--data", fresh]])
    assert (brought["code"], brought["err"]) == (0, "")
    assert (again["code"], again["err"]) == (0, "")
    assert _differ(files(out), files(OLD_EXPORT)) == []


def test_the_old_folder_is_worth_its_name() -> None:
    """The old folder has a dozen recipes and strips, some with versions, papers, settings and sheets of all sorts."""
    index = index_of(files(OLD_EXPORT))
    kinds = [one["kind"] for one in index["shelf"]]
    works = {one["id"] for one in index["shelf"] if one["kind"] in ("recipe", "strip")}
    assert len(works) >= 12
    assert kinds.count("paper") >= 2
    assert kinds.count("settings") >= 2
    assert kinds.count("carry") >= 1
    assert index["away"]
    assert any(one["version"] >= 3 for one in index["shelf"])
    rows = {json.loads(line)["entry"]["kind"] for line in files(OLD_EXPORT)["journal.jsonl"].splitlines()}
    assert rows >= {"picked", "remark", "struck", "called given", "left out", "added", "lamp checked", "closed"}
    sheets = [json.loads(body) for name, body in files(OLD_EXPORT).items() if name.startswith("sheets/")]
    assert len(sheets) >= 8
    assert {sheet["outcome"] for sheet in sheets} == {"complete", "spoiled", "open"}


def test_the_old_folder_lies_still() -> None:
    """What is stored of the old folder is two whole databases and nothing beside them that a write left over."""
    assert sorted(files(OLD)) == ["journal.db", "shelf.db"]
    for name in files(OLD):
        with sqlite3.connect(f"file:{OLD / name}?mode=ro&immutable=1", uri=True) as store:
            assert store.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        store.close()
