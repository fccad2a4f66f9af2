"""The daemon under a service manager: when it says that it is ready, well, and stopping. Real processes."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import pairwise
from pathlib import Path

import pytest
from tools.patience import line_from
from tools.tether_bench import until

from controller.service.systemd import FRESH_NS, Notifier
from hardware.practice.outputs import PracticeLamp
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Tether

pytestmark = pytest.mark.usefixtures("by_real_time")

TESTS = Path(__file__).resolve().parents[1]
WATCHDOG_SECONDS = 1.2
FED_SECONDS = WATCHDOG_SECONDS / 4
BEGIN = "import gc, sys; gc.disable(); from tools.service_driver import main; sys.exit(main(sys.argv[1]))"
"""It loads as `treadle serve` does, which lets the garbage be until it serves."""


class Manager:
    """A service manager's ear: a datagram socket, and when each state was told."""

    def __init__(self, folder: Path) -> None:
        self.place = str(folder / "notify")
        self._ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._ear.bind(self.place)
        self._ear.settimeout(0.1)
        self.told: list[tuple[int, str]] = []
        self._closing = False
        self._thread = threading.Thread(target=self._listen, name="manager")
        self._thread.start()

    def _listen(self) -> None:
        while not self._closing:
            try:
                state = self._ear.recv(200).decode()
            except TimeoutError:
                continue
            self.told.append((time.monotonic_ns(), state))

    def times(self, state: str) -> list[int]:
        return [at for at, said in list(self.told) if said == state]

    def fed_since(self, at_ns: int) -> int:
        return sum(at > at_ns for at in self.times("WATCHDOG=1"))

    def close(self) -> None:
        self._closing = True
        self._thread.join()
        self._ear.close()


class Service:
    """One life of the daemon as a service."""

    def __init__(self, folder: Path, manager: Manager, **environment: str) -> None:
        self.errors = folder / "errors"
        with self.errors.open("wb") as errors:
            self.process = subprocess.Popen(
                [sys.executable, "-P", "-c", BEGIN, str(folder / "data")],
                env={
                    **os.environ,
                    "PYTHONPATH": f"{TESTS.parent}:{TESTS}",
                    "RUNTIME_DIRECTORY": str(folder / "run"),
                    "NOTIFY_SOCKET": manager.place,
                    "WATCHDOG_USEC": str(round(WATCHDOG_SECONDS * 1e6)),
                    **environment,
                },
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )

    def ask(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def keeper(self) -> tuple[int, int]:
        """Return the present keeper's process id, and when it greeted."""
        self.ask("keeper")
        while not (line := line_from(self.process)).startswith("keeper"):
            assert line, self.errors.read_text()
        return int(line.split()[1]), int(line.split()[2])

    def close(self) -> None:
        self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            with suppress(BrokenPipeError):
                pipe.close()


@pytest.fixture
def manager(tmp_path: Path, nothing_left_behind: None) -> Iterator[Manager]:
    opened = Manager(tmp_path)
    yield opened
    opened.close()


@contextmanager
def service(folder: Path, manager: Manager, **environment: str) -> Iterator[Service]:
    opened = Service(folder, manager, **environment)
    try:
        yield opened
    finally:
        opened.close()


def ready(service: Service, manager: Manager) -> int:
    until(lambda: bool(manager.times("READY=1")) or service.process.poll() is not None, 15)
    assert manager.times("READY=1"), service.errors.read_text()
    return manager.times("READY=1")[0]


def test_ready_is_said_after_the_keepers_greeting(tmp_path: Path, manager: Manager) -> None:
    """Ready is said first, once, after the keeper has greeted; then the watchdog is fed; stopping is said last."""
    with service(tmp_path, manager) as daemon:
        at_ns = ready(daemon, manager)
        _, greeted_ns = daemon.keeper()
        assert greeted_ns < at_ns
        until(lambda: manager.fed_since(at_ns) >= 3)
        daemon.process.send_signal(signal.SIGTERM)
        assert daemon.process.wait(10) == 0, daemon.errors.read_text()
        until(lambda: bool(manager.times("STOPPING=1")))
    states = [state for _, state in manager.told]
    assert states[0] == "READY=1"
    assert states[-1] == "STOPPING=1"
    assert states.count("READY=1") == states.count("STOPPING=1") == 1
    fed = manager.times("WATCHDOG=1")
    assert max(b - a for a, b in pairwise(fed)) / 1e9 < WATCHDOG_SECONDS


def test_told_to_end_it_is_dark_before_anything_else(tmp_path: Path, manager: Manager) -> None:
    """SIGTERM in a light: dark at once, though the page's server takes seconds to let go."""
    with service(tmp_path, manager, SLOW_PAGE="1.5") as daemon:
        ready(daemon, manager)
        room = PracticeDarkroom(tmp_path / "run")
        daemon.ask("light 20")
        until(lambda: _lit_by_foot(room), 30)
        ended_ns = time.monotonic_ns()
        daemon.process.send_signal(signal.SIGTERM)
        until(lambda: not room.driven(), 5)
        assert (room.edges()[-1].at_ns - ended_ns) / 1e9 < 0.5
        assert daemon.process.poll() is None, "the page was to be slow"
        assert daemon.process.wait(15) == 0, daemon.errors.read_text()
        room.close()


def test_told_again_and_again_it_ends_all_the_same(tmp_path: Path, manager: Manager) -> None:
    """A signal in the midst of dealing with the last one, at whatever line, holds up no end."""
    with service(tmp_path, manager, SIGNALS="1") as daemon:
        assert daemon.process.wait(30) == 0, daemon.errors.read_text()
    assert manager.times("STOPPING=1")


def _lit_by_foot(room: PracticeDarkroom) -> bool:
    """Press once, and tell whether that brought light: the first press says that the filter is in."""
    room.press(60)
    with suppress(AssertionError):
        until(room.driven, 4)
    return room.driven()


def test_without_a_keeper_it_is_never_ready(tmp_path: Path, manager: Manager) -> None:
    """Where the keeper cannot have the lamp's line nothing is said to be ready, and the daemon ends."""
    (tmp_path / "run").mkdir()
    lamp = PracticeLamp(tmp_path / "run", "lamp")
    try:
        with service(tmp_path, manager) as daemon:
            assert daemon.process.wait(15) != 0
            assert "lamp" in daemon.errors.read_text()
    finally:
        lamp.close()
    assert manager.told == []


def test_how_it_stands_is_shown(tmp_path: Path, manager: Manager) -> None:
    """What systemctl shows is the lamp's state and the page's address, said once for each change, never twice alike."""
    with service(tmp_path, manager) as daemon:
        ready(daemon, manager)
        room = PracticeDarkroom(tmp_path / "run")
        until(lambda: bool(manager.times("STATUS=lamp dark; http://127.0.0.1:0")), 5)
        daemon.ask("light 20")
        until(lambda: _lit_by_foot(room), 30)
        until(lambda: bool(manager.times("STATUS=lamp lit; http://127.0.0.1:0")), 5)
        room.close()
    shown = [state for _, state in manager.told if state.startswith("STATUS=")]
    assert all(one != other for one, other in pairwise(shown))


def test_a_keeper_lost_for_good_in_the_start_ends_it(tmp_path: Path, manager: Manager) -> None:
    """Where the keepers are lost again and again before the page is there, nothing is ready, and the daemon ends."""
    with service(tmp_path, manager, SLOW_OPENING="keepers killed") as daemon:
        assert daemon.process.wait(30) == 1
        assert "no exposure can be made" in daemon.errors.read_text()
    assert not manager.times("READY=1")


def test_told_to_end_together_nobody_complains(tmp_path: Path, manager: Manager) -> None:
    """Where daemon and keepers are told to end at the same moment, as systemd does it, no keeper is called lost."""
    with service(tmp_path, manager) as daemon:
        ready(daemon, manager)
        time.sleep(0.5)  # the spare one gets its imports done
        children = Path(f"/proc/{daemon.process.pid}/task/{daemon.process.pid}/children").read_text().split()
        keepers = {*map(int, children), daemon.keeper()[0]}
        for pid in (daemon.process.pid, *keepers):
            os.kill(pid, signal.SIGTERM)
        assert daemon.process.wait(15) == 0
        assert "WARNING" not in daemon.errors.read_text(), daemon.errors.read_text()


def test_a_hung_runner_goes_hungry(tmp_path: Path, manager: Manager) -> None:
    """While the runner's thread hangs the watchdog is not fed, though every other thread goes on; then it is again."""
    with service(tmp_path, manager) as daemon:
        ready(daemon, manager)
        hung_ns = time.monotonic_ns()
        daemon.ask("hang 5.5")
        time.sleep(5.2)
        late = [at for at in manager.times("WATCHDOG=1") if at > hung_ns + FRESH_NS + 400_000_000]
        assert late == []
        assert "does not answer" in daemon.errors.read_text()
        again_ns = time.monotonic_ns()
        until(lambda: manager.fed_since(again_ns) >= 2)


def test_a_keeper_stopped_once_is_replaced_and_feeding_goes_on(tmp_path: Path, manager: Manager) -> None:
    """A keeper that hangs is killed and replaced in little over a second: the watchdog allows for that."""
    with service(tmp_path, manager) as daemon:
        ready(daemon, manager)
        pid, _ = daemon.keeper()
        time.sleep(0.5)  # the spare one gets its imports done
        stopped_ns = time.monotonic_ns()
        os.kill(pid, signal.SIGSTOP)
        until(lambda: daemon.keeper()[0] != pid, 6)
        until(lambda: manager.fed_since(stopped_ns) >= 6, 6)
        fed = [at for at in manager.times("WATCHDOG=1") if at > stopped_ns]
        assert max(b - a for a, b in pairwise(fed)) / 1e9 < WATCHDOG_SECONDS


def test_keepers_lost_again_and_again_end_the_feeding(tmp_path: Path, manager: Manager) -> None:
    """Where keepers are lost until the tether gives up, the watchdog goes hungry: no light can be promised."""
    with service(tmp_path, manager) as daemon:
        ready(daemon, manager)
        killed: set[int] = set()
        end = time.monotonic() + 9
        while time.monotonic() < end and daemon.errors.read_text().count("is lost") < 4:
            pid, _ = daemon.keeper()
            if pid not in killed:
                killed.add(pid)
                with suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGKILL)
            time.sleep(0.02)
        assert daemon.errors.read_text().count("is lost") >= 4
        time.sleep(FRESH_NS / 1e9 + FED_SECONDS + 0.3)
        quiet_ns = time.monotonic_ns()
        time.sleep(4 * FED_SECONDS)
        assert manager.fed_since(quiet_ns) == 0
        assert daemon.process.poll() is None


def test_a_stopped_keepers_pulse_stands_still(tmp_path: Path) -> None:
    """What the watchdog looks at moves while the keeper goes round, and stands while it is stopped."""
    with Tether(KeeperConfig({"kind": "practice", "runtime": str(tmp_path)}, tmp_path), lambda _: None) as tether:
        first_ns = tether.pulse_ns
        until(lambda: tether.pulse_ns > first_ns)
        os.kill(tether.greeting.pid, signal.SIGSTOP)
        time.sleep(0.15)
        still_ns = tether.pulse_ns
        time.sleep(0.4)  # a keeper that is silent for longer is replaced
        assert tether.pulse_ns == still_ns


def test_a_daemon_that_is_stopped_whole_is_not_fed(tmp_path: Path, manager: Manager) -> None:
    """A daemon of which nothing runs feeds nothing; its keeper is dark, and goes when the manager kills it."""
    with service(tmp_path, manager) as daemon:
        ready(daemon, manager)
        os.kill(daemon.process.pid, signal.SIGSTOP)
        time.sleep(0.3)
        quiet_ns = time.monotonic_ns()
        time.sleep(4 * FED_SECONDS)
        assert manager.fed_since(quiet_ns) == 0


def test_a_watchdog_of_another_process_is_not_fed(tmp_path: Path, manager: Manager) -> None:
    """Where the watched process is another one, or nobody watches, ready is said and nothing is fed."""
    with service(tmp_path, manager, WATCHDOG_PID="1") as daemon:
        at_ns = ready(daemon, manager)
        time.sleep(3 * FED_SECONDS)
        assert manager.fed_since(at_ns) == 0


# ---- the protocol itself


def test_without_a_manager_nothing_is_said() -> None:
    """Where no manager is named the daemon serves all the same, and no thread is started."""
    before = threading.active_count()
    with Notifier({}).serving(lambda: 0):
        assert threading.active_count() == before


def test_a_manager_of_the_abstract_kind_is_reached() -> None:
    """A name that begins with @ is the abstract socket of that name (sd_notify(3))."""
    ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    name = f"treadle-test-{os.getpid()}"
    ear.bind(f"\0{name}")
    try:
        Notifier({"NOTIFY_SOCKET": f"@{name}"}).say("READY=1")
        assert ear.recv(100) == b"READY=1"
    finally:
        ear.close()


def test_the_last_word_of_a_process_is_read_before_it_ends(tmp_path: Path) -> None:
    """A last word comes with a barrier: until the manager has let it go, the process waits (sd_notify_barrier(3))."""
    ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    ear.bind(str(tmp_path / "notify"))
    ear.settimeout(5)
    saying = threading.Thread(target=Notifier({"NOTIFY_SOCKET": str(tmp_path / "notify")}).say_last, args=("STATUS=x",))
    saying.start()
    try:
        assert ear.recv(100) == b"STATUS=x"
        word, (barrier,), _, _ = socket.recv_fds(ear, 100, 1)
        assert word == b"BARRIER=1"
        time.sleep(0.2)
        assert saying.is_alive()
        os.close(barrier)
        saying.join(0.5)
        assert not saying.is_alive()
    finally:
        saying.join()
        ear.close()


def test_a_manager_that_is_gone_stops_nobody(tmp_path: Path) -> None:
    """Where the socket cannot be reached the daemon goes on."""
    with Notifier({"NOTIFY_SOCKET": str(tmp_path / "none")}).serving(lambda: 0):
        pass


def test_a_manager_that_hangs_stops_nobody(tmp_path: Path) -> None:
    """Where the manager has not read for so long that its socket is full, what it is to be told is given up."""
    with (
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ear,
        socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK) as others,
    ):
        ear.bind(str(tmp_path / "notify"))
        with suppress(BlockingIOError):
            while others.sendto(b"x", str(tmp_path / "notify")):
                pass
        telling = threading.Thread(target=Notifier({"NOTIFY_SOCKET": str(tmp_path / "notify")}).say, args=("READY=1",))
        telling.start()
        telling.join(20)
        held_up = telling.is_alive()
    telling.join(5)
    assert not held_up
