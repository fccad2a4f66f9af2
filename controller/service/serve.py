"""The daemon's life: open the darkroom, let the page in, say where it is, and wait to be ended."""

from __future__ import annotations

import gc
import logging
import os
import queue
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from typing import Final, Protocol

from controller.addresses import Places, names, places
from controller.backup.second_place import SecondPlace
from controller.daemon.darkroom import Darkroom
from controller.daemon.desk import Desk
from controller.daemon.phones import PhoneList
from controller.service.dark_command import TRIED_NAME, came_up
from controller.service.door import Answers, Code, Door, code_link, link, picture
from controller.service.standing import Shown, where_words
from controller.service.systemd import Notifier
from controller.store.folder import DataFolder
from controller.words import say
from hardware.errors import KeeperAway
from hardware.fitting import Fitting, read_fitting

_KEEPER_NS: Final = 10_000_000_000
"""One that is just being replaced may take so long."""
_LOOK_SECONDS: Final = 0.5


class Page(Protocol):
    """The web room, once it serves."""

    @property
    def port(self) -> int:
        """The port it listens at."""

    def close(self) -> None:
        """Serve no more."""


OpenPage = Callable[[Desk, Callable[[], Sequence[str]], str, int], Page]
"""Lets the page in: desk, what returns the names it answers to, where to listen, the port (0: any free one)."""


def serve(
    data: DataFolder,
    *,
    simulate: bool,
    host: str,
    port: int,
    open_page: OpenPage,
    load_page: Callable[[], object] | None = None,
) -> int:
    """Serve until told to end (SIGTERM, or ctrl-C); return 0.

    `load_page` loads the program that `open_page` will need: it is called while the keeper's process starts.

    Raises:
        ControllerError, HardwareError: it cannot begin; the sentence says what is missing. Nothing falls back.
    """
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    told = _ToldToEnd()
    fitting = read_fitting(data.path, os.environ, practice=simulate)
    second = SecondPlace.named(data, os.environ)
    darkroom = Darkroom(data, fitting, ending=lambda: told.ended, second=second)
    darkroom.open(meanwhile=load_page)
    try:
        desk = darkroom.desk
        page = open_page(desk, lambda: names(host), host, port)
        try:
            where = partial(_places, host, page)
            shown = Shown(desk, where)
            door = Door(fitting.runtime, _answers_at_the_door(desk, where, shown))
            door.open()
            try:
                if _keeper_came(desk, told):
                    _greet(desk, fitting, where())
                    came_up(fitting.runtime / TRIED_NAME)
                    with Notifier().serving(darkroom.answered_ns, shown.line):
                        _loaded()
                        told.wait()
                        darkroom.darken()  # before anything that may have to wait
            finally:
                door.close()
        finally:
            page.close()
    finally:
        darkroom.close()
    return 0


class _ToldToEnd:
    """Where SIGTERM and ctrl-C arrive from now on.

    A signal may come in the midst of dealing with the last one: an event's lock would then wait for itself for ever.
    """

    def __init__(self) -> None:
        self.ended = False
        """Known at once, before whoever waits is awake: a service manager tells the keepers at the same moment."""
        self._told: queue.SimpleQueue[int] = queue.SimpleQueue()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._take)

    def _take(self, number: int, _frame: object) -> None:
        self.ended = True
        self._told.put(number)

    def wait(self) -> None:
        """Wait for the first one."""
        self._told.get()


def _loaded() -> None:
    """Let go what loading left behind; the program itself never becomes garbage, and is not looked through again."""
    gc.collect()
    gc.freeze()
    gc.enable()


def _places(host: str, page: Page) -> Places:
    return places(host, page.port)


def _keeper_came(desk: Desk, told: _ToldToEnd) -> bool:
    """Return once a keeper is ready, until when nobody is told that light can be given; False if told to end before.

    Raises:
        KeeperAway: none came up, or they were lost so often that none is started any more.
    """
    until_ns = desk.now_ns() + _KEEPER_NS
    while (status := desk.status()).keeper != "ready":
        if told.ended:
            return False
        if status.keeper == "fault" or desk.now_ns() > until_ns:
            raise KeeperAway(say("command.keeper-lost"))
        desk.wait(status.number, _LOOK_SECONDS)
    return True


def _answers_at_the_door(desk: Desk, where: Callable[[], Places], shown: Shown) -> Answers:
    """Return what each word at the door is answered with."""

    def pair(_: str) -> Code:
        now = where()
        invitation = desk.pairing().invite()
        return Code(code=invitation.code, where=now, link=link(now, invitation.secret))

    def out(name: str) -> PhoneList:
        desk.phones().put_out(name)
        return desk.phones().list_lines()

    return {
        "pair": pair,
        "where": lambda _: where(),
        "status": lambda _: shown.standing(),
        "phones": lambda _: desk.phones().list_lines(),
        "out": out,
    }


def _greet(desk: Desk, fitting: Fitting, where: Places) -> None:
    """Say where the page is, with a code and a picture of it, and which wiring file counts."""
    invitation = desk.pairing().invite()
    code = invitation.code
    lines = [
        say("command.serving-practice" if fitting.practice else "command.serving"),
        *([say("wiring.used", name=fitting.place)] if fitting.place is not None else []),
        where_words(where),
        say("command.pair-here", link=code_link(where, code)),
        say("command.pair-with", code=f"{code[:4]} {code[4:]}"),
        *(say("command.note", words=words) for words in desk.status().troubles),
    ]
    with suppress(OSError):  # that nobody reads it is no reason to work no lamp
        sys.stdout.write("\n".join(lines) + "\n" + picture(link(where, invitation.secret)))
        sys.stdout.flush()
