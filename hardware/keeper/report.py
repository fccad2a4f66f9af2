"""What the keeper says on the pipe and notes on the slate; a full pipe never makes it wait."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from hardware.clock import NS_PER_MS
from hardware.slate import Page, Slate
from hardware.wire import FromKeeper, Trouble, What
from hardware.wire_json import encode

_PASS_LIT_NS: Final = 40 * NS_PER_MS
_PASS_DARK_NS: Final = 200 * NS_PER_MS


class Reporter:
    """The page as it stands on the slate, and the count of what the daemon has missed."""

    def __init__(self, send: Callable[[FromKeeper], object], slate: Slate | None, page: Page, now_ns: int) -> None:
        """Take what `Keeper` was given; without a slate no sign of life is due."""
        self._send, self._slate = send, slate
        self._missed = False
        self._pass_ns = now_ns
        self.page = page

    def say(self, message: FromKeeper, now_ns: int) -> bool:
        """Send; where the pipe is full, keep the message on the slate, count it, and return False.

        Once the pipe has space again, the daemon hears first that it has missed something.
        """
        if not self._missed or self._report_missed(now_ns):
            try:
                self._send(message)
            except BlockingIOError:
                pass
            else:
                return True
        self._missed = True
        event = encode(message).decode().rstrip()
        self.note(replace(self.page, last_event=event, dropped=self.page.dropped + 1), now_ns)
        return False

    def note(self, page: Page, now_ns: int) -> None:
        """Put the page on the slate with the moment of this pass."""
        self.page = page
        if self._slate is not None:
            self._slate.write(replace(page, last_pass_ns=now_ns))
            self._pass_ns = now_ns + (_PASS_LIT_NS if page.lit else _PASS_DARK_NS)

    def advance(self, now_ns: int) -> None:
        """Give the sign of life that is due."""
        if self._slate is not None and self._pass_ns <= now_ns:
            self.note(self.page, now_ns)
            if self._missed:
                self._report_missed(now_ns)

    def due_ns(self) -> int | None:
        """Return when the next sign of life is due."""
        return None if self._slate is None else self._pass_ns

    def close(self) -> None:
        """Let the slate go."""
        if self._slate is not None:
            self._slate.close()

    def _report_missed(self, now_ns: int) -> bool:
        """Tell the daemon that it has missed something; return whether that could be sent."""
        try:
            self._send(Trouble(What.DROPPED, now_ns))
        except BlockingIOError:
            return False
        self._missed = False
        return True
