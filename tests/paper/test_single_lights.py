"""Which prints count as single filters, what a change of filter does to the ends, and boxes after one another."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tools.hidden_papers import BOX, exposure, paper_one
from tools.known_papers import known

from controller.paper.boxes import changed_speed, respeed_from_pick
from controller.paper.emulsions import densities, mixture
from controller.paper.filter_factors import change_filter, curves_of, filter_curve
from controller.paper.filter_readings import standing_in
from controller.paper.readings import Readings

SOFT, HARD, MIXED = (exposure(paper_one(), *light) for light in ((80.0, 0.0), (0.0, 60.0), (40.0, 30.0)))


def test_prints_through_both_and_by_eye_are_no_single_filter() -> None:
    """A print through both lights, or one picked by eye, makes no filter's curve; soft or hard alone does."""
    by_eye = SOFT.model_copy(update={"how": "eye", "filter": "eye"})
    paper = known().model_copy(update={"readings": Readings(paper="known", exposures=(HARD, MIXED, by_eye, SOFT))})
    found = curves_of(paper)
    assert [(name, each.seconds) for name, each in found.items()] == [("00", 80.0), ("5", 60.0)]
    assert found["00"].curve.exposure == SOFT


def test_the_ends_move_by_stops_of_light() -> None:
    """With a tone kept, first tone and black move by the decades between the curves' ends, over log10 of 2.

    The negative's densities at either end are read off the papers' own curves: (before − after)/0.30103.
    """
    soft, hard = filter_curve("00", SOFT), filter_curve("5", HARD)
    changed = change_filter(soft, hard, 10.0, 0.65)
    for said, over in ((changed.low_stops, 0.04), (changed.high_stops, 0.9 * 2.05)):
        ends = []
        for curve, seconds in ((soft, 10.0), (hard, changed.seconds)):
            line = curve.curve.line
            target = line.dmin + (over if over < 1.0 else 0.9 * (line.dmax - line.dmin))
            ends.append(line.tablet(target) + math.log10(seconds / curve.seconds))
        assert said == pytest.approx((ends[1] - ends[0]) / math.log10(2.0), abs=1e-6)


def test_the_softest_print_stands_for_soft() -> None:
    """Of prints through single filters the softest stands for soft and the hardest for hard; one alone for soft."""
    prints = [
        each.model_copy(
            update={"filter": name, "soft_seconds": each.soft_seconds + each.hard_seconds, "hard_seconds": 0.0}
        )
        for name, each in (("5", HARD), ("2", MIXED), ("00", SOFT))
    ]
    for order in (prints, prints[::-1]):
        soft, hard = standing_in(order)
        assert (soft.filter, hard.filter) == ("00", "5")
        assert (soft.hard_seconds, hard.soft_seconds) == (0.0, 0.0)
        assert (soft.soft_seconds, hard.hard_seconds) == (80.0, 60.0)
    assert [each.filter for each in standing_in(prints[:1])] == ["5"]


def test_boxes_add_up() -> None:
    """A second box's change comes on top of the first: twice half a stop faster is a stop more light."""
    twice = changed_speed(changed_speed(known(), BOX, 0.5, 0.5), BOX, 0.5, 0.5)
    tones = np.linspace(0.0, 2.0, 9)
    assert densities(mixture(twice), 5.05, 4.0, tones) == pytest.approx(densities(mixture(known()), 10.1, 8.0, tones))
    assert (twice.version, len(twice.speeds)) == (3, 2)
    slower = respeed_from_pick(known(), 10.0, 20.0, BOX)
    assert (slower.speeds[0].soft_stops, slower.speeds[0].hard_stops) == (-1.0, -1.0)
