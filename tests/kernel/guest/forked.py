"""Inside the emulated machine: keepers, and whatever else loads much, forked from where their modules are loaded.

A program loads some twenty times as slowly in here as out there, and a keeper would spend nine tenths of its life on
that. What a forked keeper does from its first line on is what a started one does, in a process and a session of its
own, with nothing of its parent's open but its pipes, and it goes by the words that it would be started with. That
keepers start on a kernel's lines is told by the service's. The pin library keeps threads of its own from its import on,
which no fork takes along: it is imported in forked processes alone.
"""

from __future__ import annotations

import ctypes
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import IO, Any, Never

import hardware.keeper.process
import hardware.lines.gpio
import hardware.tether.child
from hardware.slate import KEEPER_MODULE

_PR_SET_MM, _PR_SET_MM_ARG_START, _PR_SET_MM_ARG_END = 35, 8, 9
_words: list[ctypes.Array[ctypes.c_char]] = []
"""What the kernel reads them from."""
assert "lgpio" not in sys.modules, "a keeper forked from here would have the pin library without its threads"


class ForkedKeeper:
    """A keeper process, as `subprocess.Popen` would give it to a tether."""

    def __init__(self, words: list[str], *, stderr: IO[bytes], cwd: Path, env: dict[str, str], **_: object) -> None:
        self.returncode: int | None = None
        sys.stdout.flush()
        their_in, to_them = os.pipe()
        from_them, their_out = os.pipe()
        self.pid = os.fork()
        if self.pid == 0:
            _be_keeper(words, their_in, their_out, stderr.fileno(), cwd, env)
        os.close(their_in)
        os.close(their_out)
        self.stdin, self.stdout = os.fdopen(to_them, "wb", 0), os.fdopen(from_them, "rb", 0)

    def poll(self) -> int | None:
        """Return how it ended, or None."""
        if self.returncode is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.returncode = os.waitstatus_to_exitcode(status)
        return self.returncode

    def wait(self, seconds: float) -> int:
        """Return how it ended.

        Raises:
            subprocess.TimeoutExpired: it has not, in so many seconds.
        """
        end = time.monotonic() + seconds
        while (code := self.poll()) is None:
            if time.monotonic() > end:
                raise subprocess.TimeoutExpired(KEEPER_MODULE, seconds)
            time.sleep(0.005)
        return code

    def send_signal(self, number: int) -> None:
        """Send it a signal, where it has not ended."""
        if self.poll() is None:
            os.kill(self.pid, number)


def _be_keeper(words: list[str], pipe_in: int, pipe_out: int, errors: int, cwd: Path, env: dict[str, str]) -> Never:
    code = 1
    try:
        os.setsid()
        for number, mine in ((0, pipe_in), (1, pipe_out), (2, errors)):
            os.dup2(mine, number)
        os.closerange(3, 1024)
        os.chdir(cwd)
        os.environ.clear()
        os.environ.update(env)
        _go_by(words)
        code = hardware.keeper.process.main(words[words.index(KEEPER_MODULE) :])
    except BaseException:
        sys.excepthook(*sys.exc_info())  # type: ignore[arg-type]
        raise
    finally:
        sys.stderr.flush()
        os._exit(code)


def _go_by(words: list[str]) -> None:
    """Have the kernel tell others these words as the ones that this process was started with."""
    told = b"\0".join(word.encode() for word in words) + b"\0"
    _words.append(ctypes.create_string_buffer(told, len(told)))
    begin = ctypes.addressof(_words[-1])
    for which, place in ((_PR_SET_MM_ARG_START, begin), (_PR_SET_MM_ARG_END, begin + len(told))):
        numbers = map(ctypes.c_ulong, (_PR_SET_MM, which, place, 0, 0))
        if ctypes.CDLL(None, use_errno=True).prctl(*numbers):
            raise OSError(ctypes.get_errno(), "the kernel does not take the words of a forked keeper")


def fork_keepers() -> None:
    """Have the tethers of this process, and of those forked from it, fork their keepers from now on."""
    forking = SimpleNamespace(**{**vars(subprocess), "Popen": ForkedKeeper})
    hardware.tether.child.subprocess = forking  # type: ignore[attr-defined]


def apart(work: Callable[[], Any]) -> Any:
    """Do something in a forked process, and return what it returned, which goes through JSON.

    Raises:
        RuntimeError: it broke; what it said stands in the log.
    """
    told, telling = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            os.write(telling, json.dumps(work()).encode())
            code = 0
        except BaseException:
            sys.excepthook(*sys.exc_info())  # type: ignore[arg-type]
            raise
        finally:
            sys.stderr.flush()
            os._exit(code)
    os.close(telling)
    with os.fdopen(told) as words:
        said = words.read()
    if os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]):
        raise RuntimeError("what was done in a process of its own broke: its last words are in the log")
    return json.loads(said)
