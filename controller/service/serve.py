"""The daemon's life: open the darkroom, let the page in, say where it is, and wait to be ended."""

from __future__ import annotations

import logging
import os
import queue
import signal
import socket
import sys
from collections.abc import Callable, Sequence
from typing import Protocol

import segno

from controller.daemon.desk import Darkroom
from controller.daemon.desk_protocol import Desk
from controller.daemon.wiring import fitted
from controller.service.door import Door
from controller.service.systemd import Notifier
from controller.store.folder import DataFolder
from controller.words import say
from hardware.fitting import Fitting


class Page(Protocol):
    """The web room, once it serves."""

    @property
    def port(self) -> int:
        """The port it listens at."""

    def close(self) -> None:
        """Serve no more."""


OpenPage = Callable[[Desk, Sequence[str], str, int], Page]
"""Lets the page in: desk, the names it answers to, the address to listen at, the port (0: any free one)."""


def serve(data: DataFolder, *, simulate: bool, host: str, port: int, open_page: OpenPage) -> int:
    """Serve until told to end (SIGTERM, or ctrl-C); return 0.

    Raises:
        ControllerError, HardwareError: it cannot begin; the sentence says what is missing. Nothing falls back.
    """
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    told = _told_to_end()
    fitting = fitted(data.path, os.environ, practice=simulate)
    darkroom = Darkroom(data, fitting)
    darkroom.open()
    try:
        door = Door(fitting.runtime, darkroom.pairing().new_code)
        door.open()
        try:
            page = open_page(darkroom, names(host), host, port)
            try:
                _greet(darkroom, fitting, host, page.port)
                with Notifier().serving(darkroom.answered_ns):
                    told.get()
                    darkroom.darken()  # before anything that may have to wait
            finally:
                page.close()
        finally:
            door.close()
    finally:
        darkroom.close()
    return 0


def _told_to_end() -> queue.SimpleQueue[int]:
    """Return where SIGTERM and ctrl-C arrive from now on.

    A signal may come in the midst of dealing with the last one: an event's lock would then wait for itself for ever.
    """
    told: queue.SimpleQueue[int] = queue.SimpleQueue()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda number, _frame: told.put(number))
    return told


def names(host: str) -> tuple[str, ...]:
    """Return the names and addresses this machine answers to; every other Host is refused."""
    name = socket.gethostname()
    own = (name, f"{name}.local") if name else ()
    given = () if host in _ANY else (host,)
    return tuple(dict.fromkeys((*given, "localhost", "127.0.0.1", "::1", *own, *_addresses())))


_ANY = ("0.0.0.0", "::", "")  # noqa: S104 - compared with, not bound to


def _addresses() -> tuple[str, ...]:
    """Return this machine's own addresses, as a phone would see them."""
    found: list[str] = []
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        # a datagram socket that is connected sends nothing; it only tells which address would be used
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect((far, 9))
            except OSError:
                continue
            found.append(str(probe.getsockname()[0]))
    return tuple(found)


def where_words(address: str, host: str, port: int) -> str:
    """Return where the page is: for a phone as well, or on this machine alone where `host` is one that only it sees."""
    local = f"http://localhost:{port}"
    if host == "localhost" or host.startswith("127.") or host == "::1":
        return say("command.address-here", local=local)
    return say("command.address", address=address, local=local)


def _greet(darkroom: Darkroom, fitting: Fitting, host: str, port: int) -> None:
    """Say where the page is, with a code and a picture of it, and which wiring file counts."""
    own = _addresses()
    seen = host if host not in _ANY else (own[0] if own else "127.0.0.1")
    code = darkroom.pairing().new_code()
    address = f"http://{f'[{seen}]' if ':' in seen else seen}:{port}"
    lines = [
        say("command.serving-practice" if fitting.practice else "command.serving"),
        *([say("wiring.used", name=fitting.wiring)] if fitting.wiring is not None else []),
        where_words(address, seen, port),
        say("command.pair-with", code=f"{code[:4]} {code[4:]}"),
        *(say("command.note", words=words) for words in darkroom.status().troubles),
    ]
    sys.stdout.write("\n".join(lines) + "\n")
    segno.make(f"{address}/pair?code={code}", error="m").terminal(sys.stdout, compact=True)
    sys.stdout.flush()
