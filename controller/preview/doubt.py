"""How far to trust a preview: what the paper's own doubt, the two tones' and the scan's make of a print density.

Derived: independent errors add by their squares. A tone between the two known ones has their mean doubt at the most;
beside them it grows with the distance. What a scan itself is off by (light that strays in it, its evenness, a camera's
own curve) is assumed, not measured: 0.03 in density for a flatbed, 0.08 for a photograph over a light table. A typical
paper is taken to be 0.20 off in any print density (assumed).

Importing this module loads numpy.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from controller.paper.emulsions import densities, mixture
from controller.paper.support import spreads

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from controller.preview.orders import How, Lit, Order

    Values = NDArray[np.float64]

SCAN_OFF: Final[dict[How, float]] = {"flatbed": 0.03, "light table": 0.08}
TYPICAL_OFF: Final = 0.20
_STEP: Final = 0.01


def doubt_of(order: Order, lights: Sequence[Lit], negative: NDArray[np.floating]) -> Values:
    """Return the standard deviation of the print density of each of these negative densities, where no hand was."""
    mix = mixture(order.paper)
    given = {"soft": 0.0, "hard": 0.0}
    for lit in lights:
        if lit.way in ("all", "past"):
            given[lit.light] += lit.seconds * (1.0 - order.wet_percent / 100.0) / order.factor
    tones = np.asarray(negative, dtype=np.float64)
    if not any(given.values()):
        return np.zeros_like(tones)
    soft, hard = given["soft"], given["hard"]
    steep = (densities(mix, soft, hard, tones - _STEP) - densities(mix, soft, hard, tones + _STEP)) / (2.0 * _STEP)
    paper = np.full_like(tones, TYPICAL_OFF) if order.typical else spreads(order.paper, soft, hard, tones)
    return np.minimum(np.sqrt(paper**2 + (steep * _negative_off(order, tones)) ** 2), mix.net / 2.0)


def _negative_off(order: Order, tones: Values) -> Values:
    """Return the standard deviation of a density at the easel."""
    one, two = order.ties
    along = (tones - two.density) / (one.density - two.density)
    by_ties = (along * one.doubt) ** 2 + ((1.0 - along) * two.doubt) ** 2
    # at a known tone the scan is not asked; between the two, and beside them, it is
    scan = SCAN_OFF[order.how] * np.minimum(1.0, 4.0 * np.minimum(np.abs(along), np.abs(1.0 - along)))
    return np.asarray(np.sqrt(by_ties + scan**2))
