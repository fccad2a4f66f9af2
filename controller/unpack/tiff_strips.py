"""A TIFF (revision 6.0) read in the strips that it consists of, each as a small TIFF by itself.

Pillow unpacks a TIFF only whole. Its strips are packed apart from each other; one that is not packed at all is cut
further.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Sequence

STRIP_PIXELS: Final = 500_000
_WIDTH, _LENGTH, _BITS, _PACKING, _PHOTOMETRIC, _OFFSETS, _ORIENTATION = 256, 257, 258, 259, 262, 273, 274
_PARTS, _ROWS, _COUNTS, _PLANES, _TILE = 277, 278, 279, 284, 322
_PLAIN: Final = 1
_PACKINGS: Final = frozenset({_PLAIN, 5, 8, 32946, 32773})
"""None, LZW, deflate by both its numbers, and PackBits: what one strip is made of stands in it alone."""
_YCBCR: Final = 6
_TAKEN_OVER: Final = (_BITS, _PACKING, _PHOTOMETRIC, 266, _PARTS, 317, 320, 338, 339)
"""Also the order of bits, the predictor, the palette, what further parts are, and the format of values."""
_SHORT, _LONG = 3, 4


def tiff_strips(file: BinaryIO, picture: Image.Image, most: int) -> Iterator[Image.Image] | None:
    """Return a TIFF's strips from the top; None where it has none, or one has more than `most` pixels.

    To take one raises OSError, SyntaxError, ValueError or LookupError where the file is damaged.
    """
    tags: Any = picture.tag_v2  # type: ignore[attr-defined]
    packing = tags.get(_PACKING, _PLAIN)
    rows = min(tags.get(_ROWS, picture.height), picture.height)
    offsets = _many(tags.get(_OFFSETS))
    if (
        packing not in _PACKINGS
        or (_TILE in tags or tags.get(_PLANES, 1) != 1 or tags.get(_ORIENTATION, 1) != 1)
        or tags.get(_PHOTOMETRIC) == _YCBCR
        or (rows < 1 or len(offsets) != -(-picture.height // rows))
        or (packing != _PLAIN and rows * picture.width > most)
    ):
        return None
    bits = _many(tags.get(_BITS, 1))
    row_bytes = (picture.width * sum(bits) + 7) // 8
    return _strips(file, picture, tags, rows, offsets, row_bytes)


def _strips(
    file: BinaryIO, picture: Image.Image, tags: Any, rows: int, offsets: Sequence[int], row_bytes: int
) -> Iterator[Image.Image]:
    file.seek(0)
    order = "<" if file.read(2) == b"II" else ">"
    plain = tags.get(_PACKING, _PLAIN) == _PLAIN
    at_once = max(1, STRIP_PIXELS // picture.width) if plain else rows
    counts = () if plain else _many(tags[_COUNTS])
    for number, offset in enumerate(offsets):
        tall = min(rows, picture.height - number * rows)
        for top in range(0, tall, at_once):
            count = min(at_once, tall - top)
            file.seek(offset + top * row_bytes)
            content = file.read(count * row_bytes if plain else counts[number])
            yield _small(order, picture.width, count, tags, content)


def _small(order: str, width: int, height: int, tags: Any, content: bytes) -> Image.Image:
    entries: dict[int, tuple[int, Sequence[int]]] = {
        tag: (_SHORT, _many(tags[tag])) for tag in _TAKEN_OVER if tag in tags
    }
    entries |= {_WIDTH: (_LONG, (width,)), _LENGTH: (_LONG, (height,)), _ROWS: (_LONG, (height,))}
    entries |= {_COUNTS: (_LONG, (len(content),)), _OFFSETS: (_LONG, (8,))}
    listed = 8 + len(content) + len(content) % 2
    beyond = listed + 2 + 12 * len(entries) + 4
    table, more = struct.pack(f"{order}H", len(entries)), b""
    for tag, (kind, values) in sorted(entries.items()):
        packed = struct.pack(f"{order}{len(values)}{'H' if kind == _SHORT else 'L'}", *values)
        table += struct.pack(f"{order}HHL", tag, kind, len(values))
        if len(packed) <= 4:
            table += packed.ljust(4, b"\0")
        else:
            table += struct.pack(f"{order}L", beyond + len(more))
            more += packed + b"\0" * (len(packed) % 2)
    head = (b"II" if order == "<" else b"MM") + struct.pack(f"{order}HL", 42, listed)
    whole = head + content + b"\0" * (len(content) % 2) + table + struct.pack(f"{order}L", 0) + more
    small = Image.open(io.BytesIO(whole), formats=("TIFF",))
    small.load()
    return small


def _many(value: Any) -> tuple[int, ...]:
    return () if value is None else tuple(value) if isinstance(value, tuple | list) else (value,)
