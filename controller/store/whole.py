"""Whether a database file is whole, found out by a process of its own, so that nobody has to wait for it.

SQLite reads a file's pages within one step that nothing interrupts, minutes on a slow card. A process can be ended
at any moment, has no share in the daemon's interpreter, and takes processor and card only when nobody else does.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final

from controller.errors import StoreTrouble
from controller.store.database import is_small, trouble, verify_file
from controller.store.schemas import Schema
from controller.words import say

MODULE: Final = "controller.store.whole_process"
_ROOT: Final = Path(__file__).resolve().parents[2]
_ASK_SECONDS: Final = 0.04
"""How often whoever waits for the process is asked whether to go on."""


class GivenUp(Exception):
    """What was under way was given up: something that matters more has begun, or the daemon ends."""


def check_whole(path: Path, schema: Schema, between: Callable[[], None]) -> None:
    """Check every page of a file, which may be in use; unless it is small, in a process of its own.

    `between` is called again and again meanwhile; what it raises ends the process at once, and is passed on.

    Raises:
        StoreTrouble: says what is wrong with the file, or that it could not be looked at.
    """
    between()
    if is_small(path):  # to begin a process would take longer
        verify_file(path, schema)
        return
    try:
        process = subprocess.Popen(
            [sys.executable, "-P", "-m", MODULE, str(path.absolute())],
            stdin=subprocess.PIPE,  # its end tells the process of this one's
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={"PYTHONPATH": str(_ROOT)},
        )
    except OSError as problem:
        raise StoreTrouble(say("store.other", name=schema.name, path=path, detail=problem.strerror)) from problem
    with process:
        try:
            answer = _answer(process, between)
        finally:
            process.kill()
    try:
        code, detail = json.loads(answer)
    except ValueError:
        ended = f"the check ended with {process.returncode}"
        raise StoreTrouble(say("store.other", name=schema.name, path=path, detail=ended)) from None
    if code:
        raise trouble(code, detail or say("store.no-text"), path, schema)


def _answer(process: subprocess.Popen[bytes], between: Callable[[], None]) -> bytes:
    while True:
        between()
        try:
            process.wait(_ASK_SECONDS)
        except subprocess.TimeoutExpired:
            continue
        assert process.stdout is not None
        return process.stdout.read()
