"""The tether's end: whatever has become of the keeper meanwhile, a tether that is closed leaves no light on."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest
from tools.tether_bench import Ear, hold_still, order, until

import hardware.tether
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.slate import read_slate
from hardware.tether.child import KeeperConfig
from hardware.tether.events import Event, KeeperLost
from hardware.tether.tether import Tether
from hardware.wire import Lit

pytestmark = pytest.mark.usefixtures("by_real_time")


def test_closing_on_a_keeper_that_stands_still_is_dark(config: KeeperConfig, ear: Ear, room: PracticeDarkroom) -> None:
    """A keeper that hangs while it is lit does not heed the end of its pipe: it is killed, and its line driven dark."""
    with Tether(config, ear) as tether:
        tether.send(order(60_000))
        ear.wait(Lit)
        hold_still(tether.greeting.pid)
    assert not room.lit()
    assert not room.owned()
    page = read_slate(config.slate)
    assert page is not None
    (truth,) = room.lights()
    assert truth.dark_ns is not None
    assert page.lit
    assert truth.dark_ns <= page.dark_ns, "the next start knows by when it was dark"


def test_closing_on_a_keeper_that_has_just_died_is_dark(config: KeeperConfig, ear: Ear, room: PracticeDarkroom) -> None:
    """A keeper killed while it is lit, in the moment in which the tether is closed, leaves no light on."""
    for _ in range(3):
        with Tether(config, ear) as tether:
            tether.send(order(60_000))
            ear.wait(Lit, len(ear.of(Lit)) + 1)
            os.kill(tether.greeting.pid, signal.SIGKILL)
        assert not room.lit()


def test_closing_while_a_lost_keeper_is_replaced_is_dark(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """A tether closed after it has lost its keeper, and before another one has taken the line, leaves no light on."""
    ear = Ear()
    closing: list[KeeperLost] = []

    def hear(event: Event) -> None:
        ear(event)
        if isinstance(event, KeeperLost):
            closing.append(event)
            tether.close()  # within the tether's own thread: the replacing goes no further

    with Tether(config, hear) as tether:
        tether.send(order(60_000))
        ear.wait(Lit)
        os.kill(tether.greeting.pid, signal.SIGKILL)
        until(lambda: bool(closing))
    assert not room.lit()


def test_a_clean_end_is_not_doubted(
    config: KeeperConfig, ear: Ear, room: PracticeDarkroom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the keeper ended by itself, and so went dark, no further process is started."""
    asked: list[Path] = []
    monkeypatch.setattr(hardware.tether.tether, "darken_apart", lambda config: asked.append(config.runtime))
    with Tether(config, ear) as tether:
        tether.send(order(60_000))
        ear.wait(Lit)
    assert not room.lit()
    assert asked == []
