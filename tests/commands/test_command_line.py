"""The command line as a whole: what it does with bad words, with files, and with whoever reads what it prints."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

import treadle
from controller.files import write_out

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "tests" / "examples"
TABLET = EXAMPLES / "paper-one.tablet.csv"
CRANE = EXAMPLES / "crane.recipe.json"
FEET = EXAMPLES / "crane.feet.json"
NO_LIGHT = {"format": "treadle/feet/1", "edges": []}
LONGEST_S = 60


def _said(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    """Carry out a command here; return its exit status, what it printed, and what it complained of."""
    capsys.readouterr()
    try:
        status = treadle.main(words)
    except SystemExit as end:
        status = int(end.code or 0)
    told = capsys.readouterr()
    return status, told.out, told.err


def _refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Return the one sentence with which a command refuses bad input."""
    status, out, err = _said(words, capsys)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1, err
    return err


def _run(words: list[str], shell: str = "", **environ: str) -> subprocess.CompletedProcess[bytes]:
    """Carry out a command in a process of its own, its streams led as a shell is told to (`>/dev/full`)."""
    line = ["/bin/bash", "-c", f'"$@" {shell}', "bash", sys.executable, str(ROOT / "treadle.py"), *words]
    plain = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "LC_"))}
    return subprocess.run(line, capture_output=True, timeout=LONGEST_S, env=plain | environ, check=False)


BURN = ["calc", "burn", "--base", "10.1", "--stops", "1"]


# ---- whoever reads


@pytest.mark.parametrize("environ", [{}, {"PYTHONUNBUFFERED": "1"}])
@pytest.mark.parametrize("words", [BURN, [*BURN, "--json"], ["--help"], ["wiring"]])
def test_a_reader_that_closes_early_is_no_mistake(words: list[str], environ: Mapping[str, str]) -> None:
    """With nobody left to read, as behind `head`, a command ends as it would have, and complains of nothing."""
    ended = _run(words, "| true; exit ${PIPESTATUS[0]}", **environ)
    assert (ended.returncode, ended.stderr) == (0, b"")


@pytest.mark.parametrize("environ", [{}, {"PYTHONUNBUFFERED": "1"}])
def test_a_full_card_is_said(environ: Mapping[str, str]) -> None:
    """Figures that cannot be written are a failure, in one sentence that says why."""
    ended = _run([*BURN, "--json"], ">/dev/full", **environ)
    assert ended.returncode == 2
    assert ended.stderr.decode().count("\n") == 1
    assert "No space left on device" in ended.stderr.decode()


def test_closed_streams_change_no_exit_status() -> None:
    """Started with a stream closed, a command answers with its exit status all the same."""
    assert _run(BURN, ">&-").returncode == 0
    assert _run(["calc", "burn", "--base", "x", "--stops", "1"], "2>&-").returncode == 2
    assert _run(["calc", "burn", "--base", "x", "--stops", "1"], "2>/dev/full").returncode == 2


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_a_terminal_without_a_character_loses_no_sign(encoding: str) -> None:
    """Where the terminal has no “−”, its number is printed in its place."""
    ended = _run(["calc", "aperture", "--from", "8", "--to", "5.6"], PYTHONIOENCODING=encoding)
    assert (ended.returncode, ended.stderr) == (0, b"")
    assert ended.stdout.decode(encoding).endswith("\\u22121 stops\n")


def test_json_is_json_in_any_encoding(tmp_path: Path) -> None:
    """Names that the other side's encoding lacks come through JSON as they are."""
    named = json.loads(CRANE.read_text(encoding="utf-8"))
    named["local"][0]["what"] = "ciel – Привет 🎞"
    recipe = tmp_path / "named.recipe.json"
    recipe.write_text(json.dumps(named), encoding="utf-8")
    ended = _run(["replay", str(recipe), "--feet", str(FEET), "--json"], PYTHONIOENCODING="latin-1")
    assert ended.returncode == 0, ended.stderr
    names = [step["name"] for step in json.loads(ended.stdout.decode("ascii"))["sheets"][0]["steps"]]
    assert "A ciel – Привет 🎞, burn" in names


def test_dark_without_anybody_who_hears_it(tmp_path: Path) -> None:
    """That the line is not known dark is the exit status, whether anybody hears the sentence or not."""
    assert _run(["dark", "--data", str(tmp_path)], "2>/dev/full").returncode == 1
    assert _run(["dark", "--data", str(tmp_path)], "2>&-").returncode == 1


def test_a_name_that_is_no_text_is_read_and_told(tmp_path: Path) -> None:
    """A file's name may be any bytes, as on an old card: what is in it counts, and JSON tells the name again."""
    odd = os.fsencode(tmp_path) + b"/caf\xe9"
    for ending, known in ((b".json", CRANE), (b".feet.json", FEET), (b".csv", TABLET)):
        Path(os.fsdecode(odd + ending)).write_bytes(known.read_bytes())
    named = os.fsdecode(odd)
    for words in (
        ["replay", f"{named}.json", "--feet", f"{named}.feet.json", "--json"],
        ["replay", f"{named}.json", "--feet", f"{named}.feet.json", "--process", "RC"],
        ["paper", "curve", f"{named}.csv"],
        ["paper", "fit", f"{named}.csv", "--out", f"{named}.paper", "--json"],
        ["import", "--simulate", "--data", f"{named}.data", f"{named}.json"],
    ):
        ended = _run(words)
        assert (ended.returncode, ended.stderr) == (0, b""), words
        if words[1] == "fit":
            assert json.loads(ended.stdout)["file"] == f"{named}.paper"
    looked = _run(["check", "--simulate", "--data", f"{named}.data", "--json"])
    assert looked.stderr == b""
    assert f"{named}.data" in json.dumps(json.loads(looked.stdout), ensure_ascii=False)
    refused = _run(["replay", f"{named}.csv", "--feet", f"{named}.feet.json"])
    assert refused.returncode == 2
    assert refused.stderr.startswith(b"caf\\udce9.csv: line 1")


# ---- bad words


@pytest.mark.parametrize("patience", ["nan", "inf", "-1", "1e400", "long", "3600.5"])
def test_patience_that_never_ends_is_refused(patience: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`treadle dark` tries for so long as was said; what is no such time would have it try for ever."""
    said = _refused(["dark", "--simulate", "--data", str(tmp_path / "d"), f"--patience={patience}"], capsys)
    assert f"--patience: “{patience}” must be a number of seconds from 0 to 3600" in said
    assert not (tmp_path / "d").exists()


@pytest.mark.parametrize("port", ["65536", "99999", "-1", "80.5", "x", "", "٨٠", "000080", "9" * 5000])
@pytest.mark.parametrize("command", ["serve", "check"])
def test_a_port_that_is_none_is_refused(
    command: str, port: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A port over the last one would be served at another one, without a word."""
    said = _refused([command, "--simulate", "--data", str(tmp_path / "d"), f"--port={port}"], capsys)
    assert "is no port, which is a whole number from 0 (any that is free) to 65535" in said
    assert not (tmp_path / "d").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("predict PAPER --soft 8 --negative -0.22,0.55", "--negative cannot be “-0.22”; it is a number from 0 to 6"),
        ("soft-hard PAPER --light -1.25=0.12 --dark 0.22=1.95", "--light cannot be “-1.25”; it is a number from 0"),
        ("soft-hard PAPER --light 1.25=0.12 --dark -,5=1.95", "--dark cannot be “-,5”; it is a number from 0"),
        (
            "preview PAPER x.png --tie -0.7,0.5=1 --tie 0,0=0.2 --soft 8 --picture no.png",
            "-0.7, 0.5 lies beside the picture",
        ),
        (
            "preview PAPER x.png --tie 0,0=1 --tie 0,1=0.2 --soft 8 --picture no.png --grid -1/3",
            "--grid cannot be “-1/3”",
        ),
    ],
)
def test_a_value_under_nothing_is_a_value(
    words: str, said: str, paper: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A value with a minus is refused as what it is, and not taken for an option."""
    assert said in _refused(["paper", *words.replace("PAPER", str(paper)).split()], capsys)


def test_an_offset_with_a_comma_is_read(paper: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Decimals may be typed with a comma, under nothing too; the pair is the one that a point gives."""
    spots = ["--reference", "48210", "--spot", "highlight=2711=0.12", "--spot", "shadow=29050=1.95", "--json"]
    told = [
        json.loads(_said(["paper", "readings", str(paper), *spots, "--offset", offset], capsys)[1])
        for offset in ("-0,05", "-0.05", "0")
    ]
    assert told[0] == told[1]
    # 0.05 density less in the negative is 10^-0.05 of the time
    assert told[0]["soft"] == pytest.approx(told[2]["soft"] * 10**-0.05, rel=1e-3)


# ---- files


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
    assert said in _refused(["replay", str(recipe), "--feet", str(feet)], capsys)


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
    said = _refused(["replay", str(strip), "--feet", str(feet)], capsys)
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
    assert _refused(words, capsys).startswith("few.csv: ")
    assert not out.exists()


def test_a_file_without_end_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
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
            assert "larger than 256 kB" in _refused(words, capsys)
    finally:
        resource.setrlimit(resource.RLIMIT_AS, before)
    assert list(tmp_path.iterdir()) == []
    with (tmp_path / "film.tif").open("wb") as film:
        film.truncate(64_000_001)
    picture = ["--picture", str(tmp_path / "print.png"), "--negative", str(tmp_path / "film.tif")]
    assert "film.tif is larger than 64 MB" in _refused(["replay", str(CRANE), "--feet", str(FEET), *picture], capsys)


def test_a_paper_that_cannot_be_written_is_refused_by_the_name_that_was_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sentence names the file that was asked for, not one that the program writes first; nothing is left."""
    for out in (tmp_path, tmp_path / "nowhere" / "p.json"):
        said = _refused(["paper", "fit", str(TABLET), "--out", str(out)], capsys)
        assert said.startswith(f"{out}: ")
    assert list(tmp_path.iterdir()) == []


def test_a_device_is_written_to_and_never_replaced(tmp_path: Path) -> None:
    """What is asked for in a pipe, or behind a link, goes there; a plain file is there whole."""
    link, behind = tmp_path / "link", tmp_path / "behind"
    link.symlink_to(behind)
    write_out(link, b"one")
    assert (link.is_symlink(), behind.read_bytes()) == (True, b"one")
    ended = _run(["paper", "fit", str(TABLET), "--out", "/dev/fd/3"], "3>&1 >/dev/null | cat")
    assert json.loads(ended.stdout)["format"] == "treadle/paper/1"
    write_out(tmp_path / "plain", b"two")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["behind", "link", "plain"]


def test_an_import_tells_its_figures(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was brought in is told as figures under their keys; what is here already is not brought again."""
    words = ["import", "--simulate", "--data", str(tmp_path / "data"), str(CRANE), "--json"]
    for brought in (1, 0):
        status, out, err = _said(words, capsys)
        assert (status, err) == (0, "")
        assert json.loads(out) == {"brought": brought, "rows": 0, "journal_left": False}


def test_a_folder_that_is_no_export_is_refused_with_what_to_give(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder of recipes is no export: the sentence says what is, and nothing was kept."""
    said = _refused(["import", "--simulate", "--data", str(tmp_path / "data"), str(EXAMPLES)], capsys)
    assert "name the folder of a whole export, or one file" in said


@pytest.mark.parametrize("named", ["recipes/\0.json", "recipes/round.json", "../crane.json", "x" * 5000])
def test_an_export_that_names_no_file_of_its_own_is_refused(
    named: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A listed file that no folder can hold, that leads in a circle or outside, is refused; nothing was kept."""
    full, out, empty = (tmp_path / name for name in ("full", "out", "empty"))
    for words in (["import", "--data", str(full), str(CRANE)], ["export", "--data", str(full), str(out)]):
        assert _said([words[0], "--simulate", *words[1:]], capsys)[0] == 0
    (out / "recipes" / "round.json").symlink_to(out / "recipes" / "round.json")
    index = json.loads((out / "export.json").read_text(encoding="utf-8"))
    index["shelf"][0]["file"] = named
    (out / "export.json").write_text(json.dumps(index), encoding="utf-8")
    said = _refused(["import", "--simulate", "--data", str(empty), str(out)], capsys)
    assert str(out) in said
    status, told, _ = _said(["import", "--simulate", "--data", str(empty), str(CRANE), "--json"], capsys)
    assert (status, json.loads(told)["brought"]) == (0, 1)


def test_nothing_to_back_up_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that Treadle was never started with has no journal: that is said, and no draft is left."""
    data = tmp_path / "data"
    assert _said(["import", "--simulate", "--data", str(data), str(CRANE)], capsys)[0] == 0
    assert "has never been started" in _refused(["backup", "--simulate", "--data", str(data)], capsys)
    assert not (data / "backups").exists()


# ---- help


def test_paper_names_each_of_its_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    """The usage of `paper` lists every kind there is."""
    parser = treadle._parser("paper")
    kinds = next(each for each in parser._subparsers._group_actions if "paper" in each.choices)  # type: ignore[union-attr,operator]
    below = kinds.choices["paper"]._subparsers._group_actions[0]  # type: ignore[index,call-overload]
    assert below.metavar.split("|") == list(below.choices)


@pytest.fixture(scope="module")
def paper(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Paper one, as fitted from the example's readings."""
    out = tmp_path_factory.mktemp("paper") / "paper.json"
    assert treadle.main(["paper", "fit", str(TABLET), "--out", str(out)]) == 0
    return out
