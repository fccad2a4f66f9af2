"""The keeper's process: its pipes, its priority, its signals, and the loop.

Started as `python -P -m hardware.keeper.process CONFIG_JSON`, where CONFIG_JSON is {"lines": the specification for
`hardware.open_lines.open_lines`, "timing": fields of `Timing` that differ from the default, "runtime": the
directory of the slate} and, where wanted, "spin": false (exact deadlines are slept, not spun),
"steps_with_lid_open": true and "safelight": "dark while lit". It imports everything, then waits for the line "wake" on
its standard input: a keeper that has not been woken is a spare one and has touched no line. Its end of the standard
input is its daemon's end.

It leaves with 0 where it was told to or its daemon ended, with 1 where it failed (dark, all the same), with 2 where
CONFIG_JSON is no good, and with 3 where a line or the slate cannot be had.
"""

from __future__ import annotations

import ctypes
import gc
import importlib
import json
import os
import resource
import signal
import sys
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Final

from hardware.clock import SPIN_NS, Clock, MonotonicClock, boot_id
from hardware.errors import HardwareError, LineError, WireError
from hardware.keeper.keeper import Keeper
from hardware.lines.contacts import descriptors
from hardware.lines.lines import Lines
from hardware.open_lines import open_lines, read_spec
from hardware.slate import SLATE_NAME, SlateWriter
from hardware.timing import Timing
from hardware.wire import FromKeeper, Trouble, What
from hardware.wire_json import LONGEST_LINE, decode, encode

_PRIORITY: Final = 50
_LOOK_FIRST_NS: Final = 250_000
"""So long before a light's end the foot is looked at, so that looking does not make the light longer."""
_NO_DESCRIPTOR_NS: Final = 5_000_000
"""A contact that cannot ring is looked at this often."""
SAFELIGHTS: Final = ("on", "dark while lit")
"""What the safelight may do while a lamp is lit."""
_NEEDED: Final = {
    "practice": ("hardware.practice.contact", "hardware.practice.outputs"),
    "gpio": ("hardware.lines.gpio",),
}
"""What opening the lines will import: a spare keeper has it done already."""
_PR_SET_TIMERSLACK: Final = 29
_MCL_CURRENT, _MCL_FUTURE = 1, 2


@dataclass(frozen=True, slots=True)
class Config:
    """What a keeper is started with; no message changes any of it."""

    lines: Mapping[str, object]
    timing: Timing
    runtime: Path
    spin: bool = True
    steps_with_lid_open: bool = False
    safelight: str = SAFELIGHTS[0]
    """One of `SAFELIGHTS`."""

    @classmethod
    def read(cls, text: str) -> Config:
        """Return the configuration of its JSON text.

        Raises:
            HardwareError: says what is wrong with it.
        """
        try:
            body = json.loads(text)
        except ValueError as problem:
            raise HardwareError(f"the keeper's configuration is no JSON: {problem}") from None
        if not isinstance(body, dict) or not {"lines", "runtime"} <= set(body) <= {f.name for f in fields(cls)}:
            raise HardwareError("the keeper's configuration must have lines and runtime, and knows timing and spin")
        lines, timing, runtime = body["lines"], body.get("timing", {}), body["runtime"]
        if not isinstance(lines, dict) or not isinstance(timing, dict) or not isinstance(runtime, str):
            raise HardwareError("the keeper's configuration: lines and timing are objects, runtime is a folder")
        spans = {f.name for f in fields(Timing)}
        if wrong := [name for name, value in timing.items() if name not in spans or type(value) is not int]:
            raise HardwareError(f"the keeper's timing: {', '.join(sorted(wrong))} cannot be set so")
        spin, with_lid_open = body.get("spin", True), body.get("steps_with_lid_open", False)
        if type(spin) is not bool or type(with_lid_open) is not bool:
            raise HardwareError("the keeper's configuration: spin and steps_with_lid_open are true or false")
        checked = Timing(**timing).checked(practice=lines.get("kind") == "practice")
        safelight = body.get("safelight", SAFELIGHTS[0])
        if safelight not in SAFELIGHTS:
            raise HardwareError(f"the keeper's configuration: safelight is {' or '.join(map(repr, SAFELIGHTS))}")
        return cls(lines, checked, Path(runtime), spin, with_lid_open, safelight)


class PipeIn:
    """The daemon's messages, line by line."""

    def __init__(self, fd: int) -> None:
        self.fd = fd
        self.ended = False
        self._rest = b""
        os.set_blocking(fd, False)

    def lines(self) -> list[bytes]:
        """Return the lines that have come; one that is too long comes in unreadable pieces."""
        try:
            chunk = os.read(self.fd, 1 << 16)
        except BlockingIOError:
            return []
        self.ended = not chunk
        *lines, self._rest = (self._rest + chunk).split(b"\n")
        if len(self._rest) > LONGEST_LINE:
            self._rest = b""
            lines.append(b"")
        return lines


class PipeOut:
    """The way to the daemon. It never waits."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self.gone = False
        """Nobody holds the other end any more."""
        self._rest = b""
        os.set_blocking(fd, False)

    def send(self, message: FromKeeper) -> None:
        """Write the message in one piece.

        Raises:
            BlockingIOError: it has no space; the message is not sent.
        """
        try:
            while self._rest:
                self._rest = self._rest[os.write(self._fd, self._rest) :]
            line = encode(message)
            self._rest = line[os.write(self._fd, line) :]
        except BrokenPipeError:
            self.gone = True


def main(argv: list[str]) -> int:
    """Be a spare keeper, then the keeper; return the exit code."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        config = Config.read(argv[1] if len(argv) == 2 else "")
    except HardwareError as problem:
        print(f"keeper: {problem}", file=sys.stderr)
        return 2
    _import_ahead(config.lines)
    # the threads of lines and sounder inherit the priority: none of them may keep the interpreter from the loop
    fifo, locked = _hurry(), _lock_memory()
    gc.freeze()
    clock = MonotonicClock(spin_ns=SPIN_NS if config.spin else 0)
    pipe_in, pipe_out = PipeIn(sys.stdin.fileno()), PipeOut(sys.stdout.fileno())
    told = _wait_for_waking(pipe_in, clock)
    if told is None:
        return 0
    terminated, wakeup = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)
    signal.set_wakeup_fd(wakeup)
    signal.signal(signal.SIGTERM, _heard)
    try:
        lines = open_lines(config.lines)
        lines.dark()
        keeper = _keeper(config, lines, pipe_out, clock)
    except (HardwareError, OSError, ExceptionGroup) as problem:  # a group where lamp lines fail together
        pipe_out.send(Trouble(What.LINES, clock.now_ns()))
        each = problem.exceptions if isinstance(problem, ExceptionGroup) else (problem,)
        print("keeper:", "; ".join(str(one) for one in each), file=sys.stderr)
        return 3
    why = "fault"
    try:
        keeper.greet(clock.now_ns(), scheduling="fifo" if fifo else "other", locked=locked)
        for line in told:
            _hear(keeper, line, clock)
        why = _loop(keeper, lines, pipe_in, pipe_out, clock, terminated)
    finally:
        keeper.end(why, clock.now_ns())
    return 0


def _import_ahead(lines: Mapping[str, object]) -> None:
    """Import what opening the lines will; what is missing is for the opening to say."""
    with suppress(LineError):
        spec = read_spec(lines)
        for module in _NEEDED["gpio" if spec.runtime is None else "practice"]:
            importlib.import_module(module)
        if spec.factory == "lgpio":
            with suppress(LineError, ImportError):
                importlib.import_module("hardware.lines.chip").load_lgpio()
                importlib.import_module("hardware.lines.lgpio_pin")
        if spec.runtime is None and spec.wiring.pedals:
            with suppress(ImportError):
                importlib.import_module("evdev")


def _keeper(config: Config, lines: Lines, pipe_out: PipeOut, clock: Clock) -> Keeper:
    try:
        slate = SlateWriter(config.runtime / SLATE_NAME)
        return Keeper(
            lines,
            config.timing,
            slate,
            pipe_out.send,
            boot_id(),
            os.getpid(),
            now_ns=clock.now_ns(),
            steps_with_lid_open=config.steps_with_lid_open,
            safelight_dark_while_lit=config.safelight == SAFELIGHTS[1],
        )
    except BaseException:
        lines.close()
        raise


def _wait_for_waking(pipe_in: PipeIn, clock: Clock) -> list[bytes] | None:
    """Return what was said along with the waking, or None where the daemon has no use for this keeper."""
    while not pipe_in.ended:
        clock.wait([pipe_in.fd], None)
        if lines := pipe_in.lines():
            return lines[1:] if lines[0] == b"wake" else None
    return None


def _loop(keeper: Keeper, lines: Lines, pipe_in: PipeIn, pipe_out: PipeOut, clock: Clock, terminated: int) -> str:
    """Go round until there is a reason to end, and return it in the words of `wire.Dark`."""
    rings = [fd for contact in (lines.foot, lines.lid) if contact is not None for fd in descriptors(contact)]
    fds = [pipe_in.fd, terminated, *(fd for fd in rings if fd is not None)]
    while not pipe_out.gone:
        keeper.advance(clock.now_ns())
        (gc.disable if keeper.lit else gc.enable)()
        due_ns, exact = keeper.due_ns(), keeper.exact_due()
        if None in rings:
            look_ns = clock.now_ns() + _NO_DESCRIPTOR_NS
            due_ns = look_ns if due_ns is None else min(due_ns, look_ns)
        # a lamp coming on is preceded by the look at the foot; one going out is not: a foot takes 25 ms to be known
        early_ns = _LOOK_FIRST_NS if exact and keeper.lit else 0
        ready = clock.wait(fds, None if due_ns is None else due_ns - early_ns, exact=exact)
        if terminated in ready:
            return "keeper"
        keeper.poll(clock.now_ns())
        if early_ns and not ready:
            clock.wait((), due_ns, exact=True)
            continue
        if pipe_in.fd in ready:
            for line in pipe_in.lines():
                _hear(keeper, line, clock)
            if pipe_in.ended:
                return "tether"
    return "tether"


def _hear(keeper: Keeper, line: bytes, clock: Clock) -> None:
    try:
        message = decode(line)
    except WireError:
        keeper.unreadable(clock.now_ns())
    else:
        keeper.receive(message, clock.now_ns())


def _heard(_signal: int, _frame: object) -> None:
    """Let the wake-up pipe tell the loop."""


def _hurry() -> bool:
    """Ask for short timers, and for real-time priority for every thread; return whether the priority was granted."""
    ctypes.CDLL(None).prctl(_PR_SET_TIMERSLACK, 1, 0, 0, 0)
    try:
        # a pin library has its threads from the moment it is imported
        for thread in os.listdir("/proc/self/task"):  # noqa: PTH208 - names are all that is wanted
            os.sched_setscheduler(int(thread), os.SCHED_FIFO, os.sched_param(_PRIORITY))
    except PermissionError:
        return False
    return True


def _lock_memory() -> bool:
    """Keep this process in memory; return whether that was granted."""
    # under a limit, locking what is yet to come would make later allocations fail
    unlimited = resource.getrlimit(resource.RLIMIT_MEMLOCK)[0] == resource.RLIM_INFINITY or os.geteuid() == 0
    flags = _MCL_CURRENT | (_MCL_FUTURE if unlimited else 0)
    return bool(ctypes.CDLL(None).mlockall(flags) == 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv))
