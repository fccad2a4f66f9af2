"""How long a print is developed by its first appearance, when a developer is slow, and what cold does. Pure.

Factorial development: a print is developed for a fixed number of times the seconds after which it first showed, so
that a developer that is colder or older than it was needs no new time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from controller.errors import Impossible
from controller.exposure.quantities import MOST_SECONDS, Answer, Given
from controller.exposure.reckon import SecondsAnswer
from controller.exposure.stops import shown
from controller.trays.process import Process
from controller.words import say

SLOW_FROM: Final = 1.5
"""Times the usual first appearance; common practice."""
COLDEST_C: Final = 10.0
WARMEST_C: Final = 35.0
USUAL_C: Final = 20.0
"""68 °F, at which times are printed."""


def developed_s(appearance_s: float, factor: float) -> float:
    """Return the seconds in the developer, in all, of a print that first showed after so many: factor × appearance.

    Source: Cyclopaedia of Photography, where 9 s by 15 are 135 s.
    """
    return appearance_s * factor


def usual_appearance_s(process: Process) -> float | None:
    """Return when a print first shows, as a rule: its developer seconds by its factor; None without a factor."""
    return None if process.factor is None else process.developer_seconds / process.factor


def is_slow(appearance_s: float, usual_s: float) -> bool:
    """Tell whether a developer is slow: the print showed after one and a half times the usual, or later."""
    return appearance_s >= SLOW_FROM * usual_s - 1e-9


def times_longer(celsius: float) -> float:
    """Return how many times as long a print is fixed and washed at a temperature, against 20 °C.

    Twice as long at 50 °F (10 °C) as at 68 °F (20 °C), and in between by the same ratio a degree; never shorter.
    Source: TM 11-2323, p. 145, for the two temperatures; in between derived.

    Raises:
        Impossible: under 10 or over 35 °C.
    """
    if not COLDEST_C <= celsius <= WARMEST_C:
        raise Impossible(say("trays.celsius", found=shown(f"{celsius:g}"), least="10", most="35"))
    return float(2.0 ** (max(0.0, USUAL_C - celsius) / (USUAL_C - COLDEST_C)))


def in_cold_water(process: Process, celsius: float) -> Process:
    """Return a process with its fix and wash for a temperature, to the second; the developer has its own.

    Raises:
        Impossible: under 10 or over 35 °C.
    """
    times = times_longer(celsius)
    longer = {name: float(round(getattr(process, name) * times)) for name in _COLD if getattr(process, name)}
    return process.model_copy(update=longer)


_COLD: Final = ("fix_seconds", "fix_2_seconds", "rinse_seconds", "wash_seconds", "wash_2_seconds", "least_fix_seconds")


# ---- by themselves, as command line and page ask them

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
