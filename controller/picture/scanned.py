"""An invented negative as a flatbed would scan it, what a densitometer reads on it, and its areas as it is printed.

numpy and Pillow are loaded where something is drawn.
"""

from __future__ import annotations

import io
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from controller.picture.contact_sheets import lying_on
from controller.picture.frames import Frame, outlines
from controller.picture.invented import invented

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from controller.picture.negatives import Negative, Outline

    Light = NDArray[np.float32]

LONGEST: Final = 1000
"""Pixels along the longer side of a scan."""
SPOT: Final = 0.006
"""Half the side of what a densitometer looks at, as a share of the picture's shorter side."""
LETTERS: Final = "ABCDEFGH"


def negative_of(reference: str) -> Negative | None:
    """Return the invented negative that a reference, "SET:FRAME", names; None for any other."""
    found = lying_on(reference)
    return invented(found[1]) if found is not None and found[1] is not None else None


def areas_of(reference: str) -> tuple[tuple[str, Outline], ...]:
    """Return the areas of an invented negative as shares of its picture, by their letters; none of any other."""
    negative = negative_of(reference)
    if negative is None:
        return ()
    whole = Frame(negative, 0.0, 0.0, 1.0, 1.0, 0.0)
    return tuple((letter, outlines(letter, [whole])[0]) for letter in LETTERS)


def scan_of(reference: str) -> bytes | None:
    """Return a scan of an invented negative, a PNG of 16 bits that are light itself; None for any other."""
    negative = negative_of(reference)
    if negative is None:
        return None
    import numpy as np
    from PIL import Image

    out = io.BytesIO()
    light = 10.0 ** -_densities(negative)
    Image.fromarray(np.round(65535.0 * light).astype(np.uint16)).save(out, "PNG", compress_level=1)
    return out.getvalue()


def density_at(reference: str, x: float, y: float) -> float | None:
    """Return what a densitometer reads at a place of an invented negative, as shares; None for any other."""
    negative = negative_of(reference)
    if negative is None:
        return None
    import numpy as np

    densities = _densities(negative)
    height, width = densities.shape
    reach = max(1, int(SPOT * min(height, width)))
    row, column = min(max(int(y * height), 0), height - 1), min(max(int(x * width), 0), width - 1)
    part = densities[max(0, row - reach) : row + reach + 1, max(0, column - reach) : column + reach + 1]
    return round(float(np.median(part)), 2)


@lru_cache(maxsize=2)
def _densities(negative: Negative) -> Light:
    across, down = negative.frame_mm
    scale = LONGEST / max(across, down)
    return negative.draw(round(down * scale), round(across * scale))
