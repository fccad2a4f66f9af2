"""What is asked of the front door for the golden outputs, and how what it says is kept."""

from __future__ import annotations

import json
import math
import os
from pathlib import Path
from typing import Any

from golden.front import GOLDEN, PAPER, Answer, ask_many
from golden.scenes import replays

_CALC: dict[str, tuple[str, ...]] = {
    "strip": ("strip", "--centre", "8", "--step", "1/3", "--bands", "7"),
    "strip, uncover": ("strip", "--every", "3", "--bands", "5", "--card", "uncover"),
    "strip, window": ("strip", "--centre", "12.5", "--step", "0.5", "--bands", "6", "--card", "window"),
    "burn": ("burn", "--base", "10.1", "--stops", "1 1/3"),
    "dodge": ("dodge", "--base", "8", "--stops", "1/3"),
    "size": ("size", "--from", "2", "--to", "3.5"),
    "size, pupil": ("size", "--from", "2", "--to", "3.5", "--pupil", "0.8"),
    "size, lengths": ("size", "--negative-mm", "36", "--from-mm", "240", "--to-mm", "300"),
    "aperture": ("aperture", "--from", "8", "--to", "5.6"),
    "dry-down": ("dry-down", "--percent", "8", "--seconds", "20"),
    "between": ("between", "8", "10.1"),
    "lag": ("lag", "--long", "8", "--pulses", "8", "--each", "1.105"),
    "column": ("column", "--focal", "150", "--m", "2", "--reading", "640"),
    "column, magnification": ("column", "--focal", "150", "--offset", "35", "--reading", "902.5"),
    "first strip": ("first-strip", "--proof", "15", "--from-m", "2", "--to-m", "2.75", "--look", "-1/3"),
    "relay": ("relay", "--watts", "150", "--volts", "230", "--contacts", "10"),
    "relay, too weak": ("relay", "--watts", "500", "--volts", "12", "--contacts", "10"),
    "refused, no number": ("burn", "--base", "ten", "--stops", "1"),
    "refused, nothing told": ("strip",),
}
_SOFT_HARD: dict[str, tuple[str, ...]] = {
    "two tones": ("--light", "1.25=0.12", "--dark", "0.22=1.95"),
    "out of reach": ("--light", "1.25=0.3", "--dark", "0.22=1.0"),
    "tones swapped": ("--light", "0.2=0.1", "--dark", "1.2=1.9"),
}
_PREDICT: dict[str, tuple[str, ...]] = {
    "both lights": ("--soft", "10.1", "--hard", "8", "--negative", "0.22,0.55,1.25"),
    "hard alone": ("--hard", "8", "--negative", "0.22"),
    "no light": ("--negative", "0.2"),
}
_VERDICT: dict[str, tuple[str, ...]] = {
    "a little light": ("--looked-light", "a little light", "--looked-dark", "right"),
    "no pair": ("--looked-light", "far light", "--looked-dark", "far dark"),
    "no such word": ("--looked-light", "pale", "--looked-dark", "right"),
}
_HAD = ("--soft", "12", "--hard", "4.4", "--light", "1.334=0.13", "--dark", "0.157=1.93")
PAPER_OUT = "PAPER.json"
"""Stands in the golden for the file that `paper fit` was told to write: it lies in a folder of the run."""


def reckoning() -> dict[str, list[str]]:
    """Return the command of every kind of `calc`, in words and as JSON, and `wiring`, each by a name."""
    commands: dict[str, list[str]] = {"wiring": ["wiring"]}
    for name, words in _CALC.items():
        commands[f"calc: {name}"] = ["calc", *words]
        commands[f"calc: {name}, as JSON"] = ["calc", *words, "--json"]
    return commands


def papers(folder: Path) -> dict[str, list[str]]:
    """Return the commands of `paper`, each by a name; the fitted paper is written into `folder` and asked as well."""
    readings = folder / "readings.csv"
    readings.write_text(_readings(), encoding="utf-8")
    fitted = folder / PAPER_OUT
    commands = {
        "curve": ["curve", str(readings)],
        "curve, light known": ["curve", str(readings), "--lux-seconds", "400"],
        "fit": ["fit", str(readings), "--out", str(fitted)],
    }
    for which, paper in (("kept", PAPER), ("fitted", fitted)):
        for name, words in _PREDICT.items():
            commands[f"predict, {which}: {name}"] = ["predict", str(paper), *words]
        for name, words in _SOFT_HARD.items():
            commands[f"soft-hard, {which}: {name}"] = ["soft-hard", str(paper), *words]
        for name, words in _VERDICT.items():
            commands[f"verdict, {which}: {name}"] = ["verdict", str(paper), *_HAD, *words]
    return {
        f"paper {name}{', as JSON' if flags else ''}": ["paper", *words, *flags]
        for name, words in commands.items()
        for flags in (("--json",), ())
    }


def _readings() -> str:
    """Return three prints of a step tablet, soft, hard and both, by a plain formula."""
    rows = ["paper,soft_seconds,hard_seconds,step,tablet_density,print_density"]
    for soft, hard in ((80.0, 0.0), (0.0, 60.0), (40.4, 32.0)):
        for step in range(21):
            tablet = 0.05 + 0.15 * step
            printed = 0.0
            for green in (1.0, 0.28, 0.08):
                light = soft * (0.013 + 1.05 * green) + hard * (0.16 + 0.0003 * green)
                printed += 1 / (1 + math.exp(-10 * (math.log10(light) - tablet))) / 3
            rows.append(f"invented paper,{soft:g},{hard:g},{step + 1},{tablet:.2f},{0.05 + 2.05 * printed:.2f}")
    return "\n".join(rows) + "\n"


# ---- how it is kept


def told(commands: dict[str, list[str]], folder: Path) -> dict[str, Answer]:
    """Carry commands out; return what each came to, with the run's own folder taken out of what it said."""
    answers = dict(zip(commands, ask_many(list(commands.values())), strict=True))
    for answer in answers.values():
        for stream in ("out", "err"):
            answer[stream] = answer[stream].replace(f"{folder}{os.sep}", "")
    return answers


def one_a_line(answers: dict[str, Answer]) -> str:
    """Return answers as a golden file: one a line, and what is JSON as JSON, without its white space."""
    lines = [
        f"{json.dumps(name)}: {json.dumps(_packed(answer), ensure_ascii=False, separators=(',', ':'))}"
        for name, answer in answers.items()
    ]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def read_golden(name: str) -> dict[str, Answer]:
    """Return the answers of a golden file, as the front door gave them, byte for byte."""
    kept = json.loads((GOLDEN / name).read_text("utf-8"))
    return {each: _unpacked(answer) for each, answer in kept.items()}


def _packed(answer: Answer) -> Answer:
    """Return an answer with JSON in place of its text, where it comes back from that byte for byte."""
    try:
        tree = json.loads(answer["out"])
    except ValueError:
        return answer
    packed = {"code": answer["code"], "json": _as_tables(tree), "err": answer["err"]}
    return packed if _unpacked(packed) == answer else answer


def _unpacked(answer: dict[str, Any]) -> Answer:
    if "json" not in answer:
        return answer
    text = json.dumps(_from_tables(answer["json"]), indent=1, ensure_ascii=False) + "\n"
    return {"code": answer["code"], "out": text, "err": answer["err"]}


def _as_tables(tree: Any) -> Any:
    """Return a tree in which a list of objects with the same keys names these once, and has a row for each."""
    match tree:
        case dict():
            return {key: _as_tables(value) for key, value in tree.items()}
        case [dict() as first, *others] if others and all(list(other) == list(first) for other in others):
            return {_KEYS: list(first), _ROWS: [[_as_tables(value) for value in each.values()] for each in tree]}
        case list():
            return [_as_tables(value) for value in tree]
    return tree


def _from_tables(tree: Any) -> Any:
    match tree:
        case dict() if list(tree) == [_KEYS, _ROWS]:
            return [dict(zip(tree[_KEYS], map(_from_tables, row), strict=True)) for row in tree[_ROWS]]
        case dict():
            return {key: _from_tables(value) for key, value in tree.items()}
        case list():
            return [_from_tables(value) for value in tree]
    return tree


_KEYS, _ROWS = "#keys", "#rows"


GOLDENS = {"replays.json": replays, "paper.json": papers, "reckoning.json": lambda _folder: reckoning()}
"""Each golden file, and what is asked for it."""
