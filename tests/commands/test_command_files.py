"""The command line and its files: what it cannot read or write is refused by name, and nothing is left of it."""

from __future__ import annotations

import json
import os
import resource
from pathlib import Path
from typing import Any

import pytest
from tools.command_line import CRANE, EXAMPLES, FEET, TABLET, carried_out, in_process, refusal

from controller.files import write_out
from controller.store.database import open_store
from controller.store.folder import DataFolder
from controller.store.schemas import JOURNAL, SHELF

NO_LIGHT = {"format": "treadle/feet/1", "edges": []}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (
            {"local": [{"area": "C", "act": "dodge", "filter": "hard", "stops": 5}]},
            "crane.json: “stops” in local 1: hard base: the parts 7.8 = 7.8 s leave less than 0.5 s",
        ),
        (
            {"local": [{"area": "A", "act": "burn", "filter": "soft", "stops": 1}] * 59},
            "crane.json: This would be 61 steps and a sheet has at most 60",
        ),
        ({"light": [{"filter": "soft", "seconds": 601}]}, "crane.json: “seconds” in light 1 is 601"),
    ],
)
def test_a_recipe_that_cannot_be_played_is_refused_by_name(
    changed: dict[str, Any], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whether a file is not as it must be, or no sheet can be made of it: the sentence names it, and the key."""
    recipe, feet = tmp_path / "crane.json", tmp_path / "feet.json"
    recipe.write_text(json.dumps(json.loads(CRANE.read_text(encoding="utf-8")) | changed), encoding="utf-8")
    feet.write_text(json.dumps(NO_LIGHT), encoding="utf-8")
    assert said in refusal(["replay", str(recipe), "--feet", str(feet)], capsys)


@pytest.mark.parametrize(("step", "bands"), [("1/12", 7), ("5", 3)])
def test_a_strip_that_cannot_be_played_is_refused_by_name(
    step: str, bands: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Bands that come out alike, or longer than the longest light, are refused with the file and a key of “times”."""
    strip, feet = tmp_path / "alike.json", tmp_path / "feet.json"
    times = {"kind": "stops", "centre": 20.0 if bands == 3 else 1, "step": step, "bands": bands}
    written = {"format": "treadle/strip/1", "title": "x", "filter": "2", "card": "cover", "pace": "press"}
    strip.write_text(json.dumps(written | {"times": times}), encoding="utf-8")
    feet.write_text(json.dumps(NO_LIGHT), encoding="utf-8")
    said = refusal(["replay", str(strip), "--feet", str(feet)], capsys)
    assert said.startswith("alike.json: “")
    assert "in times: " in said


@pytest.mark.parametrize("kind", ["curve", "fit"])
def test_readings_that_are_too_few_are_refused_by_name(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Too few readings for a curve or a paper are refused with the file's name, and no paper is written."""
    few, out = tmp_path / "few.csv", tmp_path / "paper.json"
    few.write_text("".join(TABLET.read_text(encoding="utf-8").splitlines(keepends=True)[:4]), encoding="utf-8")
    words = ["paper", kind, str(few), *(["--out", str(out)] if kind == "fit" else [])]
    assert refusal(words, capsys).startswith("few.csv: ")
    assert not out.exists()


def test_a_file_without_end_isrefused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What has no end is not waited for, nor held in memory: 256 kB are enough to refuse it by."""
    before = resource.getrlimit(resource.RLIMIT_AS)
    held = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (held + 500_000_000, before[1]))
    try:
        for words in (
            ["replay", "/dev/zero", "--feet", str(FEET)],
            ["replay", str(CRANE), "--feet", "/dev/zero"],
            ["paper", "curve", "/dev/zero"],
            ["paper", "fit", "/dev/zero", "--out", str(tmp_path / "p.json")],
            ["paper", "predict", "/dev/zero", "--soft", "8", "--negative", "1"],
        ):
            assert "larger than 256 kB" in refusal(words, capsys)
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)
    assert list(tmp_path.iterdir()) == []
    with (tmp_path / "film.tif").open("wb") as film:
        film.truncate(64_000_001)
    picture = ["--picture", str(tmp_path / "print.png"), "--negative", str(tmp_path / "film.tif")]
    assert "film.tif is larger than 64 MB" in refusal(["replay", str(CRANE), "--feet", str(FEET), *picture], capsys)


def test_a_paper_that_cannot_be_written_is_refused_by_the_name_that_was_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sentence names the file that was asked for, not one that the program writes first; nothing is left."""
    for out in (tmp_path, tmp_path / "nowhere" / "p.json"):
        said = refusal(["paper", "fit", str(TABLET), "--out", str(out)], capsys)
        assert said.startswith(f"{out}: ")
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_written_over_what_it_is_made_from(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Readings are not lost to the paper that is fitted to them, nor a recipe to its picture."""
    readings, recipe, link = (tmp_path / name for name in ("readings.csv", "crane.json", "link"))
    readings.write_bytes(TABLET.read_bytes())
    recipe.write_bytes(CRANE.read_bytes())
    link.symlink_to(readings)
    for out in (readings, link):
        assert "would be lost" in refusal(["paper", "fit", str(readings), "--out", str(out)], capsys)
    words = ["replay", str(recipe), "--feet", str(FEET), "--picture", str(recipe)]
    assert "would be lost" in refusal(words, capsys)
    assert (readings.read_bytes(), recipe.read_bytes()) == (TABLET.read_bytes(), CRANE.read_bytes())


def test_a_device_is_written_to_and_never_replaced(tmp_path: Path) -> None:
    """What is asked for in a pipe, or behind a link, goes there; a plain file is there whole."""
    link, behind = tmp_path / "link", tmp_path / "behind"
    link.symlink_to(behind)
    write_out(link, b"one")
    assert (link.is_symlink(), behind.read_bytes()) == (True, b"one")
    ended = in_process(["paper", "fit", str(TABLET), "--out", "/dev/fd/3"], "3>&1 >/dev/null | cat")
    assert json.loads(ended.stdout)["format"] == "treadle/paper/1"
    write_out(tmp_path / "plain", b"two")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["behind", "link", "plain"]


def test_an_import_tells_its_figures(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was brought in is told as figures under their keys; what is here already is not brought again."""
    words = ["import", "--simulate", "--data", str(tmp_path / "data"), str(CRANE), "--json"]
    for brought in (1, 0):
        status, out, err = carried_out(words, capsys)
        assert (status, err) == (0, "")
        assert json.loads(out) == {"brought": brought, "rows": 0, "journal_left": False}


def test_a_folder_that_is_no_export_is_refused_with_what_to_give(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder of recipes is no export: the sentence says what is, and nothing was kept."""
    said = refusal(["import", "--simulate", "--data", str(tmp_path / "data"), str(EXAMPLES)], capsys)
    assert "name the folder of a whole export, or one file" in said


@pytest.mark.parametrize("named", ["recipes/\0.json", "recipes/round.json", "../crane.json", "x" * 5000])
def test_an_export_that_names_no_file_of_its_own_isrefused(
    named: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A listed file that no folder can hold, that leads in a circle or outside, is refused; nothing was kept."""
    full, out, empty = (tmp_path / name for name in ("full", "out", "empty"))
    for words in (["import", "--data", str(full), str(CRANE)], ["export", "--data", str(full), str(out)]):
        assert carried_out([words[0], "--simulate", *words[1:]], capsys)[0] == 0
    (out / "recipes" / "round.json").symlink_to(out / "recipes" / "round.json")
    index = json.loads((out / "export.json").read_text(encoding="utf-8"))
    index["shelf"][0]["file"] = named
    (out / "export.json").write_text(json.dumps(index), encoding="utf-8")
    said = refusal(["import", "--simulate", "--data", str(empty), str(out)], capsys)
    assert str(out) in said
    status, told, _ = carried_out(["import", "--simulate", "--data", str(empty), str(CRANE), "--json"], capsys)
    assert (status, json.loads(told)["brought"]) == (0, 1)


def test_nothing_to_back_up_issaid(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that Treadle was never started with has no journal: that is said, and no draft is left."""
    data = tmp_path / "data"
    assert carried_out(["import", "--simulate", "--data", str(data), str(CRANE)], capsys)[0] == 0
    assert "has never been started" in refusal(["backup", "--simulate", "--data", str(data)], capsys)
    assert not (data / "backups").exists()


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["export", "out"], "journal.db"),
        (["export", "out"], "shelf.db"),
        (["check"], "journal.db"),
        (["check"], "shelf.db"),
        (["backup"], "journal.db"),
        (["backup"], "shelf.db-wal"),
        (["import", str(CRANE)], "shelf.db"),
        (["import", str(CRANE)], "shelf.db-wal"),
    ],
    ids=lambda each: each if isinstance(each, str) else each[0],
)
def test_a_pipe_in_place_of_a_store_is_refused(words: list[str], name: str, tmp_path: Path) -> None:
    """Whoever opened it would wait for its other end for ever, and be killed here: it is named, and left alone."""
    _refuse_a_pipe(words, name, tmp_path)


@pytest.mark.parametrize("name", ["journal.db", "shelf.db"])
def test_nothing_is_served_from_a_pipe(name: str, tmp_path: Path, by_real_time: None) -> None:
    """Nor is the daemon started on one: it says which, and ends."""
    _refuse_a_pipe(["serve", "--port", "0"], name, tmp_path)


def _refuse_a_pipe(words: list[str], name: str, folder: Path) -> None:
    data = DataFolder(folder / "data")
    for schema, place in ((JOURNAL, data.journal), (SHELF, data.shelf)):
        open_store(place, schema).close()
    pipe = data.path / name
    pipe.unlink(missing_ok=True)
    os.mkfifo(pipe)
    rest = [str(folder / word) if word == "out" else word for word in words[1:]]
    ended = in_process([words[0], "--simulate", "--data", str(data.path), *rest])
    assert ended.returncode in {1, 2}
    said = f"The {name.partition('.')[0]} cannot be opened: {pipe} is no plain file"
    assert said in (ended.stdout + ended.stderr).decode()
    assert pipe.is_fifo()
