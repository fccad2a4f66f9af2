"""By what a light's level is kept: a lens that is stopped down for some steps is another light."""

from __future__ import annotations

from dataclasses import replace

from tools.foot_bench import one_step, sheet_plan

from controller.foot.state import Work
from controller.lamp.level_watch import key_of
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Hands

BENCH = AtEnlarger(aperture=8.0, negative_format="4x5")


def test_a_lens_two_stops_down_is_another_light_until_it_is_open_again() -> None:
    """Else the light that comes once it is open would be taken for a lens left open, and be stopped."""
    hands = (Hands.NEGATIVE_OUT, Hands.TWO_STOPS_DOWN, None, Hands.TWO_STOPS_OPEN)
    plan = sheet_plan(*(one_step(n, hands=each) for n, each in enumerate(hands, 1)))
    keys = [key_of(replace(Work.fresh(plan), index=n), BENCH) for n in range(len(hands))]
    assert [key.f_number for key in keys] == ["8", "8, two stops down", "8, two stops down", "8"]
    assert {key.carrier for key in keys} == {"negative out"}
