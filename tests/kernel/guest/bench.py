"""Inside the emulated machine: the lines of one darkroom, a tether on them, and what a scene notes for its judge."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final, Never

from kernel.guest.sim import Header, Trace
from tools.tether_bench import Ear, order

import hardware.tether
from hardware.tether.child import KeeperConfig
from hardware.tether.events import Event
from hardware.tether.tether import Tether
from hardware.wire import Lit

LAMP, FOOT, SOUNDER, LID = 17, 27, 18, 23
MS: Final = 1_000_000
SHORT_MS: Final = 20
"""A span that is not slept but spun."""
SLOW_NS: Final = 4 * MS
_HAND: Final = 60
"""A foot waits for no program."""
PATIENCE_NS: Final = 60_000 * MS
"""How long a keeper may take to come up here, and to take over: emulated on a busy machine it is far slower."""
hardware.tether.tether.START_NS = hardware.tether.tether.DARK_NS = PATIENCE_NS  # type: ignore[misc]
AHEAD_MS: Final = 300
"""Emulated, everything takes ten times as long: an order must not have passed when it arrives."""


def lines(
    *, sounder: bool = False, lid: bool = False, pedals: Sequence[str] = (), **outlets: object
) -> dict[str, object]:
    """Return the specification of real lines on the simulated chip, which is found by its label."""
    wiring = {"lamp": {"pin": LAMP}, "foot": {"pin": FOOT, "pedals": [*pedals]}, **outlets}
    wiring |= ({"sounder": {"pin": SOUNDER}} if sounder else {}) | ({"lid": {"pin": LID}} if lid else {})
    return {"kind": "gpio", "factory": "lgpio", "wiring": wiring}


def _tether(config: KeeperConfig, hear: Callable[[Event], object], *, spare: bool) -> Tether:
    tether = Tether(config, hear)
    if not spare:
        tether._spare.give_up()
    return tether


def _be_lit(config: KeeperConfig, telling: int) -> Never:
    """In the forked process: have a keeper light the lamp, tell of both, and wait to be killed."""
    lit = threading.Event()
    try:
        with _tether(config, lambda event: lit.set() if isinstance(event, Lit) else None, spare=False) as tether:
            os.write(telling, b"%d\n" % tether.greeting.pid)
            tether.send(order(30_000, ahead_ms=AHEAD_MS))
            if lit.wait(PATIENCE_NS / 1e9):
                os.write(telling, b"Lit\n")
                os.close(telling)
                time.sleep(60)
    finally:
        os._exit(1)


@dataclass
class Bench:
    """What every scene has at hand. `note` what a judge needs beside the trace."""

    header: Header
    trace: Trace
    folder: Path
    notes: dict[str, Any]
    moved: list[tuple[int, int]] = field(default_factory=list)
    """Of each move of the foot: the moments before and after it."""

    def note(self, **what: Any) -> None:
        self.notes.update(what)

    def config(self, name: str, **fitted: Any) -> KeeperConfig:
        """Return what a keeper is started with, in a data folder whose wiring file names the same lamp and foot."""
        runtime = self.folder / name / "run"
        runtime.mkdir(parents=True)
        (runtime.parent / "wiring.toml").write_text(f"[lamp]\npin = {LAMP}\n\n[foot]\npin = {FOOT}\n")
        return KeeperConfig(lines(**fitted), runtime)

    @contextmanager
    def tether(self, name: str, *, spare: bool = False, **fitted: Any) -> Iterator[tuple[Tether, Ear]]:
        """Give a tether with a keeper on the lines, and the ear that takes its events; they are noted in the end.

        A spare keeper, which sleeps until the first is lost, is there where a scene loses one.
        """
        ear = Ear()
        try:
            with _tether(self.config(name, **fitted), ear, spare=spare) as tether:
                yield tether, ear
        finally:
            self.note(events=[{"event": type(event).__name__, **asdict(event)} for event in ear.events])

    @contextmanager
    def lit_daemon(self, config: KeeperConfig) -> Iterator[tuple[int, int]]:
        """Give a process whose tether's keeper has just lit the lamp, as a daemon's has, and that keeper; kill it then.

        It is forked rather than started: what it needs is loaded here already.
        """
        told, telling = os.pipe()
        parent = os.fork()
        if parent == 0:
            _be_lit(config, telling)
        os.close(telling)
        keeper = 0
        try:
            with os.fdopen(told) as words:
                keeper = int(words.readline())
                assert words.readline() == "Lit\n"
            yield parent, keeper
        finally:
            os.kill(parent, signal.SIGKILL)
            os.waitpid(parent, 0)
            if keeper:
                with suppress(ProcessLookupError):
                    os.kill(keeper, signal.SIGCONT)  # one that was left standing still sees its pipe's end

    def wait_for_spare(self, tether: Tether, seconds: float = 20.0) -> None:
        """Wait until the keeper that would take over has its imports done, and sleeps."""
        end = time.monotonic() + seconds
        while not self._asleep(tether) and time.monotonic() < end:
            time.sleep(0.05)

    def _asleep(self, tether: Tether) -> bool:
        spare = tether._spare.child
        if spare is None:
            return False
        # a spare raises its priority when its imports are done
        return os.sched_getscheduler(spare.pid) == os.SCHED_FIFO

    def light(self, tether: Tether, lit_ms: int = 60_000, *, foot_seq: int = 0) -> None:
        """Have the lamp lit."""
        tether.send(order(lit_ms, foot_seq=foot_seq, ahead_ms=AHEAD_MS))
        self.trace.wait_set(LAMP, 1)

    def move_foot(self, moves: list[tuple[bool, float]]) -> list[tuple[int, bool]]:
        """Close and open the foot contact, each for at least so many ms; return each move and the moment before it."""
        made: list[tuple[int, bool]] = []
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_HAND))  # of this thread
        for closed, ms in moves:
            made.append((time.monotonic_ns(), closed))
            self.header.pull(FOOT, high=not closed)
            end = time.monotonic_ns() + round(ms * MS)
            self.moved.append((made[-1][0], time.monotonic_ns()))
            if ms > SHORT_MS:
                time.sleep(ms / 1000)
            while time.monotonic_ns() < end:
                pass
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
        return made

    def moved_fast(self) -> bool:
        """Tell whether none of the moves took longer than a contact's own bounce."""
        return all(after - before < SLOW_NS for before, after in self.moved)

    def press(self, ms: float = 150) -> int:
        """Press the foot switch for so long; return a moment just before its first contact, which marks enclose."""
        at = self.trace.mark("press")
        self.header.close_contact(FOOT)
        self.trace.mark("pressed")
        time.sleep(ms / 1000)
        self.header.open_contact(FOOT)
        time.sleep(0.07)
        return at
