"""The wet side's reckonings by themselves, as command line and page ask them: developing time, and cold baths.

As `controller.exposure.reckon`, for what stands on the trays' floor.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from controller.errors import Impossible
from controller.exposure.quantities import MOST_SECONDS, Answer, Given
from controller.exposure.reckon import SecondsAnswer
from controller.trays.development import COLDEST_C, WARMEST_C, developed_s, times_longer
from controller.words import say

QUANTITIES: Final[dict[str, tuple[str, ...]]] = {
    "develop": ("appearance", "factor"),
    "cold": ("seconds", "celsius"),
}
"""What each reckoning asks for."""
_APPEARANCE: Final = ("2", "120")
"""Seconds until an image first shows: what shows sooner cannot be timed by a person."""
_FACTOR: Final = ("1", "60")


def reckon(kind: str, given: Mapping[str, str | None], called: Callable[[str], str] = str) -> Answer:
    """Return the answer to one reckoning: `given` are its quantities as typed, `called` what each is called there.

    Raises:
        ControllerError: one sentence with the value and the remedy; its place is the quantity where it is about one.
    """
    of = Given({name: text for name, text in given.items() if text}, called)
    match kind:
        case "develop":
            appearance, factor = of.number("appearance", *_APPEARANCE), of.number("factor", *_FACTOR)
            return SecondsAnswer(seconds=round(developed_s(float(appearance), float(factor)), 1))
        case "cold":
            seconds = of.number("seconds", "0.1", MOST_SECONDS)
            celsius = of.number("celsius", f"{COLDEST_C:g}", f"{WARMEST_C:g}")
            return SecondsAnswer(seconds=round(float(seconds) * times_longer(float(celsius)), 1))
    raise Impossible(say("reckoning.calc-kind", kinds=", ".join(QUANTITIES)))
