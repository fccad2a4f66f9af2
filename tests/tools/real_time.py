"""Tells tests that work by real time from those that need none, and fails the one that does so unsaid.

Such a test asks for the fixture `by_real_time`, itself or through another fixture, and is marked `real` for it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import pytest

NAME: Final = "by_real_time"
STARTS: Final = ("-m hardware.keeper.process", "Tether(", "treadle.py serve", "_driver.py", "/chromium", "playwright")
"""What stands in the command of a keeper, a process with a tether of its own, a daemon, a browser or its driver."""
_started: list[str] = []


@pytest.fixture(scope="session")
def by_real_time() -> None:
    """Say that a test works keepers, daemons, a browser or threads by real time, and mostly waits."""


@pytest.fixture(autouse=True)
def real_time_is_said(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail the test that starts what works by real time and has not said so; fixtures before it count as its own."""
    yield
    unsaid = real_starts(_started)
    _started.clear()
    if unsaid and not any(request.node.get_closest_marker(name) for name in ("real", "alone", "emulated", "long")):
        pytest.fail(f"works by real time, and does not ask for {NAME}: {unsaid[0][:200]}", pytrace=False)


def real_starts(commands: Iterable[str]) -> list[str]:
    """Return those commands that start what works by real time."""
    return [each for each in commands if any(start in each for start in STARTS)]


def _note(event: str, words: tuple[object, ...]) -> None:
    if event == "subprocess.Popen":
        command = words[1]
        listed = command if isinstance(command, Sequence) and not isinstance(command, str | bytes) else [command]
        _started.append(" ".join(str(word) for word in listed))


sys.addaudithook(_note)
