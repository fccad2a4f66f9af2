"""What baths have had, and when they are to be poured away; two fixes in turn over a year of evenings."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.trays.ledger import (
    EIGHT_BY_TEN_M2,
    Bath,
    BathRule,
    BathRules,
    eights,
    made_fresh,
    moves_up,
    room_left,
    share_used,
    why_away,
)
from controller.trays.process import BathName, Support

RULES = BathRules()
TODAY = date(2026, 11, 30)


def ids() -> Callable[[], str]:
    """Return what makes ids that can be told apart."""
    numbers = count(1)
    return lambda: f"bath{next(numbers)}"


def test_the_usual_capacities_are_those_of_the_trade() -> None:
    """8×10 a litre: one fix for prints that last 40, 10 without aid; RC 80; two fixes 50; developer 100 RC or 50 FB.

    Source: published capacities for permanence (10 and 40, read), what RC fixers are sold for (80 to 100); the
    developer's and the 50 of two fixes are common practice.
    """
    had = {"fix": (80, 40), "fix 1": (50, 50), "developer": (100, 50)}
    for tray, (rc, fb) in had.items():
        bath = Bath(tray, "a", 1.0)  # type: ignore[arg-type]
        assert (room_left(bath, RULES, "RC"), room_left(bath, RULES, "FB")) == (rc, fb)
        assert room_left(replace(bath, litres=2.5), RULES, "FB") == 2.5 * fb
    assert room_left(Bath("fix", "a", 1.0), RULES, "FB", aid=False) == 10
    assert room_left(Bath("stop", "a", 1.0), RULES, "FB") is None
    # the second of two fixes follows the first
    assert why_away(Bath("fix 2", "a", 1.0, fb=60), RULES, TODAY) == ()


def test_a_bath_that_had_both_supports_is_used_by_each_in_its_measure() -> None:
    """Twenty FB of forty and forty RC of eighty are all of one fix."""
    bath = Bath("fix", "a", 1.0, rc=40, fb=20)
    assert share_used(bath, RULES) == 1.0
    assert why_away(bath, RULES, TODAY) == ("used up",)
    assert why_away(replace(bath, fb=19), RULES, TODAY) == ()


def test_the_smaller_rule_wins() -> None:
    """Paper or date, whichever comes first; the last day itself will still do."""
    bath = Bath("fix", "a", 1.0, use_by=TODAY.isoformat())
    assert why_away(bath, RULES, TODAY) == ()
    assert why_away(bath, RULES, TODAY + timedelta(days=1)) == ("out of date",)
    assert why_away(replace(bath, fb=40), RULES, TODAY) == ("used up",)


def test_a_slow_developer_is_told() -> None:
    """First appearance at 14 s where 9 s are usual; nothing is told where no factor is set."""
    bath = Bath("developer", "a", 1.0, appearance_ms=14_000)
    assert why_away(bath, RULES, TODAY, usual_appearance_s=9.0) == ("slow",)
    assert why_away(bath, RULES, TODAY) == ()


@pytest.mark.parametrize(
    ("size", "image", "found"),
    [
        ("8x10 in", None, 1.0),
        ("8 × 10", None, 1.0),
        ("16x20", None, 4.0),
        ("9½ x 12 in", None, 1.425),
        ("24 × 30 cm", None, 1.395),
        ("240x300 mm", None, 1.395),
        ("5x7", None, 0.438),
        ("a postcard", None, None),
        ("", (240.0, 192.0), 0.893),
        ("0x0", None, None),
    ],
)
def test_paper_is_counted_by_its_size(size: str, image: tuple[float, float] | None, found: float | None) -> None:
    """In 8×10, by the size that is written on the recipe, else by its image."""
    assert eights(size, image) == found


def test_an_8x10_is_0_0516_square_metres() -> None:
    """8 by 10 inches of 25.4 mm (exact)."""
    assert pytest.approx(8 * 10 * 0.0254**2, abs=5e-5) == EIGHT_BY_TEN_M2


def test_a_fresh_bath_has_had_nothing_and_keeps_for_its_days() -> None:
    """As much as before, unless told; its date by the rules, or as it was typed, or none."""
    rules = RULES.model_copy(update={"developer": BathRule(litres=1.0, days=30)})
    before: dict[BathName, Bath] = {"developer": Bath("developer", "old", 1.5, fb=12, prints=12, appearance_ms=14_000)}
    (fresh,) = made_fresh("developer", before, rules, TODAY, ids())
    assert fresh == Bath("developer", "bath1", 1.5, use_by="2026-12-30")
    (fresh,) = made_fresh("developer", before, rules, TODAY, ids(), litres=2.0, use_by="")
    assert (fresh.litres, fresh.use_by) == (2.0, "")


def test_fix_2_moves_up_with_its_own_age_and_litres() -> None:
    """What stood second stands first, by its own id and date, and counts anew; a fresh one stands second."""
    standing: dict[BathName, Bath] = {
        "fix 1": Bath("fix 1", "a", 1.0, fb=50, prints=50),
        "fix 2": Bath("fix 2", "b", 2.0, use_by="2026-12-24", fb=50, prints=50),
    }
    first, second = made_fresh("fix 1", standing, RULES, TODAY, ids())
    assert first == Bath("fix 1", "b", 2.0, use_by="2026-12-24", moved_up=True, changes=1)
    assert (second.tray, second.id, second.prints, second.changes) == ("fix 2", "bath1", 0, 1)
    both = made_fresh("fix 1", standing, RULES, TODAY, ids(), both=True)
    assert [(bath.tray, bath.moved_up, bath.changes) for bath in both] == [("fix 1", False, 0), ("fix 2", False, 0)]
    assert both[0].id != both[1].id


def test_a_fresh_second_fix_alone_leaves_the_first() -> None:
    """And the pair goes on counting how often it was moved up."""
    standing: dict[BathName, Bath] = {
        "fix 1": Bath("fix 1", "a", 1.0, changes=2),
        "fix 2": Bath("fix 2", "b", 1.0, changes=2),
    }
    (second,) = made_fresh("fix 2", standing, RULES, TODAY, ids())
    assert (second.tray, second.changes) == ("fix 2", 2)


def a_year(rules: BathRules, dice: random.Random, support: Support = "FB") -> tuple[list[str], list[float]]:
    """Work a year of evenings with two fixes; return what was done to them, and what each first fix had had by then."""
    new_id, day = ids(), date(2026, 1, 1)
    standing: dict[BathName, Bath] = {bath.tray: bath for bath in made_fresh("fix 1", {}, rules, day, new_id)}
    done, had = list[str](), list[float]()
    for evening in range(365):
        day = date(2026, 1, 1) + timedelta(days=evening)
        for _ in range(dice.choice((0, 0, 3, 8, 14))):
            for tray in ("fix 1", "fix 2"):
                bath = standing[tray]  # type: ignore[index]
                more = {"prints": bath.prints + 1, "fb": bath.fb + 1.0} if support == "FB" else {"rc": bath.rc + 1.0}
                standing[tray] = replace(bath, **more)  # type: ignore[index,arg-type]
            if why_away(standing["fix 1"], rules, day):
                up = moves_up(standing, rules)
                had.append(standing["fix 1"].fb + standing["fix 1"].rc)
                for bath in made_fresh("fix 1", standing, rules, day, new_id):
                    standing[bath.tray] = bath
                done.append("up" if up else "both")
    return done, had


@pytest.mark.parametrize("seed", range(4))
def test_two_fixes_take_turns_over_a_year_of_evenings(seed: int) -> None:
    """After each 50 a litre the second moves up; four times, the first and three more; then both are fresh.

    Common practice of the trade. No first fix ever has more than its 50, and each bath serves at most twice as long.
    """
    done, had = a_year(RULES, random.Random(seed))
    assert len(done) >= 20
    assert done == (["up", "up", "up", "up", "both"] * 20)[: len(done)]
    assert set(had) == {50.0}


def test_a_date_ends_a_pair_of_fixes_before_its_paper_does() -> None:
    """With a week to keep, slow evenings change fixes by date: no first fix reaches its 50, so the smaller rule won."""
    weekly = RULES.model_copy(update={"two_fixes": BathRule(litres=5.0, rc=50, fb=50, days=7)})
    done, had = a_year(weekly, random.Random(1))
    assert len(done) > 20
    assert max(had) < 250


@given(
    st.lists(st.tuples(st.sampled_from(("RC", "FB")), st.floats(0.1, 6.0)), max_size=60),
    st.floats(0.5, 5.0),
)
def test_room_that_is_left_never_makes_a_bath_used_up(prints: list[tuple[str, float]], litres: float) -> None:
    """Whatever it has had, as many more as are left keep within its capacity, and one more does not."""
    bath = Bath(
        "fix",
        "a",
        litres,
        rc=sum(size for support, size in prints if support == "RC"),
        fb=sum(size for support, size in prints if support == "FB"),
    )
    left = room_left(bath, RULES, "FB")
    assert left is not None
    if share_used(bath, RULES) <= 1:
        assert share_used(replace(bath, fb=bath.fb + left), RULES) <= 1 + 1e-6
        assert share_used(replace(bath, fb=bath.fb + left + 1), RULES) > 1 - 1e-6
    else:
        assert left == 0
