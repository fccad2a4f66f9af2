"""The runner's way to whichever tether there is: a new one takes the old one's place when settings change."""

from __future__ import annotations

from hardware.errors import KeeperAway
from hardware.tether import Tether
from hardware.wire import Order, ToKeeper


class TetherPipe:
    """The way to whichever tether there is."""

    def __init__(self) -> None:
        self.tether: Tether | None = None
        self._known = 0

    def know(self, keeper: int) -> None:
        """Take note of the keeper whose words have been taken in."""
        self._known = keeper

    def send(self, message: ToKeeper) -> None:
        """Send to the present keeper; raises `KeeperAway`, also for an order that another keeper's words led to."""
        if self.tether is None:
            raise KeeperAway("there is no keeper yet")
        if isinstance(message, Order) and self.tether.greeting.pid != self._known:
            raise KeeperAway("this order was decided on the words of another keeper")
        self.tether.send(message)

    def stop(self, why: str = "page") -> None:
        """Dark now; nothing to do where there is no keeper."""
        if self.tether is not None:
            self.tether.stop(why)
