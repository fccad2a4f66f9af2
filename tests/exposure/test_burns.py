"""Burns and dodges: what is added, what is held back, what is left open."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.exposure import burns
from controller.exposure.stops import dried_ms

BASES = st.integers(10, 6000).map(lambda n: n * 100)
STOPS = st.fractions(Fraction(1, 12), 5, max_denominator=12)


@given(BASES, STOPS, STOPS)
def test_more_stops_burn_and_hold_back_more(base_ms: int, one: Fraction, two: Fraction) -> None:
    """More stops never mean less light burnt in, nor less held back."""
    less, more = sorted((one, two))
    assert burns.burn_ms(base_ms, less) <= burns.burn_ms(base_ms, more)
    assert burns.held_back_ms(base_ms, less) <= burns.held_back_ms(base_ms, more)


@given(BASES, STOPS)
def test_a_dodge_never_holds_back_more_than_the_base(base_ms: int, stops: Fraction) -> None:
    """A dodge leaves its area some light, or at 0.1 s just none."""
    assert 0 <= burns.held_back_ms(base_ms, stops) <= base_ms


@given(BASES)
def test_one_stop_doubles_and_halves(base_ms: int) -> None:
    """A burn of one stop adds the base; a dodge of one stop holds back half of it."""
    assert burns.burn_ms(base_ms, Fraction(1)) == base_ms
    assert abs(2 * burns.held_back_ms(base_ms, Fraction(1)) - base_ms) <= 100


@given(BASES, st.lists(st.integers(1, 50).map(lambda n: n * 100), min_size=1, max_size=4))
def test_parts_and_open_sum_to_the_base(base_ms: int, parts: list[int]) -> None:
    """The dodged parts and the open part are the base, or the sum is refused as leaving too little."""
    if base_ms - sum(parts) < 500:
        with pytest.raises(Impossible, match=r"leave less than 0\.5 s"):
            burns.open_ms(base_ms, tuple(parts))
    else:
        assert burns.open_ms(base_ms, tuple(parts)) + sum(parts) == base_ms


def test_the_refusal_of_a_short_open_part_has_the_sum() -> None:
    """The sentence about a short open part adds the parts up."""
    with pytest.raises(Impossible, match=r"4\.0 \+ 3\.8 = 7\.8 s .* base of 8\.0 s"):
        burns.open_ms(8_000, (4_000, 3_800))


def test_half_a_second_may_be_left_open() -> None:
    """The open part may be 0.5 s, and no less."""
    assert burns.open_ms(8_000, (4_000, 3_500)) == 500
    with pytest.raises(Impossible):
        burns.open_ms(8_000, (4_000, 3_501))


def test_running_dodges_follow_each_other_two_seconds_apart() -> None:
    """The first dodger goes in at 2.0 s, stays for its seconds, and the next follows 2 s later."""
    assert burns.running_ms(12_000, (3_000, 2_500)) == ((2_000, 5_000), (7_000, 9_500))


@given(BASES, st.lists(st.integers(1, 50).map(lambda n: n * 100), min_size=1, max_size=3))
def test_running_dodges_stay_in_for_their_seconds_or_are_refused(light_ms: int, held: list[int]) -> None:
    """Every running dodger is in for exactly its held-back time within the light, or the sum is refused."""
    if sum(held) + 2000 * len(held) > light_ms:
        with pytest.raises(Impossible, match="running dodges need"):
            burns.running_ms(light_ms, tuple(held))
    else:
        times = burns.running_ms(light_ms, tuple(held))
        assert [out - into for into, out in times] == held
        assert times[-1][1] <= light_ms


@pytest.mark.parametrize(
    ("light_ms", "held_ms", "how"),
    [(20_000, 4_900, "running"), (20_000, 5_000, "parts"), (8_000, 1_700, "running"), (3_000, 1_500, "parts")],
)
def test_running_is_proposed_under_five_seconds(light_ms: int, held_ms: int, how: str) -> None:
    """Under 5 s a dodge is proposed as running, unless there is no time for the hands."""
    assert burns.propose_how(light_ms, held_ms) == how


@given(st.integers(20, 80), st.integers(1, 60))
@example(35, 15)
def test_running_is_proposed_wherever_it_fits(light: int, held: int) -> None:
    """A dodge under 5 s is proposed as running just where a running dodge of that length could be given."""
    light_ms, held_ms = light * 100, held * 100
    try:
        burns.running_ms(light_ms, (held_ms,))
        fits = True
    except Impossible:
        fits = False
    assert (burns.propose_how(light_ms, held_ms) == "running") is (fits and held_ms < 5_000)


@given(BASES, st.integers(1, 50))
def test_dry_down_takes_light_away(base_ms: int, percent: int) -> None:
    """Dry-down never adds light, and none of it leaves a typed time alone."""
    assert dried_ms(base_ms, Fraction(percent)) <= base_ms
    assert dried_ms(base_ms + 23, Fraction(0)) == base_ms + 23
