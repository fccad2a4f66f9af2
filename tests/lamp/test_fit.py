"""Lamp lag from figures: the straight line, its uncertainty, the paper test's trains, and what a sensor may miss."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.lamp.check_plans import check_of, paper_plan, paper_test, sensor_plan
from controller.lamp.history import in_words
from controller.lamp.measure import Span, Total, fit_lag, level, line, seen, still_there, stops_between, total
from hardware.light_sensor import Reading

NS = 1_000_000_000


def test_the_line_is_the_published_one() -> None:
    """The least-squares line of Anscombe's first data set has its published figures.

    Source: F. J. Anscombe, "Graphs in Statistical Analysis", 1973 (from memory): slope 0.500, intercept 3.00,
    residual standard deviation 1.237.
    """
    x = (10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5)
    y = (8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68)
    found = line(list(zip(x, y, strict=True)))
    assert (found.slope, found.intercept, found.residual) == pytest.approx((0.5001, 3.0001, 1.2366), abs=2e-4)


@given(st.floats(0, 0.4), st.floats(10, 1e5))
@settings(max_examples=60, deadline=None)
def test_exact_totals_give_the_lag_exactly(lag_s: float, per_second: float) -> None:
    """Totals that lie on light(t) = k·(t − t0) give k and t0 back, no better known than to whole ms."""
    found = fit_lag([Total(t, per_second * (t - lag_s)) for t in (1, 8, 2, 4)])
    assert found.lag_s == pytest.approx(lag_s, abs=1e-6)
    assert found.per_second == pytest.approx(per_second, rel=1e-6)
    assert found.uncertain_s == pytest.approx(0.001 / 12**0.5, rel=1e-3)


@pytest.mark.parametrize(
    "totals",
    [
        [Total(1, 88.0), Total(2, 188.0)],
        [Total(2, 188.0)] * 5,
        [Total(t, 0.0) for t in (1, 2, 4, 8)],
        [Total(t, 100 * (t - 0.9)) for t in (1, 2, 4, 8)],
        [Total(1, 300.0), Total(2, 100.0), Total(4, 500.0), Total(8, 600.0)],
    ],
)
def test_totals_that_tell_no_lag_are_refused(totals: list[Total]) -> None:
    """Too few lights, one length, no light, a lag no lamp has, or too much scatter is refused with a sentence."""
    with pytest.raises(Impossible) as refusal:
        fit_lag(totals)
    assert len(str(refusal.value).split()) > 5


def test_the_trains_stand_for_round_lags() -> None:
    """8 × 1.105 s matches one 8 s light where the lag is 0.12 s. Source: derived, (n·each − long)/(n − 1)."""
    test = paper_test()
    assert test.each_ms == (1000, 1035, 1070, 1105, 1140, 1175, 1210)
    assert test.lag_of(5, between=False) == 120
    assert test.lag_of(5, between=True) == 140
    assert [test.lag_of(band, between=False) for band in range(2, 9)] == [40 * n for n in range(7)]
    plan = paper_plan(test)
    assert len(plan.steps) == 57
    assert check_of(plan) == "paper"
    assert [step.gap_ms for step in plan.steps[:3]] == [None, None, 2000]


@pytest.mark.parametrize(
    "figures", [{"trains": 8}, {"pulses": 1}, {"long_ms": 900}, {"long_ms": 2000, "pulses": 20, "trains": 2}]
)
def test_a_paper_test_that_cannot_be_given_is_refused(figures: dict[str, int]) -> None:
    """Too many lights, or lights too short, are refused with a sentence."""
    with pytest.raises(Impossible):
        paper_test(**figures)


def test_a_band_that_is_no_train_is_refused() -> None:
    """Band 1 is the long light, and past the last train there is none."""
    for band, between in ((1, False), (9, False), (8, True)):
        with pytest.raises(Impossible):
            paper_test().lag_of(band, between=between)


def readings(lit: Span, *, counts: float = 1000.0, dark: float = 6.0, stays: bool = False) -> list[Reading]:
    """Return cycles of 100 ms over 3 s before and after a light."""
    found = []
    at = lit.on_ns - 3 * NS
    while at < lit.dark_ns + 3 * NS:
        end = at + NS // 10
        over = max(0, min(end, 1 << 62 if stays else lit.dark_ns) - max(at, lit.on_ns)) / (NS // 10)
        found.append(Reading(at, end, dark + counts * over))
        at = end
    return found


LIT = Span(10 * NS, 14 * NS)


def test_a_total_is_the_light_without_the_dark() -> None:
    """The cycles of a light add up to its counts, whatever the safelight adds to each."""
    assert total(readings(LIT), LIT).light == pytest.approx(40_000)
    assert level(readings(LIT), LIT) == pytest.approx(10_000)


def test_a_missed_cycle_and_a_dazzled_one_are_refused() -> None:
    """A light of which the sensor missed or could not hold a part has no total."""
    whole = readings(LIT)
    with pytest.raises(Impossible, match="missed"):
        total(whole[:40] + whole[41:], LIT)
    dazzled = [*whole[:40], Reading(whole[40].start_ns, whole[40].end_ns, 1.0, full=True), *whole[41:]]
    with pytest.raises(Impossible, match="dazzled"):
        total(dazzled, LIT)


def test_light_that_stays_is_told_from_light_that_went() -> None:
    """Half a second after dark the sensor tells a lamp that went out from one that did not, and from a dead bulb."""
    for stays in (False, True):
        all_ = readings(LIT, stays=stays)
        later = next(r for r in all_ if r.start_ns >= LIT.dark_ns + NS // 2)
        assert seen(all_, LIT) is True
        assert still_there(all_, LIT, later) is stays
    assert seen(readings(LIT, counts=0), LIT) is False


def test_stops_are_said_to_a_sixth() -> None:
    """2^(−1/6) of the light is "a sixth of a stop weaker". Source: derived, log2 of the ratio."""
    assert in_words(stops_between(2 ** (-1 / 6), 1.0)) == "a sixth of a stop weaker than"
    assert in_words(stops_between(2.0, 1.0)) == "one stop stronger than"
    assert in_words(math.log2(1.01)) == "as strong as"


def test_an_uninterrupted_check_light_is_lit_for_what_it_says() -> None:
    """Every check light is its own base, so that no lag that is set changes what is measured."""
    assert all(step.base_ms == step.planned_ms and not step.filter for step in sensor_plan().steps)
