"""The daemon's life: open the darkroom, let the page in, say where it is, and wait to be ended."""

from __future__ import annotations

import logging
import os
import queue
import signal
import sys
from collections.abc import Callable, Sequence
from typing import Protocol

from controller.addresses import Places, names, places
from controller.daemon.darkroom import Darkroom
from controller.daemon.desk import Desk
from controller.daemon.phones import PhoneList
from controller.service.door import Answers, Code, Door, link, picture
from controller.service.systemd import Notifier
from controller.store.folder import DataFolder
from controller.words import say
from hardware.fitting import Fitting, read_fitting


class Page(Protocol):
    """The web room, once it serves."""

    @property
    def port(self) -> int:
        """The port it listens at."""

    def close(self) -> None:
        """Serve no more."""


OpenPage = Callable[[Desk, Callable[[], Sequence[str]], str, int], Page]
"""Lets the page in: desk, what returns the names it answers to, where to listen, the port (0: any free one)."""


def serve(data: DataFolder, *, simulate: bool, host: str, port: int, open_page: OpenPage) -> int:
    """Serve until told to end (SIGTERM, or ctrl-C); return 0.

    Raises:
        ControllerError, HardwareError: it cannot begin; the sentence says what is missing. Nothing falls back.
    """
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    told = _told_to_end()
    fitting = read_fitting(data.path, os.environ, practice=simulate)
    darkroom = Darkroom(data, fitting)
    darkroom.open()
    try:
        page = open_page(darkroom.desk, lambda: names(host), host, port)
        try:
            door = Door(fitting.runtime, _answers_at_the_door(darkroom.desk, lambda: places(host, page.port)))
            door.open()
            try:
                _greet(darkroom.desk, fitting, places(host, page.port))
                with Notifier().serving(darkroom.answered_ns):
                    told.get()
                    darkroom.darken()  # before anything that may have to wait
            finally:
                door.close()
        finally:
            page.close()
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


def _answers_at_the_door(desk: Desk, where: Callable[[], Places]) -> Answers:
    """Return what each word at the door is answered with."""

    def pair(_: str) -> Code:
        now = where()
        invitation = desk.pairing().invite()
        return Code(code=invitation.code, where=now, link=link(now, invitation.secret))

    def out(name: str) -> PhoneList:
        desk.phones().put_out(name)
        return desk.phones().list_lines()

    return {"pair": pair, "where": lambda _: where(), "phones": lambda _: desk.phones().list_lines(), "out": out}


def where_words(where: Places) -> str:
    """Return where the page is: for a phone as well, or on this machine alone; true later, too."""
    if where.alone:
        return say("command.address-here", local=where.local)
    if not where.addresses:
        return say("command.address-later", later=where.name or say("command.by-number"), local=where.local)
    return say("command.address", address="   ".join((*where.addresses, where.name)).rstrip(), local=where.local)


def _greet(desk: Desk, fitting: Fitting, where: Places) -> None:
    """Say where the page is, with a code and a picture of it, and which wiring file counts."""
    invitation = desk.pairing().invite()
    code = invitation.code
    lines = [
        say("command.serving-practice" if fitting.practice else "command.serving"),
        *([say("wiring.used", name=fitting.place)] if fitting.place is not None else []),
        where_words(where),
        say("command.pair-with", code=f"{code[:4]} {code[4:]}"),
        *(say("command.note", words=words) for words in desk.status().troubles),
    ]
    sys.stdout.write("\n".join(lines) + "\n" + picture(link(where, invitation.secret)))
    sys.stdout.flush()
