"""ISO 6846 and the handbooks' grades: statements, tables, ladders, against published values."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.paper.iso import GRADES, IsoFigures, grade_of, speed_from_light, stated
from controller.paper.ladder import TYPICAL, Ladder, Rung, equivalent, nearest_filter

SHEET_2019 = {"00": 180, "0": 160, "1": 130, "2": 110, "3": 90, "4": 60, "5": 40}
"""Published R of one maker's VC RC paper, data sheet of June 2019 (seen second-hand)."""
SHEET_2020 = {"00": 160, "0": 130, "1": 110, "2": 90, "3": 70, "4": 60, "5": 50}
"""Published R of its successor, data sheet of October 2020 (seen second-hand)."""


@pytest.mark.parametrize(
    ("least", "most", "grade"),
    [(1.40, 1.70, 0), (1.15, 1.40, 1), (0.95, 1.15, 2), (0.80, 0.95, 3), (0.65, 0.80, 4), (0.50, 0.65, 5)],
)
def test_grades_by_the_table(least: float, most: float, grade: int) -> None:
    """A log exposure range has its grade by the table, the lower limit included, the upper not.

    Source: ANSI PH2.2-1966, appendix (outer limits seen, inner ones from memory).
    """
    assert grade_of(least) == grade
    assert grade_of((least + most) / 2) == grade
    assert grade_of(most - 1e-6) == grade
    assert grade_of(most) != grade


def test_no_grade_past_the_table() -> None:
    """From 1.70 on a paper is softer than 0, under 0.50 harder than 5."""
    assert grade_of(1.70) == "softer than 0"
    assert grade_of(0.4999) == "harder than 5"
    assert [least for least, _ in GRADES] == sorted((least for least, _ in GRADES), reverse=True)


@pytest.mark.parametrize(("exact", "said"), [(140.6, 140), (61.1, 60), (95.0, 100), (104.999, 100), (110.0, 110)])
def test_range_is_stated_to_ten(exact: float, said: int) -> None:
    """R is stated to the nearest 10, half up (from memory of the standard)."""
    assert stated(exact) == said


@pytest.mark.parametrize(("light", "speed"), [(10.0, 100.0), (5.0, 200.0), (2.0, 500.0)])
def test_speed_from_light(light: float, speed: float) -> None:
    """P = 1000/H_m: 10, 5 and 2 lux·s give P 100, 200, 500 (ISO 6846, second-hand)."""
    assert speed_from_light(light) == pytest.approx(speed)


@pytest.mark.parametrize("sheet", [SHEET_2019, SHEET_2020], ids=["2019", "2020"])
def test_published_ladders_are_read(sheet: dict[str, int]) -> None:
    """On either published ladder each R leads to its own filter, and grades never soften with the filter's number."""
    ladder = Ladder(source="own", rungs=tuple(Rung(filter=name, range_exact=r) for name, r in sheet.items()))
    for name, r in sheet.items():
        found = equivalent(float(r), ladder)
        assert (found.lower, found.upper, found.past) == (name, name, None)
        assert nearest_filter(float(r), ladder).filter == name
    order = ["softer than 0", 0, 1, 2, 3, 4, 5, "harder than 5"]
    places = [order.index(grade_of(r / 100)) for r in sheet.values()]
    assert places == sorted(places)


def test_the_speed_point_of_a_tablets_print() -> None:
    """Open light of 100 lx·s that a density of 1.0 may cut to a tenth gives P 100: 1000 over the 10 lx·s left.

    Source: ISO 6846, P = 1000/H_m (seen). On the scale of stops the point lies as far below the open light.
    """
    found = IsoFigures(dmin=0.05, dmax=2.1, range_exact=100.0, range_spread=1.0, speed_point_density=1.0)
    assert found.speed(100.0) == pytest.approx(100.0)
    assert found.speed(200.0) == pytest.approx(50.0)
    assert found.speed_point_stops == pytest.approx(-math.log2(10.0))


@pytest.mark.parametrize("limit", [0.50, 0.65, 0.80, 0.95, 1.15, 1.40, 1.70])
def test_a_hair_under_a_limit_is_the_limit(limit: float) -> None:
    """A range that is a limit but for the last bit of its reckoning has the limit's grade, and not the harder one."""
    assert grade_of(math.nextafter(limit, 0.0)) == grade_of(limit) != grade_of(limit - 0.001)


@given(r=st.floats(20.0, 220.0))
def test_the_nearest_filter_is_nearest(r: float) -> None:
    """No filter's R is nearer than the one named."""
    found = nearest_filter(r)
    assert abs(found.range_exact - r) == min(abs(rung.range_exact - r) for rung in TYPICAL.rungs)


@pytest.mark.parametrize(("soft", "hard"), list(pairwise(TYPICAL.rungs)))
def test_half_way_the_softer_filter_is_named(soft: Rung, hard: Rung) -> None:
    """Of two filters as near the softer is begun with, since contrast is easier added than taken away."""
    middle = (soft.range_exact + hard.range_exact) / 2.0
    assert nearest_filter(middle) == soft
    assert nearest_filter(middle - 0.5) == hard


def test_the_typical_ladder_is_nobodys() -> None:
    """The ladder that ships is rounded, falls, is marked typical, and is neither of the published ones."""
    ranges = {rung.filter: rung.range_exact for rung in TYPICAL.rungs}
    assert all(softer > harder for softer, harder in pairwise(ranges.values()))
    assert all(r % 5 == 0 for r in ranges.values())
    assert ranges not in (SHEET_2019, SHEET_2020)
    assert "typical" in equivalent(100.0).sentence


def test_places_on_a_ladder() -> None:
    """An R between two filters is said to be so, one near a filter is that filter, and past the ends is past them."""
    assert equivalent(110.0).sentence == "between filters 1 and 2 of a typical set"
    assert equivalent(97.0).lower == "2"
    assert equivalent(97.0).upper == "2"
    assert equivalent(200.0).past == "softer"
    assert equivalent(30.0).past == "harder"
    ends = TYPICAL.rungs[0], TYPICAL.rungs[-1]
    for end, by in ((ends[0], 5.0), (ends[1], -5.0)):
        assert (equivalent(end.range_exact + by).lower, equivalent(end.range_exact + by).past) == (end.filter, None)
        assert equivalent(end.range_exact + 1.1 * by).past is not None
    own = Ladder(source="own", rungs=TYPICAL.rungs)
    assert equivalent(110.0, own).sentence == "between filters 1 and 2"


def test_reading_the_high_point_either_way_matters_little() -> None:
    """Taking 90 % of Dmax, as the Focal Encyclopedia prints it, for 90 % net moves R by at most 1 (derived)."""
    k, net, dmin = 6.0, 2.0, 0.05
    net_way = math.log(9.0) / k
    share = (0.9 * (dmin + net) - dmin) / net
    printed_way = math.log(share / (1.0 - share)) / k
    assert abs(100.0 * (net_way - printed_way)) <= 1.0
