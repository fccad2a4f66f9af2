"""What `treadle paper` answers: frozen figures whose fields are the keys of `--json`, and the same in words."""

from __future__ import annotations

from pydantic import Field

from controller.exposure.quantities import Answer
from controller.words import say


def _none(value: object) -> bool:
    return value is None


def _alone(density: float | None) -> tuple[str, ...]:
    """Return the line that says what a flash prints by itself, where there is one."""
    return () if density is None else (say("paper.flash-alone", density=f"{density:.3f}"),)


class ExposureAnswer(Answer):
    """One exposure's curve."""

    paper: str
    soft_seconds: float
    hard_seconds: float
    dmin: float
    dmax: float
    range: int
    """R, to 10."""
    range_exact: float
    range_spread: float
    grade: int | str
    speed_point_stops: float
    """Of light, from the open exposure (0): how far it can be cut until 0.60 over base + fog is left."""
    speed_point_tablet_density: float
    speed: float | None
    """ISO speed P, where the light at the easel was told."""
    faults: tuple[str, ...]

    def lines(self) -> tuple[str, ...]:
        """Return one line of figures, then what is wrong."""
        light = say(
            "paper.command-light", paper=self.paper, soft=f"{self.soft_seconds:g}", hard=f"{self.hard_seconds:g}"
        )
        figures = say(
            "paper.command-curve",
            light=light,
            range=self.range,
            spread=f"{self.range_spread:.0f}",
            grade=self.grade,
            dmin=f"{self.dmin:.2f}",
            dmax=f"{self.dmax:.2f}",
            stops=f"{self.speed_point_stops:.2f}",
        )
        speed = (say("paper.command-speed", speed=f"{self.speed:.0f}"),) if self.speed is not None else ()
        return (figures, *speed, *self.faults)


class CurveAnswer(Answer):
    """The curves of a file, in its order."""

    exposures: tuple[ExposureAnswer, ...]

    def lines(self) -> tuple[str, ...]:
        """Return the lines of each."""
        return tuple(line for each in self.exposures for line in each.lines())


class FitAnswer(Answer):
    """A fitted paper, and how well it fits."""

    paper: str
    version: int
    file: str
    rms_density: float
    worst_density: float
    usual_spread: float
    """What a prediction is usually off by."""
    plain: str
    """The one sentence a printer sees first."""
    advice: tuple[str, ...]

    def lines(self) -> tuple[str, ...]:
        """Return the plain sentence, the figures, and the advice."""
        figures = say("paper.command-fit", rms=f"{self.rms_density:.3f}", worst=f"{self.worst_density:.2f}")
        return (say("paper.command-kept", paper=self.paper, file=self.file), self.plain, figures, *self.advice)


class PredictAnswer(Answer):
    """What two times print, in the order of the negative's densities."""

    densities: tuple[float, ...]
    spreads: tuple[float, ...]
    range: int
    range_exact: float
    plain: str
    advice: tuple[str, ...]

    def lines(self) -> tuple[str, ...]:
        """Return the densities, R, and how far to trust them."""
        return (
            say("paper.command-densities", densities=", ".join(f"{each:.2f}" for each in self.densities)),
            say("paper.command-range", range=self.range),
            self.plain,
            *self.advice,
        )


class Tones(Answer):
    """What a light and a dark tone print as."""

    light: float
    dark: float

    def lines(self) -> tuple[str, ...]:
        """Return both."""
        return (say("paper.command-tones", light=f"{self.light:.2f}", dark=f"{self.dark:.2f}"),)


class Times(Answer):
    """Soft and hard seconds, and what they do; `filter` is the single filter they amount to."""

    soft: float
    hard: float
    range: int
    range_exact: float
    predicted: Tones
    filter: str

    def lines(self) -> tuple[str, ...]:
        """Return the times, what they print, and the filter."""
        times = say("paper.command-times", soft=f"{self.soft:.1f}", hard=f"{self.hard:.1f}")
        return (times, *self.predicted.lines(), say("paper.command-range", range=self.range), self.filter)


class SoftHardAnswer(Times):
    """The pair that was asked for, and how far to trust it."""

    plain: str
    advice: tuple[str, ...]
    flash_alone: float | None = Field(default=None, exclude_if=_none)
    """What the flash prints by itself, in density over white; where there is one."""

    def lines(self) -> tuple[str, ...]:
        """Return the times, what they print, and how far to trust it."""
        return (*super().lines(), *_alone(self.flash_alone), self.plain, *self.advice)


class OutOfReachAnswer(Answer):
    """Why the two tones cannot be had, and the nearest pair."""

    why: str
    nearest: Times
    flash_alone: float | None = Field(default=None, exclude_if=_none)
    least_flash: float | None = Field(default=None, exclude_if=_none)
    """Seconds through soft that would bring both tones where they are wanted; where any would."""

    def lines(self) -> tuple[str, ...]:
        """Return the reason, the flash that would do, and the nearest."""
        flash = () if self.least_flash is None else (say("paper.flash-reaches", seconds=f"{self.least_flash:.2f}"),)
        nearest = (say("paper.command-nearest"), *self.nearest.lines())
        return (self.why, *flash, *nearest, *_alone(self.flash_alone))


class HalfTwelfths(Answer):
    """A change of soft and of hard light in twelfths of a stop, to half a twelfth; more light is over 0."""

    soft: float
    hard: float

    def lines(self) -> tuple[str, ...]:
        """Return both changes."""
        soft, hard = (f"{each:+g}".replace("-", "−") for each in (self.soft, self.hard))
        return (say("paper.command-twelfths", soft=soft, hard=hard),)


class VerdictAnswer(Answer):
    """The pair for the next print, and how far it is from the last one's."""

    soft: float
    hard: float
    twelfths: HalfTwelfths

    def lines(self) -> tuple[str, ...]:
        """Return the times and the change."""
        times = say("paper.command-times", soft=f"{self.soft:.1f}", hard=f"{self.hard:.1f}")
        return (times, *self.twelfths.lines())


class StoppedShortAnswer(VerdictAnswer):
    """The same where no pair mends it: the nearest, and why."""

    why: str

    def lines(self) -> tuple[str, ...]:
        """Return the reason and the nearest."""
        return (self.why, say("paper.command-nearest"), *super().lines())
