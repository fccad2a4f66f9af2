"""The light that really fell: the lamp line's edges cut wherever a hand moved something, and summed by its way.

A light passes the same things on its way as long as no hand moves; so a sheet's light is a handful of doses, each a
number of units in blue and in green times one map of the sheet. Doses are summed in float64; what is the same way
is one dose, so order does not matter and a light split in two is the light it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Final, Literal, get_args

from controller.exposure.strip_times import CardWay
from controller.picture.hands import OFF_THE_PAPER, spans_between
from controller.picture.light import WHITE, BlueGreen, Lamp, Source, Surroundings, second_through
from hardware.practice.log import CardMoved, DodgerMoved, Entry, GlowSwitched, LensMoved, NegativeMoved, OpalMoved
from hardware.practice.meter import COLOUR_LAMPS, Drawer, Edge, light_ns

Carrier = Literal["negative", "negative B", "empty", "opal"]
"""What the light comes through: the negative, which is that in carrier A where there are two, that in carrier B, …"""
_S: Final = 1e9
AT_S: Final = 10.0
"""Where a paper that fails in long light is as fast as it was read to be."""
_SHORTEST_S: Final = 0.1
_GLOW_NS: Final = 10_000_000_000
"""A lamp that has been dark for so long gives nothing any more."""
_WAYS: Final = frozenset(get_args(CardWay))


@dataclass(frozen=True, slots=True)
class Card:
    """A strip's card: how many bands lie uncovered ("cover", "uncover"), or the one under its window."""

    way: CardWay
    place: int


@dataclass(frozen=True, slots=True)
class Way:
    """Everything that a light passes between lens and paper."""

    carrier: Carrier = "negative"
    dodged: frozenset[str] = frozenset()
    burnt: frozenset[str] = frozenset()
    """Areas under the hole of a card; empty where there is no card."""
    edges: frozenset[str] = frozenset()
    card: Card | None = None


@dataclass(frozen=True, slots=True)
class Dose:
    """Units of light that came one way, at magnification and aperture of the filters' table."""

    way: Way
    light: BlueGreen


@dataclass(frozen=True, slots=True)
class SheetExposure:
    """All the light of a sheet: what came through the enlarger, and what lay over everything."""

    doses: tuple[Dose, ...]
    fog: BlueGreen
    """Safelight, room light, a phone, what leaks from the lamphouse."""


@dataclass(slots=True)
class _Table:
    """How things stand on the baseboard at one moment."""

    drawer: Drawer = field(default_factory=Drawer)
    negative: str = "A"
    """Which carrier is in; empty for none."""
    opal: bool = False
    stopped: int = 0
    """By how many stops the lens is stopped down from where it stands for the sheet."""
    tools: set[tuple[str, str]] = field(default_factory=set)
    card: Card | None = None
    glows: set[str] = field(default_factory=lambda: {"safelight"})

    def take(self, entry: Entry) -> None:
        self.drawer.tell(entry)
        match entry:
            case NegativeMoved(inside=inside, which=which):
                self.negative = which if inside else ""
            case OpalMoved(inside=inside):
                self.opal = inside
            case LensMoved(stops=stops):
                self.stopped = stops
            case DodgerMoved(area=area, act=act, inside=inside):
                (self.tools.add if inside else self.tools.discard)((act, area))
            case CardMoved(way=way, place=place):
                off = place == OFF_THE_PAPER or way not in _WAYS
                self.card = None if off else Card(way, place)  # type: ignore[arg-type]  # one of _WAYS
            case GlowSwitched(source=source, on=on):
                (self.glows.add if on else self.glows.discard)(source)
            case _:
                pass

    def way(self) -> Way:
        carrier = carrier_of(self.negative, opal=self.opal)

        def of(kind: str) -> frozenset[str]:
            return frozenset(area for act, area in self.tools if act == kind)

        return Way(carrier, of("dodge"), of("burn"), of("edge burn"), self.card)


def carrier_of(negative: str, *, opal: bool) -> Carrier:
    """Return what light comes through; `negative` is which carrier is in, "A" or "B", or empty for none."""
    if opal:
        return "opal"
    return "negative B" if negative == "B" else "negative" if negative else "empty"


def light_on(
    edges: Sequence[Edge],
    hands: Iterable[Entry],
    span: tuple[int, int],
    lamp: Lamp,
    surroundings: Surroundings,
    exponent: float = 1.0,
) -> SheetExposure:
    """Return the light that fell on a sheet lying on the easel over `span` (ns, from, to).

    `edges` are those of the light itself, in order (`hardware.practice.meter.shining`); `hands` are the log's
    entries, in order, from before the span too. `exponent` is that of a paper that fails in long light: a light of t
    seconds counts (t/10)^(p − 1) times, so that one of ten seconds is what it was.

    Raises:
        Impossible: a filter is not one that the practice darkroom has.
    """
    start, end = span
    moves = [entry for entry in hands if entry.at_ns <= end]
    table = _Table()
    if surroundings.phone_lies_lit:
        table.glows.add("phone")
    lamps: dict[str, list[Edge]] = {}
    for edge in _near(edges, start, end):
        lamps.setdefault(edge.lamp, []).append(edge)
    seconds: dict[tuple[str, Way], tuple[float, float]] = {}
    counts = _counting(edges, exponent)
    glows: dict[Source, float] = {}
    stray = BlueGreen(blue=0.0, green=0.0)
    at = 0
    cuts = [start, end, *(move.at_ns for move in moves if start < move.at_ns)]
    cuts += [on for on, _ in counts if start < on < end]
    for begin, finish in spans_between(cuts):
        while at < len(moves) and moves[at].at_ns <= begin:
            table.take(moves[at])
            at += 1
        for source in get_args(Source):
            if source in table.glows:
                glows[source] = glows.get(source, 0.0) + (finish - begin) / _S
        for name in sorted(lamps):
            blue = light_ns(lamps[name], begin, finish, lamp.blue) / _S
            green = light_ns(lamps[name], begin, finish, lamp.green) / _S
            if blue or green:
                counted = _share_at(counts, begin) * 2.0**-table.stopped
                if counted != 1.0:
                    blue, green = blue * counted, green * counted
                key = name if name in COLOUR_LAMPS else table.drawer.holds or "", table.way()
                before = seconds.get(key, (0.0, 0.0))
                seconds[key] = before[0] + blue, before[1] + green
                stray = _plus(stray, BlueGreen(blue=blue * WHITE.blue, green=green * WHITE.green))
    fog = stray.times(surroundings.stray_share)
    for source, lasted in glows.items():
        fog = _plus(fog, surroundings.second_of(source).times(lasted))
    return SheetExposure(_doses(seconds), fog)


def _counting(edges: Sequence[Edge], exponent: float) -> list[tuple[int, float]]:
    """Return from when on light counts how much: each light of a paper that fails in long ones, by its own length."""
    if exponent == 1.0:
        return []
    lights = [(on.at_ns, (off.at_ns - on.at_ns) / _S) for on, off in pairwise(edges) if on.lit and not off.lit]
    return [(on, _counts(lasted, exponent)) for on, lasted in lights]


def _counts(lasted_s: float, exponent: float) -> float:
    """Return how much a light of this length counts."""
    return float((max(lasted_s, _SHORTEST_S) / AT_S) ** (exponent - 1.0))


def _share_at(counts: Sequence[tuple[int, float]], at_ns: int) -> float:
    """Return how much light counts at a moment: as the last one that was switched on by then."""
    return next((share for on, share in reversed(counts) if on <= at_ns), 1.0)


def _doses(seconds: dict[tuple[str, Way], tuple[float, float]]) -> tuple[Dose, ...]:
    by_way: dict[Way, BlueGreen] = {}
    for (name, way), (blue, green) in seconds.items():
        second = second_through(name)
        more = BlueGreen(blue=blue * second.blue, green=green * second.green)
        by_way[way] = _plus(by_way.get(way, BlueGreen(blue=0.0, green=0.0)), more)
    return tuple(Dose(way, light) for way, light in by_way.items())


def with_focus(light: SheetExposure, seconds: float) -> SheetExposure:
    """Return the light with so many seconds of unfiltered focus light before it, through the negative."""
    return _with_dose(light, Dose(Way(), WHITE.times(seconds)))


def with_flash(
    light: SheetExposure, filter_name: str, seconds: float, *, opal: bool = False, exponent: float = 1.0
) -> SheetExposure:
    """Return the light of a sheet that was flashed beforehand, at the print's own height and aperture.

    `exponent` as in `light_on`: it counts by its own length, as if it had been given on the sheet.

    Raises:
        Impossible: the filter is not one that the practice darkroom has.
    """
    counted = seconds * _counts(seconds, exponent)
    return _with_dose(light, Dose(Way("opal" if opal else "empty"), second_through(filter_name).times(counted)))


def _with_dose(light: SheetExposure, more: Dose) -> SheetExposure:
    same = [dose for dose in light.doses if dose.way == more.way]
    rest = tuple(dose for dose in light.doses if dose.way != more.way)
    whole = Dose(more.way, _plus(same[0].light, more.light)) if same else more
    return replace(light, doses=(*rest, whole))


def with_fog(light: SheetExposure, more: BlueGreen) -> SheetExposure:
    """Return the light with more of what lay over everything."""
    return replace(light, fog=_plus(light.fog, more))


def _near(edges: Sequence[Edge], start: int, end: int) -> list[Edge]:
    """Return the edges that matter to a span: those in it, those that may still glow, and how each lamp stood."""
    old = [edge for edge in edges if edge.at_ns < start - _GLOW_NS]
    last = {edge.lamp: edge for edge in old}
    stood = sorted(edge for edge in last.values() if edge.lit)
    return [*stood, *(edge for edge in edges if start - _GLOW_NS <= edge.at_ns <= end)]


def _plus(one: BlueGreen, two: BlueGreen) -> BlueGreen:
    return BlueGreen(blue=one.blue + two.blue, green=one.green + two.green)
