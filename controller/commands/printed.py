"""What a command is told, and where what it prints goes.

A reader that closes early is no mistake of the command's, a full card is said, and bad words are one sentence.

Imports nothing heavy, since `treadle dark` comes through here as well.
"""

from __future__ import annotations

import argparse
import os
import sys
from contextlib import suppress
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TextIO

from controller.errors import ControllerError

if TYPE_CHECKING:
    from controller.model import Frozen

_ESCAPED: Final = "backslashreplace"
"""“−” on a terminal that has none becomes \\u2212: no sign is lost."""


def steady() -> None:
    """Make the three streams fit to use, whatever the command was started with.

    A stream that was closed by whoever started it reads or writes nothing, and a terminal that lacks a character is
    told it by its number.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115 - as long as the process
        elif name == "stdout" and isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors=_ESCAPED)


def tell(*lines: str) -> None:
    """Print lines. A reader that has closed early, as `head` does, has read what it wanted.

    Raises:
        ControllerError: they could not be written; the sentence says why.
    """
    try:
        sys.stdout.write("".join(f"{line}\n" for line in lines))
        sys.stdout.flush()
    except BrokenPipeError:
        _silence(sys.stdout)
    except OSError as problem:
        from controller.words import say

        _silence(sys.stdout)
        raise ControllerError(say("command.not-printed", detail=problem.strerror)) from problem


def tell_json(answer: Frozen) -> None:
    """Print an answer as JSON, in plain ASCII where UTF-8 would not do; raises as `tell`.

    It would not do where the other side reads something else, or for the name of a file that is no UTF-8 itself.
    """
    encoding = (sys.stdout.encoding or "utf-8").lower().replace("_", "-")
    try:
        text = answer.model_dump_json(indent=1)
    except ValueError:
        text = ""
    if not text or encoding not in ("utf-8", "utf8"):
        import json

        text = json.dumps(answer.model_dump(mode="json"), indent=1)
    tell(text)


def complain(sentence: str) -> None:
    """Say on standard error what is wrong, in one line; where nobody hears it, the exit status still says it."""
    line = "".join(each if each.isprintable() else "·" for each in sentence)
    with suppress(OSError):
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()


class Parser(argparse.ArgumentParser):
    """Says what is wrong with the command line in one sentence."""

    def error(self, message: str) -> Any:
        """End with status 2 and the sentence."""
        complain(f"{message}; see “{self.prog} --help”")
        raise SystemExit(2)

    def _get_values(self, action: argparse.Action, arg_strings: list[str]) -> Any:
        if arg_strings == ["--"] and action.option_strings:  # “--soft=--”: Python 3.11 makes an empty list of it
            self.error(f"argument {'/'.join(action.option_strings)}: “--” is no value")
        return super()._get_values(action, arg_strings)


def settle() -> None:
    """Write out what is still to be written, so that Python has nothing to complain of when it ends."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            _silence(stream)


def _silence(stream: TextIO) -> None:
    """Let what a stream still holds go nowhere."""
    with suppress(OSError, ValueError):  # a stream without a file has nobody to close it
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
