"""The share rule on every path: what a lamp of lag d gave, by a meter, is the share of it that the recipe asks for.

What is expected is reckoned here anew from the recipe's own numbers. Source: derived; one switching loses d of full
light and light adds up, so N seconds stand for N − d, and all shares are of that.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.foot_bench import MS, START_MS, BenchJournal

from controller.daemon.recovery import reopen
from controller.daemon.world import World
from controller.foot import acts
from controller.foot.events import Asked
from controller.foot.page_acts import asking
from controller.foot.places import Finished, Held, Light, Ready
from controller.foot.state import Habits, State, Work
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.recipe.plan import Plan, StepKind
from controller.store.entries import Intent
from controller.store.folding import fold
from controller.store.rows import Row
from hardware.practice.meter import Edge, LampModel, light_ns
from hardware.timing import Timing

HUNDREDTH = 2**0.01
TENTH_S = 0.05
"""A burn and a dodge are rounded to 0.1 s of nominal light."""
LEAST_S = 0.2


@dataclass
class Sitting:
    """A sheet given by a printer who stops its lights at given moments; the daemon may end and come back in between."""

    plan: Plan
    lag_ms: int
    holds: dict[int, list[int]] = field(default_factory=dict)
    """For each step, how long after each light came on it is stopped, in ms."""
    restart_after: int = -1
    """The daemon is another one after so many lights."""
    called: int = 0
    """The step that is called given once it is held."""
    runs: int = 0
    rows: list[Row] = field(default_factory=list)
    lights: list[tuple[int, int, int]] = field(default_factory=list)
    """(step, on, off) of every light, ns in the world of its own daemon."""
    cues: dict[int, list[tuple[int, str]]] = field(default_factory=dict)
    """For each step its own cues, and the full light its lamp had given by then."""

    def __post_init__(self) -> None:
        self._open(State(Ready(), self._habits, Work.fresh(self.plan), stop_down=False))

    @property
    def _habits(self) -> Habits:
        return Habits(Timing(), lag_ms=self.lag_ms)

    def _open(self, state: State) -> None:
        def journal(clock: Any) -> BenchJournal:
            self.journal = BenchJournal(clock.now_ns, rows=list(self.rows))
            return self.journal

        self.runs += 1
        self.world = World(replace(state, run=f"v{self.runs}"), journal)
        self.first = len(self.journal.of(Intent))
        self.world.run_until(START_MS * MS)

    def give(self) -> None:
        """Give everything that is planned."""
        self.world.runner.ask_again(self.world.clock.now_ns())
        for _ in range(5000):
            world, place = self.world, self.world.runner.state.place
            work = world.runner.state.work
            assert work is not None
            lights = len(world.room.edges()) // 2 + len(self.lights)
            if isinstance(place, Finished):
                self._keep()
                return
            if isinstance(place, Light):
                self._in_light(place, work)
            elif world.runner.state.foot.down or place.__class__.__name__ not in _DARK:
                assert world.step_to_next()
            elif lights == self.restart_after and work.open:
                self.restart_after = -1
                self._restart()
            elif isinstance(place, Held) and work.step.number == self.called:
                world.tell(Asked(acts.CallGiven(), world.clock.now_ns()))
            else:
                self._press()
        pytest.fail("the sheet does not end")

    def _in_light(self, place: Light, work: Work) -> None:
        moments = self.holds.get(work.step.number)
        off_ns = place.on_ns + moments.pop(0) * MS if moments else None
        if off_ns is not None and off_ns > self.world.clock.now_ns():
            self.world.run_until(off_ns)
            self.world.stop()
        while isinstance(self.world.runner.state.place, Light) and self.world.step_to_next():
            pass

    def _press(self) -> None:
        now = self.world.clock.now_ns() + 1_200 * MS
        self.world.room.foot.feed(now + 10 * MS, True)
        self.world.room.foot.feed(now + 90 * MS, False)
        self.world.run_until(now + 200 * MS)

    def _keep(self) -> None:
        """Take down the lights and the cues of the world that ends."""
        edges: Sequence[Edge] = self.world.room.edges()
        intents = {entry.light: entry for entry in self.journal.of(Intent)[self.first :]}
        came = [row.entry for row in self.journal.rows if row.entry.kind == "light" and row.entry.light in intents]
        spans = list(zip(edges[::2], edges[1::2], strict=True))
        assert len(came) == len(spans)
        for one, (on, off) in zip(came, spans, strict=True):
            step = intents[one.light].step
            before = self.full_s(step)
            self.lights.append((step, on.at_ns, off.at_ns))
            for cue in self.world.cues:
                if on.at_ns < cue.at_ns < off.at_ns and str(cue.cue) in ("move card", "dodger in", "dodger out"):
                    so_far = before + metered_s(on.at_ns, cue.at_ns, self.lag_ms)
                    self.cues.setdefault(step, []).append((round(so_far * 1000), str(cue.cue)))
        self.rows = list(self.journal.rows)

    def _restart(self) -> None:
        self._keep()
        sheet = fold(self.rows)[-1]
        again = reopen(sheet, self.lag_ms, "virtual")
        self._open(State(Ready(), self._habits, again.work, stop_down=False))
        self.world.runner.ask_again(self.world.clock.now_ns())

    def more(self, filter_: str, stops: str) -> None:
        """Ask for one more burn on the finished sheet, and give it."""
        state = self.world.runner.state
        self.lights.clear()
        self.cues.clear()
        burn = acts.MoreBurn(filter=filter_, stops=stops, area="Z")
        self.world.tell(asking(state, burn, self.world.clock.now_ns()))
        self.give()

    def full_s(self, step: int) -> float:
        """Return what the meter says of a step, in seconds of full light."""
        return math.fsum(metered_s(on, off, self.lag_ms) for number, on, off in self.lights if number == step)


_DARK = {"Ready", "Held", "ChangeFilter", "HandsAsked"}


def metered_s(on_ns: int, off_ns: int, lag_ms: int) -> float:
    """Return the full light of a lamp of this lag whose line was lit for this span, as the practice meter has it."""
    edges = (Edge(on_ns, True), Edge(off_ns, False))
    return light_ns(edges, on_ns, off_ns, LampModel(lag_ms=lag_ms)) / 1e9


def planned(tree: dict[str, Any]) -> Plan:
    return compile_any(read_recipe(json.dumps(tree), "share"), source="s", version=1, longest_ms=600_000)


def fits(got: float, wanted: float, rounded: float = 0.0) -> bool:
    """Tell whether light is within 1/100 stop of its share, or within the rounding that is stated for it."""
    return wanted / HUNDREDTH <= got <= wanted * HUNDREDTH or abs(got - wanted) <= rounded + 0.002


def more_than(stops: str) -> float:
    return float(2 ** Fraction(stops) - 1)


def less_than(stops: str) -> float:
    return 1 - 2 ** -float(Fraction(stops))


LAGS = st.sampled_from([0, 40, 120, 250, 400])
HOLDS = st.dictionaries(st.integers(1, 9), st.lists(st.integers(1, 9000), min_size=1, max_size=4), max_size=6)


@st.composite
def recipes(draw: st.DrawFn) -> dict[str, Any]:
    """Return a recipe of two bases with dodges both ways and burns, in stops."""
    soft, hard = (draw(st.integers(60, 240)) / 10 for _ in range(2))
    stops = st.sampled_from(["1/6", "1/3", "1/2", "2/3"])
    local: list[dict[str, Any]] = []
    for area in "ABCDE"[: draw(st.integers(1, 5))]:
        act = draw(st.sampled_from(["burn", "parts", "running", "edge burn"]))
        one = {"area": area, "act": act, "filter": draw(st.sampled_from(["soft", "hard"])), "stops": draw(stops)}
        if act == "edge burn":
            one["edges"] = ["top", "left"]
        if act in ("parts", "running"):
            if any(other.get("how") == act and other["filter"] == one["filter"] for other in local):
                continue  # two would not always fit into one base
            one |= {"act": "dodge", "how": act, "stops": "1/3"}
        local.append(one)
    light = [{"filter": "soft", "seconds": soft}, {"filter": "hard", "seconds": hard}]
    return {"format": "treadle/recipe/1", "title": "Shares", "light": light, "local": local}


@settings(max_examples=100, deadline=None)
@given(tree=recipes(), lag_ms=LAGS, holds=HOLDS, restart_after=st.integers(-1, 6), more=st.sampled_from(["1/4", "1/2"]))
def test_every_share_of_a_print_is_exact(
    tree: dict[str, Any], lag_ms: int, holds: dict[int, list[int]], restart_after: int, more: str
) -> None:
    """Bases, dodged parts, running dodges, burns and one more burn get their share, however held, and restarted."""
    sitting = Sitting(planned(tree), lag_ms, holds, restart_after)
    sitting.give()
    d = lag_ms / 1000
    bases = {one["filter"]: one["seconds"] - d for one in tree["light"]}
    open_s = dict(bases)
    parts = [one for one in tree["local"] if one.get("how") == "parts"]
    for one in parts:
        open_s[one["filter"]] -= bases[one["filter"]] * less_than(one["stops"])
    by_area = {one["area"]: one for one in tree["local"]}
    for step in sitting.plan.steps:
        base, got = bases[step.filter], sitting.full_s(step.number)
        stops = by_area[step.area]["stops"] if step.area else "0"
        match step.act:
            case StepKind.BURN | StepKind.EDGE:
                wanted, rounded = base * more_than(stops), TENTH_S
            case StepKind.PART:
                wanted, rounded = base * less_than(stops), TENTH_S
            case _:
                wanted, rounded = open_s[step.filter], TENTH_S * len(parts)
        _same(sitting, step.number, got, wanted, rounded)
        if step.act is StepKind.RUNNING:
            cues = sitting.cues[step.number]
            assert [cue for _, cue in cues] == ["dodger in", "dodger out"], "each cue sounds once, however it was held"
            away = next(one for one in tree["local"] if one.get("how") == "running" and one["filter"] == step.filter)
            held = (cues[1][0] - cues[0][0]) / 1000
            assert fits(held, base * less_than(away["stops"]), TENTH_S)
            assert cues[0][0] == pytest.approx(2000 - lag_ms, abs=3)
    sitting.more("hard", more)
    last = len(sitting.plan.steps) + 1
    _same(sitting, last, sitting.full_s(last), bases["hard"] * more_than(more), TENTH_S)


def _same(sitting: Sitting, step: int, got: float, wanted: float, rounded: float) -> None:
    """Hold a step to its share; one whose remainder was too short to light may lack that, and never has more."""
    whole = fits(got, wanted, rounded)
    work = sitting.world.runner.state.work
    assert work is not None
    short = not work.given[step - 1].done and got <= wanted + rounded + 0.002
    assert whole or (short and wanted - got < max(LEAST_S, sitting.lag_ms / 1000) + rounded + 0.002), (
        f"step {step} got {got:.3f} of {wanted:.3f} s at a lag of {sitting.lag_ms} ms"
    )


@settings(max_examples=30, deadline=None)
@given(lag_ms=LAGS, given_ms=st.integers(500, 7000), called=st.integers(1, 2))
def test_a_step_called_given_leaves_the_others_their_shares(lag_ms: int, given_ms: int, called: int) -> None:
    """A step that is called given had its light up to the stop, less the lag once; the other has its whole share."""
    light = [{"filter": "soft", "seconds": 12}, {"filter": "hard", "seconds": 9}]
    tree = {"format": "treadle/recipe/1", "title": "Called", "light": light, "local": []}
    sitting = Sitting(planned(tree), lag_ms, {called: [given_ms]}, called=called)
    sitting.give()
    assert sitting.full_s(called) == pytest.approx((given_ms - lag_ms) / 1000, abs=0.001)
    other = 3 - called
    assert sitting.full_s(other) == pytest.approx(light[other - 1]["seconds"] - lag_ms / 1000, abs=0.002)
    filed = fold(sitting.rows)[-1].steps[called - 1]
    assert filed.called_given
    assert filed.full_ns[1] / 1e9 == pytest.approx((given_ms - lag_ms) / 1000, abs=0.001)


@st.composite
def strips(draw: st.DrawFn) -> dict[str, Any]:
    """Return a strip of any kind, with any card, at any pace."""
    kind = draw(st.sampled_from(["seconds", "stops", "burn"]))
    bands = draw(st.integers(3, 6))
    times: dict[str, Any] = {"kind": kind, "bands": bands}
    match kind:
        case "seconds":
            times["step"] = draw(st.sampled_from([1.0, 2.5, 3.0]))
        case "stops":
            times |= {"centre": draw(st.sampled_from([8.0, 12.0])), "step": draw(st.sampled_from(["1/3", "1/2"]))}
        case _:
            times |= {"base": 10.0, "step": draw(st.sampled_from(["1/4", "1/3"]))}
    card = draw(st.sampled_from(["cover", "uncover", "window"]))
    paces: list[Any] = ["press", {"kind": "rhythm", "gap_seconds": 4.0}] + ([] if card == "window" else ["long"])
    pace = draw(st.sampled_from(paces))
    return {
        "format": "treadle/strip/1", "title": "Shares", "filter": "soft", "times": times, "card": card, "pace": pace
    }  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(tree=strips(), lag_ms=LAGS, holds=HOLDS, restart_after=st.integers(-1, 6))
def test_every_band_of_a_strip_has_its_share(
    tree: dict[str, Any], lag_ms: int, holds: dict[int, list[int]], restart_after: int
) -> None:
    """Covered, uncovered, in a window, by press, rhythm or one long light: each band has the light of its total."""
    sitting = Sitting(planned(tree), lag_ms, holds, restart_after)
    sitting.give()
    d, times = lag_ms / 1000, tree["times"]
    strip = sitting.plan.strip
    assert strip is not None
    for band, total in enumerate(wanted_totals(times, d), start=1):
        got, lacking = _of_band(sitting, tree["card"], band, times["bands"])
        if total:
            assert fits(got, total, TENTH_S + 0.003 * band) or 0 < total - got < lacking + TENTH_S, (
                f"band {band} of {times} {tree['card']} {tree['pace']}: {got:.3f} of {total:.3f} s at {lag_ms} ms"
            )


def wanted_totals(times: dict[str, Any], d: float) -> list[float]:
    """Return what each band stands for, in seconds of full light, least first."""
    bands = range(times["bands"])
    match times["kind"]:
        case "seconds":
            return [times["step"] * (n + 1) - d for n in bands]
        case "stops":
            middle = (times["bands"] - 1) // 2
            return [times["centre"] * 2 ** (float(Fraction(times["step"])) * (n - middle)) - d for n in bands]
        case _:
            return [(times["base"] - d) * (2 ** (float(Fraction(times["step"])) * n) - 1) for n in bands]


def _of_band(sitting: Sitting, card: str, band: int, bands: int) -> tuple[float, float]:
    """Return what one band had by the meter, and by how much it may lack for remainders too short to light."""
    work = sitting.world.runner.state.work
    assert work is not None
    short = max(LEAST_S, sitting.lag_ms / 1000) * sum(not given.done for given in work.given)
    steps = sitting.plan.steps
    if steps[0].act is StepKind.LONG:
        whole = sitting.full_s(1)
        first = bands - len(steps[0].marks)  # the least band that gets any of it
        moves = [at / 1000 for at, cue in sitting.cues.get(1, []) if cue == "move card"]
        assert len(moves) == len(steps[0].marks) or short, "each move of the card is told once, however it was held"
        if card == "cover":
            ends = [*moves, whole]
            return (ends[band - first] if first <= band and band - first < len(ends) else 0.0), short
        begins = [0.0, *moves][::-1]
        return (whole - begins[band - first] if first <= band and band - first < len(begins) else 0.0), short
    own = {int(step.name.split()[1]): sitting.full_s(step.number) for step in steps}
    return (own.get(band, 0.0) if card == "window" else math.fsum(own.get(n, 0.0) for n in range(1, band + 1))), short
