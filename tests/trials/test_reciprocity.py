"""The reciprocity test: its strip, the exponent of a simulated paper, and what is in doubt, which sets nothing."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.exposure import lag
from controller.recipe.plan import Hands
from controller.trials.reciprocity import (
    BANDS,
    TWELFTHS,
    Grey,
    by_densities,
    by_eye,
    exponent_of,
    grey_of,
    narrow,
    none_alike,
    plan,
)

GREY = Grey(ms=8000, filter="soft", aperture=8.0)


def simulated(p: float, grey: float = 0.7, steep: float = 1.6) -> list[float]:
    """Return the densities of a paper that counts t seconds as t^p: `steep` is its gradient per decade of effect."""
    wanted = 4.0 ** (1.0 / p)
    bands = [grey + steep * p * math.log10(4.0 * 2.0 ** (k / 12.0) / wanted) for k in TWELFTHS]
    return [round(each, 2) for each in (*bands, grey)]


@pytest.mark.parametrize("hundredths", range(90, 101))
def test_the_exponent_of_a_simulated_paper_is_found_within_a_hundredth(hundredths: int) -> None:
    """Effect = intensity · time^p (Schwarzschild, from memory): by densities read to 0.01, and by the nearest look."""
    p = hundredths / 100
    read = by_densities(simulated(p), GREY)
    assert read.exponent == pytest.approx(p, abs=0.01)
    wanted = 12.0 * (2.0 / p - 2.0)  # twelfths over four times as long: 4^(1/p) = 4 · 2^(k/12), turned round
    places = [(n + 1, False, k) for n, k in enumerate(TWELFTHS)]
    places += [(n + 1, True, k + 0.5) for n, k in enumerate(TWELFTHS[:-1])]
    band, between, _ = min(places, key=lambda place: abs(place[2] - wanted))
    seen = by_eye(band, between=between, grey=GREY)
    assert seen.exponent == pytest.approx(p, abs=0.0101)
    assert seen.uncertain <= 0.011


@given(p=st.floats(0.90, 1.0), grey=st.floats(0.3, 1.5), steep=st.floats(1.0, 3.0))
def test_densities_find_it_on_any_paper(p: float, grey: float, steep: float) -> None:
    """Whatever grey and contrast, within what densities to 0.01 leave; and never over 1."""
    found = by_densities(simulated(p, round(grey, 2), steep), GREY)
    assert found.exponent == pytest.approx(p, abs=max(0.01, 3.0 * found.uncertain))
    assert found.exponent <= 1.0


def test_a_paper_that_does_not_fail_has_exponent_1() -> None:
    """Four times as long at a quarter of the light looks the same: the second band."""
    assert by_eye(2, between=False, grey=GREY).exponent == 1.0
    assert exponent_of(0) == 1.0
    assert exponent_of(12 * (2 / 0.9 - 2)) == pytest.approx(0.9)


def test_the_strip_is_worked_two_stops_down_and_ends_where_the_lens_stood() -> None:
    """Six bands at f/16 of 4·t·2^(k/12), then the grey at f/8; every full light a share of the grey's own."""
    made = plan(GREY, "Long exposures", 600_000)
    assert made.test == "reciprocity"
    assert [step.planned_ms for step in made.steps] == [30200, 32000, 33900, 35900, 38100, 40300, 8000]
    assert [step.hands for step in made.steps] == [Hands.TWO_STOPS_DOWN, *[None] * 5, Hands.TWO_STOPS_OPEN]
    assert (made.aperture, made.steps[0].name, made.steps[-1].name) == ("8", "band 1 of 7, f/16", "band 7 of 7, f/8")
    assert grey_of(made) == GREY
    # with a lamp lag of 60 ms the second band still has four times the full light of the grey, to a nanosecond
    full = [lag.planned_full_ns(step.planned_ms, step.base_ms, 60) for step in made.steps]
    assert full[1] == pytest.approx(4 * full[-1], abs=4)


@pytest.mark.parametrize(("wide", "two_down"), [(5.6, "11"), (8, "16"), (4, "8"), (2.8, "5.6"), (6.3, "12.6")])
def test_two_stops_down_is_said_as_the_ring_has_it(wide: float, two_down: str) -> None:
    """ISO 517's nominal f-numbers, and twice the number where a ring has others."""
    assert narrow(wide) == two_down


@pytest.mark.parametrize(
    ("grey", "words"),
    [
        (Grey(ms=2000, filter="soft", aperture=8), "too short"),
        (Grey(ms=200_000, filter="soft", aperture=8), "too long"),
        (Grey(ms=8000, filter="soft", aperture=22), "further than most lenses"),
    ],
)
def test_a_light_that_it_cannot_begin_from_is_told_with_the_remedy(grey: Grey, words: str) -> None:
    """One sentence, and no strip."""
    with pytest.raises(Impossible, match=words):
        plan(grey, "Long exposures", 600_000)


@pytest.mark.parametrize(
    ("read", "words"),
    [
        ([0.7] * 3, "Read all 7"),
        ([*simulated(0.95)[:-1], 0.1], "no middle grey"),
        ([0.70, 0.60, 0.75, 0.80, 0.85, 0.90, 0.72], "Band 2 had more light"),
        ([0.50, 0.52, 0.54, 0.56, 0.58, 0.60, 0.80], "lighter than the last"),
        ([0.80, 0.82, 0.84, 0.86, 0.88, 0.90, 0.60], "darker than the last"),
        ([0.70, 0.73, 0.76, 0.79, 0.82, 0.85, 0.70], "no paper is known to do"),
    ],
)
def test_what_is_in_doubt_finds_nothing(read: list[float], words: str) -> None:
    """Each a sentence with the way back, which says that nothing was set."""
    with pytest.raises(Impossible, match=words) as refused:
        by_densities(read, GREY)
    assert "Nothing was set" in str(refused.value) or "choose by eye" in str(refused.value)


def test_by_eye_too() -> None:
    """No such band, a band that says more than the sum, and none alike."""
    for band, between in ((0, False), (BANDS, False), (len(TWELFTHS), True)):
        with pytest.raises(Impossible, match="no band"):
            by_eye(band, between=between, grey=GREY)
    with pytest.raises(Impossible, match=r"exponent of 1\.04"):
        by_eye(1, between=False, grey=GREY)
    assert "Nothing was set" in str(none_alike("lighter"))
    assert "stopped down at all" in str(none_alike("darker"))
