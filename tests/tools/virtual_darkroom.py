"""A whole darkroom in virtual time: its own stores, desk, grammar, keeper core and practice lines, without a thread.

Everything is the daemon's but for what waits: the keeper's process and the runner's thread are played here, one step
after the other, by a clock that is set. So a page may be asked thousands of things in the midst of a light.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import controller.daemon.darkroom as put_together
from controller.daemon.darkroom import Darkroom
from controller.daemon.desk import Desk
from controller.daemon.inbox import Job
from controller.daemon.runner import Runner, Word
from controller.errors import WrongMoment
from controller.foot.status import Status
from controller.model import new_id
from controller.store.folder import DataFolder
from controller.store.lookups import Lookups
from hardware.clock import ManualClock, boot_id
from hardware.errors import KeeperAway
from hardware.fitting import read_fitting
from hardware.keeper.keeper import Keeper
from hardware.light_sensor import SensorGone
from hardware.lines.lines import Lines
from hardware.open_lines import read_spec
from hardware.practice.contact import FOOT, PracticeContact, contact_ring
from hardware.practice.faults import PracticeFault
from hardware.practice.outputs import PracticeLamp, PracticeOutlet, SilentSounder
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.child import KeeperConfig
from hardware.timing import Timing
from hardware.wire import FromKeeper, Greeting, Sounded, Stop, ToKeeper
from hardware.wire_json import encode
from tools.daemon_bench import hurry_trays
from tools.near_unpacker import NearUnpacker

MS = 1_000_000
START_NS = 1_000_000 * MS


class VirtualDarkroom:
    """A darkroom in a folder, whose time goes on by `run` alone. Everything in it is done by the calling thread."""

    def __init__(self, folder: Path, *, ids: int = 1) -> None:
        """`ids` is the seed of the names that things and sheets are given: the same folder is made twice alike."""
        self.clock = ManualClock(START_NS)
        self.cues: list[tuple[int, str]] = []
        self.keeper: VirtualTether
        self.inbox: VirtualInbox
        self._leaving = ExitStack()
        fitting = read_fitting(folder / "data", {"RUNTIME_DIRECTORY": str(folder / "run")}, practice=True)
        self.data, self.runtime = DataFolder(folder / "data"), fitting.runtime
        self.runtime.mkdir(parents=True, exist_ok=True)
        self._leaving.enter_context(patch.object(new_id, "__defaults__", (random.Random(ids).choice,)))
        self._leaving.enter_context(
            patch.multiple(
                put_together,
                MonotonicClock=lambda: self.clock,
                Inbox=self._inbox,
                Unpacker=NearUnpacker,
                Tether=self._tether,
                Lookups=FollowedAtOnce,
                LookOver=NoLookOver,
                Chores=NoChores,
            )
        )
        room = partial(PracticeDarkroom, now=self.clock.now_ns, wait=self._no_wait)
        self._leaving.enter_context(patch("controller.daemon.practice_parts.PracticeDarkroom", room))
        self._leaving.enter_context(patch("controller.daemon.lamp_parts.sensor_of", _no_sensor))
        hurry_trays(self.data.path, "once")
        self.darkroom = Darkroom(self.data, fitting)
        self._leaving.callback(self.darkroom.close)
        try:
            self.darkroom.open()
            self.room = self._leaving.enter_context(PracticeDarkroom(self.runtime, now=self.clock.now_ns))
            self._foot = contact_ring(self.runtime, FOOT)
            self._leaving.callback(self._foot.close)
        except BaseException:
            self._leaving.close()
            raise
        self.run(20)

    @property
    def desk(self) -> Desk:
        return self.darkroom.desk

    @property
    def now_ns(self) -> int:
        return self.clock.now_ns()

    def close(self) -> None:
        self._leaving.close()

    def run(self, ms: float) -> None:
        """Let time pass: the keeper first, then the runner, at each moment at which either has anything to do."""
        until_ns = self.now_ns + round(ms * MS)
        while (due_ns := self._due_ns()) is not None and due_ns <= until_ns:
            self._at(max(due_ns, self.now_ns))
        self._at(until_ns)

    def status(self) -> Status:
        return self.desk.status()

    # ---- foot

    def press(self, ms: float = 35) -> None:
        """Press for so long, and wait until the release is known."""
        for closed, then_ms in ((True, ms), (False, 65)):
            self.room.contact(closed)
            self.run(0)
            self.run(then_ms)

    def foot_edges(self) -> list[tuple[int, bool]]:
        """Return every edge of the foot contact, whoever moved it."""
        return self._foot.since(0)[0]

    # ---- the daemon's own parts, played

    def _due_ns(self) -> int | None:
        dues = (self.keeper.due_ns(), self.inbox.due_ns())
        return min((due for due in dues if due is not None), default=None)

    def _at(self, now_ns: int) -> None:
        self.clock.set(now_ns)
        self.keeper.look(now_ns)
        self.inbox.settle()

    def _inbox(self, clock: ManualClock, broken: Callable[[Exception], None]) -> VirtualInbox:
        self.inbox = VirtualInbox(clock, broken)
        return self.inbox

    def _tether(self, config: KeeperConfig, on_event: Callable[[FromKeeper], None], **_: object) -> VirtualTether:
        def heard(message: FromKeeper) -> None:
            if isinstance(message, Sounded):
                self.cues.append((message.at_ns, str(message.cue)))
            on_event(message)

        self.keeper = VirtualTether(config, heard, self.clock)
        return self.keeper

    def _no_wait(self, _seconds: float) -> None:
        """Let a practice line that waits go on: virtual time is nobody else's to spend."""


@contextmanager
def virtual_darkroom(folder: Path, *, ids: int = 1) -> Iterator[VirtualDarkroom]:
    """Give a darkroom in virtual time, and close it in the end."""
    opened = VirtualDarkroom(folder, ids=ids)
    try:
        yield opened
    finally:
        opened.close()


class VirtualInbox:
    """The runner's inbox without its thread: what is put in is taken as soon as anybody lets it settle."""

    def __init__(self, clock: ManualClock, _broken: Callable[[Exception], None]) -> None:
        self._clock = clock
        self._runner: Runner | None = None
        self._queue: deque[Word | Job] = deque()
        self._settling = False
        self.beat_ns = clock.now_ns()

    def start(self, runner: Runner, first: Callable[[], object] = lambda: None) -> None:
        self._runner = runner
        first()
        self.settle()

    def put(self, word: Word) -> None:
        self._queue.append(word)

    def call(self, work: Callable[[], Any]) -> Future[Any]:
        answer: Future[Any] = Future()
        self._queue.append(Job(work, answer))
        return answer

    def ask(self, work: Callable[[], Any], within_s: float | None = None, *, even_late: bool = False) -> Any:
        del within_s, even_late
        answer = self.call(work)
        self.settle()
        return answer.result(0)

    def close(self) -> None:
        self.settle()

    def due_ns(self) -> int | None:
        return None if self._runner is None else self._runner.due_ns()

    def settle(self) -> None:
        """Take everything in, in order; what is due is done in between."""
        runner = self._runner
        if runner is None or self._settling:
            return
        self._settling = True
        try:
            runner.advance(self._clock.now_ns())
            while self._queue:
                match self._queue.popleft():
                    case Job(work, answer):
                        _do(work, answer)
                    case word:
                        runner.take(word, self._clock.now_ns())
                runner.advance(self._clock.now_ns())
        finally:
            self._settling = False


def _do(work: Callable[[], Any], answer: Future[Any]) -> None:
    try:
        answer.set_result(work())
    except Exception as problem:  # noqa: BLE001 - the answer carries it to whoever asked
        answer.set_exception(problem)


class VirtualTether:
    """The hold on a keeper that lives in this process: its messages pass at once, each checked as for the pipe."""

    _pids = 0

    def __init__(self, config: KeeperConfig, on_event: Callable[[FromKeeper], None], clock: ManualClock) -> None:
        self.config, self._on_event, self._clock = config, on_event, clock
        self._keeper: Keeper | None = None
        self.found: tuple[()] = ()
        self.greeting: Greeting
        self.pulse_ns = 0

    def start(self, meanwhile: Callable[[], object] | None = None) -> Greeting:
        now_ns = self._clock.now_ns()
        VirtualTether._pids += 1
        timing = Timing(**self.config.timing).checked(practice=True)
        lines = practice_lines(self.config, self._clock.now_ns)
        self._keeper = Keeper(lines, timing, None, self._heard, boot_id(), VirtualTether._pids, now_ns=now_ns)
        self._keeper.greet(now_ns)
        if meanwhile is not None:
            meanwhile()
        return self.greeting

    def _heard(self, message: FromKeeper) -> None:
        if isinstance(message, Greeting):
            self.greeting = message
        self._on_event(message)

    def due_ns(self) -> int | None:
        return None if self._keeper is None else self._keeper.due_ns()

    def look(self, now_ns: int) -> None:
        """Go round once."""
        if self._keeper is not None:
            self.pulse_ns = now_ns
            self._keeper.poll(now_ns)
            self._keeper.advance(now_ns)

    def send(self, message: ToKeeper, to: int | None = None) -> None:
        encode(message)
        if self._keeper is None or to not in (None, self.greeting.pid):
            raise KeeperAway("the keeper is away: wait until it is back")
        self._keeper.receive(message, self._clock.now_ns())

    def stop(self, why: str = "page") -> bool:
        if self._keeper is None:
            return False
        self._keeper.receive(Stop(why), self._clock.now_ns())
        return True

    def filed(self) -> None:
        """Nothing was found on a slate."""

    def close(self) -> None:
        if self._keeper is not None:
            keeper, self._keeper = self._keeper, None
            keeper.end("tether", self._clock.now_ns())


def practice_lines(config: KeeperConfig, now: Callable[[], int]) -> Lines:
    """Return the practice lines of a specification on another clock than the machine's."""
    spec = read_spec(config.lines)
    assert spec.runtime is not None
    run, wiring = spec.runtime, spec.wiring
    return Lines(
        True,
        {name: PracticeLamp(run, name, now=now, wait=_go_on) for name in wiring.lamps},
        PracticeContact(run, FOOT, now=now, wait=_go_on),
        SilentSounder() if wiring.sounder is not None else None,
        outlets={name: PracticeOutlet(run, name, now=now, wait=_go_on) for name in wiring.outlets},
    )


OF_A_PROCESS = frozenset(
    {
        PracticeFault.KEEPER_HANGS,
        PracticeFault.LAMP_LINE_FAILS,
        PracticeFault.LAMP_LINE_SLOW,
        PracticeFault.OUTLET_FAILS,
    }
)
"""What ends or holds up a keeper's process: there is none here."""


def _go_on(_seconds: float) -> None:
    raise AssertionError("a practice line would have its keeper hang: no such fault is switched in virtual time")


class FollowedAtOnce(Lookups):
    """Follows all there is as soon as it is begun, instead of in a thread."""

    def start(self, busy: Callable[[], bool]) -> None:
        del busy
        while not self.follow():
            pass


class NoLookOver:
    """No look over, which would start processes of its own."""

    def __init__(self, *_: object) -> None:
        pass

    def start(self) -> None:
        pass

    def stop(self) -> None:
        pass

    def sentences(self) -> Sequence[str]:
        return ()


class NoChores(NoLookOver):
    """No nightly backup, and none that is asked for: virtual time has no thread for it."""

    failed = ""

    def ask(self, *_: object) -> None:
        raise WrongMoment("Nothing is backed up or taken out in virtual time.")

    def back_up(self) -> None:
        raise AssertionError("nobody runs it")

    give_way = back_up

    def under_way(self) -> str:
        return ""

    def due(self) -> dict[str, object]:
        return {}


def _no_sensor(*_: object) -> None:
    raise SensorGone("there is no light sensor in virtual time")
