"""The practice darkroom's light meter: light that is reckoned right."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.tether_bench import MS

from hardware.practice.faults import PracticeFault
from hardware.practice.log import FaultSwitched
from hardware.practice.meter import Edge, LampModel, light_ns, lights, shining

S = 1000 * MS


def pulses(*spans_ms: tuple[float, float], lamp: str = "lamp") -> list[Edge]:
    """Edges of lights from and to, in ms."""
    return [Edge(round(at * MS), lit, lamp) for on, off in spans_ms for at, lit in ((on, True), (off, False))]


def test_an_isolated_light_loses_the_difference_of_warm_up_and_afterglow() -> None:
    """A light of D loses (tau_up - tau_down)(1 - exp(-D/tau_up)) of full light (derived: first-order lamp)."""
    model = LampModel(tau_up_ms=56.5, tau_down_ms=20.0)
    for d in (30.0, 500.0, 10_000.0):
        got = light_ns(pulses((100, 100 + d)), 0, 60 * S, model) / MS
        assert got == pytest.approx(d - (56.5 - 20.0) * (1 - math.exp(-d / 56.5)), abs=1e-4)


def test_a_tungsten_lamp_reaches_nine_tenths_in_its_measured_time() -> None:
    """Tau 0.0565 s is 90 % of full light after 0.13 s (100 W tungsten, second-hand; tau derived from it)."""
    model = LampModel(tau_up_ms=56.5)
    edges = pulses((0, 10_000))
    brightness = light_ns(edges, 130 * MS, 131 * MS, model) / MS
    assert brightness == pytest.approx(0.9, abs=0.005)


def test_eight_short_pulses_match_one_long_light() -> None:
    """The lag that a paper test finds, (n each - long)/(n - 1), is the lag that makes both lights equal (derived)."""
    lag_ms = 1000 * (8 * 1.105 - 8.0) / 7
    assert lag_ms == pytest.approx(120)
    model = LampModel(lag_ms=lag_ms)
    long = light_ns(pulses((0, 8000)), 0, 60 * S, model)
    train = light_ns(pulses(*((n * 3000, n * 3000 + 1105) for n in range(8))), 0, 60 * S, model)
    assert train == pytest.approx(long, abs=10)


def test_the_meter_agrees_with_a_lamp_that_is_stepped_through() -> None:
    """The closed form equals the differential equation stepped at 20 µs, over restrikes in warm-up and afterglow."""
    model = LampModel(tau_up_ms=60, tau_down_ms=35)
    edges = pulses((10, 55), (70, 100), (101, 300), (420, 430))
    bright, light, step = 0.0, 0.0, 0.02
    for n in range(round(1000 / step)):
        t = (n + 0.5) * step
        lit = any(on <= t < off for on, off in ((10, 55), (70, 100), (101, 300), (420, 430)))
        before = bright
        bright += ((1 - bright) / 60 if lit else -bright / 35) * step
        light += (before + bright) / 2 * step
    assert light_ns(edges, 0, 1 * S, model) / MS == pytest.approx(light, rel=1e-3)


def test_a_relay_moves_late_and_not_at_all_for_less() -> None:
    """Operate 10 ms and release 5 ms (small relay's data sheet, seen) cut 5 ms off a light, and all of a 9 ms one."""
    model = LampModel(operate_ms=10, release_ms=5)
    assert light_ns(pulses((0, 500)), 0, 1 * S, model) == 495 * MS
    assert light_ns(pulses((0, 9)), 0, 1 * S, model) == 0
    assert light_ns(pulses((0, 100), (104, 200)), 0, 1 * S, model) == (200 - 10 + 5) * MS  # never released


def test_a_light_is_told_with_its_line_edges() -> None:
    """Each light carries its own edges and light; the afterglow goes to the light it follows."""
    model = LampModel(tau_down_ms=30)
    first, second = lights(pulses((0, 1000), (2000, 2500)), 9 * S, model)
    assert (first.on_ns, first.dark_ns, second.on_ns, second.dark_ns) == (0, 1 * S, 2 * S, 2500 * MS)
    assert first.full_ns == pytest.approx(1030 * MS, abs=10)
    assert second.full_ns == pytest.approx(530 * MS, abs=10)
    assert lights([Edge(5, True)], 1 * S)[0].dark_ns is None


_edges = st.lists(st.integers(1, 400), min_size=1, max_size=12).map(
    lambda steps: [Edge(sum(steps[: n + 1]) * MS, n % 2 == 0) for n in range(len(steps))]
)
_models = st.builds(
    LampModel,
    lag_ms=st.integers(0, 50),
    tau_up_ms=st.integers(0, 120),
    tau_down_ms=st.integers(0, 120),
    operate_ms=st.integers(0, 12),
    release_ms=st.integers(0, 12),
)


@given(_edges, _models, st.integers(0, 3000), st.integers(0, 3000))
@settings(max_examples=150, deadline=None)
def test_light_adds_up(edges: list[Edge], model: LampModel, one: int, other: int) -> None:
    """Light over two spans that touch is the light over both, and a lamp never gives more than full light."""
    a, b, c = 0, *sorted((one * MS, other * MS))
    whole = light_ns(edges, a, c, model)
    assert light_ns(edges, a, b, model) + light_ns(edges, b, c, model) == pytest.approx(whole, abs=4)
    assert 0 <= whole <= c - a


@given(_edges)
@settings(max_examples=100, deadline=None)
def test_an_ideal_lamp_is_lit_while_its_line_is(edges: list[Edge]) -> None:
    """With nothing between line and light, the light is exactly the time the line was lit."""
    end = 6 * S
    lit = sum(
        (after.at_ns if after else end) - edge.at_ns
        for edge, after in zip(edges, [*edges[1:], None], strict=True)
        if edge.lit
    )
    assert light_ns(edges, 0, end) == lit


def test_the_meter_refuses_what_no_lamp_does() -> None:
    """A negative or endless delay, and a span that runs backwards, are refused by name."""
    with pytest.raises(ValueError, match="tau_up_ms is -1"):
        LampModel(tau_up_ms=-1)
    with pytest.raises(ValueError, match="lag_ms is inf"):
        LampModel(lag_ms=math.inf)
    with pytest.raises(ValueError, match="back to 1"):
        light_ns([], 2, 1)


def test_a_dead_bulb_gives_nothing_and_a_welded_relay_stays() -> None:
    """A dead bulb gives no light while it is dead; a welded relay keeps light until it is freed."""
    edges = pulses((100, 200), (300, 400))
    dead = [
        FaultSwitched(150 * MS, PracticeFault.BULB_DEAD, True),
        FaultSwitched(350 * MS, PracticeFault.BULB_DEAD, False),
    ]
    assert light_ns(shining(edges, dead), 0, 1 * S) == (50 + 50) * MS
    weld = [
        FaultSwitched(150 * MS, PracticeFault.RELAY_WELDED, True),
        FaultSwitched(900 * MS, PracticeFault.RELAY_WELDED, False),
    ]
    assert light_ns(shining(edges, weld), 0, 1 * S) == 800 * MS
    assert light_ns(shining(edges, [FaultSwitched(250 * MS, PracticeFault.RELAY_WELDED, True)]), 0, 1 * S) == 800 * MS
