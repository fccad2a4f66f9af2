"""What the hardware's tests share: a practice darkroom of their own, and nothing left running behind them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.keeper_bench import Bench
from tools.tether_bench import Ear

from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Tether


@pytest.fixture(autouse=True)
def _nothing_left_behind(nothing_left_behind: None) -> Iterator[None]:
    """Fail the test that leaves an open descriptor, beside what no test may leave."""
    files = len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - iterdir would hold one more
    yield
    assert len(os.listdir("/proc/self/fd")) <= files, "a descriptor was left open"  # noqa: PTH208


@pytest.fixture
def runtime(tmp_path: Path) -> Path:
    return tmp_path


@pytest.fixture
def room(runtime: Path, _nothing_left_behind: None) -> Iterator[PracticeDarkroom]:
    with PracticeDarkroom(runtime) as room:
        yield room


@pytest.fixture
def config(runtime: Path) -> KeeperConfig:
    return KeeperConfig({"kind": "practice", "runtime": str(runtime)}, runtime)


@pytest.fixture
def ear() -> Ear:
    return Ear()


@pytest.fixture
def tether(by_real_time: None, config: KeeperConfig, ear: Ear, room: PracticeDarkroom) -> Iterator[Tether]:
    with Tether(config, ear) as tether:
        yield tether


@pytest.fixture
def bench() -> Bench:
    """A keeper in virtual time."""
    return Bench()
