"""The runner's way to whichever tether there is: a new one takes the old one's place when settings change."""

from __future__ import annotations

from hardware.errors import KeeperAway
from hardware.tether.tether import Tether
from hardware.wire import Order, RoomLight, ToKeeper


class TetherPipe:
    """The way to whichever tether there is. Safe from any thread, and while one takes the other's place."""

    def __init__(self) -> None:
        self.tether: Tether | None = None
        self._known = 0
        self._ending = False

    def know(self, keeper: int) -> None:
        """Take note of the keeper whose words have been taken in."""
        self._known = keeper

    def send(self, message: ToKeeper) -> None:
        """Send to the present keeper; raises `KeeperAway`, also for an order that another keeper's words led to."""
        tether = self.tether
        if tether is None:
            raise KeeperAway("there is no keeper yet")
        is_order = isinstance(message, Order)
        if self._ending and (is_order or message == RoomLight(on=True)):
            raise KeeperAway("the darkroom is ending: no light is begun")
        tether.send(message, to=self._known if is_order else None)

    def stop(self, why: str = "page") -> None:
        """Dark now; nothing to do where there is no keeper."""
        tether = self.tether
        if tether is not None:
            tether.stop(why)

    def end(self) -> None:
        """Dark now, and no further light: an order on its way is behind the number that the stop takes."""
        self._ending = True
        self.stop("fault")
