"""Film: from the light of a scene, in stops about a middle grey, to the densities of its negative.

The curve is straight between a toe and a shoulder. Normal development is that of ISO 6:1993 (from memory): the speed
point lies 0.10 over base and fog, and 1.30 of log exposure on, the density is 0.80 more. A meter lays middle grey
1.00 of log exposure over the speed point (from ISO 2720, K and the speed's 0.8, from memory): so a tone four stops
under it is lost, which common practice calls zone 0 and I. Importing this module loads numpy.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float32]

STOP: Final = float(np.log10(2.0))
"""Of log exposure."""
MIDDLE: Final = 1.0
"""Of log exposure over the speed point: where a meter lays middle grey."""
SPEED_DENSITY: Final = 0.10
"""Over base and fog."""
TOE: Final = 0.22
"""Of log exposure: how gently the curve leaves the base."""
MOST: Final = 2.4
"""Over base and fog: where the shoulder ends."""
SHOULDER: Final = 0.25


@dataclass(frozen=True)
class Film:
    """An emulsion as it was developed: base and fog, and how steep its straight part is."""

    base_and_fog: float
    gradient: float = 0.635
    """Normal development by ISO 6, whose average gradient of 0.80/1.30 takes in some of the toe."""

    def density(self, stops: Array, over: float = 0.0) -> Array:
        """Return the densities of a scene given in stops about middle grey, exposed `over` stops over the meter.

        Height × width, float32.
        """
        low, high = -14.0, 14.0
        table = self._table(low, high)
        place = (stops + np.float32(over - low)) * np.float32((_STEPS - 1) / (high - low))
        return np.asarray(table[np.clip(place + np.float32(0.5), 0, _STEPS - 1).astype(np.int16)])

    @lru_cache(maxsize=16)  # noqa: B019 - films are values, and few
    def _table(self, low: float, high: float) -> Array:
        return np.asarray(self._curve(np.linspace(low, high, _STEPS) * STOP + MIDDLE), dtype=np.float32)

    def _curve(self, log_exposure: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return density by log exposure over the speed point."""
        net = self._straight(log_exposure - self._shift())
        return np.asarray(self.base_and_fog + MOST - _softplus(MOST - net, SHOULDER))

    def _straight(self, log_exposure: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.gradient * _softplus(log_exposure, TOE)

    def _shift(self) -> float:
        """Return where the straight part would begin, so that the speed point has its density."""
        return -TOE * float(np.log10(10.0 ** (SPEED_DENSITY / (self.gradient * TOE)) - 1.0))


_STEPS: Final = 16_000


def _softplus(values: NDArray[np.float64], soft: float) -> NDArray[np.float64]:
    """Return 0 well under 0, the value well over it, smoothly between."""
    return np.asarray(soft * np.logaddexp(0.0, values / soft * np.log(10.0)) / np.log(10.0))
