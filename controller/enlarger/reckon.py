"""The enlarger's reckonings by themselves, as the command line asks them: column, depth, first strip.

As `controller.exposure.reckon`, for what stands on the enlarger's floor.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Final

from controller.enlarger import column, first_strip
from controller.errors import Impossible
from controller.exposure.quantities import Answer, Given
from controller.exposure.size import depth_mm
from controller.exposure.stops import figure_text, seconds_text, stops_between
from controller.words import say


class ColumnDistance(Answer):
    """How far the negative is from the easel, in mm."""

    distance_mm: float

    def lines(self) -> tuple[str, ...]:
        """Return the distance."""
        return (say("reckoning.calc-column-distance", distance=self.distance_mm),)


class ColumnOffset(ColumnDistance):
    """The same, and what is to be added to the reading of this column's scale for it."""

    offset_mm: float

    def lines(self) -> tuple[str, ...]:
        """Return distance and offset."""
        return (*super().lines(), say("reckoning.calc-column-offset", offset=self.offset_mm))


class ColumnMagnification(Answer):
    """The magnification at a reading."""

    magnification: float

    def lines(self) -> tuple[str, ...]:
        """Return the magnification."""
        return (say("reckoning.calc-column-magnification", magnification=f"{self.magnification:.3f}"),)


class DepthAnswer(Answer):
    """How deep the plane of focus is at the negative, in mm."""

    depth_mm: float

    def lines(self) -> tuple[str, ...]:
        """Return the depth."""
        return (say("reckoning.calc-depth", depth=f"{self.depth_mm:.2f}"),)


class FirstStripAnswer(Answer):
    """Where a negative's first strip begins: its middle band in seconds, and the factor from the proof, not rounded."""

    centre: float
    factor: float

    def lines(self) -> tuple[str, ...]:
        """Return the middle band, and the factor in stops."""
        stops = figure_text(stops_between(Fraction(1), Fraction(self.factor)))
        return (
            say("reckoning.calc-first-strip", seconds=seconds_text(round(self.centre * 1000))),
            say("reckoning.calc-factor", factor=f"{self.factor:.5g}", stops=stops),
        )


QUANTITIES: Final[dict[str, tuple[str, ...]]] = {
    "column": ("focal", "m", "reading", "offset"),
    "depth": ("f", "circle", "m"),
    "first-strip": ("proof", "from_m", "to_m", "from_f", "to_f", "look", "k"),
}
"""What each reckoning asks for."""
_SCALE: Final = ("-10000", "10000")


def reckon(kind: str, given: Mapping[str, str | None], called: Callable[[str], str] = str) -> Answer:
    """Return the answer to one reckoning: `given` are its quantities as typed, `called` what each is called there.

    Raises:
        ControllerError: one sentence with the value and the remedy; its place is the quantity where it is about one.
    """
    of = Given({name: text for name, text in given.items() if text}, called)
    match kind:
        case "column":
            return _column(of)
        case "depth":
            f_number, m = of.number("f", "0.5", "128"), of.number("m", "0.1", "200")
            depth = depth_mm(f_number, of.number("circle", "0.01", "5"), m)
            return DepthAnswer(depth_mm=round(float(depth), 2))
        case "first-strip":
            return _first_strip(of)
    raise Impossible(say("reckoning.calc-kind", kinds=", ".join(QUANTITIES)))


def _column(of: Given) -> Answer:
    focal = of.number("focal", "10", "1000")
    if of.has("m") and not of.has("offset"):
        m = of.number("m", str(column.LEAST_MAGNIFICATION), "200")
        distance = round(float(column.distance_mm(focal, m)), 1)
        if not of.has("reading"):
            return ColumnDistance(distance_mm=distance)
        offset = column.offset_mm(focal, m, of.number("reading", *_SCALE))
        return ColumnOffset(distance_mm=distance, offset_mm=round(float(offset), 1))
    if of.has("offset", "reading") and not of.has("m"):
        at = column.magnification_at(focal, of.number("offset", *_SCALE), of.number("reading", *_SCALE))
        return ColumnMagnification(magnification=round(at, 3))
    raise of.refused("column-kind", **{name: of.called(name) for name in ("m", "reading", "offset")})


def _first_strip(of: Given) -> FirstStripAnswer:
    proof_ms = of.ms("proof")
    sizes = [of.number(name, "0.01", "200") for name in ("from_m", "to_m")]
    if of.has("from_f") != of.has("to_f"):
        raise of.refused("first-strip-apertures", **{name: of.called(name) for name in ("from_f", "to_f")})
    rings = [of.number(name, "0.5", "128") if of.has(name) else None for name in ("from_f", "to_f")]
    times = first_strip.factor(
        proof_magnification=sizes[0],
        magnification=sizes[1],
        proof_aperture=rings[0],
        aperture=rings[1],
        look=of.either_way("look", most=first_strip.MOST_LOOK),
        k=of.either_way("k"),
    )
    return FirstStripAnswer(centre=first_strip.centre_ms(proof_ms, times) / 1000, factor=float(times))
