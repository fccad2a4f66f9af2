"""The reckoning against something outside the project: standards, handbooks, worked examples, the trade's habit.

Beside each check stands its source and how it is known: seen (in the source or a stored copy), second-hand,
from memory, common practice, or derived by arithmetic.
"""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise

import pytest
from tools.written_files import recipe_from, strip_from

from controller.exposure import burns, lag, size
from controller.exposure import size as aperture
from controller.exposure import strip_times as strips
from controller.exposure.reckon import change_size
from controller.exposure.stops import dried_ms, light_factor, round_ms, stops_between
from controller.recipe.compile_recipe import compile_recipe, compile_strip

# ---- stops and strips


def test_twelfths_of_a_stop_are_the_tempered_scale() -> None:
    """Twelve twelfth-stops up from A4 are the semitones of equal temperament.

    Source: A4 = 440 Hz, ISO 16; the equal-tempered frequencies 466.1638, 493.8833, 523.2511 Hz and 880 Hz are
    convention, from memory.
    """
    tones = [float(440 * light_factor(Fraction(n, 12))) for n in (0, 1, 2, 3, 12)]
    assert tones == pytest.approx([440.0, 466.1638, 493.8833, 523.2511, 880.0], abs=5e-5)


@pytest.mark.parametrize(("stops", "more"), [("1/2", 41.421), ("1/3", 25.992), ("1/6", 12.246), ("1/12", 5.946)])
def test_fractions_of_a_stop_in_per_cent(stops: str, more: float) -> None:
    """A half, third, sixth and twelfth of a stop are 41.4, 26.0, 12.2 and 5.9 % more light.

    Source: derived, 100 · (2^stops − 1).
    """
    assert float(light_factor(Fraction(stops)) - 1) * 100 == pytest.approx(more, abs=1e-3)


def test_a_stop_is_log_two_of_density() -> None:
    """One stop is 0.30103 of density, and a step tablet's 0.15 is 0.4983 stop.

    Source: derived, log10 2; steps of 0.15 from a tablet maker's list, seen.
    """
    assert math.log10(light_factor(Fraction(1))) == pytest.approx(0.30103, abs=1e-5)
    assert stops_between(Fraction(1), Fraction(10**0.15)) == pytest.approx(0.4983, abs=5e-5)


def test_the_preferred_numbers_are_not_third_stops() -> None:
    """A step of ISO 3's R10 series is 0.332193 stop, close to a third and not the same.

    Source: ISO 3 preferred numbers, R10 step 10^0.1, from memory; the stops derived.
    """
    step = stops_between(Fraction(1), Fraction(10**0.1))
    assert step == pytest.approx(0.332193, abs=1e-6)
    assert step < 1 / 3


def test_thirds_from_eight_seconds() -> None:
    """Third-stop totals from 8 s and their covering pulses, which sum to 32 s.

    Source: derived, t = 8 · 2^(n/3).
    """
    totals = [float(8 * light_factor(Fraction(n, 3))) for n in range(7)]
    assert totals == pytest.approx([8, 10.079, 12.699, 16, 20.159, 25.398, 32], abs=6e-4)
    pulses = [totals[0], *(more - less for less, more in pairwise(totals))]
    assert pulses == pytest.approx([8, 2.079, 2.620, 3.301, 4.159, 5.240, 6.602], abs=6e-4)
    rounded = strips.stop_totals(16_000, Fraction(1, 3), 7)
    assert rounded == tuple(round_ms(Fraction(total) * 1000) for total in totals)


def test_twelve_seconds_in_thirds() -> None:
    """A strip around 12.0 s in thirds, rounded to 0.1 s, totals first and then differences.

    Source: derived by arithmetic apart from this program.
    """
    totals = strips.stop_totals(12_000, Fraction(1, 3), 7)
    assert [ms / 1000 for ms in totals] == [6.0, 7.6, 9.5, 12.0, 15.1, 19.0, 24.0]
    pulses = [light.ms / 1000 for light in strips.pulses(totals, "cover")]
    assert pulses == [6.0, 1.6, 1.9, 2.5, 3.1, 3.9, 5.0]
    uncovering = [light.ms / 1000 for light in strips.pulses(totals, "uncover")]
    assert uncovering == [5.0, 3.9, 3.1, 2.5, 1.9, 1.6, 6.0]


def test_the_navy_s_strip() -> None:
    """Four pulses of 2 s with a card moved along give bands of 2, 4, 6 and 8 s.

    Source: US Navy, Photography (Basic), NAVEDTRA 14209, p. 290, seen.
    """
    strip = strip_from(times={"kind": "seconds", "step": 2, "bands": 4})
    plan = compile_strip(strip, source="navy", version=1)
    assert [step.planned_ms for step in plan.steps] == [2_000] * 4
    assert plan.strip is not None
    assert plan.strip.totals_ms == (2_000, 4_000, 6_000, 8_000)


@pytest.mark.parametrize(("step", "totals"), [(3, [3, 6, 9, 12, 15, 18, 21]), (5, [5, 10, 15, 20, 25, 30, 35])])
def test_a_beginner_s_strip(step: int, totals: list[int]) -> None:
    """A strip of seven bands, 3 s or 5 s apart, is what a beginner makes; a contact print of about 15 s lies on it.

    Source: common practice.
    """
    strip = strip_from(times={"kind": "seconds", "step": step, "bands": 7})
    plan = compile_strip(strip, source="beginner", version=1)
    assert plan.strip is not None
    assert [ms / 1000 for ms in plan.strip.totals_ms] == totals
    assert {ms / 1000 for ms in plan.strip.pulses_ms} == {step}
    assert 15 in totals
    assert plan.advice == ()


def test_equal_seconds_are_unequal_stops() -> None:
    """From 3 to 6 s is a whole stop, from 30 to 33 s an eighth.

    Source: derived, log2 of the ratio.
    """
    assert stops_between(Fraction(3), Fraction(6)) == pytest.approx(1.000, abs=1e-9)
    assert stops_between(Fraction(30), Fraction(33)) == pytest.approx(0.138, abs=5e-4)


# ---- burns and dodges

BURNS_ON_TEN = {"1/3": 2.6, "1/2": 4.1, "2/3": 5.9, "1": 10.0, "4/3": 15.2}
DODGES_ON_TEN = {"1/3": 2.1, "1/2": 2.9}


def test_burns_and_dodges_on_ten_seconds() -> None:
    """On a base of 10.0 s the usual burns add, and dodges hold back, these seconds.

    Source: derived, base · (2^e − 1) and base · (1 − 2^−e), rounded by hand to 0.1 s.
    """
    assert {e: burns.burn_ms(10_000, Fraction(e)) / 1000 for e in BURNS_ON_TEN} == BURNS_ON_TEN
    assert {e: burns.held_back_ms(10_000, Fraction(e)) / 1000 for e in DODGES_ON_TEN} == DODGES_ON_TEN


def test_the_same_table_through_a_whole_sheet() -> None:
    """The compiled sheet gives the table's seconds for a burn and a dodge.

    Source: the same table, derived.
    """
    for act, table in (("burn", BURNS_ON_TEN), ("dodge", DODGES_ON_TEN)):
        for stops, seconds in table.items():
            recipe = recipe_from(local=[{"area": "A", "act": act, "filter": "2", "stops": stops}])
            plan = compile_recipe(recipe, source="table", version=1)
            (step,) = [step for step in plan.steps if step.area == "A"]
            assert step.planned_ms == seconds * 1000


def test_a_sky_over_its_base() -> None:
    """A burn strip on 10.1 s by thirds gives pulses of 2.6, 3.3, 4.2 and 5.3 s.

    Source: derived by arithmetic apart from this program.
    """
    totals = strips.burn_totals(10_100, Fraction(1, 3), 5)
    assert [light.ms / 1000 for light in strips.pulses(totals, "cover")] == [2.6, 3.3, 4.2, 5.3]


@pytest.mark.parametrize(("percent", "seconds"), [(8, 18.4), (10, 18.0), (12, 17.6)])
def test_dry_down_of_twenty_seconds(percent: int, seconds: float) -> None:
    """A fibre print of 20 s wants about 8 to 12 % less.

    Source: 8 to 12 % for fibre second-hand; the seconds derived.
    """
    assert dried_ms(20_000, Fraction(percent)) == seconds * 1000


# ---- size and distance


def test_the_published_print_size_example() -> None:
    """From 8×10 to 16×20 of a 4×5 negative needs 2.78 times the light; to 11×14 between ½ and ¾ stop more.

    Source: a public worked example of print size, seen ("2.78", "between ½ and ¾ stop").
    """
    twice = change_size(before=Fraction(2), after=Fraction(4), pupil=Fraction(1))
    assert round(twice.factor, 2) == 2.78
    assert twice.stops == pytest.approx(1.474, abs=5e-4)
    eleven = change_size(before=Fraction(2), after=Fraction("2.8"), pupil=Fraction(1))
    assert 0.5 < eleven.stops < 0.75
    assert eleven.factor == pytest.approx(1.6044, abs=5e-5)


@pytest.mark.parametrize(("m", "exposure"), [("1/10", 1.21), ("1/2", 2.25), ("1", 4), ("2", 9), ("3", 16)])
def test_the_table_of_a_lens_maker(m: str, exposure: float) -> None:
    """Exposure grows as (1 + m)² with the magnification.

    Source: Goerz lens table, in Practical Photography vol. II, seen.
    """
    assert float(size.size_factor(Fraction(0), Fraction(m))) == pytest.approx(exposure, abs=1e-12)


@pytest.mark.parametrize(
    ("focal_in", "times", "to_easel", "to_negative"),
    [
        ("6", 4, "30", "7 1/2"),  # British Journal Almanac, table of distances, seen
        ("3", 8, "27", "3 3/8"),  # British Journal Almanac, table of distances, seen
        ("7", 2, "21", "10 1/2"),  # Sinclair Handbook of Photography, seen
    ],
)
def test_tables_of_enlarging_distances(focal_in: str, times: int, to_easel: str, to_negative: str) -> None:
    """Lens to easel and lens to negative for a focal length and a magnification, as old tables print them."""
    focal, m = Fraction(focal_in), Fraction(times)
    assert size.lens_to_easel_mm(focal, m) == Fraction(to_easel)
    assert size.lens_to_negative_mm(focal, m) == sum(map(Fraction, to_negative.split()))
    assert size.negative_to_easel_mm(focal, m) == focal * (2 + m + 1 / m)


# ---- apertures

F_NUMBERS = [1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64]


def test_marked_apertures_are_whole_stops() -> None:
    """The nominal f-numbers lie one stop apart, and what they stand for is 2^(n/2).

    Source: ISO 517 f-numbers second-hand; the exact values 5.6569, 11.3137, 22.6274, 45.2548 derived.
    """
    assert [aperture.marked_stops(number) for number in F_NUMBERS] == list(range(13))
    exact = {5.6: 5.6569, 11: 11.3137, 22: 22.6274, 45: 45.2548}
    for number, value in exact.items():
        assert math.sqrt(light_factor(aperture.marked_stops(number))) == pytest.approx(value, abs=5e-5)


def test_one_marked_stop_is_one_stop() -> None:
    """From f/8 to f/5.6 is one stop of time exactly, though the printed numbers make it 1.029.

    Source: derived; marked stops are what a lens ring means.
    """
    assert aperture.aperture_stops(8, 5.6) == -1
    assert stops_between(Fraction("5.6") ** 2, Fraction(8) ** 2) == pytest.approx(1.029, abs=5e-4)


def test_opening_one_stop_makes_up_for_a_filter_of_two() -> None:
    """A filter that needs double the light is met by f/5.6 in place of f/8 at the same 10 s.

    Source: NAVEDTRA 14209, p. 298 (f/8, 10 s, filter 3 → f/5.6, 10 s, filter 4), seen.
    """
    assert 2 * 10 * aperture.aperture_factor(8, 5.6) == 10


@pytest.mark.parametrize(
    ("number", "stops"),
    [
        (6.3, "16/3"),
        (7.1, "17/3"),
        (6.7, "11/2"),
        (9.5, "13/2"),
        (3.5, "11/3"),
        (4.5, "13/3"),
        (19, "17/2"),
        (18, "25/3"),
    ],
)
def test_half_and_third_marks(number: float, stops: str) -> None:
    """Half and third stops as lens makers print them stand for halves and thirds.

    Source: the usual printed series 3.5 4.5 6.3 7.1 18 (thirds) and 6.7 9.5 19 (halves), from memory.
    """
    assert aperture.marked_stops(number) == Fraction(stops)


# ---- lamp lag


def test_a_train_of_seconds_uncorrected_is_short() -> None:
    """Eight lights of 1 s against one of 8 s, each losing 0.12 s, are 0.16 stop short; corrected they are not.

    Source: derived, log2 of (8 − 8 · 0.12) over (8 − 0.12).
    """
    one_light = lag.given_full_ns(8_000_000_000, 120)
    train = 8 * lag.given_full_ns(1_000_000_000, 120)
    assert stops_between(Fraction(train), Fraction(one_light)) == pytest.approx(0.16, abs=5e-3)
    plan = compile_strip(strip_from(times={"kind": "seconds", "step": 1, "bands": 8}), source="train", version=1)
    shares = [lag.planned_full_ns(step.planned_ms, step.base_ms, 120) for step in plan.steps]
    corrected = [lag.given_full_ns(lag.lit_ms(share, 120) * 1_000_000, 120) for share in shares]
    assert sum(corrected) == one_light
