"""The developer's least time: the source's own example, what eyes and densities say, and what sets nothing."""

from __future__ import annotations

import pytest

from controller.errors import Impossible
from controller.picture.in_the_trays import bath_of, development_for
from controller.recipe.plan import Hands
from controller.trials.developer import TIMES_S, Support, by_densities, judged, next_piece, outcome_of, plan, time_for
from controller.words import say


def test_the_source_s_own_example() -> None:
    """*Photography: Theory and Practice* §556: of 100, 140, 200 and 280 s the second is as black as the third.

    So the least time is 140 s; the white half is clean up to 200 s, and may be grey at 280.
    """
    assert TIMES_S["FB"] == (100, 140, 200, 280)
    found = by_densities("FB", (1.92, 2.06, 2.07, 2.07), (0.05, 0.05, 0.05, 0.09))
    assert (found.least_seconds, found.fog_seconds, found.or_less) == (140, 280, False)
    assert judged("FB", 140, 280) == found


@pytest.mark.parametrize(("support", "least", "fog"), [("FB", 140, 280), ("RC", 90, None)])
def test_the_practice_darkroom_s_developer_shows_it(support: Support, least: int, fog: int | None) -> None:
    """Pieces of practice paper in a fresh developer: read to 0.01, they say the times that its law was made by."""
    pieces = [development_for(seconds, support, bath_of("fresh")) for seconds in TIMES_S[support]]
    blacks = tuple(round(0.05 + 2.1 * each.share, 2) for each in pieces)
    whites = tuple(round(0.05 + each.fog, 2) for each in pieces)
    found = by_densities(support, blacks, whites)
    assert (found.least_seconds, found.fog_seconds) == (least, fog)


@pytest.mark.parametrize("developer", ["cold", "tired"])
def test_a_developer_cut_short_is_found(developer: str) -> None:
    """A cold one takes longer than the usual time; a tired one is thin for long, and on FB is refused as such."""
    pieces = [development_for(seconds, "FB", bath_of(developer)) for seconds in TIMES_S["FB"]]  # type: ignore[arg-type]
    blacks = tuple(round(0.05 + 2.15 * each.share, 2) for each in pieces)
    with pytest.raises(Impossible, match="not as black as it gets"):
        by_densities("FB", blacks, (0.05,) * 4)


def test_a_piece_is_half_black_and_has_its_own_time() -> None:
    """No negative, one light, half under a card, and the trays for as long as the piece says."""
    made = plan("FB", 140, "soft", 10_000, 600_000)
    assert (made.test, made.develop_seconds, made.steps[0].hands) == ("developer", 140.0, Hands.NEGATIVE_OUT)
    assert say(made.steps[0].card)
    assert made.strip is not None
    assert made.strip.totals_ms == (0, 40_000)
    with pytest.raises(Impossible, match="No piece"):
        plan("RC", 140, "soft", 10_000, 600_000)


def test_pieces_come_the_longest_first() -> None:
    """Until all are made."""
    assert [next_piece("RC", frozenset(made)) for made in ((), (125,), (125, 90, 65), (125, 90, 65, 45))] == [
        125,
        90,
        45,
        None,
    ]


@pytest.mark.parametrize(
    ("black", "fog", "words"),
    [
        (None, None, "not as black as it gets"),
        (280, None, "not as black as it gets"),
        (140, 140, "no time gives both"),
        (200, 100, "no time gives both"),
        (150, None, "No piece"),
    ],
)
def test_what_is_in_doubt_finds_nothing(black: int | None, fog: int | None, words: str) -> None:
    """A sentence with the remedy, and nothing to set."""
    with pytest.raises(Impossible, match=words):
        judged("FB", black, fog)


@pytest.mark.parametrize(
    ("seconds", "black", "fog", "after"),
    [(100, 140, 280, 140), (150, 140, 280, 150), (300, 140, 280, 200), (90, 100, None, 100), (280, 100, None, 280)],
)
def test_a_process_develops_long_enough_and_not_too_long(seconds: int, black: int, fog: int | None, after: int) -> None:
    """Longer where it is cut short, shorter where it fogs, and else as it was."""
    assert time_for(judged("FB", black, fog), seconds) == after


@pytest.mark.parametrize(("black", "fog"), [(140, 280), (140, None), (100, 280), (100, None)])
def test_every_outcome_has_its_words(black: int, fog: int | None) -> None:
    """Each is a key of the catalogue."""
    found = judged("FB", black, fog)
    assert "FB" in say(outcome_of(found), support="FB", seconds=black, fog=fog)
