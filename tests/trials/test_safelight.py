"""The safelight test: the three examples that K-4 prints, the sheets it asks for, and answers that leave a doubt."""

from __future__ import annotations

from itertools import accumulate
from typing import get_args

import pytest

from controller.errors import Impossible, Unreadable
from controller.recipe.plan import Hands
from controller.trials.phone import phone_found, together
from controller.trials.safelight import (
    QUARTERS_MIN,
    WAITS_S,
    Minutes,
    check_waits,
    found,
    grey_plan,
    safe_minutes,
    sheet_plan,
)

MINUTES: tuple[Minutes, ...] = get_args(Minutes)


@pytest.mark.parametrize(
    ("before", "after", "alone", "case", "minutes"),
    [
        (7, 7, 7, "A", 7.0),  # no added density on either side: a safe time of at least seven minutes
        (0, 1, 3, "B", 0.5),  # change from 1 minute before and 3 minutes after, 7 minutes alone fogged: not safe
        (7, 3, 7, "C", 3.0),  # up to 7 minutes before, up to 3 after: three minutes in all
    ],
)
def test_the_printed_examples_are_decided_as_printed(
    before: Minutes, after: Minutes, alone: Minutes, case: str, minutes: float
) -> None:
    """Kodak Publication K-4 (October 2006), tests A, B and C of its evaluation."""
    result = found(before, after, alone, 0.35)
    assert (result.case, result.safe_minutes) == (case, minutes)


def test_a_safe_time_is_at_most_half_of_what_makes_a_visible_change() -> None:
    """K-4's own words, for every answer; and never longer than what left no change."""
    for last_same in MINUTES:
        minutes = safe_minutes(last_same)
        later = [quarter for quarter in MINUTES if quarter > last_same]
        if later:
            assert minutes <= later[0] / 2
        assert minutes <= (last_same or 0.5)


def test_the_smallest_answer_counts() -> None:
    """Paper gets what comes before and after its exposure, so nothing but the smallest is safe."""
    for before in MINUTES:
        for after in MINUTES:
            for alone in (each for each in MINUTES if each >= min(before, after)):
                assert found(before, after, alone, 0.3).safe_minutes == safe_minutes(min(before, after, alone))


@pytest.mark.parametrize(("grey", "words"), [(0.24, "too light"), (0.51, "too dark")])
def test_a_grey_out_of_limits_finds_nothing(grey: float, words: str) -> None:
    """0.25 to 0.50, as K-4 has it: the sentence says which way to go, and that nothing was set."""
    with pytest.raises(Unreadable, match=words) as refusal:
        found(7, 7, 7, grey)
    assert "Nothing was set" in str(refusal.value)
    assert refusal.value.place == ("grey",)
    found(7, 7, 7, 0.25)
    found(7, 7, 7, 0.50)


@pytest.mark.parametrize("which", ["before", "after", "alone"])
def test_a_card_in_another_order_finds_nothing(which: str) -> None:
    """A quarter that had less and is darker: a sentence at its question, and the way back."""
    answers = {"before": 7, "after": 7, "alone": 7} | {which: "mixed"}
    with pytest.raises(Unreadable, match="another order") as refusal:
        found(**answers, grey=0.35)  # type: ignore[arg-type]
    assert refusal.value.place == (which,)


def test_bare_paper_that_fogs_first_finds_nothing() -> None:
    """Paper with a grey is the more easily fogged, so something else came in."""
    with pytest.raises(Unreadable, match="cannot be fogged sooner"):
        found(7, 3, 1, 0.35)
    with pytest.raises(Unreadable, match="cannot be fogged sooner"):
        phone_found(7, 3, 1, 0.35, 2)


def test_the_waits_add_up_to_the_quarters() -> None:
    """The card is moved on after 4, 2 and 1 minutes, so that the quarters have had 7, 3, 1 and 0."""
    later = tuple(accumulate(reversed(WAITS_S), initial=0))
    assert tuple(reversed([seconds // 60 for seconds in later])) == QUARTERS_MIN


@pytest.mark.parametrize("glow", ["safelight", "phone"])
def test_the_sheet_has_its_grey_before_and_after_the_waits(glow: str) -> None:
    """No negative, the grey on the first strip, three waits under one light alone, and the same grey on the second."""
    plan = sheet_plan(glow, "soft", 1400)  # type: ignore[arg-type]
    first, second = plan.steps
    assert plan.test == glow
    assert plan.waits
    assert not plan.flashes_sheets
    assert first.hands is Hands.NEGATIVE_OUT
    assert not first.waits
    assert [wait.ms // 1000 for wait in second.waits] == list(WAITS_S)
    assert {wait.glow for wait in second.waits} == {glow}
    assert first.planned_ms == second.planned_ms == 1400


def test_the_grey_comes_from_a_strip_without_a_negative() -> None:
    """Nine bands by thirds; it is a sheet like any other, and on no shelf."""
    plan = grey_plan("soft", 600_000)
    assert plan.strip is not None
    assert plan.strip.totals_ms == (1200, 1500, 1900, 2400, 3000, 3800, 4800, 6000, 7600)
    assert plan.steps[0].hands is Hands.NEGATIVE_OUT
    assert all(step.hands is None for step in plan.steps[1:])
    assert plan.test == "grey"


def test_waits_that_were_not_whole_tell_nothing() -> None:
    """One is missing, or the card lay too long: the sheet is refused, with a sentence."""
    s = 1_000_000_000
    ms = [1000 * seconds for seconds in WAITS_S]
    check_waits([240 * s, 370 * s, 440 * s], ms)
    check_waits([12 * s, 30 * s, 40 * s], ms)  # a practice darkroom has them shorter
    for until, waits in (([240 * s, 370 * s], ms[:2]), ([240 * s, 430 * s, 500 * s], ms), ([240 * s, 1, 2], ms)):
        with pytest.raises(Impossible):
            check_waits(until, waits)


def test_a_phone_passes_where_a_print_has_its_time() -> None:
    """At a level that changes nothing in a minute; beside it paper lies for the smaller of both times."""
    assert phone_found(7, 7, 7, 0.35, 3).passed
    assert phone_found(3, 1, 7, 0.35, 3).safe_minutes == 1.0
    assert not phone_found(0, 1, 3, 0.35, 5).passed
    assert together(3.0, 7.0) == together(7.0, 3.0) == 3.0
    assert together(0.0, 7.0) == 7.0
