"""A negative's range at the desk: what a densitometer, one strip, or two areas of one grey say of it.

R = 100 × the effective range (ISO 6846, introduction, seen); effective = Q × diffuse range − flare (common practice);
Callier's Q about 1.0 with a diffuser and 1.2 with a condenser (from memory).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.paper.iso import grade_of
from controller.paper.ladder import Ladder, Rung
from controller.paper.negative import FilterPicks, MatchedPicks, Measured, negative_range


def measured(**more: object) -> Measured:
    return Measured.model_validate({"thin": 0.25, "dense": 1.30, "source": "diffuser", **more})


@pytest.mark.parametrize(
    ("more", "effective", "stated", "grade"),
    [
        ({}, 1.05, 110, "2"),
        ({"flare_density": 0.20}, 0.85, 90, "3"),
        ({"source": "condenser"}, 1.26, 130, "1"),
        ({"source": "condenser", "flare_density": 0.20}, 1.06, 110, "2"),
        ({"source": "condenser", "callier": 1.15, "flare_density": 0.05}, 1.1575, 120, "1"),
        ({"callier": 1.25}, 1.3125, 130, "1"),
    ],
)
def test_what_reaches_the_paper(more: dict[str, object], effective: float, stated: int, grade: str) -> None:
    """The range measured, times Callier's Q, less the flare, is what the paper meets; its R is a hundred times that.

    Worked by hand: 1.30 − 0.25 = 1.05; a condenser makes 1.2 · 1.05 = 1.26 of it, and flare of 0.20 leaves 1.06:
    flare comes after Q, since stray light lies on the image that the paper meets. Grades by the handbooks' table
    (ANSI PH2.2-1966, appendix, seen).
    """
    found = negative_range(measured(**more))
    assert found.effective_range == pytest.approx(effective)
    assert found.diffuse_range == pytest.approx(1.05)
    assert (found.range_stated, found.grade) == (stated, grade)
    assert "0.25" in found.note
    assert "1.30" in found.note
    assert f"{effective:.2f}" in found.note


@given(
    flare=st.floats(0.0, 0.4),
    more=st.floats(0.0, 0.2),
    callier=st.floats(0.9, 1.4),
)
def test_flare_takes_off_the_range_just_what_it_is(flare: float, more: float, callier: float) -> None:
    """More flare takes as much off the range, whatever the light source, and never asks for a softer paper."""
    less_flare = negative_range(measured(callier=callier, flare_density=flare))
    more_flare = negative_range(measured(callier=callier, flare_density=flare + more))
    assert less_flare.effective_range - more_flare.effective_range == pytest.approx(more, abs=1e-9)
    assert less_flare.range_stated >= more_flare.range_stated
    assert less_flare.diffuse_range == more_flare.diffuse_range


def test_flare_may_take_all_of_it() -> None:
    """Flare that leaves no range is refused, and so are two tones that are one, or the wrong way round."""
    with pytest.raises(Impossible, match=r"0\.05"):
        negative_range(measured(flare_density=1.0))
    for thin, dense in ((0.5, 0.55), (1.3, 0.25)):
        with pytest.raises(Impossible, match="leave no range"):
            negative_range(measured(thin=thin, dense=dense))


@pytest.mark.parametrize("stops", [-1, 0, 1])
def test_one_strip_through_one_filter(stops: int) -> None:
    """Where first tone and full black come in one band the range is the filter's own; a stop apart adds or takes 0.30.

    The first tone coming a stop later than black says that the negative has a stop more range than the filter
    (derived from the definitions of ISO 6846).
    """
    ask = FilterPicks(first_tone_seconds=8.0 * 2.0**stops, full_black_seconds=8.0, range_through=110.0)
    found = negative_range(ask)
    assert found.effective_range == pytest.approx(1.10 + 0.30103 * stops, abs=1e-5)
    assert found.diffuse_range is None
    assert found.grade == str(grade_of(found.effective_range))


def test_two_areas_of_one_grey() -> None:
    """Areas that print alike after 8 s and 64 s are three stops apart; the other way round is refused."""
    found = negative_range(MatchedPicks(dense_seconds=64.0, thin_seconds=8.0))
    assert found.effective_range == pytest.approx(3 * math.log10(2.0))
    assert found.diffuse_range is None
    with pytest.raises(Impossible, match="pick again"):
        negative_range(MatchedPicks(dense_seconds=8.0, thin_seconds=64.0))


def test_the_printers_own_filters_are_named() -> None:
    """What to start with is one of the printer's own filters where those were read."""
    own = Ladder(source="own", rungs=(Rung(filter="a", range_exact=140.0), Rung(filter="b", range_exact=104.0)))
    assert "filter b" in negative_range(measured(), own).sentence
    assert "filter a" in negative_range(measured(callier=1.3), own).sentence
    assert "filter 2" in negative_range(measured()).sentence
