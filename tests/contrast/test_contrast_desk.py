"""Contrast at the desk where the print stands otherwise than the paper's readings did: seconds follow, tones do not.

At f/11 as marked every light takes twice what it takes at f/8 (ISO 517); from magnification 2 to 3 it takes
((1 + 3)/(1 + 2))² (thin lens; from memory). The paper is written by its own formula in `paper.hidden`.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest
from tools.hidden_papers import paper_one
from tools.known_papers import READ_AT, known

from controller.contrast.asks import ByNegative, ByPicks, EnlargerStand, HoldAsk, Split, SplitAsk
from controller.contrast.at_the_easel import rounded, standing
from controller.contrast.split_grade import ContrastDesk
from controller.errors import Impossible
from controller.paper.ladder import TYPICAL, Ladder
from controller.paper.paper import Paper, set_up_factor
from controller.paper.tones import density_of
from controller.store.versions import Kept

HERE = EnlargerStand(magnification=2.0, aperture=8.0)
STANDS = [
    (HERE, 1.0),
    (EnlargerStand(magnification=2.0, aperture=11.0), 2.0),
    (EnlargerStand(magnification=3.0, aperture=8.0), 16 / 9),
]
THIN, DENSE = 0.22, 1.25


class Shelf:
    """One known paper."""

    def kept(self) -> Sequence[Kept]:
        return ()

    def fetch(self, source: str, version: int | None = None) -> Paper:
        return known()

    def ladder(self, source: str, version: int | None = None) -> Ladder:
        return TYPICAL


def desk(longest_ms: int = 180_000) -> ContrastDesk:
    return ContrastDesk(Shelf(), lambda: longest_ms, None)  # type: ignore[arg-type]  # no recipe is asked for here


def split(stand: EnlargerStand, tones: ByNegative | ByPicks | None = None, longest_ms: int = 180_000) -> Split:
    tones = tones or ByNegative(light=DENSE, dark=THIN)
    return desk(longest_ms).split(SplitAsk(paper="known", stand=stand, tones=tones, light="first", dark="last"))


def printed(soft: Decimal | float, hard: Decimal | float, factor: float) -> tuple[float, float]:
    """Return what seconds of the print make of the two tones, by the paper's own formula."""
    return tuple(float(d) for d in paper_one().densities(float(soft) / factor, float(hard) / factor, [DENSE, THIN]))  # type: ignore[return-value]


@pytest.mark.parametrize(("stand", "factor"), STANDS)
def test_what_is_said_is_what_the_seconds_print(stand: EnlargerStand, factor: float) -> None:
    """At whatever set-up, the tones, the grid and the picture tell what the rounded seconds make of the paper."""
    found = split(stand)
    assert found.reached
    told = printed(found.soft_seconds, found.hard_seconds, factor)
    assert (found.light.density, found.dark.density) == pytest.approx(told, abs=1e-6)
    assert told == pytest.approx((0.05 + 0.08, 0.05 + 0.92 * 2.05), abs=0.02)
    grid = found.grid
    assert grid is not None
    for row, hard in enumerate(grid.hard_seconds):
        for column, soft in enumerate(grid.soft_seconds):
            assert grid.cells[row][column] == pytest.approx(printed(soft, hard, factor), abs=1e-6)
    assert (grid.soft_seconds[2], grid.hard_seconds[2]) == (float(found.soft_seconds), float(found.hard_seconds))


@pytest.mark.parametrize(("stand", "factor"), STANDS[1:])
def test_another_set_up_is_a_factor_of_time(stand: EnlargerStand, factor: float) -> None:
    """The same two tones, by the negative or by picks made there, take the same lights times one factor."""
    for here, there in (
        (split(HERE), split(stand)),
        (
            split(HERE, ByPicks(soft_seconds=10.0, hard_seconds=8.0)),
            split(stand, ByPicks(soft_seconds=10.0 * factor, hard_seconds=8.0 * factor)),
        ),
    ):
        assert float(there.soft_seconds) == pytest.approx(float(here.soft_seconds) * factor, abs=0.05 * (1 + factor))
        assert float(there.hard_seconds) == pytest.approx(float(here.hard_seconds) * factor, abs=0.05 * (1 + factor))
        assert there.light.negative_density == pytest.approx(here.light.negative_density)
        assert f"{factor:.2f}" in there.setup
        assert here.setup == ""


@pytest.mark.parametrize(("stand", "factor"), STANDS[1:])
def test_a_tone_is_held_at_any_set_up(stand: EnlargerStand, factor: float) -> None:
    """Another contrast for the same print, made at another set-up, is the same change: R, tones and the held one."""
    found = [
        desk().hold(
            HoldAsk(paper="known", stand=at, soft_seconds=10.0 * times, hard_seconds=8.0 * times, held="skin", by=-15.0)
        )
        for at, times in ((HERE, 1.0), (stand, factor))
    ]
    assert found[0].range_before == found[1].range_before
    assert found[0].range_exact < 100.0 * 1.1 - 10.0
    assert found[1].range_exact == pytest.approx(found[0].range_exact, abs=1.0)
    assert float(found[1].hard_seconds) == pytest.approx(float(found[0].hard_seconds) * factor, abs=0.2)
    for one, two in zip(found[0].tones, found[1].tones, strict=True):
        assert (one.name, one.before, one.held) == (two.name, pytest.approx(two.before), two.held)
        assert one.after == pytest.approx(two.after, abs=0.02)


@pytest.mark.parametrize(("stand", "factor"), STANDS)
def test_no_light_is_longer_than_the_longest(stand: EnlargerStand, factor: float) -> None:
    """The longest light is one of the print's seconds: just too short for the pair at that set-up, it bounds it."""
    free = split(stand)
    longest = max(free.soft_seconds, free.hard_seconds)
    assert split(stand, longest_ms=int(longest * 1000) + 100).reached
    bound = split(stand, longest_ms=int(longest * 1000) - 1000)
    assert not bound.reached
    assert max(bound.soft_seconds, bound.hard_seconds) == pytest.approx(longest - 1, abs=Decimal("0.15"))


def test_the_curves_show_the_tones_that_are_told() -> None:
    """The pictures tell the densities and the seconds that are said beside them, at another set-up too."""
    for stand, _factor in STANDS:
        found = split(stand)
        for tone in (found.light, found.dark):
            assert tone.density in [pytest.approx(flag.density) for flag in found.curves.flags]
        drawn = (found.reach.soft_seconds, found.reach.hard_seconds)
        assert drawn == pytest.approx((float(found.soft_seconds), float(found.hard_seconds)), abs=0.051)


def test_seconds_are_rounded_to_the_nearest_tenth() -> None:
    """What is offered is the nearest tenth of a second, a half up; a light that rounds to none is none."""
    at = standing(known(), HERE, 180_000)
    assert rounded(at, 10.0625, 7.9375) == (Decimal("10.1"), Decimal("7.9"))
    assert rounded(at, 10.25, 0.03) == (Decimal("10.3"), Decimal(0))
    assert rounded(standing(known(), STANDS[1][0], 180_000), 5.03, 4.02) == (Decimal("10.1"), Decimal("8.0"))
    with pytest.raises(Impossible):
        rounded(at, 0.04, 0.04)


def test_tones_by_name() -> None:
    """A light tone's name is a density over paper white, a dark one's a part of the way to black (common practice)."""
    names = ("first", "skin", "middle", "dark", "last", "black")
    said = [density_of(name, 0.10, 2.10) for name in names]  # type: ignore[arg-type]
    assert said == pytest.approx([0.18, 0.35, 0.80, 1.60, 1.94, 2.04])
    assert density_of(1.23, 0.10, 2.10) == 1.23


def test_set_ups() -> None:
    """Seconds read at one set-up are times (1 + m/P)² and marked stops at another; what is not said is the same."""
    assert set_up_factor(READ_AT, 4.0, 8.0) == (pytest.approx((5 / 3) ** 2), True)
    assert set_up_factor(READ_AT, 2.0, 16.0) == (pytest.approx(4.0), True)
    assert set_up_factor(READ_AT, 4.0, 5.6) == (pytest.approx((5 / 3) ** 2 / 2), True)
    assert set_up_factor(READ_AT, 4.0, 8.0, pupil=0.8)[0] == pytest.approx((6.0 / 3.5) ** 2)
    assert set_up_factor(READ_AT, None, 11.0) == (pytest.approx(2.0), False)
    assert set_up_factor(READ_AT, 4.0, None) == (pytest.approx((5 / 3) ** 2), False)


def test_the_ends_are_softest_and_hardest() -> None:
    """A paper's R through soft light alone comes first and is the longer: 140.6 and 61.1 by the formula."""
    assert desk().ends("known") == pytest.approx((140.6, 61.1), abs=0.1)
