"""What `treadle calc` answers: figures by name for `--json`, and the same as lines for a person."""

from __future__ import annotations

from abc import abstractmethod
from argparse import ArgumentParser, Namespace, _SubParsersAction
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Final

from controller.errors import Impossible
from controller.exposure import burns, size
from controller.exposure import size as aperture
from controller.exposure import strip_times as strips
from controller.exposure.lag import lag_seconds
from controller.exposure.stops import dried_ms, parse_more_stops, seconds_text, shown, stops_between
from controller.exposure.strip_times import between_ms
from controller.model import Frozen
from controller.words import say


class Answer(Frozen):
    """Figures: its fields are the keys of `--json`, `lines` the same for a person."""

    @abstractmethod
    def lines(self) -> tuple[str, ...]:
        """Return the figures as lines to print."""


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
            say("reckoning.calc-factor", factor=self.factor, stops=_signed(self.stops)),
            say("reckoning.calc-area-rule", area_rule=self.area_rule),
        )


class ApertureAnswer(Answer):
    """Another marked aperture: the factor of time, in stops."""

    factor: float
    stops: float

    def lines(self) -> tuple[str, ...]:
        """Return the factor."""
        return (say("reckoning.calc-factor", factor=self.factor, stops=_signed(self.stops)),)


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


def _row(seconds: tuple[float, ...]) -> str:
    return "  ".join(seconds_text(round(value * 1000)) for value in seconds)


def _signed(stops: float) -> str:
    return f"{stops:+.3g}".replace("-", "−")


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


_MOST_SECONDS: Final = Decimal(900)
_PLACES: Final = 4


def strip(
    *, centre: str | None, step: str | None, every: str | None, bands: str | None, card: strips.CardWay
) -> StripAnswer:
    """Return a strip around a centre in stops, or of a fixed interval."""
    if (every is None) == (centre is None) or (centre is None) != (step is None):
        raise Impossible(say("reckoning.calc-strip-kind"))
    number = int(_number("--bands", bands, Decimal(2), Decimal(24), whole=True))
    if every is not None:
        totals = strips.even_totals(_ms("--every", every), number)
    else:
        totals = strips.stop_totals(_ms("--centre", centre), parse_more_stops(step or ""), number)
    lights = strips.pulses(totals, card)
    return StripAnswer(totals=_seconds(totals), pulses=_seconds(tuple(light.ms for light in lights)))


def burn(*, base: str | None, stops: str | None) -> SecondsAnswer:
    """Return what a burn adds to a base."""
    return SecondsAnswer(seconds=burns.burn_ms(_ms("--base", base), _stops(stops)) / 1000)


def dodge(*, base: str | None, stops: str | None) -> DodgeAnswer:
    """Return what a dodge holds back from a base, and what it leaves."""
    base_ms = _ms("--base", base)
    held = burns.held_back_ms(base_ms, _stops(stops))
    return DodgeAnswer(held_back=held / 1000, open=(base_ms - held) / 1000)


def change_size(*, before: Fraction, after: Fraction, pupil: Fraction) -> SizeAnswer:
    """Return the factor of time between two magnifications."""
    factor = size.size_factor(before, after, pupil)
    return SizeAnswer(
        factor=round(float(factor), _PLACES),
        stops=round(stops_between(Fraction(1), factor), _PLACES),
        area_rule=round(float(size.area_rule(before, after)), _PLACES),
    )


def change_aperture(*, before: str | None, after: str | None) -> ApertureAnswer:
    """Return the factor of time between two marked apertures."""
    one, two = (
        _number(flag, text, Decimal("0.5"), Decimal(128)) for flag, text in (("--from", before), ("--to", after))
    )
    return ApertureAnswer(
        factor=round(float(aperture.aperture_factor(Fraction(one), Fraction(two))), _PLACES),
        stops=round(float(aperture.aperture_stops(Fraction(one), Fraction(two))), _PLACES),
    )


def dry_down(*, percent: str | None, seconds: str | None) -> SecondsAnswer:
    """Return a time less the dry-down."""
    less = Fraction(_number("--percent", percent, Decimal(0), Decimal(50)))
    return SecondsAnswer(seconds=dried_ms(_ms("--seconds", seconds), less) / 1000)


def between(one: str, two: str) -> SecondsAnswer:
    """Return the time between two bands."""
    return SecondsAnswer(seconds=between_ms(_ms("between", one), _ms("between", two)) / 1000)


def lag(*, long: str | None, pulses: str | None, each: str | None) -> SecondsAnswer:
    """Return the full light that one switching loses."""
    number = int(_number("--pulses", pulses, Decimal(2), Decimal(100), whole=True))
    lost = lag_seconds(
        Fraction(_number("--long", long, Decimal("0.1"), _MOST_SECONDS)),
        number,
        Fraction(_number("--each", each, Decimal("0.1"), _MOST_SECONDS)),
    )
    return SecondsAnswer(seconds=round(float(lost), _PLACES))


def choose_relay(*, watts: str | None, volts: str | None, contacts: str | None) -> RelayAnswer:
    """Return whether contacts rated for so many amperes may switch a tungsten lamp."""
    lamp = (
        _fraction("--watts", watts, Decimal(1), Decimal(5000)),
        _fraction("--volts", volts, Decimal(6), Decimal(1000)),
    )
    amps = _fraction("--contacts", contacts, Decimal("0.1"), Decimal(1000))
    return RelayAnswer(
        steady_amps=round(float(steady_amps(*lamp)), _PLACES),
        reckoned_amps=round(float(reckoned_amps(*lamp)), _PLACES),
        strong_enough=strong_enough(*lamp, amps),
    )


def add_arguments(subparsers: _SubParsersAction[ArgumentParser]) -> None:
    """Add `calc` and its kinds to the command line; values stay text, so that `answer` can refuse them in words."""
    parser = subparsers.add_parser("calc", help=say("reckoning.help-calc"))
    kinds = parser.add_subparsers(dest="calc", required=True)
    for kind, flags in _FLAGS.items():
        one = kinds.add_parser(kind, help=say(f"reckoning.help-{kind}"))
        for flag in flags:
            name = flag.removeprefix("--")
            told = say(f"reckoning.flag-{kind}-{name}")
            if flag == name:
                one.add_argument(flag, help=told)
            else:
                one.add_argument(flag, dest=name.replace("-", "_"), metavar=name.upper(), help=told)
        if kind == "strip":
            ways = ("cover", "uncover", "window")
            one.add_argument("--card", choices=ways, default="cover", help=say("reckoning.flag-strip-card"))
        one.add_argument("--json", action="store_true", help=say("reckoning.help-json"))


_FLAGS: Final[dict[str, tuple[str, ...]]] = {
    "strip": ("--centre", "--step", "--every", "--bands"),
    "burn": ("--base", "--stops"),
    "dodge": ("--base", "--stops"),
    "size": ("--from", "--to", "--pupil", "--negative-mm", "--from-mm", "--to-mm"),
    "aperture": ("--from", "--to"),
    "dry-down": ("--percent", "--seconds"),
    "between": ("one", "two"),
    "lag": ("--long", "--pulses", "--each"),
    "relay": ("--watts", "--volts", "--contacts"),
}


def answer(args: Namespace) -> Answer:
    """Return the answer to a parsed `calc` command.

    Raises:
        ControllerError: one sentence with the value and the remedy.
    """
    given = vars(args)
    match args.calc:
        case "strip":
            return strip(centre=args.centre, step=args.step, every=args.every, bands=args.bands, card=args.card)
        case "burn":
            return burn(base=args.base, stops=args.stops)
        case "dodge":
            return dodge(base=args.base, stops=args.stops)
        case "size":
            return _size(given)
        case "aperture":
            return change_aperture(before=given["from"], after=args.to)
        case "dry-down":
            return dry_down(percent=args.percent, seconds=args.seconds)
        case "between":
            return between(args.one, args.two)
        case "lag":
            return lag(long=args.long, pulses=args.pulses, each=args.each)
        case "relay":
            return choose_relay(watts=args.watts, volts=args.volts, contacts=args.contacts)
    raise Impossible(say("reckoning.calc-kind", kinds=", ".join(_FLAGS)))


def _size(given: dict[str, str | None]) -> SizeAnswer:
    by_magnification = [given["from"], given["to"]]
    by_length = [given["negative_mm"], given["from_mm"], given["to_mm"]]
    pupil = _fraction("--pupil", given["pupil"] or "1", Decimal("0.1"), Decimal(10))
    if all(by_magnification) and not any(by_length):
        before, after = (
            _fraction(flag, text, Decimal("0.01"), Decimal(200))
            for flag, text in zip(("--from", "--to"), by_magnification, strict=True)
        )
    elif all(by_length) and not any(by_magnification):
        negative, one, two = (
            _fraction(flag, text, Decimal("0.1"), Decimal(10_000))
            for flag, text in zip(("--negative-mm", "--from-mm", "--to-mm"), by_length, strict=True)
        )
        before, after = one / negative, two / negative
    else:
        raise Impossible(say("reckoning.calc-size-kind"))
    return change_size(before=before, after=after, pupil=pupil)


def _number(flag: str, text: str | None, least: Decimal, most: Decimal, *, whole: bool = False) -> Decimal:
    """Return the number given with `flag`."""
    if text is None:
        raise Impossible(say("reckoning.calc-missing", flag=flag, least=least, most=most))
    try:
        number = Decimal(text)
    except InvalidOperation:
        number = Decimal("NaN")
    if not (number.is_finite() and least <= number <= most and (not whole or number == int(number))):
        key = "reckoning.calc-whole" if whole else "reckoning.calc-number"
        raise Impossible(say(key, flag=flag, found=shown(text), least=least, most=most))
    return number


def _fraction(flag: str, text: str | None, least: Decimal, most: Decimal) -> Fraction:
    return Fraction(_number(flag, text, least, most))


def _ms(flag: str, text: str | None) -> int:
    ms = Fraction(_number(flag, text, Decimal("0.1"), _MOST_SECONDS)) * 1000
    if ms.denominator != 1:
        raise Impossible(say("reckoning.calc-too-fine", flag=flag, found=shown(text)))
    return int(ms)


def _stops(text: str | None) -> Fraction:
    if text is None:
        raise Impossible(say("reckoning.calc-missing-stops"))
    return parse_more_stops(text)


def _seconds(times_ms: tuple[int, ...]) -> tuple[float, ...]:
    return tuple(ms / 1000 for ms in times_ms)
