"""What comes in lies on the card while it is looked at, in files without a name: gone with whoever had them open."""

from __future__ import annotations

import os
import shutil
import weakref
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from tempfile import SpooledTemporaryFile, TemporaryFile
from typing import IO, TYPE_CHECKING, Any, BinaryIO, Final, cast

from flask import Request
from waitress.buffers import TempfileBasedBuffer

from webui.frame.context import desk

if TYPE_CHECKING:
    from werkzeug.datastructures import FileStorage

IN_MEMORY: Final = 65_536
"""Bytes of a body, or of a file in it, that need no card."""
SPARE: Final = 100_000_000
"""Bytes of the card that are left to the record of sheets."""


class CardBuffer(TempfileBasedBuffer):  # type: ignore[misc]  # waitress ships no types
    """A body that is being taken in, as long as the card has room; what comes afterwards is let go.

    It is taken to its end all the same: whoever is hung up on while he sends never reads why.
    """

    full = False
    """The card had too little room: the body is not all there."""

    def __init__(self, folder: Path, *, full: bool = False) -> None:
        self._folder = folder
        super().__init__()
        if full:
            self._give_up()

    def newfile(self) -> IO[bytes]:
        """Return an empty file, which holds nothing back: closed after a failure, it must not fail once more."""
        try:
            file = TemporaryFile("w+b", buffering=0, dir=self._folder)  # noqa: SIM115 - the body closes it
        except OSError:
            self.full = True
            return BytesIO()
        weakref.finalize(self, file.close)  # a server that ends drops what is still queued
        return file

    def append(self, s: bytes) -> None:
        """Add bytes at the end."""
        self.remain += len(s)
        if self.full:
            return
        at, rest = self.file.tell(), memoryview(s)
        try:
            self.file.seek(0, os.SEEK_END)
            while rest:
                rest = rest[self.file.write(rest) :]
        except OSError:
            self._give_up()
        else:
            self.file.seek(at)

    def _give_up(self) -> None:
        self.full = True
        self.file.close()


class IncomingRequest(Request):
    """A request whose files are laid on the card."""

    def __init__(self, *what: Any, **more: Any) -> None:
        super().__init__(*what, **more)
        self._laid: list[IO[bytes]] = []

    def _get_file_stream(
        self,
        total_content_length: int | None,  # noqa: ARG002 - werkzeug's
        content_type: str | None,  # noqa: ARG002
        filename: str | None = None,  # noqa: ARG002
        content_length: int | None = None,  # noqa: ARG002
    ) -> IO[bytes]:
        found = self._lay()
        self._laid.append(found)
        return found

    def _lay(self) -> IO[bytes]:
        return cast("IO[bytes]", SpooledTemporaryFile(IN_MEMORY, "w+b", dir=str(desk().incoming())))

    def close(self) -> None:
        """Let everything go that came with it, also what of a form could not be read to its end."""
        super().close()
        for each in self._laid:
            with suppress(OSError):  # what the card had no room for
                each.close()


def has_room(folder: Path, length: int) -> bool:
    """Tell whether a body of this length may come: it lies on the card twice while its form is read."""
    try:
        return shutil.disk_usage(folder).free >= 2 * length + SPARE
    except OSError:
        return False


def brought(sent: FileStorage | None) -> BinaryIO | None:
    """Return the file that a form brought; None where there is none, or nothing in it."""
    if sent is None or not sent.filename:
        return None
    file: Any = sent.stream
    empty = file.seek(0, os.SEEK_END) == 0
    return None if empty else cast("BinaryIO", file)
