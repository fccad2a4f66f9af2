"""An export that comes as one zip, of whoever's making: its files are read where they lie, and none is unpacked.

So a name in it can lead nowhere. How much is unpacked is bounded, by what is read and not by what the zip says.
"""

from __future__ import annotations

import os
import stat
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import IO, Final
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from controller.backup.export import INDEX
from controller.backup.import_ import read_bytes, read_text
from controller.errors import Unreadable
from controller.exposure.stops import shown
from controller.words import say

BEGINS: Final = b"PK"
MOST_FILES: Final = 30_000
"""Files of one zip."""
LARGEST_LIST: Final = 6_000_000
"""Bytes of the zip's own list of its files."""
LARGEST_PACKED_INDEX: Final = 12_000_000
"""Bytes of the export's list, which is held while it is brought in."""
MOST_UNPACKED: Final = 400_000_000
"""Bytes that are unpacked of one zip: everything is read twice."""
_END: Final = struct.Struct("<4s4H2LH")
_LONG_LIST: Final = 20
"""Bytes before the end that would name a list of the longer form."""


class PackedExport:
    """The files of an export in a zip. `name` is the zip's in a refusal.

    Raises:
        Unreadable: it is no zip that an export could be in.
    """

    def __init__(self, file: IO[bytes], name: str) -> None:
        self.place = Path(shown(name, 80))
        self._left = MOST_UNPACKED
        _look_at_end(file, self.place)
        with self._told():
            self._zip = ZipFile(file)
            self._files = {one.filename: one for one in self._zip.infolist() if not one.is_dir()}
            for one in self._zip.infolist():
                _look_at(one, self.place)
        if len(self._files) < sum(not one.is_dir() for one in self._zip.infolist()):
            raise Unreadable(say("data.zip-twice", file=self.place))
        lists = sorted((name for name in self._files if PurePosixPath(name).name == INDEX), key=len)
        if not lists or len(PurePosixPath(lists[0]).parts) > 2:
            raise Unreadable(say("data.zip-no-export", file=self.place, index=INDEX))
        self._root = lists[0].removesuffix(INDEX)

    def text(self, file: str, most: int, name: str = "") -> str:
        """Return what is in a file of it, of so many bytes at most; `name` is for the refusal.

        Raises:
            Unreadable: there is no such file, it is too large, damaged, or no text; or too much was unpacked by now.
        """
        with self._told(), self._zip.open(self._found(file, most, name)) as opened:
            return read_text(opened, most, name or str(self.place / file))

    def content(self, file: str, most: int) -> bytes:
        """Return the bytes of a file of it, so many at most.

        Raises:
            Unreadable: as `text`.
        """
        with self._told(), self._zip.open(self._found(file, most)) as opened:
            return read_bytes(opened, most, str(self.place / file))

    def _found(self, file: str, most: int, name: str = "") -> ZipInfo:
        found = self._files.get(f"{self._root}{file}")
        if found is None:
            raise Unreadable(say("data.zip-lacks", file=self.place, lacks=name or file))
        self._left -= min(found.file_size, most + 1)
        if self._left < 0:
            raise Unreadable(say("data.zip-too-much", file=self.place, mb=MOST_UNPACKED // 1_000_000))
        return found

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except Unreadable:
            raise
        except (BadZipFile, zlib.error, struct.error, EOFError, OSError, ValueError, NotImplementedError) as problem:
            raise Unreadable(say("data.zip-broken", file=self.place)) from problem


def _look_at_end(file: IO[bytes], place: Path) -> None:
    """Refuse a zip whose list would fill the memory, before that list is read."""
    length = file.seek(0, os.SEEK_END)
    file.seek(max(0, length - _END.size - _LONG_LIST))
    tail = file.read()
    if len(tail) < _END.size or not tail[-_END.size :].startswith(b"PK\5\6") or tail[-2:] != b"\0\0":
        raise Unreadable(say("data.zip-broken", file=place))
    files, listed = _END.unpack(tail[-_END.size :])[4:6]
    if files > MOST_FILES or listed > LARGEST_LIST or tail.startswith(b"PK\6\7"):
        raise Unreadable(say("data.zip-too-many", file=place, most=MOST_FILES))


def _look_at(one: ZipInfo, place: Path) -> None:
    """Refuse what no export has: names that lead elsewhere, links, secrets, and other ways to pack."""
    path = PurePosixPath(one.filename)
    kind = stat.S_IFMT(one.external_attr >> 16)
    if path.is_absolute() or ".." in path.parts or "\\" in one.orig_filename or "\0" in one.orig_filename:
        raise Unreadable(say("data.zip-outside", file=place, name=shown(one.orig_filename, 80)))
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR) or one.flag_bits & 1 or one.compress_type not in _PACKED:
        raise Unreadable(say("data.zip-strange", file=place, name=shown(one.filename, 80)))


_PACKED: Final = (ZIP_STORED, ZIP_DEFLATED)
