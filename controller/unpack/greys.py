"""A picture file as rows of greys, made smaller on the way, so that its whole raster never lies in memory.

PNG, JPEG and TIFF, 8 or 16 bits. A JPEG is asked for greys, and for a half, a quarter or an eighth of its size, before
anything of it is unpacked; large PNGs and TIFFs are read in strips; every strip is averaged over squares of pixels as
soon as it is there. Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

import io
import math
import struct
import warnings
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO, Final, Literal

import numpy as np
from PIL import Image

from controller.errors import Unreadable
from controller.unpack.png_strips import png_strips
from controller.unpack.srgb import level_of
from controller.unpack.tiff_strips import tiff_strips
from controller.words import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Levels = NDArray[np.uint16]

Coding = Literal["linear", "srgb"]
"""How levels stand for light: as they are, or by the transfer of sRGB."""
FORMATS: Final = ("PNG", "JPEG", "TIFF")
MOST_PIXELS: Final = 60_000_000
"""A whole A4 page at 800 dots an inch has 61 million, one at 600 has 35."""
LONGEST_SIDE: Final = 20_000
MOST_AT_ONCE: Final = 24_000_000
"""Pixels of what cannot be read in strips, after its draft."""
MOST_WHOLE: Final = 36_000_000
"""Bytes of a raster that is unpacked whole, being small, though it could be read in strips."""
SIXTEEN_BIT: Final = frozenset({"I;16", "I;16B", "I;16L", "I;16N", "I"})
TWO_TONES: Final = "1"
_BYTES: Final = {"1": 1, "L": 1, "P": 1, "LA": 4, "PA": 4, "I;16": 2, "I;16B": 2, "I;16L": 2, "I;16N": 2}
"""How many bytes Pillow keeps of a pixel; four in every other mode."""
_DRAFTS: Final = (8, 4, 2, 1)
_ROWS: Final = 128
_ORIENTATION: Final = 0x0112
_UPRIGHT: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What brings a picture upright, by the number that EXIF gives to how its first row and column lie (CIPA DC-008)."""
QUALITIES: Final = (85, 75, 62, 48)
"""Of a JPEG, the finest first."""
FINE: Final = (95, 92, 88, 85)
"""The same of one whose densities are wanted."""
_ALL_LEVELS: Final = 65536
_BITS: Final = 258
_PNG_BITS: Final = 24
"""Where a PNG has its bits, and a TIFF's tag for them."""
_BENT: Final = ("icc_profile", "srgb", "gamma")
"""What Pillow calls that which says of a picture how its levels stand for light."""
_DAMAGE: Final = (
    *(Image.DecompressionBombError, Image.DecompressionBombWarning),
    *(OSError, SyntaxError, ValueError, TypeError, LookupError, EOFError, OverflowError, struct.error, zlib.error),
)
"""What a decoder, or Pillow before it, may raise at a damaged file."""


@dataclass(frozen=True)
class Fit:
    """How small a picture is to become: so many pixels, and so many along its longer side."""

    pixels: int
    side: int

    def step(self, width: int, height: int) -> int:
        """Return of how many pixels, each way, one is to be made."""
        return max(1, math.ceil(math.sqrt(width * height / self.pixels)), math.ceil(max(width, height) / self.side))


@dataclass(frozen=True)
class Greys:
    """A picture's greys, from 0 to 65535, row by row; `width` and `height` are what comes out of it."""

    width: int
    height: int
    deep: bool
    """The file has more than 8 bits of grey."""
    turned: int
    """How its first row and column lie, as EXIF numbers it: 1 where they are above and left."""
    coding: Coding
    """Of 16 bits, without a profile, levels are light itself; any others are taken for sRGB."""
    strips: Iterator[Levels]
    """Rows from the top, whole in width. To take one may raise `Unreadable`."""

    def whole(self) -> Levels:
        """Return all rows.

        Raises:
            Unreadable: the file is damaged further down.
        """
        return np.concatenate(list(self.strips))


def read_greys(file: BinaryIO, name: str, fit: Fit, *, least: int = 1, two_tones: bool = True) -> Greys:
    """Open a picture file; of its raster nothing is unpacked yet but what cannot be read in strips.

    `least` is how many pixels each side must have; `two_tones` tells whether black and white alone will do.

    Raises:
        Unreadable: it is no such picture, too large or too small; the sentence says what to do.
    """
    with _told(name):
        picture = Image.open(file, formats=FORMATS)
        width, height = picture.size
        coding: Coding = "linear" if _deep(file, picture) and not set(_BENT) & set(picture.info) else "srgb"
        if width * height > MOST_PIXELS:
            raise Unreadable(say("unpack.large", file=name, most=MOST_PIXELS // 1_000_000))
        if max(width, height) > LONGEST_SIDE:
            raise Unreadable(say("unpack.long", file=name, most=LONGEST_SIDE))
        if min(width, height) < least:
            raise Unreadable(say("unpack.small", file=name, least=least))
        if picture.mode == "F" or (picture.mode == TWO_TONES and not two_tones):
            raise Unreadable(say("unpack.mode", file=name))
        if picture.format not in ("PNG", "TIFF"):
            _draft(picture, name, fit.step(width, height))
        elif width * height * _BYTES.get(picture.mode, 4) > MOST_WHOLE:
            strips = png_strips(file) if picture.format == "PNG" else tiff_strips(file, picture, MOST_AT_ONCE)
            if strips is not None:
                return _greys(strips, (width, height), fit, name, picture, coding)
        if picture.width * picture.height > MOST_AT_ONCE:
            raise Unreadable(say("unpack.at-once", file=name, most=MOST_AT_ONCE // 1_000_000))
        picture.load()
        return _greys(_bands(picture), picture.size, fit, name, picture, coding)


class _told:  # noqa: N801 - used as a function
    """Lets what a damaged file raises be told in a sentence."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __enter__(self) -> None:
        self._quiet = warnings.catch_warnings()
        self._quiet.__enter__()
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)

    def __exit__(self, kind: type[BaseException] | None, problem: BaseException | None, trace: object) -> None:
        self._quiet.__exit__(None, None, None)
        if isinstance(problem, MemoryError):
            raise Unreadable(say("unpack.memory", file=self._name)) from None
        if isinstance(problem, _DAMAGE) and not isinstance(problem, Unreadable):
            raise Unreadable(say("unpack.no-picture", file=self._name)) from None


def _draft(picture: Image.Image, name: str, step: int) -> None:
    """Ask a JPEG for greys, and for no more of it than is needed."""
    if "progressive" in picture.info and picture.width * picture.height > MOST_AT_ONCE:
        # its coefficients are all kept until the last of them has come
        raise Unreadable(say("unpack.at-once", file=name, most=MOST_AT_ONCE // 1_000_000))
    scale = next(each for each in _DRAFTS if each <= step)
    mode = "L" if picture.mode == "RGB" and picture.info.get("adobe_transform") != 0 else None
    picture.draft(mode, (picture.width // scale, picture.height // scale))


def _deep(file: BinaryIO, picture: Image.Image) -> bool:
    """Tell whether a file has 16 bits of each value, whatever Pillow keeps of them."""
    if picture.format == "TIFF":
        bits = picture.tag_v2.get(_BITS, 1)  # type: ignore[attr-defined]
        return set(bits if isinstance(bits, tuple) else (bits,)) == {16}
    if picture.format != "PNG":
        return False
    at = file.tell()
    file.seek(_PNG_BITS)
    bits = file.read(1)
    file.seek(at)
    return bits == b"\x10"


def _greys(
    strips: Iterator[Image.Image], size: tuple[int, int], fit: Fit, name: str, picture: Image.Image, coding: Coding
) -> Greys:
    width, height = size
    step = fit.step(width, height)
    # asked for what stands behind its pixels, a PNG would be unpacked whole
    turned = picture.getexif().get(_ORIENTATION, 1) if "exif" in picture.info or picture.format != "PNG" else 1
    return Greys(
        width=-(-width // step),
        height=-(-height // step),
        deep=picture.mode in SIXTEEN_BIT,
        turned=turned if turned in range(1, 9) else 1,
        coding=coding,
        strips=_told_rows(_smaller(strips, step), name),
    )


def _told_rows(rows: Iterator[Levels], name: str) -> Iterator[Levels]:
    while True:
        with _told(name):
            found = next(rows, None)
        if found is None:
            return
        yield found


def _bands(picture: Image.Image) -> Iterator[Image.Image]:
    for top in range(0, picture.height, _ROWS):
        yield picture.crop((0, top, picture.width, min(top + _ROWS, picture.height)))


def _smaller(strips: Iterator[Image.Image], step: int) -> Iterator[Levels]:
    """Average the strips over squares of `step` pixels; what is left at the right and the bottom, over less."""
    left: Levels | None = None
    for strip in strips:
        rows = levels_of(strip)
        if step == 1:
            yield rows
            continue
        rows = rows if left is None else np.concatenate([left, rows])
        whole = len(rows) // step * step
        left = rows[whole:].copy()
        if whole:
            yield _averaged(rows[:whole], step)
    if left is not None and len(left):
        yield _averaged(left, step)


def _averaged(rows: Levels, step: int) -> Levels:
    down, across = np.arange(0, rows.shape[0], step), np.arange(0, rows.shape[1], step)
    sums = np.add.reduceat(np.add.reduceat(rows, down, axis=0, dtype=np.uint32), across, axis=1)
    tall, wide = np.diff(np.append(down, rows.shape[0])), np.diff(np.append(across, rows.shape[1]))
    counts = (tall[:, None] * wide[None, :]).astype(np.uint32)
    return ((sums + counts // 2) // counts).astype(np.uint16)


def levels_of(picture: Image.Image) -> Levels:
    """Return a picture's greys from 0 to 65535; colour is taken as its brightness."""
    if picture.mode in SIXTEEN_BIT:
        return np.asarray(picture).clip(0, 65535).astype(np.uint16)
    grey = picture if picture.mode == "L" else picture.convert("L")
    return np.asarray(grey, dtype=np.uint16) * np.uint16(257)


def png_of(levels: Levels, *, deep: bool) -> bytes:
    """Return greys as a PNG of 16 or of 8 bits."""
    out = io.BytesIO()
    Image.fromarray(levels if deep else (levels // 257).astype(np.uint8)).save(out, "PNG")
    return out.getvalue()


def upright(levels: Levels, turned: int) -> Levels:
    """Return a picture as its file says that it is looked at: EXIF 2.32, 4.6.4 A, Orientation."""
    if turned >= 5:
        levels = levels.T
    return levels[:: -1 if turned in (3, 4, 7, 8) else 1, :: -1 if turned in (2, 3, 6, 7) else 1]


def as_srgb(levels: Levels, coding: Coding) -> Levels:
    """Return levels as sRGB has them, which 8 bits can hold."""
    if coding == "srgb":
        return levels
    table = np.round(65535.0 * level_of(np.arange(_ALL_LEVELS) / 65535.0)).astype(np.uint16)
    return np.asarray(table[levels])


def jpeg_of(
    levels: Levels, turned: int, side: int, most_bytes: int, qualities: Sequence[int] = QUALITIES
) -> tuple[bytes, int, int]:
    """Return greys as a JPEG of 8 bits, upright, its longer side at most so many pixels, of so many bytes at most.

    `turned` is how its first row and column lie (`Greys`). It becomes coarser, and then smaller, until it has no more
    bytes. Also its width and height.
    """
    picture = Image.fromarray((levels >> 8).astype(np.uint8))
    if (turn := _UPRIGHT.get(turned)) is not None:
        picture = picture.transpose(turn)
    while True:
        picture.thumbnail((side, side), Image.Resampling.BOX)
        for quality in qualities:
            out = io.BytesIO()
            picture.save(out, "JPEG", quality=quality, optimize=True)
            if out.tell() <= most_bytes:
                return out.getvalue(), *picture.size
        side = side * 3 // 4
