"""Strips: totals, pulses, and which way the card goes."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.exposure import strip_times as strips
from controller.exposure.lag import lag_seconds
from controller.exposure.strip_times import CardWay, Pulse, flash_ms

STEPS = st.sampled_from([Fraction(1, 2), Fraction(1, 3), Fraction(1, 4), Fraction(1, 6), Fraction(1), Fraction("0.45")])


def _lights(totals: tuple[int, ...], card: CardWay) -> tuple[Pulse, ...]:
    try:
        return strips.pulses(totals, card)
    except Impossible:
        assume(False)
        raise


def _light_on_bands(totals: tuple[int, ...], lights: tuple[Pulse, ...], card: CardWay) -> list[int]:
    """Return what each band really gets, by moving a card over a strip light by light."""
    got = [0] * len(totals)
    for light in lights:
        lit = [light.band] if card == "window" else range(light.band, len(totals) + 1)
        for band in lit:
            got[band - 1] += light.ms
    return got


@given(st.integers(20, 600), STEPS, st.integers(2, 24), st.sampled_from(["cover", "uncover", "window"]))
def test_every_band_gets_its_total(tenths: int, step: Fraction, bands: int, card: CardWay) -> None:
    """Whichever way the card goes, the pulses that reach a band sum to its total exactly."""
    totals = strips.stop_totals(tenths * 100, step, bands)
    lights = _lights(totals, card)
    assert _light_on_bands(totals, lights, card) == list(totals)


@given(st.integers(20, 600), STEPS, st.integers(2, 10))
def test_uncovering_turns_the_pulses_round(tenths: int, step: Fraction, bands: int) -> None:
    """Covering and uncovering need the same pulses in opposite order."""
    totals = strips.stop_totals(tenths * 100, step, bands)
    assert _lights(totals, "uncover") == tuple(reversed(_lights(totals, "cover")))


@given(st.integers(20, 600), STEPS, st.integers(2, 10))
def test_a_burn_strip_has_no_light_for_its_first_band(tenths: int, step: Fraction, bands: int) -> None:
    """The first band of a burn strip gets the base only, and the others their burns over it."""
    totals = strips.burn_totals(tenths * 100, step, bands)
    lights = _lights(totals, "cover")
    assert totals[0] == 0
    assert [light.band for light in lights] == list(range(2, bands + 1))
    assert _light_on_bands(totals, lights, "cover") == list(totals)


@given(st.integers(1, 300), st.integers(2, 24))
def test_equal_bands_have_equal_pulses(step_ms: int, bands: int) -> None:
    """A fixed-interval strip has the typed step as every pulse, milliseconds included."""
    step_ms += 100
    lights = strips.pulses(strips.even_totals(step_ms, bands), "cover")
    assert {light.ms for light in lights} == {step_ms}


@given(st.integers(20, 600), STEPS, st.integers(2, 24))
def test_the_centre_is_a_band(tenths: int, step: Fraction, bands: int) -> None:
    """A strip around a centre has a band of exactly that time."""
    totals = strips.stop_totals(tenths * 100, step, bands)
    assert totals[strips.centre_band(bands) - 1] == tenths * 100


def test_the_card_moves_at_the_totals_or_from_the_other_end() -> None:
    """In one long light the card moves at each total when covering, at the differences from the end when uncovering."""
    totals = strips.stop_totals(12_000, Fraction(1, 3), 7)
    assert strips.card_moves_ms(strips.pulses(totals, "cover")) == totals[:-1]
    uncovered = strips.card_moves_ms(strips.pulses(totals, "uncover"))
    assert uncovered == tuple(totals[-1] - total for total in reversed(totals[:-1]))


def test_bands_that_come_out_alike_are_refused() -> None:
    """Two bands that cannot be told apart at 0.1 s are refused by number."""
    with pytest.raises(Impossible, match="Bands 2 and 3"):
        strips.pulses(strips.stop_totals(1_000, Fraction(1, 12), 7), "cover")


def test_the_flash_is_the_last_total_that_shows_nothing() -> None:
    """A flash is the total before the first band with a tone; a first band with a tone is refused."""
    assert flash_ms((1000, 1300, 1600), 3) == 1300
    for band in (1, 4):
        with pytest.raises(Impossible, match="2 to 3"):
            flash_ms((1000, 1300, 1600), band)


@given(st.integers(0, 300), st.integers(2, 20), st.integers(100, 900))
def test_a_train_of_lossy_lights_gives_its_loss_away(lag_ms: int, pulses: int, tenths: int) -> None:
    """Where every switching loses d, the train that matches one long light gives d back."""
    long = Fraction(tenths, 10)
    lag = Fraction(lag_ms, 1000)
    each = (long - lag) / pulses + lag
    assert lag_seconds(long, pulses, each) == lag


def test_a_train_shorter_than_the_long_light_is_refused() -> None:
    """A train that needs less than the long light is no sign of lamp lag, and is refused."""
    with pytest.raises(Impossible, match="make the train again"):
        lag_seconds(Fraction(8), 8, Fraction("0.9"))


def test_of_an_even_number_of_bands_the_lower_middle_one_is_the_centre() -> None:
    """The typed centre is the middle band of five, and the third of six: one band more on the darker side."""
    assert strips.stop_totals(8_000, Fraction(1), 5) == (2_000, 4_000, 8_000, 16_000, 32_000)
    assert strips.stop_totals(8_000, Fraction(1), 6) == (2_000, 4_000, 8_000, 16_000, 32_000, 64_000)
    assert [strips.centre_band(bands) for bands in (1, 2, 3, 6, 7)] == [1, 1, 2, 3, 4]
