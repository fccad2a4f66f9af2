"""A local door beside a running daemon: a socket in its runtime folder, for commands such as `treadle pair`."""

from __future__ import annotations

import json
import os
import socket
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from typing import Final, TypeVar

import segno
from pydantic import ValidationError

from controller.addresses import Places
from controller.errors import ControllerError, Impossible, StoreTrouble
from controller.model import Frozen
from controller.words import say

DOOR: Final = "door"
_WAIT_S: Final = 3.0
_LONGEST: Final = 200
"""Bytes."""
_LONGEST_ANSWER: Final = 256_000
T = TypeVar("T", bound=Frozen)
Answers = Mapping[str, Callable[[str], Frozen]]
"""What each word is answered with; it is given what stands behind the word."""


class Code(Frozen):
    """A pairing code, as the command line prints it."""

    code: str
    minutes: int = 10
    where: Places
    link: str
    """What the picture says: it pairs without the code being typed."""

    def lines(self) -> tuple[str, ...]:
        """Return it in words, with the picture."""
        code = say("command.code", code=f"{self.code[:4]} {self.code[4:]}", minutes=self.minutes)
        here = say("command.pair-here", link=code_link(self.where, self.code))
        return (code, *self._places(), here, picture(self.link).rstrip("\n"))

    def _places(self) -> Iterator[str]:
        if self.where.alone:
            yield say("command.address-here", local=self.where.local)
            return
        if self.where.name:
            yield say("command.by-name", address=self.where.name)
        for address in self.where.addresses:
            yield say("command.by-address", address=address)
        if not self.where.addresses:
            yield say("command.no-network")


def link(where: Places, secret: str) -> str:
    """Return the address that pairs a phone by a tap."""
    return f"{where.best()}/pair?key={secret}"


def code_link(where: Places, code: str) -> str:
    """Return the address that pairs a browser of this machine itself by a tap, without its code being typed."""
    return f"{where.local}/pair?code={code}"


def picture(text: str) -> str:
    """Return a picture of a text for a phone's camera, drawn with characters."""
    drawn = StringIO()
    segno.make(text, error="m").terminal(drawn, compact=True)
    return drawn.getvalue()


class Door:
    """Answers one word a visit, each in its own way. Only the daemon's own user (and root) can come in."""

    def __init__(self, folder: Path, answers: Answers) -> None:
        self._folder, self._answers = folder, answers
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._thread = threading.Thread(target=self._run, name="door", daemon=True)
        self._closing = False

    def open(self) -> None:
        """Begin to answer; a door left behind by a daemon that died is replaced."""
        with _reach(self._folder) as place:
            Path(place).unlink(missing_ok=True)
            self._socket.bind(place)
            Path(place).chmod(0o600)
        self._socket.listen(4)
        self._thread.start()

    def close(self) -> None:
        """Answer no more; closing twice does nothing."""
        if not self._closing:
            self._closing = True
            if self._thread.is_alive():
                self._socket.shutdown(socket.SHUT_RDWR)
                self._thread.join()
            self._socket.close()
            (self._folder / DOOR).unlink(missing_ok=True)

    def _run(self) -> None:
        while not self._closing:
            try:
                visitor, _ = self._socket.accept()
            except OSError:
                return
            with visitor:
                visitor.settimeout(_WAIT_S)
                try:
                    word = visitor.recv(_LONGEST).decode("utf-8", "replace").strip()
                    visitor.sendall(self._answer(*word.partition(" ")[::2]).encode())
                except OSError:
                    continue

    def _answer(self, word: str, rest: str) -> str:
        answer = self._answers.get(word)
        try:
            told = answer(rest).model_dump_json() if answer else ""
        except ControllerError as problem:
            return json.dumps({"refused": str(problem)})
        return told


def ask(folder: Path, word: str, kind: type[T]) -> T:
    """Return what the daemon whose runtime folder this is answers to a word at its door.

    Raises:
        StoreTrouble: no daemon answers there; the sentence says how to start one.
        Impossible: it answers that it cannot.
    """
    try:
        with _reach(folder) as place, socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as door:
            door.settimeout(_WAIT_S)
            door.connect(place)
            door.sendall(f"{word}\n".encode())
            with door.makefile("rb") as answers:
                told = json.loads(answers.read(_LONGEST_ANSWER))
        if isinstance(told, dict) and "refused" in told:
            raise Impossible(str(told["refused"]))
        return kind.model_validate(told)
    except (OSError, json.JSONDecodeError, ValidationError):
        raise StoreTrouble(say("command.no-daemon", folder=folder)) from None


@contextmanager
def _reach(folder: Path) -> Iterator[str]:
    """Give a short name for the door: a socket's path may not be longer than a hundred characters or so."""
    opened = os.open(folder, os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{opened}/{DOOR}"
    finally:
        os.close(opened)
