"""The light meter: what light a lamp gave, reckoned from its line's edges in closed form.

A switched lamp is a relay and a source. The relay follows its line after `operate_ms` and `release_ms`, and
does not move at all for a pulse shorter than that. The source's brightness b (1 is full) follows first-order:
db/dt = (1 - b)/tau_up while fed, db/dt = -b/tau_down while not. Over a span d from b0 towards T the light is
T d + (b0 - T) tau (1 - exp(-d/tau)): the integral of the solution. An isolated light fed for D therefore
loses (tau_up - tau_down)(1 - exp(-D/tau_up)) net. Source: derived. `lag_ms` is the simple lamp, in which each
switching loses exactly that much full light: it is light that comes on so much later.

Behind lamp and relay, light is a share of itself: the lens stands open, the mains are low, a filter is before it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from hardware.clock import NS_PER_MS
from hardware.practice.faults import PracticeFault
from hardware.practice.log import FaultSwitched, FilterPlaced

LENS_OPEN: Final = 8.0
"""Three stops."""
MAINS_SAG: Final = 0.95**3.4
"""Light goes by the voltage to the power of 3.4 (from memory): 5 % is −0.25 stop."""


@dataclass(frozen=True, slots=True, order=True)
class Edge:
    """A lamp line was driven lit or dark at `at_ns` (monotonic).

    Of the light itself (`shining`) an edge tells its strength from there on as well, of lines it is 1.
    """

    at_ns: int
    lit: bool
    lamp: str = "lamp"
    strength: float = 1.0


@dataclass(frozen=True, slots=True)
class LampModel:
    """How a lamp answers its line, in ms; all zero is the ideal lamp, light exactly while the line is lit."""

    lag_ms: float = 0.0
    tau_up_ms: float = 0.0
    tau_down_ms: float = 0.0
    operate_ms: float = 0.0
    release_ms: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no lamp can do."""
        for name in self.__slots__:
            value = getattr(self, name)
            if not (math.isfinite(value) and 0 <= value <= 600_000):
                raise ValueError(f"{name} is {value}, and must lie between 0 and 600000")


IDEAL = LampModel()


@dataclass(frozen=True, slots=True)
class LampLight:
    """One light of one lamp: its line's edges (`dark_ns` None while lit) and the full light it gave, in ns.

    Afterglow counts to the light it follows, until the line is lit again.
    """

    lamp: str
    on_ns: int
    dark_ns: int | None
    full_ns: int


def light_ns(edges: Iterable[Edge], start_ns: int, end_ns: int, model: LampModel = IDEAL) -> int:
    """Return the light received from `start_ns` to `end_ns`, as ns of full light, all lamps together.

    `edges` are in order of time; edges before `start_ns` count for what still glows.
    """
    if end_ns < start_ns:
        raise ValueError(f"the meter was asked to read from {start_ns} back to {end_ns}")
    by_lamp: dict[str, list[Edge]] = {}
    for edge in edges:
        by_lamp.setdefault(edge.lamp, []).append(edge)
    return round(sum(sum(_weighed(own, (start_ns, end_ns), model)) for own in by_lamp.values()))


def lights(edges: Sequence[Edge], until_ns: int, model: LampModel = IDEAL) -> tuple[LampLight, ...]:
    """Return every light with what it gave up to `until_ns`, in the order in which they came on."""
    found: list[LampLight] = []
    for lamp in dict.fromkeys(edge.lamp for edge in edges):
        told = [edge for edge in edges if edge.lamp == lamp and edge.at_ns <= until_ns]
        own = list(_changes(told))
        ons = [n for n, edge in enumerate(own) if edge.lit]
        # what a slow relay or a glow still gives after the next light's edge counts to that next light
        marks = [own[n].at_ns for n in ons]
        bounds = (*marks, max(until_ns, marks[-1])) if marks else ()
        for n, full in zip(ons, _weighed(told, bounds, model), strict=True):
            dark = own[n + 1].at_ns if n + 1 < len(own) else None
            found.append(LampLight(lamp, own[n].at_ns, dark, round(full)))
    return tuple(sorted(found, key=lambda light: light.on_ns))


class Shining:
    """The edges of the light itself, found as its story is told: the lines' edges, dead bulbs and welded relays.

    A welded relay keeps what light there is when it welds, and any that comes later, until the fault is switched
    off; a dead bulb gives none. Lens and mains make it stronger or weaker, and what a filter lets through is reckoned
    in where filters are told of, each as the light sensor sees it.
    """

    def __init__(self) -> None:
        self._driven: dict[str, bool] = {}
        self._closed: dict[str, bool] = {}
        self._shown: dict[str, float] = {}
        """The strength of each lamp's light, 0 where there is none."""
        self._dead = self._welded = False
        self._faults: frozenset[float] = frozenset()
        """By how much each fault that is on makes it stronger."""
        self._drawer = Drawer()

    @property
    def dark(self) -> bool:
        """Whether no lamp gives light after what was told last."""
        return not any(self._shown.values())

    def tell(self, event: Edge | FaultSwitched | FilterPlaced) -> list[Edge]:
        """Tell the next event in order of time; return where light came, went or changed with it."""
        self._drawer.tell(event)
        match event:
            case Edge():
                self._driven[event.lamp] = event.lit
            case FaultSwitched(fault=PracticeFault.BULB_DEAD):
                self._dead = event.on
            case FaultSwitched(fault=PracticeFault.RELAY_WELDED):
                self._welded = event.on
            case FaultSwitched(fault=PracticeFault.LENS_OPEN | PracticeFault.MAINS_SAG):
                factor = LENS_OPEN if event.fault is PracticeFault.LENS_OPEN else MAINS_SAG
                self._faults = self._faults | {factor} if event.on else self._faults - {factor}
        found = []
        for lamp, lit in self._driven.items():
            self._closed[lamp] = lit or (self._welded and self._closed.get(lamp, False))
            light = self._strength_of(lamp) if self._closed[lamp] and not self._dead else 0.0
            before = self._shown.get(lamp, 0.0)
            if light != before:
                self._shown[lamp] = light
                found.append(Edge(event.at_ns, bool(light), lamp, light or before))
        return found

    def _strength_of(self, lamp: str) -> float:
        return math.prod(self._faults) * passed(lamp if lamp in COLOUR_LAMPS else self._drawer.holds)


COLOUR_LAMPS: Final = ("soft", "hard")
"""Lamp lines that are a light of their own, whatever is in the drawer."""


class Drawer:
    """The filter that is really in the drawer, found as its story is told: what was put in, or what was left in."""

    def __init__(self) -> None:
        self.holds: str | None = None
        """None where nobody has said; empty for no filter."""
        self._said: str | None = None
        self._left = False

    def tell(self, event: object) -> None:
        """Tell the next event in order of time; what is about neither filters nor their fault changes nothing."""
        match event:
            case FilterPlaced(name=name):
                self._said = name
            case FaultSwitched(fault=PracticeFault.FILTER_LEFT_IN, on=on):
                self._left = on
        if not self._left or self.holds is None:
            self.holds = self._said


_PASSED: Final = {"": 1.406, "none": 1.406, "00": 1.0, "soft": 1.0, "hard": 0.151}
_BY_NUMBER: Final = (0.941, 0.879, 0.798, 0.480, 0.242, 0.151)
"""Filters 0 to 5."""


def passed(filter_name: str | None) -> float:
    """Return what the light sensor sees through a filter, against soft; 1 where nobody has said which it is.

    Blue and green together of the practice enlarger's table (`controller.picture.light`), which a test holds to it.
    """
    if filter_name is None:
        return 1.0
    if filter_name in _PASSED:
        return _PASSED[filter_name]
    try:
        number = min(5.0, max(0.0, float(filter_name)))
    except ValueError:
        return 1.0
    below = min(4, int(number))
    one, two = _BY_NUMBER[below], _BY_NUMBER[below + 1]
    return one + (two - one) * (number - below)


def shining(
    edges: Iterable[Edge], faults: Iterable[FaultSwitched], filters: Iterable[FilterPlaced] = ()
) -> Iterator[Edge]:
    """Return the edges of the light itself; each must be in order of time.

    Where `filters` are told of, it is the light behind them.
    """
    light = Shining()
    for event in in_order(edges, faults, filters):
        yield from light.tell(event)


def in_order(
    edges: Iterable[Edge], faults: Iterable[FaultSwitched], filters: Iterable[FilterPlaced] = ()
) -> list[Edge | FaultSwitched | FilterPlaced]:
    """Return the story of edges, fault switches and filters; at the same moment the line came first."""
    story: list[Edge | FaultSwitched | FilterPlaced] = [*edges, *faults, *filters]
    story.sort(key=lambda event: event.at_ns)
    return story


def _weighed(edges: Sequence[Edge], bounds: Sequence[int], model: LampModel) -> list[float]:
    """Return the light of one lamp between each two neighbouring `bounds`, as strong as its edges say."""
    if all(edge.strength == 1.0 for edge in edges) or len(bounds) < 2:
        return _spans(edges, bounds, model)
    inner = [edge.at_ns for edge in edges if bounds[0] < edge.at_ns < bounds[-1]]
    fine = sorted({*bounds, *inner})
    totals = [0.0] * (len(bounds) - 1)
    span, at, strength = 0, 0, 1.0
    for begin, light in zip(fine, _spans(edges, fine, model), strict=False):
        while at < len(edges) and edges[at].at_ns <= begin:
            strength, at = edges[at].strength, at + 1
        while begin >= bounds[span + 1]:
            span += 1
        totals[span] += light * strength
    return totals


def _changes(edges: Iterable[Edge]) -> Iterator[Edge]:
    """Leave out edges that change nothing; a line is dark before its first edge."""
    lit = False
    for edge in edges:
        if edge.lit != lit:
            lit = edge.lit
            yield edge


def _fed(edges: Iterable[Edge], model: LampModel) -> Iterator[tuple[int, bool]]:
    """Return when the source is fed and when not, in ns: the line's edges behind the relay."""
    up = round((model.operate_ms + model.lag_ms) * NS_PER_MS)
    down = round(model.release_ms * NS_PER_MS)
    closed = False
    due: int | None = None
    for edge in _changes(edges):
        if due is not None and due <= edge.at_ns:
            closed = not closed
            yield due, closed
            due = None
        # an edge back while the relay has not moved: it stays as it was
        due = None if edge.lit == closed else edge.at_ns + (up if edge.lit else down)
    if due is not None:
        yield due, not closed


def _spans(edges: Iterable[Edge], bounds: Sequence[int], model: LampModel) -> list[float]:
    """Return the light of one lamp between each two neighbouring `bounds`, in ns of full light."""
    totals = [0.0] * max(0, len(bounds) - 1)
    if not totals:
        return totals
    feeds: list[tuple[float, bool]] = [*_fed(edges, model), (math.inf, False)]
    now: float = -math.inf
    bright, fed, span = 0.0, False, -1
    for at, then in feeds:
        # walk from bound to bound up to this change of feed
        while span + 1 < len(bounds) and bounds[span + 1] <= at:
            light, bright = _glow(bright, fed, bounds[span + 1] - now, model)
            if 0 <= span < len(totals):
                totals[span] += light
            now, span = bounds[span + 1], span + 1
        if span >= len(totals):
            break
        light, bright = _glow(bright, fed, at - now, model)
        if 0 <= span < len(totals):
            totals[span] += light
        now, fed = at, then
    return totals


def _glow(bright: float, fed: bool, span: float, model: LampModel) -> tuple[float, float]:
    """Return the light over `span` ns and the brightness after it."""
    target = 1.0 if fed else 0.0
    tau = (model.tau_up_ms if fed else model.tau_down_ms) * NS_PER_MS
    if tau == 0.0 or bright == target:
        return (target * span if target else 0.0), target
    gone = 1.0 if span == math.inf else -math.expm1(-span / tau)
    return (target * span if target else 0.0) + (bright - target) * tau * gone, bright + (target - bright) * gone
