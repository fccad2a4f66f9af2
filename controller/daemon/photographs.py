"""Photographs that a phone brings, of proofs and of dry prints: made small, kept by their hash, filed in the journal.

A decoder works in a process of its own (`controller.unpack`); what comes out is a JPEG of greys. Of a print a second,
much smaller one is kept beside it, for rows and walls of many. Nothing is taken out of the store of pictures: a
photograph that is replaced or taken away stays on file, and can be put back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import BinaryIO, Final

from controller.errors import ControllerError, Impossible, KeeperGone, NotThere, StoreTrouble, Unreadable
from controller.negatives.on_proof import WHOLE, XY, goes_round
from controller.negatives.sets import CORNERS
from controller.paper.libraries import missing_libraries
from controller.store.entries import Photographed
from controller.store.pictures import Pictures, PictureSize, hash_of
from controller.store.records import SheetRecord
from controller.unpack.unpacker import MOST_BYTES, Unpacker
from controller.words import say

MOST_PHOTOGRAPH_BYTES: Final = 24_000_000
"""The largest photograph that is taken in."""
LONGEST_SIDE: Final = 1600
"""Pixels that are kept of a photograph."""
MOST_KEPT_BYTES: Final = 300_000
"""Bytes that are kept of one."""
SMALL_SIDE: Final = 420
"""Pixels of the small one: a third of a phone's width at three pixels a point."""
MOST_SMALL_BYTES: Final = 40_000


@dataclass(frozen=True)
class Size:
    """How large a file is taken in, in bytes, and what is kept of it: its longer side in pixels, and bytes."""

    most_file: int
    side: int
    most_bytes: int
    fine: bool = False
    """Sixteen bits of each grey count where the file has them."""


PHOTOGRAPH: Final = Size(MOST_PHOTOGRAPH_BYTES, LONGEST_SIDE, MOST_KEPT_BYTES)
SCAN: Final = Size(most_file=MOST_BYTES, side=1000, most_bytes=380_000, fine=True)
"""A frame's scan: as many pixels as a page shows."""


class Photographs:
    """Safe from any thread.

    `note` files a row of the journal; `incoming` is where what comes in lies while it is made smaller.
    """

    def __init__(
        self, pictures: Pictures, unpacker: Unpacker, note: Callable[[Photographed], object], incoming: Path
    ) -> None:
        self._pictures, self._unpacker, self._note, self._incoming = pictures, unpacker, note, incoming

    @contextmanager
    def taken_in(
        self, file: BinaryIO, name: str, *, size: Size = PHOTOGRAPH, small: bool = False
    ) -> Iterator[tuple[str, str]]:
        """Keep a photograph, made small, and give its hash and that of the `small` one; neither where the body fails.

        Raises:
            Unreadable: it is no such picture, too large or too small; nothing is kept.
            Impossible: the libraries that read pictures are missing.
            WrongMoment: another picture is being unpacked, or a sheet is open.
            StoreTrouble: it cannot be written; nothing is kept.
        """
        contents = self._reduced(file, name, size, small=small)
        new = [hash_of(content) for content in contents if not self._pictures.has(hash_of(content))]
        try:
            kept = [self._pictures.keep(content, name) for content in contents]
            yield kept[0], kept[1] if small else ""
        except KeeperGone:  # what was asked may be done yet
            raise
        except ControllerError:
            for picture in new:
                self._pictures.drop(picture)
            raise

    def _reduced(self, file: BinaryIO, name: str, size: Size, *, small: bool) -> list[bytes]:
        if file.seek(0, 2) > size.most_file:
            raise Unreadable(say("store.photo-heavy", file=name, most=size.most_file // 1_000_000))
        if missing := missing_libraries():
            raise Impossible(say("store.photo-libraries", names=missing))
        try:
            with TemporaryFile(dir=self._incoming) as into, TemporaryFile(dir=self._incoming) as smaller:
                self._unpacker.reduce(file, name, into, side=size.side, most_bytes=size.most_bytes, fine=size.fine)
                if small:
                    # out of what came out: of that size it costs next to nothing
                    self._unpacker.reduce(into, name, smaller, side=SMALL_SIDE, most_bytes=MOST_SMALL_BYTES)
                return [_all_of(each) for each in ((into, smaller) if small else (into,))]
        except OSError as problem:
            raise StoreTrouble(say("unpack.full", file=name, detail=problem.strerror)) from problem

    def file(self, row: Photographed) -> None:
        """File a photograph in the journal.

        Raises:
            KeeperGone: nobody answers; it is filed as soon as somebody does.
            StoreTrouble: the journal cannot be written.
        """
        self._note(row)

    # ---- of a sheet's dry print

    def of_sheet(self, record: SheetRecord, file: BinaryIO, name: str) -> None:
        """Keep a photograph of a sheet's dry print, in place of one that was brought before.

        Raises:
            Impossible: the sheet is open: it cannot be dry.
            Unreadable, Impossible, WrongMoment, StoreTrouble: as `taken_in`.
            KeeperGone: as `file`.
        """
        if record.closed is None:
            raise Impossible(say("store.photo-open", number=record.number))
        with self.taken_in(file, name, small=True) as (picture, small):
            if record.photograph is None or record.photograph.hash != picture:
                self.file(Photographed(hash=picture, small=small, of="sheet", thing=record.id))

    def take_away(self, record: SheetRecord) -> None:
        """Show no photograph of a sheet any more; those that there were stay on file. Raises as `file`."""
        if record.photograph is not None:
            self.file(Photographed(hash="", of="sheet", thing=record.id))

    def put_back(self, record: SheetRecord, picture: str) -> None:
        """Show an earlier photograph of a sheet again.

        Raises:
            NotThere: the sheet never had it, or it is not here any more.
            StoreTrouble, KeeperGone: as `file`.
        """
        before = next((one for one in record.photographs_before if one.hash == picture), None)
        if before is None or not self._pictures.has(picture):
            raise NotThere(say("store.picture-gone"))
        self.file(before)

    def corner(self, record: SheetRecord, which: str, x: float, y: float) -> None:
        """File where one of the image's corners lies on a sheet's photograph, as shares of it; the others stay.

        Raises:
            NotThere: the sheet has no photograph, or there is no such corner.
            Unreadable: the image would fold; nothing is filed.
            StoreTrouble, KeeperGone: as `file`.
        """
        now = _photograph_of(record)
        if which not in CORNERS:
            raise NotThere(say("store.photo-no-corner"))
        corners = list(now.corners or WHOLE)
        corners[CORNERS.index(which)] = round(min(1.0, max(0.0, x)), 4), round(min(1.0, max(0.0, y)), 4)
        if not goes_round(corners):
            raise Unreadable(say("store.photo-folds"))
        self._set_corners(now, corners)

    def fills(self, record: SheetRecord) -> None:
        """File that the image fills a sheet's photograph, from edge to edge; raises as `corner`."""
        self._set_corners(_photograph_of(record), WHOLE)

    def _set_corners(self, now: Photographed, corners: Sequence[XY]) -> None:
        one, two, three, four = corners
        if now.corners != (one, two, three, four):
            self.file(now.model_copy(update={"corners": (one, two, three, four)}))

    # ---- looking

    def picture(self, picture: str) -> bytes:
        """Return a kept picture, a JPEG; raises `NotThere`."""
        return self._pictures.read(picture)

    def place(self, picture: str) -> Path:
        """Return the file of a kept picture; raises `NotThere`."""
        if not self._pictures.has(picture):
            raise NotThere(say("store.picture-gone"))
        return self._pictures.place(picture)

    def size(self, picture: str) -> PictureSize | None:
        """Return a kept picture's size; None where it is not here."""
        return self._pictures.size(picture)


def _photograph_of(record: SheetRecord) -> Photographed:
    if record.photograph is None:
        raise NotThere(say("store.picture-gone"))
    return record.photograph


def _all_of(file: BinaryIO) -> bytes:
    file.seek(0)
    return file.read()
