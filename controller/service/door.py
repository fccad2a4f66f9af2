"""A local door beside a running daemon: a socket in its runtime folder, for commands such as `treadle pair`."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from controller.errors import StoreTrouble
from controller.model import Frozen
from controller.words import say

DOOR: Final = "door"
_WAIT_S: Final = 3.0
_LONGEST: Final = 200


class Code(Frozen):
    """A pairing code, as the command line prints it."""

    code: str
    minutes: int = 10

    def lines(self) -> tuple[str, ...]:
        """Return it in words."""
        return (say("command.code", code=f"{self.code[:4]} {self.code[4:]}", minutes=self.minutes),)


class Door:
    """Answers one word a visit: "pair" with a new code. Only the daemon's own user (and root) can come in."""

    def __init__(self, folder: Path, new_code: Callable[[], str]) -> None:
        self._folder, self._new_code = folder, new_code
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
                    word = visitor.recv(_LONGEST).decode("ascii", "replace").strip()
                    visitor.sendall((self._new_code() if word == "pair" else "").encode("ascii"))
                except OSError:
                    continue


def ask_for_code(folder: Path) -> Code:
    """Return a new pairing code from the daemon whose runtime folder this is.

    Raises:
        StoreTrouble: no daemon answers there; the sentence says how to start one.
    """
    try:
        with _reach(folder) as place, socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as door:
            door.settimeout(_WAIT_S)
            door.connect(place)
            door.sendall(b"pair\n")
            code = door.recv(_LONGEST).decode("ascii")
    except OSError:
        raise StoreTrouble(say("command.no-daemon", folder=folder)) from None
    return Code(code=code)


@contextmanager
def _reach(folder: Path) -> Iterator[str]:
    """Give a short name for the door: a socket's path may not be longer than a hundred characters or so."""
    opened = os.open(folder, os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{opened}/{DOOR}"
    finally:
        os.close(opened)
