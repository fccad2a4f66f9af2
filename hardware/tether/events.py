"""What the daemon hears of a keeper beside its own words: that it is lost, and that there is one again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from hardware.errors import WireError
from hardware.slate import Interrupted, Page
from hardware.wire import Dark, FromKeeper, Greeting
from hardware.wire_json import decode


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


def last_event(page: Page | None) -> FromKeeper | None:
    """Return what a keeper that is gone may not have said: its last light's dark, or an event that found no room."""
    if page is not None and page.on_ns and page.dark_ns and not page.lit:
        return Dark(page.id, page.on_ns, page.dark_ns, page.why)
    if page is None or not page.last_event:
        return None
    try:
        return cast(FromKeeper, decode(page.last_event.encode()))
    except WireError:
        return None
