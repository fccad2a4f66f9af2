"""Quantities as they were typed, read one by one, and the figures that come out: for every reckoning by itself.

A refusal names its quantity as whoever asks calls it (a flag, a field's label), and has its place.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from controller.errors import Impossible, standing_at
from controller.exposure.decimals import decimal_within
from controller.exposure.stops import MOST_STOPS, fraction_text, parse_more_stops, parse_stops, shown
from controller.model import Frozen
from controller.words import say

MOST_SECONDS: Final = "900"


class Answer(Frozen):
    """Figures: its fields are the keys of `--json`, `lines` the same for a person."""

    @abstractmethod
    def lines(self) -> tuple[str, ...]:
        """Return the figures as lines to print."""


@dataclass(frozen=True)
class Given:
    """The quantities that were typed, and what they are called where they were."""

    typed: Mapping[str, str]
    called: Callable[[str], str]

    def has(self, *names: str) -> bool:
        """Tell whether all of these were typed."""
        return all(name in self.typed for name in names)

    def refused(self, key: str, name: str = "", **said: object) -> Impossible:
        """Return a refusal, of one quantity or of how they stand together."""
        words = {"name": self.called(name), "found": shown(self.typed.get(name, ""))} if name else {}
        return Impossible(say(f"reckoning.calc-{key}", **words, **said), (name,) if name else ())

    def number(self, name: str, least: str, most: str, *, whole: bool = False) -> Fraction:
        """Return a quantity's number, exactly."""
        if not self.has(name):
            raise self.refused("missing", name, least=least, most=most)
        value = decimal_within(self.typed[name], least, most)
        if value is None or (whole and value != int(value)):
            raise self.refused("whole" if whole else "number", name, least=least, most=most)
        return Fraction(value)

    def ms(self, name: str) -> int:
        """Return seconds, 900 at the most, in milliseconds."""
        ms = self.number(name, "0.1", MOST_SECONDS) * 1000
        if ms.denominator != 1:
            raise self.refused("too-fine", name)
        return int(ms)

    def times_ms(self, name: str, *, most: int) -> tuple[int, ...]:
        """Return seconds that stand in a row with commas between, each as `ms` would, at most so many of them."""
        if not self.has(name):
            raise self.refused("missing", name, least="0.1", most=MOST_SECONDS)
        each = self.typed[name].split(",")
        if len(each) > most:
            raise self.refused("many", name, most=most, number=len(each))
        return tuple(Given({name: text.strip()}, self.called).ms(name) for text in each)

    def stops(self, name: str) -> Fraction:
        """Return stops, more than none."""
        if not self.has(name):
            raise self.refused("missing-stops", name)
        with standing_at(name):
            return parse_more_stops(self.typed[name])

    def either_way(self, name: str, *, most: Fraction = Fraction(MOST_STOPS)) -> Fraction:
        """Return stops, more or less than none; none where none were typed."""
        if not self.has(name):
            return Fraction(0)
        with standing_at(name):
            stops = parse_stops(self.typed[name])
        if abs(stops) > most:
            raise self.refused("either-way", name, most=fraction_text(most))
        return stops
