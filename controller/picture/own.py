"""A picture of the user's own, turned into a negative of a chosen density range: what is light becomes dense.

PNG, JPEG or TIFF, 8 or 16 bits. Its levels are taken for sRGB (IEC 61966-2-1), so that the negative's density goes
with the logarithm of the picture's light, as film's does on its straight line. Importing this module loads numpy
and Pillow.
"""

from __future__ import annotations

import hashlib
import io
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.errors import Unreadable
from controller.picture.negatives import Negative
from controller.picture.pencils import enlarged
from controller.unpack.greys import Fit, png_of, read_greys, upright
from controller.unpack.srgb import light_of
from controller.words import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.unpack.greys import Levels

LONGEST_SIDE: Final = 1200
"""A larger picture is made smaller until its longer side is no more: a practice print shows less."""
FIT: Final = Fit(LONGEST_SIDE**2, LONGEST_SIDE)
SMALLEST_SIDE: Final = 8
THIN: Final = 0.20
DENSE: Final = 1.40
DARKEST: Final = 0.004
"""Of full light: what is darker than this is drawn as dark as this."""
FRAME_MM: Final = (120.0, 96.0)


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


def kept_picture(levels: Levels, *, deep: bool, turned: int) -> bytes:
    """Return a picture that was unpacked to `FIT` as a small grey PNG, upright: what is kept of one's own."""
    return png_of(upright(levels, turned), deep=deep)


def _light(content: bytes, name: str) -> NDArray[np.float64]:
    greys = read_greys(io.BytesIO(content), name, FIT, least=SMALLEST_SIDE)
    return light_of(upright(greys.whole(), greys.turned) / 65535.0)


def _frame(width: int, height: int) -> tuple[float, float]:
    longer, shorter = FRAME_MM if width >= height else FRAME_MM[::-1]
    scale = min(longer / width, shorter / height)
    return width * scale, height * scale
