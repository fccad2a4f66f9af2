"""Serves the app, so that STOP never waits: it has its own lane, and nothing else may enter that lane.

waitress gives every request to one queue; a queue behind slow requests and open streams would hold STOP up.
Here a request is looked at before it is queued, and a paired phone's STOP goes to threads of its own. Whoever is not
paired is answered by the thread that reads, mostly with bytes made beforehand (`webui.frame.strangers`), and is
then hung up on; of one address few such connections may stay, so that a newcomer's STOP is accepted, too.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import defaultdict
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ErrorTask, ThreadedTaskDispatcher

from controller.errors import ControllerError
from controller.words import say
from webui.bodies import LARGEST, reader_for
from webui.frame.heads import LONGEST_AS_SENT
from webui.frame.live import STREAMS, end_streams
from webui.frame.logs import SeldomFilter
from webui.frame.strangers import REFUSAL_HEADERS, Answers, refusal_body, whose

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from flask import Flask

    from webui.bodies import Reader

LOOKS: Final = 6
"""Threads for all that is no stream and no STOP."""
STOPS: Final = 2
"""Threads that do nothing but stop."""
CONNECTIONS: Final = 120
"""Of paired phones; from here on the one that has been idle longest is closed for every new one."""
OF_ONE_ADDRESS: Final = 24
"""Connections of one address that have shown no pairing. Each is closed after its answer."""
YOUNG_S: Final = 2
"""For so long a connection may say nothing and not be counted."""
STRANGERS: Final = 400
"""Connections in all that have shown no pairing; above, the address with the most loses its oldest."""
READ_OFF: Final = 8
"""Portions that are taken off a connection that is to be closed."""
ACCEPTS: Final = 128
"""Let in at a time."""
CLOSING_S: Final = 5
_REST_S: Final = 0.1
_log = logging.getLogger(__name__)
_LOGS: Final = (logging.getLogger("waitress"), logging.getLogger("waitress.queue"))


class Lanes:
    """Two queues with threads of their own: STOP, and everything else."""

    def __init__(self, rest: int, stops: int) -> None:
        self._rest, self._stops = ThreadedTaskDispatcher(), ThreadedTaskDispatcher()
        self._rest.set_thread_count(rest)
        self._stops.set_thread_count(stops)

    def add_task(self, channel: Any) -> None:
        """Queue the request that stands first on a connection."""
        (self._stops if channel.requests[0].stops else self._rest).add_task(channel)

    def shutdown(self, cancel_pending: bool = True, timeout: float = CLOSING_S) -> None:
        """End the threads once they are done with what they do, within `timeout` seconds each lane."""
        self._stops.shutdown(cancel_pending, timeout)
        self._rest.shutdown(cancel_pending, timeout)


class _Refusal(ErrorTask):  # type: ignore[misc]  # waitress ships no types
    """What fails below the app, as a sentence on black."""

    def execute(self) -> None:
        """Send the sentence, and close the connection."""
        error = self.request.error
        body = refusal_body(error.code)
        self.status = f"{error.code} {error.reason}"
        self.response_headers += REFUSAL_HEADERS.items()
        self.set_close_on_finish()
        self.content_length = len(body)
        self.write(body)


class _Channel(HTTPChannel):  # type: ignore[misc]  # waitress ships no types
    """One connection."""

    error_task_class = _Refusal
    requests: list[Any]
    proven = False
    """A phone that is paired has asked something on it."""
    spoken = False
    """Something has come in."""

    def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:  # noqa: A002 - waitress's
        """Take a connection of `server`, a `_Door`."""
        self.parser_class = partial(server.reader, line=self)
        self.owner = whose(addr[0])
        super().__init__(server, sock, addr, adj, map=map)

    def received(self, data: bytes) -> bool:
        """Take in what has come."""
        self.spoken = True
        return bool(super().received(data))

    def handle_read(self) -> None:
        """Take in what has come; what was answered at once is sent at once."""
        super().handle_read()
        if self.close_when_flushed and self.connected and not self.requests:
            self._read_off()
            self.handle_write()

    def handle_close(self) -> None:
        """Close the connection, and let go what had come of a request."""
        super().handle_close()
        if self.request is not None:
            self.request.close()

    def _flush_some(self, do_close: bool = True) -> bool:
        """Send what the socket takes. Whoever adds to it waits meanwhile; what was closed stays as it is."""
        with self.outbuf_lock:
            return self.connected and bool(super()._flush_some(do_close))

    def send_continue(self) -> None:
        """Ask for the body that was announced, unless the connection has been closed meanwhile."""
        with self.outbuf_lock:
            if self.connected:
                super().send_continue()

    def _read_off(self) -> None:
        """Take the rest of what has come off the socket, unread: closed with it, the answer would be lost."""
        with suppress(OSError):
            for _ in range(READ_OFF):
                if len(self.socket.recv(self.adj.recv_bytes)) < self.adj.recv_bytes:
                    break

    def say(self, answer: bytes) -> None:
        """Give an answer and be done with this connection. For whoever holds its `requests_lock`.

        The server's own thread may have closed it just now: then there is nobody to be answered.
        """
        with self.outbuf_lock:
            if self.connected:
                self.outbufs[-1].append(answer)
                self.current_outbuf_count += len(answer)
                self.total_outbufs_len += len(answer)
        self.close_when_flushed = True
        for request in self.requests:
            request.close()
        self.requests = []


class _Door(TcpWSGIServer):  # type: ignore[misc]  # waitress ships no types
    """One listening socket."""

    channel_class = _Channel
    reader: Callable[..., Reader]
    """What makes the reader of a request; given before anybody may come in."""
    answers: Answers
    crowd: Callable[[], list[_Channel]]
    """All connections, of every door."""

    def __init__(self, *args: Any, **named: Any) -> None:
        self._ringing = threading.Lock()
        self._gone = False
        super().__init__(*args, **named)

    def pull_trigger(self) -> None:
        """Wake the thread that reads and writes, as long as it can be woken.

        A thread that is late with an answer may ring when all is closed: the pipe's number is then another file's.
        """
        with self._ringing:
            if not self._gone:
                super().pull_trigger()

    def hang_up(self) -> None:
        """Let nobody in any more, and close every connection: whoever answers on one gives up."""
        for channel in list(self.active_channels.values()):
            channel.handle_close()
        wasyncore.dispatcher.close(self)

    def close(self) -> None:
        """Let the rest go, once no connection is left; closing twice does nothing."""
        with self._ringing:
            self._gone = True
            super().close()

    def handle_accept(self) -> None:
        """Let all in who wait, then close what is too many: whoever waits longest outside may be the one with STOP."""
        for _ in range(ACCEPTS):
            try:
                taken = self.accept()
                if taken is None:
                    break
                self.set_socket_options(taken[0])
            except OSError:  # gone again
                break
            self.channel_class(self, taken[0], self.fix_addr(taken[1]), self.adj, map=self._map)
        for channel in too_many(self.crowd(), time.time()):
            channel.will_close = True

    def add_task(self, channel: Any) -> None:
        """Answer what can be answered at once, and queue all else."""
        said = self.answers.answer(channel.requests[0], channel.owner)
        if said is None:
            self.task_dispatcher.add_task(channel)
        else:
            channel.say(said)


def too_many(channels: Iterable[_Channel], now_s: float) -> list[_Channel]:
    """Return the connections to be closed, the oldest first to be known.

    Paired phones' are counted apart. Of each address's others a few may stay, not counting those that are young and
    have said nothing yet: one of them may bring a STOP.
    """
    paired: list[_Channel] = []
    others = defaultdict[str, list[_Channel]](list)
    for channel in channels:
        if not channel.will_close:
            (paired if channel.proven else others[channel.owner]).append(channel)
    idle = sorted((each for each in paired if not each.requests), key=lambda each: float(each.last_activity))
    going = idle[: max(0, len(paired) - CONNECTIONS)]
    for owner, mine in others.items():
        known = [each for each in mine if each.spoken or now_s - each.creation_time >= YOUNG_S]
        known.sort(key=lambda each: bool(each.requests))
        gone = known[: max(0, len(known) - OF_ONE_ADDRESS)]
        going += gone
        others[owner] = [each for each in mine if each not in gone] if gone else mine
    left = sum(map(len, others.values()))
    while left > STRANGERS:
        going.append(max(others.values(), key=len).pop(0))
        left -= 1
    return going


class Server:
    """The web server in a thread of its own."""

    def __init__(self, app: Flask, host: str, port: int, *, secure: bool = False) -> None:
        """Bind to `host` and `port` (0: any that is free); nothing is answered before `start`.

        Raises:
            ControllerError: the address cannot be had; the sentence says which, and what to do.
        """
        self._app = app
        self._map: dict[int, Any] = {}
        self._ending = threading.Event()
        self._lanes = Lanes(STREAMS + LOOKS, STOPS)
        try:
            self._doors = self._bind(_settings(host, port, secure=secure))
        except (OSError, ValueError) as problem:
            self._lanes.shutdown()
            wasyncore.close_all(self._map, ignore_all=True)
            raise ControllerError(say("page.no-address", host=host, port=port, detail=problem)) from problem
        self._thread = threading.Thread(target=self._run, name="page server", daemon=True)
        self._seldom = SeldomFilter()
        for log in _LOGS:
            log.addFilter(self._seldom)

    @property
    def port(self) -> int:
        """The port that was bound."""
        return int(self._doors[0].effective_port)

    def start(self) -> None:
        """Begin to answer."""
        self._thread.start()

    def close(self) -> None:
        """Answer no more: streams end, connections are closed, threads are gone. Harmless when repeated."""
        end_streams(self._app)
        self._ending.set()
        if self._thread.is_alive():
            self._doors[0].pull_trigger()
            self._thread.join(CLOSING_S)
        else:
            self._hang_up()
        self._lanes.shutdown()
        if not self._thread.is_alive():
            for door in self._doors:
                door.close()
        for log in _LOGS:
            log.removeFilter(self._seldom)

    def _bind(self, settings: Adjustments) -> list[_Door]:
        doors = [
            _Door(self._app, map=self._map, dispatcher=self._lanes, adj=settings, sockinfo=info)
            for info in settings.listen
        ]

        def crowd() -> list[_Channel]:
            return [channel for door in doors for channel in door.active_channels.values()]

        reader, answers = reader_for(self._app, crowd), Answers(self._app)
        for door in doors:
            door.reader, door.answers, door.crowd = reader, answers, crowd
        return doors

    def _run(self) -> None:
        while not self._ending.is_set():
            try:
                wasyncore.loop(timeout=1, map=self._map, use_poll=True, count=1)
            except Exception:  # noqa: BLE001
                # whatever one connection brought about: without this thread no page is answered, and no STOP
                _log.exception("the page's server goes on after")
                self._ending.wait(_REST_S)
        self._hang_up()

    def _hang_up(self) -> None:
        for door in self._doors:
            door.hang_up()


def _settings(host: str, port: int, *, secure: bool) -> Adjustments:
    return Adjustments(
        host=host,
        port=port,
        ident=None,
        url_scheme="https" if secure else "http",
        channel_request_lookahead=1,
        connection_limit=10 * (STRANGERS + CONNECTIONS),  # never met: `too_many` keeps below
        channel_timeout=60,
        cleanup_interval=10,
        max_request_body_size=LARGEST,
        max_request_header_size=LONGEST_AS_SENT,
        log_socket_errors=False,
        asyncore_use_poll=True,
    )
