"""The runner's way to the keeper: to the one whose words it knows, and no light once the darkroom is to end."""

from __future__ import annotations

from typing import cast

import pytest

from controller.daemon.pipe import TetherPipe
from hardware.errors import KeeperAway
from hardware.tether.tether import Tether
from hardware.wire import Cancel, Order, RoomLight, Sound, ToKeeper

LIGHT = Order("light-1", "step", "sheet", 1, 1, "lamp", 0, 2_000_000_000, 5000)


class Listener:
    """Stands in for a tether: notes what it is sent, and for which keeper."""

    def __init__(self) -> None:
        self.sent: list[tuple[ToKeeper, int | None]] = []
        self.stops: list[str] = []

    def send(self, message: ToKeeper, to: int | None = None) -> None:
        self.sent.append((message, to))

    def stop(self, why: str = "page") -> bool:
        self.stops.append(why)
        return True


@pytest.fixture
def listener() -> Listener:
    return Listener()


@pytest.fixture
def pipe(listener: Listener) -> TetherPipe:
    made = TetherPipe()
    made.tether = cast(Tether, listener)
    made.know(7)
    return made


def test_an_order_is_for_the_keeper_that_is_known(pipe: TetherPipe, listener: Listener) -> None:
    """Orders say for which keeper they are, so that none is sent to the next; other words are for any."""
    for message in (LIGHT, Sound("tick"), Cancel(LIGHT.id)):
        pipe.send(message)
    assert listener.sent == [(LIGHT, 7), (Sound("tick"), None), (Cancel(LIGHT.id), None)]


def test_no_light_is_begun_once_the_darkroom_is_to_end(pipe: TetherPipe, listener: Listener) -> None:
    """From the moment it is told to end every light, neither an order nor room light goes through; all else does."""
    pipe.end()
    assert listener.stops == ["fault"]
    for message in (LIGHT, RoomLight(True)):
        with pytest.raises(KeeperAway, match="is ending"):
            pipe.send(message)
    for message in (RoomLight(False), Sound("tick"), Cancel("a")):
        pipe.send(message)
    assert not [message for message, _ in listener.sent if isinstance(message, Order)]
    assert len(listener.sent) == 3


def test_without_a_keeper_nothing_is_sent() -> None:
    """A stop has nothing to do without a keeper; a message says that it is away."""
    pipe = TetherPipe()
    pipe.stop()
    pipe.end()
    with pytest.raises(KeeperAway, match="no keeper"):
        pipe.send(Sound("tick"))
