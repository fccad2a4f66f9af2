"""Holds for every test: whoever leaves a thread, a child process or an open database behind has failed.

It also parts the tests into the passes of `tests/run`, and has those played again that failed while the machine
held them up (`held_up.py`).
"""

from __future__ import annotations

import fcntl
import gc
import os
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings
from tools.held_up import (
    pytest_configure_node,
    pytest_runtest_protocol,
    pytest_sessionfinish,
    pytest_sessionstart,
    pytest_terminal_summary,
    witness,
)
from tools.real_time import NAME as BY_REAL_TIME
from tools.real_time import by_real_time, real_time_is_said
from tools.templates import compile_once

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Playwright

__all__ = [
    "by_real_time",
    "pytest_configure_node",
    "pytest_runtest_protocol",
    "pytest_sessionfinish",
    "pytest_sessionstart",
    "pytest_terminal_summary",
    "real_time_is_said",
    "witness",
]
_GRACE_SECONDS = 2.0
_TESTS = Path(__file__).parent
ALONE = (
    "processes/test_killed_daemon.py",
    "processes/test_latency.py",
    "faults/test_many_deaths.py",
    "paper/test_speed.py",
    "picture/test_speed.py",
    "webui/frame/test_crowds.py",
)
"""What measures: never beside other tests, whose load it feels; and the crowds of strangers, whose load others would;
single tests are marked `alone` where they stand."""
EMULATED = ("kernel",)
"""The emulated machine, whose moments are judged: beside nothing but what makes way for it."""
PASSES = ("real", "alone", "emulated")
"""Each a marker, and a pass of `tests/run`; what has none of them may share the machine with anything."""
FIRST = (
    "booted",
    "browser/test_newcomer.py",
    "lamp/test_first_half_second_by_foot.py",
    "faults/test_deaths_of_the_house.py",
    "faults/test_what_breaks.py",
    "browser/test_every_page.py",
    "picture/test_real_sheet.py",
    "daemon/test_easel.py",
    "browser/test_axe.py",
    "browser/test_faces.py",
    "processes/test_service.py",
    "browser/test_darkened_walk.py",
    "daemon/test_darkroom.py",
    "processes/test_idle.py",
    "browser/test_whole_sheet.py",
    "processes/test_misfortunes.py",
    "processes/test_own_addresses.py",
    "processes/test_histories.py",
    "lamp/test_sensor_run.py",
    "browser/test_seen_before.py",
    "processes/test_wired.py",
    "commands/timing/test_witness.py",
)
"""What takes longest, so that in the end nobody waits for one that began last."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take the folder in which to note what runs apart, so that the other passes read those files alone."""
    parser.addoption("--note-apart", metavar="FOLDER", help="note in FOLDER/real and so on whose tests are")


def pytest_configure(config: pytest.Config) -> None:
    """Hold laws on the same examples in each short run, so that it tells of the change; the long run seeks new ones.

    A busy machine is no fault of a law's: nothing here is timed, that is what benchmarks are for. Apps share what was
    compiled of their templates.
    """
    slow = [HealthCheck.too_slow]
    settings.register_profile("short", deadline=None, derandomize=True, suppress_health_check=slow)
    settings.register_profile("long", deadline=None, suppress_health_check=slow)
    settings.load_profile("long" if config.option.markexpr == "long" else "short")
    compile_once()


@pytest.hookimpl(wrapper=True)
def pytest_collection(session: pytest.Session) -> Iterator[None]:
    """Let a run's first worker read the tests before the others do.

    On a fresh clone that one compiles them, which costs three times as much as all the rest, and the others find it
    done; else each of them would do the same work at the same time.
    """
    worker = getattr(session.config, "workerinput", {}).get("workerid")
    if worker is None:
        return (yield)
    with open(__file__, "rb") as turn:  # noqa: PTH123 - whose lock goes with it, whatever becomes of the worker
        fcntl.flock(turn, fcntl.LOCK_EX if worker == "gw0" else fcntl.LOCK_SH)
        return (yield)


def pytest_collection_finish() -> None:
    """Have garbage looked for among what tests make alone, and not among all that was loaded before the first."""
    gc.collect()
    gc.freeze()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what must run alone, or all but alone, and what works by real time; the rest shares with anything."""
    items.sort(key=_turn)
    for item in items:
        place = item.path.relative_to(_TESTS).as_posix()
        if _stands_in(place, EMULATED):
            item.add_marker("emulated")
        elif _stands_in(place, ALONE):
            item.add_marker("alone")
        elif not item.get_closest_marker("alone") and BY_REAL_TIME in getattr(item, "fixturenames", ()):
            item.add_marker("real")
    if folder := config.option.note_apart:
        for name in PASSES:
            _note_apart(Path(folder) / name, items, name)


def _note_apart(place: Path, items: list[pytest.Item], name: str) -> None:
    """Write the files that have such tests; at once, since each worker writes them."""
    marked = (item for item in items if item.get_closest_marker(name) and not item.get_closest_marker("long"))
    lines = dict.fromkeys(item.path.relative_to(_TESTS.parent).as_posix() for item in marked)
    with tempfile.NamedTemporaryFile("w", dir=place.parent, delete=False) as file:
        file.write("".join(f"{line}\n" for line in lines))
    Path(file.name).replace(place)


def _turn(item: pytest.Item) -> int:
    place = item.path.relative_to(_TESTS).as_posix()
    return next((turn for turn, first in enumerate(FIRST) if _stands_in(place, (first,))), len(FIRST))


def _stands_in(place: str, places: tuple[str, ...]) -> bool:
    return any(place == each or place.startswith(f"{each}/") for each in places)


@pytest.fixture(scope="session")
def play(by_real_time: None) -> Iterator[Playwright]:
    """What starts browsers: there can be but one in a process."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as made:
        yield made


@pytest.fixture(scope="session")
def browser(play: Playwright) -> Iterator[Browser]:
    """One Chromium for all tests of a process, as quick as it gets: what draws pages is the same in both."""
    from tools.browser import chromium  # loads numpy, Pillow and Playwright

    with chromium(play, whole=False) as made:
        yield made


@pytest.fixture(scope="module")
def whole_browser(play: Playwright) -> Iterator[Browser]:
    """A Chromium as a printer has it: for walks, and for what it draws of its own beside the pages."""
    from tools.browser import chromium

    with chromium(play, whole=True) as made:
        yield made


@pytest.fixture(autouse=True)
def nothing_left_behind() -> Iterator[None]:
    """Fail the test that leaves a thread, a child or an open database behind."""
    before = _threads(), _children(), _databases()
    yield
    until = time.monotonic() + _GRACE_SECONDS
    while (left := _left(*before)) and time.monotonic() < until:
        time.sleep(0.01)
    if left:
        pytest.fail("left behind: " + "; ".join(left))


def _left(threads: set[int], children: set[int], databases: set[str]) -> list[str]:
    names = {thread.ident: thread.name for thread in threading.enumerate()}
    return [
        *(f"thread {names.get(ident)}" for ident in _threads() - threads),
        *(f"child {pid} {_command(pid)}" for pid in _children() - children),
        *(f"open {path}" for path in _databases() - databases),
    ]


def _threads() -> set[int]:
    return {thread.ident or 0 for thread in threading.enumerate() if thread.is_alive()}


def _children() -> set[int]:
    found: set[int] = set()
    for task in os.listdir("/proc/self/task"):  # noqa: PTH208 - for every test, and a Path costs more than what it reads
        try:
            with open(f"/proc/self/task/{task}/children", "rb", 0) as children:  # noqa: PTH123
                found.update(map(int, children.readall().split()))
        except FileNotFoundError:
            continue
    return found


def _command(pid: int) -> str:
    try:
        return (Path("/proc") / str(pid) / "cmdline").read_bytes().replace(b"\0", b" ").decode()[:120]
    except OSError:
        return "(gone)"


def _databases() -> set[str]:
    found: set[str] = set()
    for entry in os.listdir("/proc/self/fd"):  # noqa: PTH208
        try:
            target = os.readlink(f"/proc/self/fd/{entry}")  # noqa: PTH115 - a link of /proc may name what is no path
        except OSError:
            continue
        if ".db" in target:
            found.add(target)
    return found
