"""How long a print is developed, when a developer is slow, and what cold does to fix and wash."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.trays.development import (
    developed_s,
    in_cold_water,
    is_slow,
    times_longer,
    usual_appearance_s,
)
from controller.trays.process import USUAL

FACTOR = USUAL["FB"].model_copy(update={"factor": 15.0, "developer_seconds": 135.0})


def test_a_factor_of_15_makes_135_seconds_of_9() -> None:
    """Nine seconds by fifteen: the worked example of the Cyclopaedia of Photography."""
    assert developed_s(9.0, 15.0) == 135.0
    assert usual_appearance_s(FACTOR) == 9.0
    assert usual_appearance_s(USUAL["FB"]) is None


def test_a_developer_is_slow_from_half_as_late_again() -> None:
    """9 to 14 s is slow; 13.4 s is not yet (1.5 times the usual: common practice)."""
    assert is_slow(14.0, 9.0)
    assert is_slow(13.5, 9.0)
    assert not is_slow(13.4, 9.0)


def test_fix_and_wash_take_twice_as_long_at_50_as_at_68_fahrenheit() -> None:
    """US Army TM 11-2323, page 145: fixing and washing at 50 °F take twice what they take at 68 °F."""
    fifty, sixty_eight = ((f - 32) / 1.8 for f in (50.0, 68.0))
    assert times_longer(fifty) / times_longer(sixty_eight) == pytest.approx(2.0)
    cold = in_cold_water(USUAL["FB"], 10.0)
    assert (cold.fix_seconds, cold.fix_2_seconds, cold.wash_seconds, cold.wash_2_seconds) == (120, 240, 600, 600)
    assert cold.least_fix_seconds == 2 * USUAL["FB"].least_fix_seconds
    assert (cold.developer_seconds, cold.stop_seconds) == (150, 30)
    assert in_cold_water(USUAL["RC"], 20.0) == USUAL["RC"]


@given(st.floats(10.0, 35.0), st.floats(10.0, 35.0))
def test_colder_is_never_shorter(one: float, other: float) -> None:
    """And warmer than 20 °C is no shorter than at 20 °C."""
    assert times_longer(min(one, other)) >= times_longer(max(one, other)) >= 1.0


@pytest.mark.parametrize("celsius", [9.9, 35.1, -4.0])
def test_a_temperature_outside_10_to_35_is_refused(celsius: float) -> None:
    """The sentence says both limits."""
    with pytest.raises(Impossible, match="10 to 35 °C"):
        times_longer(celsius)
