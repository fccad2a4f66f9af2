"""How large a request's body may be, and from whom: decided at its header, before any of the body is taken in.

A body lies on the card before the app has looked at it. Large ones are taken in at few addresses, from paired phones,
and few at a time.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from waitress.parser import HTTPRequestParser
from waitress.utilities import Error

from webui.frame.context import room_of
from webui.frame.device import read_device

if TYPE_CHECKING:
    from flask import Flask

LARGEST: Final = 26_000_000
"""Bytes taken in for a scan with its form; above the app's own limits, so that its refusal is what is seen."""
LARGE_AT: Final = frozenset({"/papers/scan", "/practice/own"})
"""Where such bodies may come."""
LARGE_AT_ONCE: Final = 2
USUAL: Final = 2_000_000
"""Bytes taken in anywhere else, and from anybody."""


class Unpaired(Error):  # type: ignore[misc]  # waitress ships no types
    """A large body from a phone that is not paired."""

    code, reason = 403, "Forbidden"


class Busy(Error):  # type: ignore[misc]  # waitress ships no types
    """One large body too many at once."""

    code, reason = 503, "Service Unavailable"


class Reader(HTTPRequestParser):  # type: ignore[misc]  # waitress ships no types
    """Reads one request. `large` says that its body may be longer than `USUAL`."""

    adj: Any
    command = path = ""
    """Of a request that ended before its first line was read."""
    large = False

    def __init__(self, adj: Any, *, paired: Callable[[str], bool], others: Callable[[], int]) -> None:
        """`paired` judges a Cookie header; `others` counts the large bodies that are under way."""
        super().__init__(adj)
        self._paired, self._others = paired, others

    def parse_header(self, header_plus: bytes) -> None:
        """Read the header; what follows is held to what may come from there to here."""
        super().parse_header(header_plus)
        if self.command == "POST" and self.path in LARGE_AT and (self.chunked or self.content_length >= USUAL):
            if not self._paired(self.headers.get("COOKIE", "")):
                self._refuse(Unpaired("not paired"))
            elif self._others() >= LARGE_AT_ONCE:
                self._refuse(Busy("too many large bodies at once"))
            else:
                self.large = True
                return
        narrow: Any = copy(self.adj)
        narrow.max_request_body_size = USUAL
        self.adj = narrow

    def _refuse(self, error: Error) -> None:
        self.error, self.completed, self.connection_close = error, True, True
        self.content_length = 0  # none of it is read, so that waitress has no complaint of its own about its length


def reader_for(app: Flask, channels: Callable[[], list[Any]]) -> Callable[[Any], Reader]:
    """Return what makes the reader of a connection's next request; `channels` are all that are open."""

    def paired(cookies: str) -> bool:
        return read_device(cookies, room_of(app).desk.key()) is not None

    def others() -> int:
        return sum(
            getattr(request, "large", False)
            for channel in channels()
            for request in (channel.request, *channel.requests)
            if request is not None
        )

    return partial(Reader, paired=paired, others=others)
