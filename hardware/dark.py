"""Letting go of every light without the daemon, whoever holds the lines: lamps dark, room light off, safelight on.

Where a keeper holds the line it is asked to go (a keeper goes dark on SIGTERM), and killed when it has not gone
after a second. Then the lines are claimed, driven to rest, and the slate says so. Nothing heavy is imported: this
must work when little else does.
"""

from __future__ import annotations

import json
import os
import select
import signal
import sys
import time
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

from hardware.clock import boot_id
from hardware.errors import HardwareError, LineBusy, LineError
from hardware.lines.lines import Outlet
from hardware.open_lines import open_outputs
from hardware.slate import KEEPER_MODULE, SLATE_NAME, SlateWriter, darkened, read_slate

ASK_SECONDS: Final = 1.0
"""How long a keeper that was asked to go dark may take."""
_KILL_SECONDS: Final = 1.0
_ROUNDS: Final = 6
"""A daemon that lives brings its keeper back three times; after that the line is free."""
_PAUSE_SECONDS: Final = 0.1


def darken(spec: Mapping[str, object], runtime: Path) -> bool:
    """Drive every lamp line of the specification dark and its outlets to rest; return whether all are known to be so.

    Raises:
        LineError: the lines cannot be had for another reason than that somebody holds them; not known dark.
    """
    for _ in range(_ROUNDS):
        try:
            outputs = open_outputs(spec, runtime)
        except LineBusy as busy:
            page = read_slate(runtime / SLATE_NAME)
            pid = busy.pid or (page.pid if page is not None else 0)
            if not _send_away(pid):
                # another hand may be driving it dark at this moment, and be gone at the next
                time.sleep(_PAUSE_SECONDS)
        else:
            _drive_dark(outputs, runtime)
            return True
    return False


def _drive_dark(outputs: dict[str, Outlet], runtime: Path) -> None:
    """Drive the lines dark, note when, and let them go."""
    problems: list[Exception] = []
    for output in outputs.values():
        try:
            output.set(False)
        except HardwareError as problem:
            problems.append(problem)
    try:
        if problems:
            raise LineError(str(problems[0]))
        _note(runtime / SLATE_NAME, time.monotonic_ns())
    finally:
        for output in outputs.values():
            try:
                output.close()
            except HardwareError as problem:
                problems.append(problem)


def _note(path: Path, dark_ns: int) -> None:
    """Write on the slate that the line was dark by `dark_ns`, where it says lit."""
    page = read_slate(path)
    if page is None or not page.lit or page.dark_ns:
        return
    if page.boot != boot_id():
        return  # a light of another boot ended with its power; no moment of this boot says when
    slate = SlateWriter(path)
    slate.write(replace(darkened(page, dark_ns), why="keeper"))
    slate.close()


def _send_away(pid: int) -> bool:
    """Ask the keeper `pid` to go, kill it where it does not, and return whether it is gone.

    A process that is no keeper is left alone.
    """
    try:
        handle = os.pidfd_open(pid)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    try:
        # looked at with the handle held, so that no other process can have taken the number meanwhile
        if not _is_keeper(pid):
            return False
        for ask, seconds in ((signal.SIGTERM, ASK_SECONDS), (signal.SIGKILL, _KILL_SECONDS)):
            signal.pidfd_send_signal(handle, ask)
            if select.select([handle], (), (), seconds)[0]:
                return True
        return False
    except ProcessLookupError:
        return True
    except PermissionError:
        return False
    finally:
        os.close(handle)


def _is_keeper(pid: int) -> bool:
    try:
        words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    except OSError:
        return False
    return KEEPER_MODULE.encode() in words


def main(argv: list[str]) -> int:
    """Darken the lines of a keeper's configuration, given as its JSON; return 0 where they are known dark."""
    try:
        config = json.loads(argv[1])
        known = darken(config["lines"], Path(config["runtime"]))
    except HardwareError as problem:
        print(problem, file=sys.stderr)
        return 1
    except (IndexError, KeyError, ValueError, TypeError) as problem:
        print(f"the lines are not known ({problem}): give a keeper's configuration", file=sys.stderr)
        return 1
    return 0 if known else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv))
