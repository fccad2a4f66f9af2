"""What `treadle calc` answers: figures by name for `--json`, and the same as lines for a person."""

from __future__ import annotations

from abc import abstractmethod

from controller.printing.stops import seconds_text
from controller.sheet import Frozen
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
