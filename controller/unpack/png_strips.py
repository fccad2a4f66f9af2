"""A PNG (ISO/IEC 15948) read in strips: inflated piece by piece, and each strip unfiltered as a small PNG by itself.

Pillow unpacks a PNG only whole. But a row's filter looks at nothing beyond the row above it, and at each byte of a
pixel apart from the others: so some rows under the one before them, already unfiltered, are a picture of their own, and
of 16 bits of a colour the upper 8 can be taken alone. What is kept of colours is what Pillow keeps.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO, Final

import numpy as np
from PIL import Image

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]

STRIP_PIXELS: Final = 500_000
_MARK: Final = b"\x89PNG\r\n\x1a\n"
_PIECE: Final = 65_536
_PALETTE: Final = 3
_PARTS: Final = {0: 1, 2: 3, 4: 2, 6: 4}
"""How many values a pixel has, by its colour type; what a palette has is bytes."""
_KEPT: Final = {
    (0, 8): (0,),
    (4, 8): (0,),
    (2, 8): (0, 1, 2),
    (6, 8): (0, 1, 2),
    (0, 16): (0, 1),
    (4, 16): (0, 1),
    (2, 16): (0, 2, 4),
    (6, 16): (0, 2, 4),
}
"""Which bytes of a pixel are unfiltered, by colour type and bits: no opacity, and of deep colours the upper ones."""
_TYPES: Final = {1: 0, 2: 4, 3: 2}
"""The colour type of an 8-bit picture with so many bytes a pixel."""


@dataclass(frozen=True)
class _Head:
    width: int
    height: int
    bits: int
    colour: int
    extra: bytes
    """The chunks of its palette, if it has one."""

    @property
    def packed(self) -> bool:
        """Several pixels may share a byte, or a byte is a place in a palette."""
        return self.bits < 8 or self.colour == _PALETTE

    @property
    def pixel_bytes(self) -> int:
        return 1 if self.packed else _PARTS[self.colour] * self.bits // 8

    @property
    def row_bytes(self) -> int:
        return (self.width * self.bits + 7) // 8 if self.packed else self.width * self.pixel_bytes


def png_strips(file: BinaryIO) -> Iterator[Image.Image] | None:
    """Return a PNG's strips from the top; None where it is interlaced, which has none.

    To take one raises OSError, ValueError, LookupError, `struct.error` or `zlib.error` where the file is damaged.
    """
    file.seek(len(_MARK))
    extra = b""
    head = None
    for kind, length in _chunks(file):
        if kind == b"IHDR":
            width, height, bits, colour, _packing, _filter, interlaced = struct.unpack(">IIBBBBB", file.read(length))
            if interlaced:
                return None
            head = (width, height, bits, colour)
        elif kind == b"PLTE":
            extra += _chunk(kind, file.read(length))
        elif kind == b"IDAT":
            file.seek(-8, io.SEEK_CUR)
            break
    if head is None:
        raise ValueError("no head")
    return _strips(file, _Head(*head, extra))


def _strips(file: BinaryIO, head: _Head) -> Iterator[Image.Image]:
    rows = max(1, STRIP_PIXELS // head.width)
    wanted = (0,) if head.packed else _KEPT[head.colour, head.bits]
    wide = head.row_bytes if head.packed else head.width
    above: Bytes = np.zeros((wide, len(wanted)), np.uint8)
    inflate = _inflated(file)
    for top in range(0, head.height, rows):
        count = min(rows, head.height - top)
        raw = np.frombuffer(inflate.take(count * (head.row_bytes + 1)), np.uint8).reshape(count, head.row_bytes + 1)
        pixels = raw[:, 1:].reshape(count, wide, head.pixel_bytes)[..., wanted]
        plain = np.zeros((count + 1, 1 + wide * len(wanted)), np.uint8)  # of the first row the filter is none
        plain[0, 1:], plain[1:, 0], plain[1:, 1:] = above.ravel(), raw[:, 0], pixels.reshape(count, -1)
        strip = _png(wide, count + 1, 8, _TYPES[len(wanted)], b"", plain.tobytes())
        done = np.asarray(strip).reshape(count + 1, wide, len(wanted))
        above = done[-1].copy()
        yield _picture(done[1:], strip, head)
    inflate.end()


def _picture(done: Bytes, strip: Image.Image, head: _Head) -> Image.Image:
    """Return unfiltered rows as a picture."""
    if head.packed:
        plain = np.zeros((len(done), 1 + head.row_bytes), np.uint8)
        plain[:, 1:] = done[..., 0]
        return _png(head.width, len(done), head.bits, head.colour, head.extra, plain.tobytes())
    if done.shape[2] == 2:
        return Image.fromarray(done[..., 0].astype(np.uint16) * np.uint16(256) + done[..., 1])
    return strip.crop((0, 1, strip.width, strip.height))


class _inflated:  # noqa: N801 - used as a function
    """What the file's IDAT chunks hold, inflated as it is asked for."""

    def __init__(self, file: BinaryIO) -> None:
        self._pieces = _pieces(file)
        self._inflate = zlib.decompressobj()

    def take(self, count: int) -> bytes:
        """Return the next `count` bytes.

        Raises:
            ValueError: there are no more.
        """
        found = bytearray()
        while len(found) < count:
            piece = self._inflate.unconsumed_tail or next(self._pieces, b"")
            more = self._inflate.decompress(piece, count - len(found))
            if not piece and not more:
                raise ValueError("the picture ends too soon")
            found += more
        return bytes(found)

    def end(self) -> None:
        """Look at the checksums of what is left.

        Raises:
            ValueError: one is wrong.
        """
        for _ in self._pieces:
            pass


def _pieces(file: BinaryIO) -> Iterator[bytes]:
    for kind, length in _chunks(file):
        if kind != b"IDAT":
            return
        check = zlib.crc32(kind)
        for at in range(0, length, _PIECE):
            piece = file.read(min(_PIECE, length - at))
            check = zlib.crc32(piece, check)
            yield piece
        if file.read(4) != struct.pack(">I", check):
            raise ValueError("a damaged chunk")
        file.seek(-4, io.SEEK_CUR)


def _chunks(file: BinaryIO) -> Iterator[tuple[bytes, int]]:
    """Yield each chunk's kind and length; the file stands at its content, and is moved past it afterwards."""
    while len(start := file.read(8)) == 8:
        length, kind = struct.unpack(">I4s", start)
        at = file.tell()
        yield kind, length
        file.seek(at + length + 4)


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def _png(width: int, height: int, bits: int, colour: int, extra: bytes, rows: bytes) -> Image.Image:
    head = _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0))
    content = _MARK + head + extra + _chunk(b"IDAT", zlib.compress(rows, 0)) + _chunk(b"IEND", b"")
    picture = Image.open(io.BytesIO(content), formats=("PNG",))
    picture.load()
    return picture
