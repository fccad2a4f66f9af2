"""Where split-grade ends: the longest light, the ends of the paper, its white and black; on a paper known exactly."""

from __future__ import annotations

import pytest
from tools.hidden_papers import paper_one
from tools.known_papers import known

from controller.errors import Impossible
from controller.paper.solver import OutOfReach, Reached, Tone, hold, soft_hard

LIGHT, DARK = Tone(1.25, 0.13), Tone(0.22, 1.93)


def test_each_light_may_be_the_longest() -> None:
    """It is each light that the longest bounds, not the two together."""
    free = soft_hard(known(), LIGHT, DARK)
    assert isinstance(free, Reached)
    longest = max(free.pair.soft_seconds, free.pair.hard_seconds)
    assert longest < free.pair.soft_seconds + free.pair.hard_seconds
    assert soft_hard(known(), LIGHT, DARK, longest_seconds=longest + 1e-6) == free
    bound = soft_hard(known(), LIGHT, DARK, longest_seconds=longest * 0.8)
    assert isinstance(bound, OutOfReach)
    assert bound.why == "too-long"


def test_a_held_tone_takes_no_longer_than_the_longest() -> None:
    """A contrast that a longer light would give is called so, and what is nearest keeps to the longest."""
    free = hold(known(), 10.1, 8.0, 0.7, 75.0)
    assert isinstance(free, Reached)
    longest = max(free.pair.soft_seconds, free.pair.hard_seconds) * 0.8
    bound = hold(known(), 10.1, 8.0, 0.7, 75.0, longest_seconds=longest)
    assert isinstance(bound, OutOfReach)
    assert bound.why == "too-long"
    assert max(bound.nearest.soft_seconds, bound.nearest.hard_seconds) == pytest.approx(longest)


def test_past_the_papers_ends_the_nearest_is_that_end() -> None:
    """Wanted harder than hard light alone, the nearest is hard light alone, R 61.1; softer than soft, soft, R 140.6.

    The figures are the known paper's, read off its own formula.
    """
    for wanted, range_end, soft_alone in ((30.0, 61.1, False), (190.0, 140.6, True)):
        answer = hold(known(), 10.1, 8.0, 0.7, wanted)
        assert isinstance(answer, OutOfReach)
        assert answer.nearest.range_exact == pytest.approx(range_end, abs=0.1)
        assert (answer.nearest.hard_seconds == 0.0) is soft_alone
        assert (answer.nearest.soft_seconds == 0.0) is not soft_alone


def test_two_tones_of_one_density_are_crossed() -> None:
    """Two tones of one density of the negative cannot be told apart, and are refused as crossed."""
    with pytest.raises(Impossible):
        soft_hard(known(), Tone(0.7, 0.13), Tone(0.7, 1.93))


@pytest.mark.parametrize(
    ("light", "dark", "why"),
    [(0.04, 1.93, "too-white"), (0.13, 2.10, "too-black"), (0.13, 2.20, "too-black"), (1.0, 1.0, "wrong-way")],
)
def test_past_white_and_black_there_is_nothing(light: float, dark: float, why: str) -> None:
    """Whiter than white, as black as black or blacker, and two tones alike cannot be had; the answer says which."""
    answer = soft_hard(known(), Tone(1.25, light), Tone(0.22, dark))
    assert isinstance(answer, OutOfReach)
    assert answer.why == why


def test_white_that_no_print_could_tell_from_white_is_had() -> None:
    """Paper white itself for the light tone is had as soon as the print shows nothing of it, within 0.001."""
    answer = soft_hard(known(), Tone(1.25, paper_one().dmin), DARK)
    assert isinstance(answer, Reached)
    assert answer.pair.predicted == pytest.approx((paper_one().dmin, 1.93), abs=1e-3)
