"""Whose a request is, and how large its body may be: decided at its header, before any of the body is taken in.

A body lies on the card before the app has looked at it. Large ones are taken in at few addresses, from paired phones,
and few at a time.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from functools import partial
from typing import TYPE_CHECKING, Any, Final, Protocol

from waitress.parser import HTTPRequestParser, ParsingError
from waitress.utilities import Error, RequestEntityTooLarge, RequestHeaderFieldsTooLarge

from webui.frame.context import room_of
from webui.frame.device import read_device, still_in
from webui.frame.guard import STOP_PATH, may_stop
from webui.frame.heads import LONGEST, LONGEST_OF_STRANGERS, plain_head
from webui.frame.incoming import IN_MEMORY, CardBuffer, has_room

if TYPE_CHECKING:
    from flask import Flask

    from webui.frame.context import Room

LARGEST: Final = 66_000_000
"""Bytes taken in for a scan with its form; above the app's own limits, so that its refusal is what is seen."""
LET_GO: Final = 4 * LARGEST
"""Bytes a paired phone may send; none is kept, but whoever is hung up on while he sends never reads why."""
LARGE_AT: Final = frozenset(
    {
        "/papers/scan",
        "/practice/own",
        "/data/in",
        "/negatives/proof",
        "/sheets/photograph",
        "/tests/evenness/scan",
    }
)
"""Where such bodies may come."""
LARGE_AT_ONCE: Final = 2
USUAL: Final = 2_000_000
"""Bytes taken in anywhere else, from a paired phone."""
STRANGERS: Final = 20_000
"""Bytes taken in from anybody: a code with its form around it."""
_NOTHING: Final = b"GET / HTTP/1.0\r\n"
"""What waitress reads in place of a head that is too long."""


class Unpaired(Error):  # type: ignore[misc]  # waitress ships no types
    """A large body from a phone that is not paired."""

    code, reason = 403, "Forbidden"


class Busy(Error):  # type: ignore[misc]  # waitress ships no types
    """One large body too many at once."""

    code, reason = 503, "Service Unavailable"


class NoRoom(Error):  # type: ignore[misc]  # waitress ships no types
    """The card is too full for a body."""

    code, reason = 507, "Insufficient Storage"


class Line(Protocol):
    """The connection that a request comes by."""

    proven: bool
    """A phone that is paired has asked something on it."""
    close_when_flushed: bool
    """It is about to be closed: nothing more is read."""


class Reader(HTTPRequestParser):  # type: ignore[misc]  # waitress ships no types
    """Reads one request, and judges at its header whose it is."""

    adj: Any
    body_rcv: Any
    completed: bool
    error: Any
    content_length: int
    command = path = query = ""
    """Of a request that ended before its first line was read."""
    paired = False
    """It comes from a paired phone."""
    stops = False
    """It is a paired phone's STOP: nothing else may use the lane that is kept for it."""
    large = False
    """Its body may be longer than `USUAL`."""
    _full: type[Error] = NoRoom
    """Why nothing of its body was kept, where that is so."""

    def __init__(self, adj: Any, *, web: Room, others: Callable[[], int], line: Line | None = None) -> None:
        """`others` counts the large bodies that are under way; `line` is the connection."""
        super().__init__(adj)
        self._web, self._others, self._line = web, others, line

    def received(self, data: bytes) -> int:
        """Take in what belongs to this request; nothing where the connection is about to be closed."""
        if self._line is not None and self._line.close_when_flushed:
            return len(data)
        taken = int(super().received(data))
        if (
            self.completed
            and self.error is None
            and self.body_rcv is not None
            and getattr(self.body_rcv.getbuf(), "full", False)
        ):
            self.error = self._full("no room, or none for so much")
        return taken

    def parse_header(self, header_plus: bytes) -> None:
        """Read the header; what follows is held to what may come from there to here."""
        try:
            head = plain_head(header_plus)
            super().parse_header(head if len(head) < LONGEST else _NOTHING)
        except ValueError as problem:  # no first line, or an address with brackets that enclose none
            raise ParsingError("Bad request") from problem
        desk = self._web.desk
        self.paired = still_in(read_device(self.headers.get("COOKIE", ""), desk.key()), desk) is not None
        if self.paired:
            self.stops = self.command == "POST" and self.path == STOP_PATH and self._may_stop()
            if self._line is not None:
                self._line.proven = True
        else:
            self.headers["CONNECTION"] = "close"
        if len(head) >= (LONGEST if self.paired else LONGEST_OF_STRANGERS):
            self._refuse(RequestHeaderFieldsTooLarge("a long head"))
            return
        if self.command == "POST" and self.path in LARGE_AT and (self.chunked or self.content_length >= USUAL):
            if not self.paired:
                self._refuse(Unpaired("not paired"))
            elif self._others() >= LARGE_AT_ONCE:
                self._refuse(Busy("too many large bodies at once"))
            elif LARGEST <= self.content_length < LET_GO:
                self.large, self._full = True, RequestEntityTooLarge
                self._lay_on_the_card(full=True)
                self._allow(LET_GO)
                return
            else:
                wanted = LARGEST if self.chunked else min(self.content_length, LARGEST)
                self.large = has_room(desk.incoming(), wanted)
                self._lay_on_the_card(full=not self.large)
                return
        elif self.paired and (self.chunked or self.content_length > IN_MEMORY):
            self._lay_on_the_card()
        self._allow(USUAL if self.paired else STRANGERS)

    def _allow(self, most: int) -> None:
        own: Any = copy(self.adj)
        own.max_request_body_size = most
        self.adj = own

    def _may_stop(self) -> bool:
        return may_stop(lambda name: self.headers.get(name.upper().replace("-", "_")), self.url_scheme, self._web)

    def _lay_on_the_card(self, *, full: bool = False) -> None:
        self.body_rcv.buf = CardBuffer(self._web.desk.incoming(), full=full)

    def _refuse(self, error: Error) -> None:
        self.error, self.completed, self.connection_close = error, True, True
        self.content_length = 0  # none of it is read, so that waitress has no complaint of its own about its length


def reader_for(app: Flask, channels: Callable[[], list[Any]]) -> Callable[..., Reader]:
    """Return what makes the reader of a connection's next request; `channels` are all that are open."""

    def others() -> int:
        return sum(
            getattr(request, "large", False)
            for channel in channels()
            for request in (channel.request, *channel.requests)
            if request is not None
        )

    return partial(Reader, web=room_of(app), others=others)
