"""Flash: light without a negative, just under what the paper shows; found on a strip (common practice)."""

from __future__ import annotations

from controller.errors import Impossible
from controller.words import say


def flash_ms(totals_ms: tuple[int, ...], first_tone_band: int) -> int:
    """Return the flash from a strip made without a negative: the last total before the first band with a tone.

    Raises:
        Impossible: the first band has a tone already, or there is no such band.
    """
    if not 2 <= first_tone_band <= len(totals_ms):
        raise Impossible(say("reckoning.flash-band", bands=len(totals_ms)))
    return totals_ms[first_tone_band - 2]
