"""The product's front door, `treadle.py`, knocked at as a process of its own; nothing behind it is known here.

Many commands are carried out by one process, one after another, since starting one costs more than most of them do.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
GOLDEN = Path(__file__).parent / "kept"
EXAMPLES = ROOT / "tests" / "examples"
PAPER = ROOT / "tests" / "paper" / "examples" / "paper-1.paper.json"
OLD = GOLDEN / "old-folder"
OLD_EXPORT = GOLDEN / "old-export"
OVER_S = 120.0
"""Nothing here takes half so long: what hangs is ended."""
_MANY = """
import contextlib, io, json, sys
import treadle
answers = []
for words in json.load(sys.stdin):
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = treadle.main(words)
        except SystemExit as end:
            code = end.code
    answers.append({"code": code, "out": out.getvalue(), "err": err.getvalue()})
json.dump(answers, sys.stdout)
"""
Answer = dict[str, Any]
"""What a command came to: its code, and what it wrote (`out`, `err`)."""


def _surroundings() -> dict[str, str]:
    return {**os.environ, "PYTHONUTF8": "1", "LC_ALL": "C.UTF-8"}


def ask(*words: object) -> Answer:
    """Carry out one command as a person would."""
    done = subprocess.run(
        [sys.executable, "treadle.py", *map(str, words)],
        cwd=ROOT,
        env=_surroundings(),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=OVER_S,
        check=False,
    )
    return {"code": done.returncode, "out": done.stdout, "err": done.stderr}


def ask_many(commands: Sequence[Sequence[object]]) -> list[Answer]:
    """Carry out commands one after another in one process, and return what each came to."""
    done = subprocess.run(
        [sys.executable, "-c", _MANY],
        cwd=ROOT,
        env=_surroundings(),
        input=json.dumps([[str(word) for word in words] for words in commands]),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=OVER_S,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    answers: list[Answer] = json.loads(done.stdout)
    assert len(answers) == len(commands)
    return answers


def serve_once(data: Path, runtime: Path) -> list[str]:
    """Serve a data folder in the practice darkroom until it says it is ready, then end it; return what it said."""
    runtime.mkdir()
    command = [sys.executable, "treadle.py", "serve", "--simulate", "--host", "127.0.0.1", "--port", "0"]
    served = subprocess.Popen(
        [*command, "--data", str(data)],
        cwd=ROOT,
        env={**_surroundings(), "RUNTIME_DIRECTORY": str(runtime)},
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    assert served.stdout is not None
    said: list[str] = []
    try:
        for line in served.stdout:
            said.append(line.rstrip("\n"))
            if line.startswith("Pairing code:"):
                break
        served.send_signal(signal.SIGTERM)
        rest = served.communicate(timeout=OVER_S)[0]
        said += rest.splitlines()
    finally:
        if served.poll() is None:
            served.kill()
            served.wait()
        served.stdout.close()
    assert served.returncode == 0, said
    return said


def files(folder: Path) -> dict[str, bytes]:
    """Return every file in a folder, by its place in it."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


def exported(data: Path, out: Path) -> dict[str, bytes]:
    """Export a data folder to `out`, and return every file that came."""
    answer = ask("export", out, "--data", data)
    assert (answer["code"], answer["err"]) == (0, ""), answer
    return files(out)


def index_of(export: dict[str, bytes]) -> dict[str, Any]:
    """Return what an export says is in it."""
    tree: dict[str, Any] = json.loads(export["export.json"])
    return tree
