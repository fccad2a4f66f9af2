"""Serves the app, so that STOP never waits: it has its own lane, and nothing else may enter that lane.

waitress gives every request to one queue; a queue behind slow requests and open streams would hold STOP up.
Here a request is looked at before it is queued, and `POST /stop` goes to threads of its own. A connection
that has been idle longest gives way when there are many, so that a newcomer's STOP is accepted, too.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any, Final

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ErrorTask, ThreadedTaskDispatcher

from controller.errors import ControllerError
from controller.words import say
from webui.bodies import LARGEST, reader_for
from webui.frame.assets import csp_hash
from webui.frame.live import STREAMS, end_streams
from webui.wording import refusal_for

if TYPE_CHECKING:
    from collections.abc import Callable

    from flask import Flask

    from webui.bodies import Reader

LOOKS: Final = 6
"""Threads for all that is no stream and no STOP."""
STOPS: Final = 2
"""Threads that do nothing but stop."""
CONNECTIONS: Final = 120
"""From here on the connection that has been idle longest is closed for every new one."""
REFUSED_ABOVE: Final = 240
CLOSING_S: Final = 5
_STYLE: Final = "html{background:#000;color:#5a0000;color-scheme:dark}body{font:20px sans-serif;padding:20px}"


class Lanes:
    """Two queues with threads of their own: STOP, and everything else."""

    def __init__(self, rest: int, stops: int) -> None:
        self._rest, self._stops = ThreadedTaskDispatcher(), ThreadedTaskDispatcher()
        self._rest.set_thread_count(rest)
        self._stops.set_thread_count(stops)

    def add_task(self, channel: Any) -> None:
        """Queue the request that stands first on a connection."""
        (self._stops if is_stop(channel.requests[0]) else self._rest).add_task(channel)

    def shutdown(self, cancel_pending: bool = True, timeout: float = CLOSING_S) -> None:
        """End the threads once they are done with what they do, within `timeout` seconds each lane."""
        self._stops.shutdown(cancel_pending, timeout)
        self._rest.shutdown(cancel_pending, timeout)


class _Refusal(ErrorTask):  # type: ignore[misc]  # waitress ships no types
    """What waitress itself refuses, as a sentence on black."""

    def execute(self) -> None:
        """Send the sentence, and close the connection."""
        error = self.request.error
        sentence = refusal_for(error.code)
        body = (
            "<!doctype html><html lang=en><meta charset=utf-8><meta name=color-scheme content=dark>"
            "<meta name=viewport content='width=device-width,initial-scale=1'>"
            f"<style>{_STYLE}</style><p>{sentence}</p>"
        ).encode()
        self.status = f"{error.code} {error.reason}"
        self.response_headers += [
            ("Content-Type", "text/html; charset=utf-8"),
            ("Content-Security-Policy", f"default-src 'none'; style-src {csp_hash(_STYLE)}; frame-ancestors 'none'"),
            ("X-Content-Type-Options", "nosniff"),
            ("Cache-Control", "no-store"),
        ]
        self.set_close_on_finish()
        self.content_length = len(body)
        self.write(body)


class _Channel(HTTPChannel):  # type: ignore[misc]  # waitress ships no types
    error_task_class = _Refusal

    def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:  # noqa: A002 - waitress's
        """Take a connection of `server`, a `_Door`."""
        self.parser_class = server.reader
        super().__init__(server, sock, addr, adj, map=map)


class _Door(TcpWSGIServer):  # type: ignore[misc]  # waitress ships no types
    """One listening socket."""

    channel_class = _Channel
    reader: Callable[[Any], Reader]
    """What makes the reader of a request; given before anybody may come in."""

    def handle_accept(self) -> None:
        """Let a newcomer in; the longest idle connection makes room."""
        super().handle_accept()
        if len(self.active_channels) > CONNECTIONS:
            idle = [channel for channel in self.active_channels.values() if not channel.requests]
            if idle:
                min(idle, key=lambda channel: channel.last_activity).will_close = True


class Server:
    """The web server in a thread of its own."""

    def __init__(self, app: Flask, host: str, port: int, *, secure: bool = False) -> None:
        """Bind to `host` and `port` (0: any that is free); nothing is answered before `start`.

        Raises:
            ControllerError: the address cannot be had; the sentence says which, and what to do.
        """
        self._app = app
        self._map: dict[int, Any] = {}
        self._lanes = Lanes(STREAMS + LOOKS, STOPS)
        try:
            self._doors = self._bind(_settings(host, port, secure=secure))
        except (OSError, ValueError) as problem:
            self._lanes.shutdown()
            wasyncore.close_all(self._map, ignore_all=True)
            raise ControllerError(say("page.no-address", host=host, port=port, detail=problem)) from problem
        self._thread = threading.Thread(target=self._run, name="page server", daemon=True)

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
        if self._thread.is_alive():
            self._doors[0].trigger.pull_trigger(self._shut)
            self._thread.join(CLOSING_S)
        else:
            self._shut()
        self._lanes.shutdown()

    def _bind(self, settings: Adjustments) -> list[_Door]:
        doors = [
            _Door(self._app, map=self._map, dispatcher=self._lanes, adj=settings, sockinfo=info)
            for info in settings.listen
        ]
        reader = reader_for(self._app, lambda: [one for door in doors for one in door.active_channels.values()])
        for door in doors:
            door.reader = reader
        return doors

    def _run(self) -> None:
        wasyncore.loop(timeout=1, map=self._map, use_poll=True)

    def _shut(self) -> None:
        """Close everything; in the server's own thread while it runs."""
        for door in self._doors:
            for channel in list(door.active_channels.values()):
                channel.handle_close()
        wasyncore.close_all(self._map, ignore_all=True)


def _settings(host: str, port: int, *, secure: bool) -> Adjustments:
    return Adjustments(
        host=host,
        port=port,
        ident=None,
        url_scheme="https" if secure else "http",
        channel_request_lookahead=1,
        connection_limit=REFUSED_ABOVE,
        channel_timeout=60,
        cleanup_interval=10,
        max_request_body_size=LARGEST,
        max_request_header_size=32_768,
        log_socket_errors=False,
        asyncore_use_poll=True,
    )


def is_stop(request: Any) -> bool:
    """Tell whether a parsed request is STOP itself; nothing else may use its lane."""
    return request.error is None and request.command == "POST" and request.path == "/stop"
