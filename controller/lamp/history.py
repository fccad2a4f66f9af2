"""What the lamp's page shows: the lag in force, what was found, and the reference light over the months. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal

from controller.keeping import Keeps
from controller.lamp.check_plans import CheckName, PaperTest
from controller.lamp.measure import stops_between
from controller.model import Frozen
from controller.store.entries import LAMP_ROWS, LagFound, LampChecked, LampWarmed, PaperTestGiven
from controller.store.levels import GainsMeasured
from controller.store.rows import Row
from controller.words import say
from hardware.light_sensor import GAINS, Gain

KEEPS: Final = Keeps(room="lamp", rows=LAMP_ROWS)
ASK_FROM: Final = 1 / 6
"""Stops by which a lamp must have grown stronger for the page to ask whether a new bulb is in."""
WEAK_FROM: Final = 1 / 2
"""Stops by which it must have grown weaker for the page to say so as a trouble."""


class LagLine(Frozen):
    """A lag that was found or typed in; `lag_ms` in all, relay delays included."""

    wall: str
    way: Literal["paper", "sensor", "typed"]
    lag_ms: float
    uncertain_ms: float
    taken: bool


class CheckLine(Frozen):
    """One lamp check. `stops` is against the reference then in force; None where it is a reference itself."""

    wall: str
    level: float
    sensor: str
    stops: float | None
    since: str = ""
    """The wall's time of the reference."""


class GainLine(Frozen):
    """How much more the sensor counts through a gain than through the next weaker one, as last measured."""

    wall: str
    sensor: str
    low: Gain
    high: Gain
    ratio: float
    uncertain: float
    """One standard deviation, as a share."""


class LampView(Frozen):
    """Everything the lamp's page shows."""

    lag_ms: float
    """In force: the lamp's own and the relay's together."""
    operate_ms: float
    release_ms: float
    sensor: Literal["none", "starting", "ready", "gone"]
    sensor_trouble: str = ""
    running: CheckName | None = None
    """The check that is loaded or being given."""
    outcome: str = ""
    """What became of the last one, in a sentence."""
    found: LagLine | None = None
    """A lag that was found and is not taken over yet."""
    test: PaperTest | None = None
    """The last paper test that was given whole."""
    lags: tuple[LagLine, ...] = ()
    checks: tuple[CheckLine, ...] = ()
    """Newest first."""
    gains: tuple[GainLine, ...] = ()
    """Of each sensor, the weakest gain first."""
    warmed: str = ""
    """The wall's time of the last warming up."""
    warm_up_s: float = 0.0
    cold: str = ""
    """A sentence where the lamp should be warmed; empty else."""

    @property
    def ask_bulb(self) -> bool:
        """Whether a new bulb may be in: light that has grown stronger."""
        return bool(self.checks) and (self.checks[0].stops or 0.0) >= ASK_FROM

    @property
    def weak(self) -> bool:
        """Whether the bulb has grown old."""
        return bool(self.checks) and (self.checks[0].stops or 0.0) <= -WEAK_FROM


class History(Frozen):
    """What the journal's rows say of the lamp, newest first."""

    lags: tuple[LagLine, ...] = ()
    checks: tuple[CheckLine, ...] = ()
    test: PaperTest | None = None
    gains: tuple[GainLine, ...] = ()
    warmed: str = ""


def history(rows: Iterable[Row]) -> History:
    """Return the lamp's history from its rows, in their order. Levels of different sensors are never compared."""
    lags: list[LagLine] = []
    checks: list[CheckLine] = []
    references: dict[str, tuple[float, str]] = {}
    test: PaperTest | None = None
    warmed = ""
    gains: dict[tuple[str, int], GainLine] = {}
    for row in rows:
        wall = row.wall if row.synchronised else ""
        match row.entry:
            case LagFound() as lag:
                lags.append(
                    LagLine(wall=wall, way=lag.way, lag_ms=lag.lag_ms, uncertain_ms=lag.uncertain_ms, taken=lag.taken)
                )
            case LampChecked() as check:
                old = None if check.new_bulb else references.get(check.sensor)
                if old is None:
                    references[check.sensor] = (check.level, wall)
                checks.append(
                    CheckLine(
                        wall=wall,
                        level=check.level,
                        sensor=check.sensor,
                        stops=None if old is None else stops_between(check.level, old[0]),
                        since="" if old is None else old[1],
                    )
                )
            case PaperTestGiven() as given:
                test = PaperTest(long_ms=given.long_ms, pulses=given.pulses, each_ms=given.each_ms)
            case GainsMeasured() as found:
                for each in found.ratios:
                    at = GAINS.index(each.low)
                    gains[found.sensor, at] = GainLine(
                        wall=wall,
                        sensor=found.sensor,
                        low=each.low,
                        high=GAINS[at + 1],
                        ratio=each.ratio,
                        uncertain=each.uncertain,
                    )
            case LampWarmed():
                warmed = wall
            case _:
                pass
    return History(
        lags=tuple(reversed(lags)),
        checks=tuple(reversed(checks)),
        test=test,
        gains=tuple(gains[key] for key in sorted(gains)),
        warmed=warmed,
    )


def in_words(stops: float) -> str:
    """Return a difference in stops as a person says it, to the nearest sixth: "a sixth of a stop weaker"."""
    sixths = int(abs(stops) * 6 + 0.5)
    if not sixths:
        return say("lamp.as-strong")
    whole, rest = divmod(sixths, 6)
    if whole and rest:
        much = say("lamp.stops-and", whole=whole, part=say(f"lamp.part-{rest}"))
    elif whole:
        much = say("lamp.stops-one") if whole == 1 else say("lamp.stops-whole", whole=whole)
    else:
        much = say("lamp.stops-part", part=say(f"lamp.part-{rest}"))
    return say("lamp.weaker" if stops < 0 else "lamp.stronger", much=much)
