"""The check lights of each check of the lamp, as a plan that is worked by foot like a sheet's and opens none. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final, Literal, Self

from pydantic import Field, model_validator

from controller.errors import Impossible
from controller.exposure.lag import lag_seconds
from controller.model import Frozen
from controller.recipe.plan import CHECK_SOURCE, Plan, Step, StepKind
from controller.words import say

CheckName = Literal["paper", "sensor", "reference", "gains", "warm"]

GAP_MS: Final = 2_000
"""Dark between two lights of a train: what a lamp glows after is long over, and so is what a sensor sees of it."""
MOST_LIGHTS: Final = 60
SENSOR_LIGHTS_MS: Final = (1_000, 8_000, 2_000, 4_000, 1_000, 8_000)
"""Short and long in turn, so that a lamp that slowly grows weaker does not pass for one that is slow to come up."""
REFERENCE_MS: Final = 6_000
GAINS_MS: Final = 10_000
"""Each gain of the sensor counts twice in it, but the strongest."""
SHORTEST_MS: Final = 500
"""A light of a train; a shorter one would test the cold lamp alone."""


class PaperTest(Frozen):
    """One long light in the first band, and in each of the others a train of `pulses` lights of one length.

    Train n stands for the lag under which it matches the long light. Times are how long the line is lit.
    """

    long_ms: int = Field(ge=2_000, le=60_000)
    pulses: int = Field(ge=2, le=20)
    each_ms: tuple[int, ...] = Field(min_length=2, max_length=20)

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if 1 + self.pulses * len(self.each_ms) > MOST_LIGHTS:
            raise ValueError("too many lights")
        return self

    def lag_of(self, band: int, *, between: bool) -> Fraction:
        """Return the lag, in ms, of which band `band` (2 is the first train) matches band 1, or the place after it.

        Raises:
            Impossible: there is no such train.
        """
        at = band - 2
        if not 0 <= at < len(self.each_ms) - between:
            raise Impossible(say("lamp.no-band", band=band, last=len(self.each_ms) + 1))
        each = Fraction(sum(self.each_ms[at : at + 1 + between]), 1 + between)
        return lag_seconds(Fraction(self.long_ms), self.pulses, each)


def paper_test(
    *, long_ms: int = 8_000, pulses: int = 8, first_ms: int = 0, step_ms: int = 40, trains: int = 7
) -> PaperTest:
    """Return the test whose trains stand for lags of `first_ms`, `first_ms` + `step_ms`, and so on, rounded to 1 ms.

    Each light of a train lasts (long + (n − 1)·lag)/n, the rule of `printing.trains` turned round (derived).

    Raises:
        Impossible: out of limits; the sentence says which.
    """
    for name, value, least, most in (
        ("long", long_ms / 1000, 2, 60),
        ("pulses", pulses, 2, 20),
        ("first", first_ms / 1000, 0, 0.4),
        ("step", step_ms / 1000, 0.01, 0.1),
        ("trains", trains, 2, 20),
    ):
        if not least <= value <= most:
            what = say(f"lamp.field-{name}")
            raise Impossible(say("lamp.limits", what=what, value=f"{value:g}", least=f"{least:g}", most=f"{most:g}"))
    if 1 + pulses * trains > MOST_LIGHTS:
        raise Impossible(say("lamp.too-many", pulses=pulses, trains=trains, most=(MOST_LIGHTS - 1) // pulses))
    lags = (first_ms + n * step_ms for n in range(trains))
    each = tuple((2 * (long_ms + (pulses - 1) * lag) + pulses) // (2 * pulses) for lag in lags)
    if each[0] < SHORTEST_MS:
        raise Impossible(say("lamp.too-short", each=f"{each[0] / 1000:.2f}", least=f"{SHORTEST_MS / 1000:g}"))
    return PaperTest(long_ms=long_ms, pulses=pulses, each_ms=each)


def paper_plan(test: PaperTest) -> Plan:
    """Return the paper test's lights: a press begins each band, the lights of a train follow by themselves."""
    bands = len(test.each_ms) + 1
    steps = [_light(1, say("lamp.name-long", band=1, of=bands), test.long_ms, card="lamp.card-first")]
    for band, each_ms in enumerate(test.each_ms, start=2):
        for n in range(1, test.pulses + 1):
            steps.append(
                _light(
                    len(steps) + 1,
                    say("lamp.name-pulse", band=band, of=bands, n=n, pulses=test.pulses),
                    each_ms,
                    card="lamp.card-next" if n == 1 else "",
                    follows=n > 1,
                )
            )
    return _plan("paper", steps)


def sensor_plan() -> Plan:
    """Return lights of different length for the sensor; one press begins all of them."""
    return _plan("sensor", list(_row("lamp.name-light", SENSOR_LIGHTS_MS)))


def reference_plan() -> Plan:
    """Return the one light of a lamp check."""
    return _plan("reference", list(_row("lamp.name-reference", (REFERENCE_MS,))))


def gains_plan() -> Plan:
    """Return the one light through which the sensor's gains are measured."""
    return _plan("gains", list(_row("lamp.name-gains", (GAINS_MS,))))


def warm_plan(seconds: float) -> Plan:
    """Return the one light that warms the lamp."""
    return _plan("warm", list(_row("lamp.name-warm", (round(seconds * 1000),))))


def check_of(plan: Plan) -> CheckName | None:
    """Return which check a plan is; None where it is a sheet's."""
    name = plan.source.removeprefix(CHECK_SOURCE)
    return name if plan.kind == "check" and name in _NAMES else None  # type: ignore[return-value]  # one of them


def fits_longest(plan: Plan, longest_ms: int) -> bool:
    """Tell whether the keeper's longest light allows every light of the plan."""
    return all(step.planned_ms <= longest_ms for step in plan.steps)


_NAMES: Final = frozenset({"paper", "sensor", "reference", "gains", "warm"})


def _row(key: str, lengths_ms: tuple[int, ...]) -> Iterator[Step]:
    for n, lit_ms in enumerate(lengths_ms, start=1):
        yield _light(n, say(key, n=n, of=len(lengths_ms)), lit_ms, follows=n > 1)


def _light(number: int, name: str, lit_ms: int, *, card: str = "", follows: bool = False) -> Step:
    # `base_ms` is its own time: whatever lag is set, an uninterrupted check light is lit for what it says
    return Step(
        number=number,
        name=name,
        act=StepKind.CHECK,
        filter="",
        planned_ms=lit_ms,
        base_ms=lit_ms,
        card=card,
        gap_ms=GAP_MS if follows else None,
    )


def _plan(name: CheckName, steps: list[Step]) -> Plan:
    return Plan(
        source=f"{CHECK_SOURCE}{name}", version=1, kind="check", title=say(f"lamp.title-{name}"), steps=tuple(steps)
    )
