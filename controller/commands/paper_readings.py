"""`treadle paper readings`: spots measured at the easel, and the lights, burns and dodges that follow from them."""

from __future__ import annotations

from argparse import ArgumentParser, _SubParsersAction
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from pydantic import SerializerFunctionWrapHandler, model_serializer

from controller.easel.spots import Spot, measured
from controller.errors import Unreadable
from controller.exposure.decimals import decimal_within
from controller.exposure.quantities import Answer
from controller.exposure.stops import shown
from controller.words import say

if TYPE_CHECKING:
    from controller.easel.two_tones import Fallen, LocalWork
    from controller.paper.paper import Paper

_LEAST_COUNTS: Final = "0.001"
_MOST_COUNTS: Final = "1000000000"
_MOST_OFFSET: Final = "0.3"


def add_arguments(kinds: _SubParsersAction[Any]) -> ArgumentParser:
    """Add `readings` to the kinds of `treadle paper`, and return its parser."""
    readings: ArgumentParser = kinds.add_parser("readings", help=say("paper.command-help-easel"))
    readings.add_argument("paper", type=Path, metavar="PAPER.json", help=say("paper.command-help-kept"))
    readings.add_argument("--reference", required=True, metavar="COUNTS", help=say("paper.command-help-reference"))
    readings.add_argument(
        "--spot", required=True, action="append", metavar="NAME=COUNTS=PRINT", help=say("paper.command-help-spot")
    )
    readings.add_argument("--offset", default="0", metavar="DENSITY", help=say("paper.command-help-offset"))
    return readings


class SpotAnswer(Answer):
    """A spot: its effective density, where it falls, and the burn or dodge that a further one wants for its wish."""

    density: float
    print_density: float
    act: Literal["burn", "dodge"] | None = None
    filter: Literal["soft", "hard"] | None = None
    stops: float | None = None
    seconds: float | None = None
    why: str = ""
    """Why no burn or dodge brings it to its wish; empty where one does, or none is asked for."""

    @model_serializer(mode="wrap")
    def _as_said(self, rest: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Leave out what is not said of this spot."""
        return {key: value for key, value in rest(self).items() if value not in (None, "")}

    def lines(self) -> tuple[str, ...]:
        """Return what stands against it; the whole answer says the rest, with its name."""
        return (self.why,) if self.why else ()

    def named(self, name: str) -> str:
        """Return the spot's line."""
        figures = {"name": name, "density": f"{self.density:.2f}", "printed": f"{self.print_density:.2f}"}
        if self.stops is None or self.seconds is None:
            return say("paper.command-spot-falls", **figures)
        stops = f"{self.stops:+.2f}".replace("-", "−")
        work = {"act": self.act, "filter": self.filter, "stops": stops, "seconds": f"{self.seconds:.1f}"}
        return say("paper.command-spot-work", **figures, **work)


class ReadingsAnswer(Answer):
    """The pair that puts the first two spots where they are wished, and every spot under it."""

    soft: float
    hard: float
    range: int
    range_exact: float
    spots: dict[str, SpotAnswer]

    def lines(self) -> tuple[str, ...]:
        """Return the times, the range, and one line a spot."""
        times = say("paper.command-times", soft=f"{self.soft:.1f}", hard=f"{self.hard:.1f}")
        spots = [line for name, spot in self.spots.items() for line in (spot.named(name), *spot.lines())]
        return (times, say("paper.command-range", range=self.range), *spots)


class NearestAnswer(Answer):
    """Why the two tones cannot be had, and what the nearest pair does."""

    why: str
    nearest: ReadingsAnswer

    def lines(self) -> tuple[str, ...]:
        """Return the reason and the nearest."""
        return (self.why, say("paper.command-nearest"), *self.nearest.lines())


def readings_answer(paper: Paper, reference: str, spots: Sequence[str], offset: str) -> ReadingsAnswer | NearestAnswer:
    """Return the lights for spots typed as name=counts=print density, `reference` in the same unit as the counts.

    Raises:
        Unreadable, Impossible: one sentence with what to do; nothing is reckoned of a part of the spots.
    """
    from controller.easel.two_tones import reckon
    from controller.paper.iso import stated

    level = _number(reference, "--reference", _LEAST_COUNTS, _MOST_COUNTS)
    shift = _number(offset, "--offset", f"-{_MOST_OFFSET}", _MOST_OFFSET)
    found = reckon(paper, measured(level, [_spot(text) for text in spots], shift))
    pair = found.pair
    told = ReadingsAnswer(
        soft=round(pair.soft_seconds, 3),
        hard=round(pair.hard_seconds, 3),
        range=stated(pair.range_exact),
        range_exact=round(pair.range_exact, 2),
        spots={each.spot.name: _answer(each) for each in found.spots},
    )
    return NearestAnswer(why=found.why, nearest=told) if found.why else told


def _answer(fallen: Fallen) -> SpotAnswer:
    work: LocalWork | None = fallen.work
    return SpotAnswer(
        density=round(fallen.spot.density, 4),
        print_density=round(fallen.print_density, 4),
        act=None if work is None else work.act,
        filter=None if work is None else work.filter,
        stops=None if work is None else round(work.stops, 3),
        seconds=None if work is None else round(work.seconds, 3),
        why=fallen.why,
    )


def _spot(text: str) -> Spot:
    parts = [part.strip() for part in text.split("=")]
    if len(parts) not in (2, 3):
        raise Unreadable(say("paper.command-spot", found=shown(text)))
    wanted = _number(parts[2], "--spot", "0", "4") if len(parts) == 3 else None
    return Spot(parts[0], _number(parts[1], "--spot", _LEAST_COUNTS, _MOST_COUNTS), wanted)


def _number(text: str, option: str, least: str, most: str) -> float:
    value = decimal_within(text, least, most)
    if value is None:
        raise Unreadable(
            say("paper.command-number", option=option, found=shown(text), least=least.replace("-", "−"), most=most)
        )
    return float(value)
