"""What the sensor counted of a check, weighed once all its lights are given: a row, or why there is none. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from controller.errors import Impossible
from controller.lamp import readings
from controller.lamp.fit import fit_lag
from controller.lamp.plans import CheckName
from controller.lamp.readings import SETTLE_NS, Span
from controller.lamp.rows import LagFound, LampChecked
from controller.words import say
from hardware.light_sensor import Reading


@dataclass(frozen=True, slots=True)
class Due:
    """A check whose lights are all given: what the sensor counted is to be weighed."""

    name: CheckName
    spans: tuple[Span, ...]

    @property
    def by_ns(self) -> int:
        """When the last of it has been counted."""
        return self.spans[-1].dark_ns + SETTLE_NS


def weighed(due: Due, seen: Sequence[Reading], sensor: str) -> tuple[LagFound | LampChecked | None, str]:
    """Return what is to be filed of a check, if anything, and what the page says of it."""
    try:
        if due.name == "sensor":
            fit = fit_lag([readings.total(seen, span) for span in due.spans])
            row = LagFound(way="sensor", lag_ms=fit.lag_s * 1000, uncertain_ms=fit.uncertain_s * 1000)
            uncertain = f"{max(1, math.ceil(fit.uncertain_s * 1000)) / 1000:.3f}"
            return row, say("lamp.lag-found", lag=f"{fit.lag_s:.3f}", uncertain=uncertain)
        return LampChecked(level=readings.level(seen, due.spans[0]), sensor=sensor), say("lamp.checked")
    except Impossible as refusal:
        return None, str(refusal)
