"""Small pictures of the invented negatives, as they look on their contact proof: a thin one dark, a dense one light.

Importing this module loads numpy and Pillow.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from controller.errors import NotThere
from controller.picture.contact_sheets import FILM, PROOF, lying_on
from controller.picture.invented import invented
from controller.picture.light import second_through
from controller.picture.negatives import INVENTED
from controller.picture.practice_papers import practice_paper
from controller.picture.tray import developed, png_of
from controller.words import say

LONGEST: Final = 240
"""Pixels of the longer side."""
PROOF_FILTER: Final = "2"
PROOF_SECONDS: Final = {PROOF: 15.0, FILM: 25.0}
"""By contact sheet, on paper one at magnification 2 and f/8: about the least that merges clear film with bare paper."""


@lru_cache(maxsize=2 * len(INVENTED))
def thumbnail(reference: str) -> bytes:
    """Return the small picture of a negative, "SET:FRAME", as an 8-bit grey PNG; the last few are kept.

    Raises:
        NotThere: no invented negative goes by that reference.
    """
    found = lying_on(reference)
    sheet, name = found or (None, None)
    if sheet is None or name is None:
        raise NotThere(say("picture.no-such-frame", reference=reference[:40]))
    negative = invented(name)
    across, down = negative.frame_mm
    scale = LONGEST / max(across, down)
    through = 10.0 ** -negative.draw(round(down * scale), round(across * scale))
    light = second_through(PROOF_FILTER).times(PROOF_SECONDS[sheet.name])
    blue, green = (np.asarray(through * np.float32(of), dtype=np.float32) for of in (light.blue, light.green))
    return png_of(developed(blue, green, practice_paper("one"))[0], across)
