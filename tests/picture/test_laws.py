"""The laws of light on paper: it adds up, whatever its order and however it is cut; more of it is never lighter."""

from __future__ import annotations

from itertools import accumulate

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.picture_darkroom import recipe, worked

from controller.picture.develop import Developed, develop_light
from controller.picture.doses import SheetExposure, Way, light_on, with_focus
from controller.picture.invented import invented
from controller.picture.light import LAMPS, BlueGreen, Lamp, Surroundings
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Scene
from hardware.practice.log import DodgerMoved, Entry, FilterPlaced
from hardware.practice.meter import Edge

S = 10**9
SCENE = Scene((invented("crane"),), pixels=3_000)
RECORD = worked(recipe(("2", 8.0))).records[0]
DARK = Surroundings(safelight=BlueGreen(blue=0.0, green=0.0))
FILTERS = ("soft", "hard", "2", "3.5", "")

lights = st.lists(
    st.tuples(st.sampled_from(FILTERS), st.integers(100, 20_000), st.sampled_from([(), ("A",), ("C",), ("A", "C")])),
    min_size=1,
    max_size=5,
)
"""Filter, ms, and the areas that are dodged."""


def fallen(given_lights, lamp: Lamp | None = None, lag_ms: int = 0) -> SheetExposure:
    """The light of a sheet that was given these lights, one after the other."""
    edges: list[Edge] = []
    log: list[Entry] = []
    at = S
    for name, ms, areas in given_lights:
        log.append(FilterPlaced(at - 2, name))
        log += [DodgerMoved(at - 1, area, "dodge", True) for area in areas]
        edges += [Edge(at, True), Edge(at + (ms + lag_ms) * 10**6, False)]
        at += (ms + lag_ms) * 10**6 + 2 * S
        log += [DodgerMoved(at - S, area, "dodge", False) for area in areas]
    return light_on(edges, log, (0, at + S), lamp or Lamp(), DARK)


def sheet(light: SheetExposure, paper: str = "one") -> Developed:
    return develop_light(light, RECORD, SCENE, practice_paper(paper))


@settings(max_examples=25, deadline=None)
@given(lights, st.randoms(use_true_random=False))
def test_the_order_of_lights_does_not_matter(some, dice) -> None:
    """However the lights of a sheet are ordered, it is the same print."""
    other = list(some)
    dice.shuffle(other)
    assert sheet(fallen(other)).dry == pytest.approx(sheet(fallen(some)).dry, abs=2e-5)


@settings(max_examples=25, deadline=None)
@given(lights, st.integers(10, 90))
def test_a_light_in_two_parts_is_the_light_it_was(some, per_cent) -> None:
    """A light cut in two gives the same print, with an ideal lamp, and with a lagging one whose lag is added."""
    cut = []
    for name, ms, areas in some:
        first = max(1, ms * per_cent // 100)
        cut += [(name, first, areas), (name, ms - first, areas)] if ms > first else [(name, ms, areas)]
    from hardware.practice.meter import LampModel

    slow = Lamp(blue=LampModel(lag_ms=120), green=LampModel(lag_ms=120))
    whole = sheet(fallen(some)).dry
    assert sheet(fallen(cut)).dry == pytest.approx(whole, abs=2e-5)
    assert sheet(fallen(cut, slow, lag_ms=120)).dry == pytest.approx(whole, abs=2e-5)


@settings(max_examples=25, deadline=None)
@given(lights, st.sampled_from(FILTERS), st.integers(1, 20_000), st.sampled_from(["one", "two"]))
def test_more_light_is_never_lighter(some, name, ms, paper) -> None:
    """One more light, of whatever filter, makes no part of a print lighter, wet or dry."""
    before, after = sheet(fallen(some), paper), sheet(fallen([*some, (name, ms, ())]), paper)
    assert (after.dry >= before.dry - 1e-6).all()
    assert (after.wet >= before.wet - 1e-6).all()


@settings(max_examples=25, deadline=None)
@given(lights, st.sampled_from(["A", "B", "C"]))
def test_a_dodger_never_darkens(some, area) -> None:
    """Whatever is held back, no part of a print is darker for it, and white stays between Dmin and Dmax."""
    bare = [(name, ms, ()) for name, ms, _ in some]
    held = [(name, ms, (area,)) for name, ms, _ in some]
    one, two = sheet(fallen(bare)).dry, sheet(fallen(held)).dry
    assert (two <= one + 1e-6).all()
    assert two.min() >= 0.05 - 1e-6
    assert one.max() <= 2.1 + 1e-6


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(50, 4000), min_size=1, max_size=8), st.sampled_from(["ideal", "tungsten", "slow"]))
def test_hands_that_move_divide_light_and_take_none(spans, lamp) -> None:
    """Cut by however many moves of the hands, the light of a lamp is in sum what the meter has for the whole."""
    ends = [S + ms * 10**6 for ms in accumulate(spans)]
    log: list[Entry] = [FilterPlaced(0, "2")]
    log += [DodgerMoved(at, "A", "dodge", bool(n % 2)) for n, at in enumerate(ends)]
    edges = [Edge(S, True), Edge(ends[-1] + 500 * 10**6, False)]
    cut = light_on(edges, log, (0, ends[-1] + 9 * S), LAMPS[lamp], DARK)
    whole = light_on(edges, log[:1], (0, ends[-1] + 9 * S), LAMPS[lamp], DARK)
    for colour in ("blue", "green"):
        total = sum(getattr(dose.light, colour) for dose in cut.doses)
        assert total == pytest.approx(getattr(whole.doses[0].light, colour), rel=1e-6)


def test_focus_light_is_unfiltered_and_bare() -> None:
    """Focus light adds to what came with nothing in the way, in both colours."""
    light = with_focus(fallen([("soft", 1000, ())]), 1.0)
    (dose,) = light.doses
    assert dose.way == Way()
    assert dose.light.blue == pytest.approx(0.2 + 0.012648)
    assert dose.light.green == pytest.approx(1.3 + 1.054)
    assert np.isfinite(sheet(light).dry).all()
