"""Single-filter work and the negative: factors from a paper's own readings, R from a negative's range."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tools.hidden_papers import exposure, paper_one

from controller.errors import Impossible
from controller.paper.filter_factors import change_filter, factor, filter_curve, own_ladder
from controller.paper.iso import grade_of
from controller.paper.ladder import Ladder, Rung
from controller.paper.negative import (
    CALLIER,
    Through,
    diffuse_range,
    effective_range,
    range_from_matched_picks,
    range_from_two_picks,
    start,
)

CURVES = {
    name: filter_curve(name, exposure(paper_one(), *light))
    for name, light in (("soft", (80.0, 0.0)), ("hard", (0.0, 60.0)))
}


@pytest.mark.parametrize("wanted", [0.2, 0.65, 1.2])
def test_a_change_of_filter_keeps_its_tone(wanted: float) -> None:
    """The time through another filter prints the chosen tone as it was, on the hidden paper itself."""
    hidden = paper_one()
    tone = CURVES["soft"].curve.line.tablet(wanted)
    changed = change_filter(CURVES["soft"], CURVES["hard"], 80.0, wanted)
    assert float(hidden.densities(0.0, changed.seconds, np.array(tone))) == pytest.approx(wanted, abs=0.02)
    assert changed.low_stops < 0.0 < changed.high_stops  # harder: the first tone comes later and black sooner


def test_factors_hold_for_one_tone_only() -> None:
    """The factor from soft to hard differs from tone to tone, and at the speed point it is the ratio of speeds."""
    tones = [change_filter(CURVES["soft"], CURVES["hard"], 10.0, wanted).factor for wanted in (0.15, 0.65, 1.6)]
    assert max(tones) / min(tones) > 1.5
    speeds = [each.seconds * 10.0 ** -each.curve.line.tablet(each.curve.line.dmin + 0.60) for each in CURVES.values()]
    assert factor(CURVES["soft"], CURVES["hard"]) == pytest.approx(speeds[1] / speeds[0])


def test_a_classic_set_doubles() -> None:
    """A set whose filters 3 and 4 are a stop apart gives f/8 10 s → f/5.6 10 s, twice the light.

    Source: NAVEDTRA 14209, p. 298 (seen). The factor comes from readings made so, not from any constant.
    """
    print_3 = exposure(paper_one(), 0.0, 30.0)
    half_as_fast = exposure(paper_one(), 0.0, 15.0)
    three = filter_curve("3", print_3)
    four = filter_curve("4", half_as_fast.model_copy(update={"hard_seconds": 30.0}))
    assert factor(three, four) == pytest.approx(2.0, abs=0.02)


def test_the_printers_own_ladder() -> None:
    """Filters that were read make a ladder of their own, softest first, with their R."""
    ladder = own_ladder(CURVES)
    assert ladder.source == "own"
    assert [rung.filter for rung in ladder.rungs] == ["soft", "hard"]
    assert [rung.range_exact for rung in ladder.rungs] == pytest.approx([140.6, 61.1], abs=2.0)


def test_white_fixes_no_time() -> None:
    """A tone outside what the curves reach fixes no time and is refused."""
    with pytest.raises(Impossible, match="outside what the readings reach"):
        change_filter(CURVES["soft"], CURVES["hard"], 10.0, 2.5)
    with pytest.raises(Impossible, match="does not reach a tone"):
        factor(CURVES["soft"], CURVES["hard"], 2.5)


@pytest.mark.parametrize(("source", "aim"), [("diffuser", 1.05), ("condenser", 0.80)])
def test_published_aims_lead_to_grade_2(source: str, aim: float) -> None:
    """Negatives made for grade 2, 1.05 diffused and 0.80 through a condenser (a maker's, from memory), lead to it."""
    through = Through(callier=CALLIER[source])
    found = start(effective_range(aim, through))
    assert found.grade == 2
    assert found.range_exact == pytest.approx(100.0 * CALLIER[source] * aim)


def test_a_condenser_wants_softer_paper() -> None:
    """The same negative has more range through a condenser, and less with flare (Callier; from memory)."""
    plain = effective_range(1.0, Through(callier=CALLIER["diffuser"]))
    assert effective_range(1.0, Through(callier=CALLIER["condenser"])) > plain
    assert effective_range(1.0, Through(callier=1.0, flare_density=0.1)) == pytest.approx(plain - 0.1)
    assert plain == pytest.approx(1.0)


def test_two_picks_stand_for_a_densitometer() -> None:
    """A negative's range from two picks of one strip is its true range, whatever the paper's filter.

    The picks are made on the hidden paper: the time its light tone comes to 0.04, and its dark one to 90 % net.
    """
    hidden = paper_one()
    thin, dense = 0.22, 1.25
    for light in ((1.0, 0.0), (0.0, 1.0), (1.0, 0.8)):
        fine = np.linspace(-2.0, 5.0, 70001)
        printed = hidden.densities(*light, fine)[::-1]
        low, high = np.interp(
            [hidden.dmin + 0.04, hidden.dmin + 0.9 * (hidden.dmax - hidden.dmin)], printed, fine[::-1]
        )
        first_tone, full_black = 10.0 ** (dense - low), 10.0 ** (thin - high)
        found = range_from_two_picks(first_tone, full_black, hidden.range(*light))
        assert found == pytest.approx(dense - thin, abs=0.002)
    assert range_from_two_picks(12.0, 12.0, 110.0) == pytest.approx(1.10)


def test_matched_picks() -> None:
    """Areas that print alike after 8 s and 80 s lie one density apart."""
    assert range_from_matched_picks(80.0, 8.0) == pytest.approx(1.0)
    assert range_from_matched_picks(16.0, 8.0) == pytest.approx(math.log10(2.0))


def test_start_words() -> None:
    """Where to start is one sentence, with the printer's own filters where they were read."""
    own = Ladder(source="own", rungs=(Rung(filter="a", range_exact=140.0), Rung(filter="b", range_exact=100.0)))
    assert start(1.05).sentence == "Start with filter 2 of a typical set, and put its readings in when you have them."
    assert start(1.05, own).sentence == "Start with your filter b."
    assert start(1.05).grade == grade_of(1.05)


def test_flat_negatives_are_refused() -> None:
    """No range, all of it flare, or crossed picks are refused."""
    with pytest.raises(Impossible, match="leave no range"):
        diffuse_range(0.5, 0.55)
    with pytest.raises(Impossible, match=r"only 0\.05"):
        effective_range(0.35, Through(callier=1.0, flare_density=0.3))
    with pytest.raises(Impossible, match="pick again"):
        range_from_matched_picks(8.0, 16.0)
    assert diffuse_range(0.22, 1.25) == pytest.approx(1.03)
