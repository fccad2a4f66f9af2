"""Scans of invented negatives, as a flatbed or its software would write them, and papers for previews of them."""

from __future__ import annotations

import io
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from controller.paper.fit import fit
from controller.paper.paper import Paper
from controller.picture.negatives import Negative
from controller.picture.scene import negatives_named
from controller.preview.orders import Tie
from controller.unpack.srgb import level_of
from tools.hidden_papers import BOX, paper_one, readings

HEIGHT, WIDTH = 480, 600


@cache
def fitted_one() -> Paper:
    """Paper one, as the program fits it to prints of a tablet."""
    return fit(readings(paper_one()), BOX).model_copy(update={"name": "paper one"})


def invented(name: str) -> Negative:
    return negatives_named(name)[0]


def light_through(name: str, height: int = HEIGHT, width: int = WIDTH) -> NDArray[np.float64]:
    return 10.0 ** -invented(name).draw(height, width).astype(np.float64)


def ties_of(name: str) -> tuple[Tie, Tie]:
    """The densest and the thinnest of a negative's measured tones."""
    tones = sorted(invented(name).tones, key=lambda tone: tone.density)
    light, dark = tones[-1], tones[0]
    return tuple(Tie(x=tone.x, y=tone.y, density=tone.density) for tone in (light, dark))  # type: ignore[return-value]


def file_of(light: NDArray[np.float64], way: str) -> bytes:
    """A file of light through film: its kind, and how it was turned round, by name."""
    kind, bits, *turned = way.split()
    level = light if bits == "16" else level_of(light)
    if turned == ["turned"]:
        level = 1.0 - level
    elif turned == ["printed"]:  # the denser the film, the lighter, as a print shows it
        level = light.min() / light if bits == "16" else level_of(light.min() / light)
    whole = np.round(65535 * level).astype(np.uint16) if bits == "16" else np.round(255 * level).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(whole).save(out, kind, **({"quality": 95} if kind == "JPEG" else {}))
    return out.getvalue()


WAYS = tuple(
    f"{kind} {bits}{turned}"
    for kind, bits in (("TIFF", 16), ("PNG", 16), ("PNG", 8), ("TIFF", 8), ("JPEG", 8))
    for turned in ("", " turned", " printed")
)
