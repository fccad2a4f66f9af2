"""A picture of the user's own, turned into a negative of a chosen density range: what is light becomes dense.

PNG, JPEG or TIFF, 8 or 16 bits. Its levels are taken for sRGB (IEC 61966-2-1), so that the negative's density goes
with the logarithm of the picture's light, as film's does on its straight line. Importing this module loads numpy
and Pillow.
"""

from __future__ import annotations

import hashlib
import io
import struct
import warnings
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image, ImageOps

from controller.errors import Unreadable
from controller.picture.negatives import MOST_BYTES, Negative
from controller.picture.pencils import enlarged
from controller.picture.tray import light_of
from controller.words import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_PIXELS: Final = 60_000_000
LONGEST_SIDE: Final = 1200
"""A larger picture is made smaller until its longer side is under twice this: more than a practice print shows."""
SMALLEST_SIDE: Final = 8
THIN: Final = 0.20
DENSE: Final = 1.40
DARKEST: Final = 0.004
"""Of full light: what is darker than this is drawn as dark as this."""
FRAME_MM: Final = (120.0, 96.0)
_DAMAGED: Final = (
    *(Image.DecompressionBombError, Image.DecompressionBombWarning),
    *(OSError, SyntaxError, ValueError, TypeError, LookupError, EOFError, struct.error, MemoryError),
)
"""What comes of a damaged picture: it may go wrong anywhere in a decoder."""
_FORMATS: Final = ("PNG", "JPEG", "TIFF")
_SIXTEEN: Final = frozenset({"I;16", "I;16B", "I;16L", "I;16N", "I"})


def own_negative(content: bytes, name: str, *, thin: float = THIN, dense: float = DENSE) -> Negative:
    """Return a picture as a negative whose darkest part has density `thin` and whose lightest has `dense`.

    It is laid into the image of a 4×5 in negative, as large as fits, lying or upright as it is.

    Raises:
        Unreadable: it is no such picture, too large or too small, or the range is none.
    """
    if not 0.0 <= thin < dense <= 4.0:
        raise Unreadable(say("picture.own-range", thin=f"{thin:.2f}", dense=f"{dense:.2f}"))
    light = np.log10(np.maximum(_light(content, name), DARKEST))
    low, high = float(light.min()), float(light.max())
    flat = high - low < 1e-6
    share = np.full_like(light, 0.5) if flat else (light - low) / (high - low)
    densities = (thin + (dense - thin) * share).astype(np.float32)
    return Negative(
        name=f"{name} {hashlib.sha256(content).hexdigest()[:12]} {thin:g} {dense:g}",
        title=name,
        frame_mm=_frame(densities.shape[1], densities.shape[0]),
        draw=_Drawn(densities),
    )


class _Drawn:
    """Draws kept densities at any size; two are the same where their densities are."""

    def __init__(self, densities: NDArray[np.float32]) -> None:
        self._densities = densities
        self._mark = hashlib.sha256(densities.tobytes()).digest()

    def __call__(self, height: int, width: int) -> NDArray[np.float32]:
        low, high = float(self._densities.min()), float(self._densities.max())
        return np.clip(enlarged(self._densities, height, width), low, high)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Drawn) and other._mark == self._mark

    def __hash__(self) -> int:
        return hash(self._mark)


def shrunk(content: bytes, name: str) -> bytes:
    """Return a picture as a small grey PNG of 8 or 16 bits, as it came: what is kept of a picture of one's own.

    Raises:
        Unreadable: as `own_negative`, or the file is larger than `MOST_BYTES`.
    """
    if len(content) > MOST_BYTES:
        raise Unreadable(say("picture.own-heavy", file=name, most=MOST_BYTES // 1_000_000))
    grey = _grey(content, name)
    if grey.mode == "I":
        grey = Image.fromarray(np.asarray(grey).clip(0, 65535).astype(np.uint16))
    out = io.BytesIO()
    grey.save(out, "PNG")
    return out.getvalue()


def _light(content: bytes, name: str) -> NDArray[np.float64]:
    grey = _grey(content, name)
    levels = np.asarray(grey, dtype=np.float64) / (65535.0 if grey.mode == "I" else 255.0)
    return light_of(np.clip(levels, 0.0, 1.0))


def _grey(content: bytes, name: str) -> Image.Image:
    """Return the picture's levels, upright, in mode "I" (16 bits) or "L", small enough to reckon with on a Pi."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=_FORMATS) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise Unreadable(say("picture.own-large", file=name, most=MOST_PIXELS // 1_000_000))
                if min(picture.size) < SMALLEST_SIDE:
                    raise Unreadable(say("picture.own-small", file=name, least=SMALLEST_SIDE))
                turned = ImageOps.exif_transpose(picture)
                grey = turned.convert("I" if turned.mode in _SIXTEEN else "L")
                step = max(grey.size) // LONGEST_SIDE
                return grey.reduce(step) if step > 1 else grey
    except Unreadable:
        raise
    except _DAMAGED:
        raise Unreadable(say("picture.own-no-picture", file=name)) from None


def _frame(width: int, height: int) -> tuple[float, float]:
    longer, shorter = FRAME_MM if width >= height else FRAME_MM[::-1]
    scale = min(longer / width, shorter / height)
    return width * scale, height * scale
