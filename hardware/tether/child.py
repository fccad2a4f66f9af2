"""One keeper process seen from the daemon: its pipe, its pulse, and its end; and the spare that waits beside it.

Started with `subprocess` alone: a forked sibling of the daemon would hold the dead-man pipe open.
"""

from __future__ import annotations

import json
import logging
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final, cast

from hardware.clock import Clock
from hardware.errors import KeeperAway, WireError
from hardware.slate import KEEPER_MODULE, SLATE_NAME
from hardware.wire import PROTOCOL, FromKeeper, Greeting
from hardware.wire_json import decode

_log = logging.getLogger(__name__)

ERRORS_NAME: Final = "keeper.err"
"""What the keepers of this daemon said on standard error, in the runtime directory."""

_ROOT: Final = Path(__file__).resolve().parent.parent.parent
_READ: Final = 65_536
_KILL_SECONDS: Final = 1.0
_DARK_SECONDS: Final = 6.0
_SAID_NS: Final = 100_000_000
"""What a keeper has said while something else was done is read within this."""
_PAUSE_NS: Final = 2_000_000_000
"""After a spare that could not be started, or ended by itself, another is tried this much later."""
DARK_MODULE: Final = "hardware.dark"
"""Run as `python -P -m DARK_MODULE CONFIG_JSON`; leaves with 0 where the line is known dark."""


@dataclass(frozen=True, slots=True)
class KeeperConfig:
    """What a keeper is started with, and no message changes.

    `lines` is the specification for `hardware.open_lines.open_lines`, `timing` the fields of `Timing` that differ
    from the default, `runtime` the folder (absolute, in memory where there is one) of slate and practice lines.
    """

    lines: Mapping[str, object]
    runtime: Path
    timing: Mapping[str, int] = field(default_factory=dict)
    spin: bool = True
    steps_with_lid_open: bool = False
    safelight: str = "on"
    """Or "dark while lit", so that the projected picture can be seen."""

    @property
    def slate(self) -> Path:
        """Where the slate lies."""
        return self.runtime / SLATE_NAME

    def json(self) -> str:
        """Return the text that the keeper process takes as its one argument."""
        return json.dumps({**asdict(self), "runtime": str(self.runtime)}, separators=(",", ":"))

    def environment(self) -> dict[str, str]:
        """Return all that a keeper sees of the daemon's environment."""
        return {"PYTHONPATH": str(_ROOT), "LG_WD": str(self.runtime)}


@dataclass(frozen=True, slots=True)
class FirstWords:
    """A new keeper's greeting, and what it said beside it."""

    greeting: Greeting
    more: tuple[FromKeeper, ...]


class Child:
    """A keeper process: asleep as a spare until it is woken, then at the other end of a pipe."""

    def __init__(self, config: KeeperConfig) -> None:
        """Start it; it imports what it needs, touches no line, and waits to be woken.

        Raises:
            KeeperAway: the process cannot be started.
        """
        self._errors = config.runtime / ERRORS_NAME
        try:
            with self._errors.open("ab") as errors:
                self._said = errors.tell()
                self._process: subprocess.Popen[bytes] = subprocess.Popen(
                    [sys.executable, "-P", "-m", KEEPER_MODULE, config.json()],
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=errors,
                    bufsize=0,
                    cwd=config.runtime,
                    env=config.environment(),
                    start_new_session=True,
                    close_fds=True,
                )
        except OSError as problem:
            raise KeeperAway(
                f"the keeper cannot be started ({problem}): look at {config.runtime} and at free memory"
            ) from problem
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._in, self._out = self._process.stdin, self._process.stdout
        os.set_blocking(self._in.fileno(), False)
        os.set_blocking(self._out.fileno(), False)
        self._rest = b""

    @property
    def pid(self) -> int:
        """The process id."""
        return self._process.pid

    def fileno(self) -> int:
        """Return the descriptor that can be read when it has said something, or has ended."""
        return self._out.fileno()

    def wake(
        self, clock: Clock, within_ns: int, wakeup: int, meanwhile: Callable[[], object] | None = None
    ) -> FirstWords | None:
        """Let a spare take the lines, and return its first words, or None where it does not greet in time.

        What can be read at the descriptor `wakeup` ends the wait. What is to be done `meanwhile` is done first, and
        may take its time: what the keeper has said by then counts, however late.

        Raises:
            KeeperAway: it does not take the word.
        """
        self.write(b"wake\n")
        until = clock.now_ns() + within_ns
        if meanwhile is not None:
            meanwhile()
            until = max(until, clock.now_ns() + _SAID_NS)
        heard: list[FromKeeper] = []
        while clock.now_ns() < until:
            ready = clock.wait([self.fileno(), wakeup], until)
            lines, ended = self.read()
            try:
                heard += (cast(FromKeeper, decode(line)) for line in lines)
            except WireError as problem:
                _log.warning("a new keeper said what is no message: %s", problem)
                return None
            for event in heard:
                if isinstance(event, Greeting) and event.protocol == PROTOCOL:
                    return FirstWords(event, tuple(other for other in heard if other is not event))
            if ended or wakeup in ready:
                return None
        return None

    def write(self, data: bytes) -> None:
        """Write one message, whole, without waiting.

        Raises:
            KeeperAway: it has ended, or has not read for so long that the pipe is full. What had to be cut
                short is followed by its end: half a message must not be left for the next to complete.
        """
        try:
            written = os.write(self._in.fileno(), data)
        except (OSError, ValueError) as problem:
            raise KeeperAway(f"the keeper does not take messages ({problem}): wait until it is back") from problem
        if written != len(data):
            self.kill()
            raise KeeperAway("the keeper does not take messages (pipe full): wait until it is back")

    def read(self) -> tuple[list[bytes], bool]:
        """Return the whole lines that wait, and whether it will never say more."""
        lines: list[bytes] = []
        while True:
            try:
                data = os.read(self._out.fileno(), _READ)
            except BlockingIOError:
                return lines, False
            if not data:
                return lines, True
            *whole, self._rest = (self._rest + data).split(b"\n")
            lines += whole

    def kill(self) -> None:
        """Kill it, at once; the reader sees its end."""
        self._process.send_signal(signal.SIGKILL)

    def end(self) -> None:
        """Close the pipe to it: a keeper goes dark and ends, a spare ends."""
        self._in.close()

    def reap(self, seconds: float) -> bool:
        """Wait for its end, and tell whether it ended in time."""
        try:
            self._process.wait(seconds)
        except subprocess.TimeoutExpired:
            return False
        return True

    @property
    def ended_well(self) -> bool:
        """Whether it has ended as it should: of a keeper that means dark."""
        return self._process.returncode == 0

    def close(self) -> None:
        """Kill it if it still runs, wait for its end, and let its pipes go; closing twice does nothing."""
        if self._process.poll() is None:
            self.kill()
            self.reap(_KILL_SECONDS)
        self._in.close()
        self._out.close()

    def last_words(self) -> str:
        """Return the last line it left on standard error, empty where there is none."""
        try:
            with self._errors.open("rb") as file:
                file.seek(self._said)
                said = file.read(_READ).decode(errors="replace").strip()
        except OSError:
            return ""
        # a traceback of several errors ends in a drawn frame
        words = [line.strip(" |+-") for line in said.splitlines()]
        return next((line for line in reversed(words) if line), "")


def darken_apart(config: KeeperConfig) -> bool:
    """Drive the lines dark from a process of its own, no keeper needed; return whether they are known dark."""
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-m", DARK_MODULE, config.json()],
            cwd=config.runtime,
            env=config.environment(),
            stdin=subprocess.DEVNULL,
            timeout=_DARK_SECONDS,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as problem:
        _log.warning("the lines could not be driven dark: %s", problem)
        return False
    return done.returncode == 0


class Spare:
    """The one spare keeper that there is to be: its imports done, its lines untouched. The tether's thread's alone."""

    def __init__(self, config: KeeperConfig, clock: Clock) -> None:
        self._config, self._clock = config, clock
        self._due_ns: int | None = 0
        """When the next is to be started; None where there is to be none any more."""
        self._ended: str | None = None
        """The last words of one that ended by itself, until they are told."""
        self.child: Child | None = None

    def start(self, now_ns: int) -> None:
        """Start one, where there is none and one is due."""
        if self.child is not None or self._due_ns is None or now_ns < self._due_ns:
            return
        if self._ended is not None:
            _log.warning("the spare keeper ended: %s", self._ended)
            self._ended = None
        try:
            self.child = Child(self._config)
        except KeeperAway as problem:
            _log.warning("no spare keeper: %s", problem)
            self._due_ns = self._clock.now_ns() + _PAUSE_NS

    def look(self) -> None:
        """Take note of one that has ended by itself; it is told when the next is due, for all may be ending."""
        if self.child is not None and self.child.read()[1]:
            self._ended = self.child.last_words()
            self.child.close()
            self.child = None
            self._due_ns = self._clock.now_ns() + _PAUSE_NS

    def take(self) -> Child | None:
        """Return the spare, to be woken or let go, where there is one; the next is due at once."""
        child, self.child = self.child, None
        self._due_ns = self._clock.now_ns()
        return child

    def give_up(self) -> None:
        """Let it go, and start none any more."""
        child = self.take()
        self._due_ns = None
        if child is not None:
            child.close()
