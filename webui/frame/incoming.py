"""What comes in lies on the card while it is looked at, in files without a name: gone with whoever had them open."""

from __future__ import annotations

import os
import shutil
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
    """A body that is being taken in; to add to it raises OSError where the card is full."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        super().__init__()

    def newfile(self) -> IO[bytes]:
        """Return an empty file, which holds nothing back: closed after a failure, it must not fail once more."""
        return TemporaryFile("w+b", buffering=0, dir=self._folder)

    def append(self, s: bytes) -> None:
        """Add bytes at the end."""
        at, rest = self.file.tell(), memoryview(s)
        self.file.seek(0, os.SEEK_END)
        while rest:
            rest = rest[self.file.write(rest) :]
        self.file.seek(at)
        self.remain += len(s)


class IncomingRequest(Request):
    """A request whose files are laid on the card."""

    def _get_file_stream(
        self,
        total_content_length: int | None,  # noqa: ARG002 - werkzeug's
        content_type: str | None,  # noqa: ARG002
        filename: str | None = None,  # noqa: ARG002
        content_length: int | None = None,  # noqa: ARG002
    ) -> IO[bytes]:
        return cast("IO[bytes]", SpooledTemporaryFile(IN_MEMORY, "w+b", dir=str(desk().incoming())))


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
