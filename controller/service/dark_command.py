"""`treadle dark`: the lamp line driven dark without the daemon; nothing heavy is imported, no words are looked up."""

from __future__ import annotations

import argparse
import os
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Final

from hardware.dark import darken
from hardware.errors import HardwareError
from hardware.fitting import default_data, not_its_own, read_fitting, runtime_of

TRIED_NAME: Final = "starts-tried"
"""In the runtime folder: how many starts of the service have come to nothing, one after the other."""
BY_HAND: Final = "The lamp line is not known to be dark: switch the lamp off at its own switch."
_AGAIN_SECONDS: Final = 1.0
_MOST_PATIENCE: Final = 3600.0
_AT_ONCE: Final = 3
"""So many starts are tried one after the other; each further one waits twice as long as the one before."""
_LONGEST_SECONDS: Final = 20.0
"""A start's own time limit has room for it beside the patience."""
_AGAIN_WORDS: Final = (
    "Dark. Treadle did not come up {tried} times: journalctl -u treadle -e. It is tried again in {s:g} s."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Give the command's parser what may be said."""
    parser.add_argument("--simulate", action="store_true", help="the practice darkroom's lamp, without any hardware")
    parser.add_argument("--data", type=Path, default=None, help="the folder of your recipes and sheets")
    parser.add_argument(
        "--patience",
        type=_patience,
        default=0.0,
        metavar="SECONDS",
        help="try every second for so long before giving up",
    )
    parser.add_argument(
        "--back-off", action="store_true", help="dark, then wait longer each time after starts that came to nothing"
    )


def _patience(text: str) -> float:
    """Return seconds that come to an end; argparse makes the sentence."""
    try:
        seconds = float(text)
    except ValueError:
        seconds = -1.0
    if not 0.0 <= seconds <= _MOST_PATIENCE:  # a not-a-number is refused too
        raise argparse.ArgumentTypeError(f"“{text}” must be a number of seconds from 0 to {_MOST_PATIENCE:g}")
    return seconds


def run(args: argparse.Namespace) -> int:
    """Drive the line dark; return 0 where it is known to be so, else 1.

    With patience it is tried each second, and why it cannot be is said once, and again only where it has changed: a
    service that waits for somebody to mend a wire fills no journal.
    """
    until = time.monotonic() + args.patience
    said: str | None = None
    while (why := _why_not(args)) is not None:
        if why != said:
            with suppress(OSError):  # that nobody hears it is no reason to try no more
                sys.stderr.write(f"{why}\n{BY_HAND}\n".lstrip())
                sys.stderr.flush()
            _tell_manager(BY_HAND)
            said = why
        if time.monotonic() + _AGAIN_SECONDS > until:
            return 1
        time.sleep(_AGAIN_SECONDS)
    tried = _tried_file(args.data or default_data(os.environ, practice=args.simulate))
    if os.environ.get("SERVICE_RESULT") == "success":
        came_up(tried)  # somebody has stopped it: the next start is at once
    if args.back_off:
        _back_off(tried)
    return 0


def came_up(tried: Path) -> None:
    """Forget how many starts came to nothing; `tried` is the file that counts them."""
    with suppress(OSError):
        tried.unlink(missing_ok=True)


def _tried_file(data: Path) -> Path:
    return runtime_of(data, os.environ) / TRIED_NAME


def _back_off(file: Path) -> None:
    """Count a start, and rest where many came to nothing: the lamp is dark, and nobody is helped by a full journal."""
    try:
        tried = int(file.read_text("ascii"))
    except (OSError, ValueError):
        tried = 0
    with suppress(OSError):
        file.write_text(f"{tried + 1}", "ascii")
    if tried >= _AT_ONCE:
        seconds = min(_LONGEST_SECONDS, 2.0 ** min(tried - _AT_ONCE, 10))
        _tell_manager(_AGAIN_WORDS.format(tried=tried, s=seconds))
        time.sleep(seconds)


def _why_not(args: argparse.Namespace) -> str | None:
    """Try once; return why the line is not known dark, empty where nobody said, None where it is."""
    try:
        data = args.data or default_data(os.environ, practice=args.simulate)
        fitting = read_fitting(data, os.environ, practice=args.simulate, outputs_only=True)
        return None if darken(fitting.lines, fitting.runtime) else ""
    except PermissionError as problem:
        return not_its_own(problem)
    except OSError as problem:
        return f"{problem.filename or 'a file'}: {problem.strerror}. Look at its card and at who may read it."
    except HardwareError as problem:
        return str(problem)
    except Exception as problem:  # noqa: BLE001 - the thread's top: whatever went wrong, the last sentence is said
        return f"{type(problem).__name__}: {problem}"


def _tell_manager(words: str) -> None:
    if "NOTIFY_SOCKET" in os.environ:
        from controller.service.systemd import Notifier

        Notifier().say_last(f"STATUS={words}")
