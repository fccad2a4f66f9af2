"""The command line as a whole: what it does with bad words, and with whoever reads what it prints."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path

import pytest
from tools.command_line import CRANE, FEET, TABLET, carried_out, in_process, refusal

import treadle

BURN = ["calc", "burn", "--base", "10.1", "--stops", "1"]


# ---- whoever reads


@pytest.mark.parametrize("environ", [{}, {"PYTHONUNBUFFERED": "1"}])
@pytest.mark.parametrize("words", [BURN, [*BURN, "--json"], ["--help"], ["wiring"]])
def test_a_reader_that_closes_early_is_no_mistake(words: list[str], environ: Mapping[str, str]) -> None:
    """With nobody left to read, as behind `head`, a command ends as it would have, and complains of nothing."""
    ended = in_process(words, "| true; exit ${PIPESTATUS[0]}", **environ)
    assert (ended.returncode, ended.stderr) == (0, b"")


@pytest.mark.parametrize("environ", [{}, {"PYTHONUNBUFFERED": "1"}])
def test_a_full_card_issaid(environ: Mapping[str, str]) -> None:
    """Figures that cannot be written are a failure, in one sentence that says why."""
    ended = in_process([*BURN, "--json"], ">/dev/full", **environ)
    assert ended.returncode == 2
    assert ended.stderr.decode().count("\n") == 1
    assert "No space left on device" in ended.stderr.decode()


def test_closed_streams_change_no_exit_status() -> None:
    """Started with a stream closed, a command answers with its exit status all the same."""
    assert in_process(BURN, ">&-").returncode == 0
    assert in_process(["calc", "burn", "--base", "x", "--stops", "1"], "2>&-").returncode == 2
    assert in_process(["calc", "burn", "--base", "x", "--stops", "1"], "2>/dev/full").returncode == 2


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_a_terminal_without_a_character_loses_no_sign(encoding: str) -> None:
    """Where the terminal has no “−”, its number is printed in its place."""
    ended = in_process(["calc", "aperture", "--from", "8", "--to", "5.6"], PYTHONIOENCODING=encoding)
    assert (ended.returncode, ended.stderr) == (0, b"")
    assert ended.stdout.decode(encoding).endswith("\\u22121 stops\n")


def test_json_is_json_in_any_encoding(tmp_path: Path) -> None:
    """Names that the other side's encoding lacks come through JSON as they are."""
    named = json.loads(CRANE.read_text(encoding="utf-8"))
    named["local"][0]["what"] = "ciel – Привет 🎞"
    recipe = tmp_path / "named.recipe.json"
    recipe.write_text(json.dumps(named), encoding="utf-8")
    ended = in_process(["replay", str(recipe), "--feet", str(FEET), "--json"], PYTHONIOENCODING="latin-1")
    assert ended.returncode == 0, ended.stderr
    names = [step["name"] for step in json.loads(ended.stdout.decode("ascii"))["sheets"][0]["steps"]]
    assert "A ciel – Привет 🎞, burn" in names


def test_dark_without_anybody_who_hears_it(tmp_path: Path) -> None:
    """That the line is not known dark is the exit status, whether anybody hears the sentence or not."""
    assert in_process(["dark", "--data", str(tmp_path)], "2>/dev/full").returncode == 1
    assert in_process(["dark", "--data", str(tmp_path)], "2>&-").returncode == 1


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
        ended = in_process(words)
        assert (ended.returncode, ended.stderr) == (0, b""), words
        if words[1] == "fit":
            assert json.loads(ended.stdout)["file"] == f"{named}.paper"
    looked = in_process(["check", "--simulate", "--data", f"{named}.data", "--json"])
    assert looked.stderr == b""
    assert f"{named}.data" in json.dumps(json.loads(looked.stdout), ensure_ascii=False)
    refused = in_process(["replay", f"{named}.csv", "--feet", f"{named}.feet.json"])
    assert refused.returncode == 2
    assert refused.stderr.decode().startswith("caf·.csv: line 1")


def test_ended_by_hand_it_has_nothing_to_explain(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-C ends a command with the shell's own status for it, and never as if the line were known dark."""

    def ended(_: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("controller.service.dark_command.time.sleep", ended)
    status, out, err = carried_out(["dark", "--data", str(tmp_path), "--patience", "60"], capsys)
    assert (status, out) == (130, "")
    assert err.endswith("switch the lamp off at its own switch.\n")


# ---- bad words


@pytest.mark.parametrize("patience", ["nan", "inf", "-1", "1e400", "long", "3600.5"])
def test_patience_that_never_ends_isrefused(patience: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`treadle dark` tries for so long as was said; what is no such time would have it try for ever."""
    said = refusal(["dark", "--simulate", "--data", str(tmp_path / "d"), f"--patience={patience}"], capsys)
    assert f"--patience: “{patience}” must be a number of seconds from 0 to 3600" in said
    assert not (tmp_path / "d").exists()


@pytest.mark.parametrize("port", ["65536", "99999", "-1", "80.5", "x", "", "٨٠", "000080", "9" * 5000])
@pytest.mark.parametrize("command", ["serve", "check"])
def test_a_port_that_is_none_isrefused(
    command: str, port: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A port over the last one would be served at another one, without a word."""
    said = refusal([command, "--simulate", "--data", str(tmp_path / "d"), f"--port={port}"], capsys)
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
    assert said in refusal(["paper", *words.replace("PAPER", str(paper)).split()], capsys)


@pytest.mark.parametrize("words", [BURN[:2], ["timing", "--seconds"], ["dark", "--patience"], ["replay", "--lag"]])
@pytest.mark.parametrize("value", ["--", "1\n2", "\x1b[2J", "\udce9"])
def test_a_value_that_is_no_text_is_one_sentence(
    words: list[str], value: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever is typed for a value, the refusal is one line of printable words."""
    option = words[1] if words[1].startswith("--") else "--base"
    more = ["--stops", "1"] if words[0] == "calc" else ["x", "--feet", "y"] if words[0] == "replay" else []
    said = refusal([*words[: 2 if words[0] == "calc" else 1], f"{option}={value}", *more], capsys)
    assert option in said
    assert said.removesuffix("\n").isprintable()


def test_an_offset_with_a_comma_is_read(paper: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Decimals may be typed with a comma, under nothing too; the pair is the one that a point gives."""
    spots = ["--reference", "48210", "--spot", "highlight=2711=0.12", "--spot", "shadow=29050=1.95", "--json"]
    told = [
        json.loads(carried_out(["paper", "readings", str(paper), *spots, "--offset", offset], capsys)[1])
        for offset in ("-0,05", "-0.05", "0")
    ]
    assert told[0] == told[1]
    # 0.05 density less in the negative is 10^-0.05 of the time
    assert told[0]["soft"] == pytest.approx(told[2]["soft"] * 10**-0.05, rel=1e-3)


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
