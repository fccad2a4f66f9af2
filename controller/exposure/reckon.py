"""Each reckoning by itself: quantities by name, as typed, and what comes out, in figures and in lines for a person.

A refusal names its quantity as whoever asks calls it (a flag, a field's label), and has its place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any, Final

from controller.errors import Impossible
from controller.exposure import burns, size, strip_times
from controller.exposure.lag import lag_seconds
from controller.exposure.quantities import MOST_SECONDS, Answer, Given
from controller.exposure.stops import dried_ms, farthest_off, figure_text, seconds_text, stops_between
from controller.words import say


class StripAnswer(Answer):
    """What the bands of a strip get in the end, and the lights that give it, in order; seconds."""

    totals: tuple[float, ...]
    pulses: tuple[float, ...]

    def lines(self) -> tuple[str, ...]:
        """Return totals and pulses."""
        return (
            say("reckoning.calc-totals", seconds=_row(self.totals)),
            say("reckoning.calc-pulses", seconds=_row(self.pulses)),
        )


class SecondsAnswer(Answer):
    """One time, in seconds."""

    seconds: float

    def lines(self) -> tuple[str, ...]:
        """Return the time."""
        return (say("reckoning.calc-seconds", seconds=self.seconds),)


class DodgeAnswer(Answer):
    """A dodge in parts: what is held back, and what is left for the open sheet; seconds."""

    held_back: float
    open: float

    def lines(self) -> tuple[str, ...]:
        """Return both parts."""
        return (say("reckoning.calc-dodge", held_back=self.held_back, open=self.open),)


class SizeAnswer(Answer):
    """Another print size: the factor of time, in stops, and what the area rule would say."""

    factor: float
    stops: float
    area_rule: float

    def lines(self) -> tuple[str, ...]:
        """Return the factor, and the area rule as a warning."""
        return (
            say("reckoning.calc-factor", factor=self.factor, stops=figure_text(self.stops)),
            say("reckoning.calc-area-rule", area_rule=self.area_rule),
        )


class ApertureAnswer(Answer):
    """Another marked aperture: the factor of time, in stops."""

    factor: float
    stops: float

    def lines(self) -> tuple[str, ...]:
        """Return the factor."""
        return (say("reckoning.calc-factor", factor=self.factor, stops=figure_text(self.stops)),)


class RelayAnswer(Answer):
    """Whether contacts are strong enough for a lamp: its steady current, ten times that, and the verdict."""

    steady_amps: float
    reckoned_amps: float
    strong_enough: bool

    def lines(self) -> tuple[str, ...]:
        """Return currents and verdict."""
        return (
            say("reckoning.calc-relay", steady=f"{self.steady_amps:.2f}", reckoned=f"{self.reckoned_amps:.2f}"),
            say("reckoning.calc-relay-strong" if self.strong_enough else "reckoning.calc-relay-weak"),
        )


class SpreadAnswer(Answer):
    """How far a sheet's lights are off a reference's: the farthest step, with its sign, and every step; stops."""

    spread_stops: float
    steps: tuple[float, ...]

    def lines(self) -> tuple[str, ...]:
        """Return the farthest step, and every one."""
        return (
            say("reckoning.calc-spread", stops=figure_text(self.spread_stops)),
            say("reckoning.calc-spread-steps", stops="  ".join(map(figure_text, self.steps))),
        )


def _row(seconds: tuple[float, ...]) -> str:
    return "  ".join(seconds_text(round(value * 1000)) for value in seconds)


TIMES: Final = 10


def steady_amps(watts: Fraction, volts: Fraction) -> Fraction:
    """Return the current of a lamp that is warm: watts/volts."""
    return watts / volts


def reckoned_amps(watts: Fraction, volts: Fraction) -> Fraction:
    """Return the current to choose contacts by: ten times the steady one."""
    return TIMES * steady_amps(watts, volts)


def strong_enough(watts: Fraction, volts: Fraction, contact_amps: Fraction) -> bool:
    """Tell whether contacts of this resistive rating may switch the lamp; at the limit they may not."""
    return reckoned_amps(watts, volts) < contact_amps


QUANTITIES: Final[dict[str, tuple[str, ...]]] = {
    "strip": ("centre", "step", "every", "bands", "card"),
    "burn": ("base", "stops"),
    "dodge": ("base", "stops"),
    "size": ("from", "to", "pupil", "negative_mm", "from_mm", "to_mm"),
    "aperture": ("from", "to"),
    "dry-down": ("percent", "seconds"),
    "between": ("one", "two"),
    "lag": ("long", "pulses", "each"),
    "relay": ("watts", "volts", "contacts"),
    "spread": ("reference", "given"),
}
"""What each reckoning asks for."""
_PLACES: Final = 4
_SPREAD_PLACES: Final = 3
_MOST_STEPS: Final = 60


def reckon(kind: str, given: Mapping[str, str | None], called: Callable[[str], str] = str) -> Answer:
    """Return the answer to one reckoning: `given` are its quantities as typed, `called` what each is called there.

    Raises:
        ControllerError: one sentence with the value and the remedy; its place is the quantity where it is about one.
    """
    of = Given({name: text for name, text in given.items() if text}, called)
    match kind:
        case "strip":
            return _strip(of)
        case "burn":
            return SecondsAnswer(seconds=burns.burn_ms(of.ms("base"), of.stops("stops")) / 1000)
        case "dodge":
            base_ms = of.ms("base")
            held = burns.held_back_ms(base_ms, of.stops("stops"))
            return DodgeAnswer(held_back=held / 1000, open=(base_ms - held) / 1000)
        case "size":
            return _size(of)
        case "aperture":
            one, two = (of.number(name, "0.5", "128") for name in ("from", "to"))
            return ApertureAnswer(
                factor=round(float(size.aperture_factor(one, two)), _PLACES),
                stops=round(float(size.aperture_stops(one, two)), _PLACES),
            )
        case "dry-down":
            less = of.number("percent", "0", "50")
            return SecondsAnswer(seconds=dried_ms(of.ms("seconds"), less) / 1000)
        case "between":
            return SecondsAnswer(seconds=strip_times.between_ms(of.ms("one"), of.ms("two")) / 1000)
        case "lag":
            number = int(of.number("pulses", "2", "100", whole=True))
            long, each = (of.number(name, "0.1", MOST_SECONDS) for name in ("long", "each"))
            return SecondsAnswer(seconds=round(float(lag_seconds(long, number, each)), _PLACES))
        case "relay":
            return _relay(of)
        case "spread":
            return _spread(of)
    raise Impossible(say("reckoning.calc-kind", kinds=", ".join(QUANTITIES)))


def change_size(*, before: Fraction, after: Fraction, pupil: Fraction) -> SizeAnswer:
    """Return the factor of time between two magnifications."""
    factor = size.size_factor(before, after, pupil)
    return SizeAnswer(
        factor=round(float(factor), _PLACES),
        stops=round(stops_between(Fraction(1), factor), _PLACES),
        area_rule=round(float(size.area_rule(before, after)), _PLACES),
    )


def _strip(of: Given) -> StripAnswer:
    """Return a strip around a centre in stops, or of a fixed interval."""
    if of.has("every") == of.has("centre") or of.has("centre") != of.has("step"):
        raise of.refused("strip-kind", **{name: of.called(name) for name in ("centre", "step", "every")})
    bands = int(of.number("bands", "2", "24", whole=True))
    if of.has("every"):
        totals = strip_times.even_totals(of.ms("every"), bands)
    else:
        totals = strip_times.stop_totals(of.ms("centre"), of.stops("step"), bands)
    card: Any = of.typed.get("card", "cover")
    lights = strip_times.pulses(totals, card)
    return StripAnswer(totals=_seconds(totals), pulses=_seconds(tuple(light.ms for light in lights)))


def _size(of: Given) -> SizeAnswer:
    magnifications, lengths = ("from", "to"), ("negative_mm", "from_mm", "to_mm")
    pupil = of.number("pupil", "0.1", "10") if of.has("pupil") else Fraction(1)
    if of.has(*magnifications) and not any(map(of.has, lengths)):
        before, after = (of.number(name, "0.01", "200") for name in magnifications)
    elif of.has(*lengths) and not any(map(of.has, magnifications)):
        negative, one, two = (of.number(name, "0.1", "10000") for name in lengths)
        before, after = one / negative, two / negative
    else:
        raise of.refused("size-kind", **{f"of_{name}": of.called(name) for name in (*magnifications, *lengths)})
    return change_size(before=before, after=after, pupil=pupil)


def _relay(of: Given) -> RelayAnswer:
    """Return whether contacts rated for so many amperes may switch a tungsten lamp."""
    lamp = of.number("watts", "1", "5000"), of.number("volts", "6", "1000")
    amps = of.number("contacts", "0.1", "1000")
    return RelayAnswer(
        steady_amps=round(float(steady_amps(*lamp)), _PLACES),
        reckoned_amps=round(float(reckoned_amps(*lamp)), _PLACES),
        strong_enough=strong_enough(*lamp, amps),
    )


def _spread(of: Given) -> SpreadAnswer:
    """Return how far the lights of one sheet are off those of another, step by step."""
    reference, given = (of.times_ms(name, most=_MOST_STEPS) for name in ("reference", "given"))
    if len(reference) != len(given):
        told = {name: of.called(name) for name in ("reference", "given")}
        raise of.refused("spread-uneven", one=len(reference), two=len(given), **told)
    steps = [stops_between(Fraction(one), Fraction(two)) for one, two in zip(reference, given, strict=True)]
    farthest = farthest_off(dict(enumerate(reference)), dict(enumerate(given)))
    assert farthest is not None, "each of the times is over nothing"
    return SpreadAnswer(
        spread_stops=round(farthest, _SPREAD_PLACES) + 0.0,
        steps=tuple(round(each, _SPREAD_PLACES) + 0.0 for each in steps),
    )


def _seconds(times_ms: tuple[int, ...]) -> tuple[float, ...]:
    return tuple(ms / 1000 for ms in times_ms)
