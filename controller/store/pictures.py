"""The one store of pictures: small JPEGs in files that are named by what is in them, each written once and whole.

A picture's name is the SHA-256 of its bytes, so that the same picture is kept once, a damaged one is told by its name,
and copies elsewhere differ by the files that are missing there. Nothing is changed in it, and nothing taken away.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Final, NamedTuple

from controller.errors import NotThere, StoreTrouble, Unreadable
from controller.files import write_whole
from controller.words import say

LARGEST_BYTES: Final = 400_000
"""Of one picture; what is kept of a photograph has at most three quarters of it."""
MOST_PICTURES: Final = 10_000
"""Some 1.7 GB at the most: ten years of a film a week, and a photograph of every print, which is kept small as well."""
SPARE_BYTES: Final = 100_000_000
"""Of the card, left to the record of sheets."""
ENDING: Final = ".jpg"
NAME: Final = re.compile("[0-9a-f]{64}")
_SIZES: Final = frozenset({0xC0, 0xC1, 0xC2})
"""JPEG's markers (ITU-T T.81, table B.1) of a frame as browsers show it: baseline, extended, progressive."""
_ALONE: Final = frozenset({0x01, *range(0xD0, 0xD8)})
"""Markers that no length follows."""


class PictureSize(NamedTuple):
    """A picture's width and height in pixels."""

    width: int
    height: int


def hash_of(content: bytes) -> str:
    """Return what a picture is called."""
    return hashlib.sha256(content).hexdigest()


def size_of(content: bytes) -> PictureSize | None:
    """Return a JPEG's size from its head, nothing of it unpacked; None where it is none that a browser would show."""
    at, end = 2, len(content)
    if not content.startswith(b"\xff\xd8") or not content.rstrip(b"\0").endswith(b"\xff\xd9"):
        return None
    while at + 9 <= end and content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF or marker in _ALONE:
            at += 1 if marker == 0xFF else 2
            continue
        if marker in _SIZES:
            height, width = (int.from_bytes(content[at + step : at + step + 2], "big") for step in (5, 7))
            return PictureSize(width, height) if width and height else None
        at += 2 + max(2, int.from_bytes(content[at + 2 : at + 4], "big"))
    return None


def look_at(content: bytes, name: str) -> PictureSize:
    """Return the size of a picture that may be kept; `name` is the file's, for the refusal.

    Raises:
        Unreadable: it is too large, or no JPEG.
    """
    size = size_of(content) if len(content) <= LARGEST_BYTES else None
    if size is None:
        raise Unreadable(say("store.picture-unfit", file=name, most=LARGEST_BYTES // 1000))
    return size


class Pictures:
    """The pictures in a folder, which is made with the first one. Safe from any thread: files only ever come."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def keep(self, content: bytes, name: str) -> str:
        """Keep a picture, and return what it is called; one that is here already, and whole, is not written again.

        Raises:
            Unreadable: it is too large, or no JPEG; `name` is the file's, for the refusal.
            StoreTrouble: it cannot be written, or there is no room; nothing was kept.
        """
        look_at(content, name)
        picture = hash_of(content)
        if self.whole(picture):
            return picture
        try:
            self.folder.mkdir(mode=0o700, exist_ok=True)
            stat = os.statvfs(self.folder)
            if stat.f_bavail * stat.f_frsize < SPARE_BYTES or self.count() >= MOST_PICTURES:
                raise StoreTrouble(say("store.picture-no-room", path=self.folder, most=MOST_PICTURES))
            place = self.place(picture)
            place.parent.mkdir(mode=0o700, exist_ok=True)
            write_whole(place, content, mode=0o600)
        except OSError as problem:
            raise StoreTrouble(say("store.picture-unkept", path=self.folder, detail=problem.strerror)) from problem
        return picture

    def read(self, picture: str) -> bytes:
        """Return a picture.

        Raises:
            NotThere: it is not here, or not what it was.
        """
        if NAME.fullmatch(picture):
            with suppress(OSError):
                content = self.place(picture).read_bytes()
                if hash_of(content) == picture:
                    return content
        raise NotThere(say("store.picture-gone"))

    def size(self, picture: str) -> PictureSize | None:
        """Return a picture's size; None where it is not here, or not to be read."""
        try:
            return size_of(self.read(picture))
        except NotThere:
            return None

    def has(self, picture: str) -> bool:
        """Tell whether a picture is here; it is not read for that."""
        return NAME.fullmatch(picture) is not None and self.place(picture).exists()

    def whole(self, picture: str) -> bool:
        """Tell whether a picture is here as it was kept."""
        try:
            self.read(picture)
        except NotThere:
            return False
        return True

    def drop(self, picture: str) -> None:
        """Take away what was kept a moment ago, for nothing names it: what it came for was refused."""
        with suppress(OSError):
            self.place(picture).unlink()

    def each(self) -> Iterator[str]:
        """Give what each picture is called, in the order of their names."""
        with suppress(OSError):
            for part in sorted(self.folder.iterdir()):
                if part.is_dir():
                    yield from (
                        path.stem
                        for path in sorted(part.iterdir())
                        if path.suffix == ENDING and NAME.fullmatch(path.stem)
                    )

    def count(self) -> int:
        """Return how many there are."""
        return sum(1 for _ in self.each())

    def total_bytes(self) -> int:
        """Return how much they take together."""
        total = 0
        for picture in self.each():
            with suppress(OSError):
                total += self.place(picture).stat().st_size
        return total

    def place(self, picture: str) -> Path:
        """Return where a picture lies, or would."""
        return self.folder / picture[:2] / f"{picture}{ENDING}"
