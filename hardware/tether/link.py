"""The hold on a keeper as the runner sees it, and what it hears of a keeper's loss and return."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from hardware.slate import Interrupted
from hardware.wire import FromKeeper, Greeting, ToKeeper


@dataclass(frozen=True, slots=True)
class KeeperLost:
    """The keeper is gone; no light can be given.

    `why`: "gone" (it ended), "silent" (no sign of life), "late" (not dark at an order's end), "garbled" (it
    said what is no message), "start" (the one after it did not answer within a second), "fault" (it was lost
    once more after three restarts in ten seconds; there is no further one). `dark` tells whether the lamp line
    is known to be dark, `interrupted` then in which light. With "start", and with "fault" where it is not
    dark, the lamp may be lit: it must be switched off at its own switch.
    """

    at_ns: int
    why: str
    dark: bool = False
    interrupted: Interrupted | None = None


@dataclass(frozen=True, slots=True)
class KeeperBack:
    """A new keeper holds the lines, dark.

    `interrupted` is the light in which the one before it was lost, `slate_event` the last event that it could
    not send, to be filed where it is news.
    """

    at_ns: int
    greeting: Greeting
    interrupted: Interrupted | None = None
    slate_event: FromKeeper | None = None


Event = FromKeeper | KeeperLost | KeeperBack


class Link(Protocol):
    """What the runner holds: a keeper at the other end, of a pipe or in virtual time."""

    @property
    def greeting(self) -> Greeting:
        """What the present keeper, or the last one, said of itself."""

    def send(self, message: ToKeeper) -> None:
        """Send a message, without waiting.

        Raises:
            KeeperAway: there is no keeper that takes it.
        """

    def stop(self, why: str = "page") -> bool:
        """Have any light ended and anything pending taken back, past every queue, from any thread.

        Tells whether a keeper took it; where none did, it is being replaced, and the new one begins dark.
        """
