"""The keeper: it alone lights the lamp, times it, darkens it, and listens to the foot.

This core knows no process, no pipe and no clock: every moment is passed in, so that it runs in virtual time.
`hardware.keeping` is the process around it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Protocol

from hardware.lines import Lines
from hardware.slate import Page
from hardware.timing import Timing
from hardware.wire import FromKeeper, ToKeeper

UNREADABLE: Final = "keeper.unreadable"
"""`Trouble`: a message could not be read; dark."""
DROPPED: Final = "keeper.dropped"
"""`Trouble`: the pipe was full, events were dropped; the last one and their count stand on the slate."""
SOUNDER: Final = "keeper.sounder"
"""`Trouble`: the sounder failed; there is no focus light any more."""


class Slate(Protocol):
    """Where the keeper notes what it does; see `hardware.slate.SlateWriter`."""

    def write(self, page: Page) -> None:
        """Put the page on the slate."""

    def close(self) -> None:
        """Let the slate go."""


class Keeper:
    """The lamp, the foot and what may happen between them.

    Call `greet` once. Then, for ever: `poll` and `receive` whatever has come, `advance` to the present, wait until
    `due_ns`. Where a foot-down or a stop ends something, its `Dark` or `Cancelled` is sent before the `FootDown` or
    `Stopped`. A lid contact is closed when the lid is shut, so that a broken wire counts as open.
    """

    def __init__(
        self,
        lines: Lines,
        timing: Timing,
        slate: Slate | None,
        send: Callable[[FromKeeper], object],
        boot: str,
        pid: int,
        *,
        now_ns: int = 0,
    ) -> None:
        """Take the lines, dark. `send` raises `BlockingIOError` where the pipe is full; that darkens.

        Without a slate the keeper needs no passes: in virtual time only.
        """

    def greet(self, now_ns: int, *, scheduling: str = "other", locked: bool = False) -> None:
        """Say who this is: `Greeting`, and `Lid` where one is fitted."""

    def receive(self, message: ToKeeper, now_ns: int) -> None:
        """Take a message of the daemon."""

    def unreadable(self, now_ns: int) -> None:
        """Take note that a line was no message: dark, nothing pending, `Trouble` and `Stopped` (why "fault")."""

    def poll(self, now_ns: int) -> None:
        """Take the edges that wait at the foot and the lid, and their levels as the second path."""

    def advance(self, now_ns: int) -> None:
        """Do everything that is due."""

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` has something to do if nothing comes before."""

    def exact_due(self) -> bool:
        """Return whether the next due moment is a light's, to be met to some microseconds."""

    def end(self, why: str, now_ns: int) -> None:
        """Dark (`why` of `wire.Dark`), note it, and let lines and slate go. Ending twice does nothing."""
