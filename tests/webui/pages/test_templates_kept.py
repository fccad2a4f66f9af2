"""A strip that a template made goes through its form unharmed: what is not asked for there comes and goes as it is."""

from __future__ import annotations

from decimal import Decimal

from tools.shelf_phone import Phone
from tools.stand_in_desk import day_desk

from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.files import write
from controller.recipe.recipe import FilterTime
from controller.recipe.strip import StopTimes, Strip
from controller.recipe.strip_templates import make


def test_an_edit_keeps_what_the_strip_is_for() -> None:
    """Fewer bands typed into the form of a hard strip: it is still a hard strip over soft, with soft light alone."""
    base = [FilterTime(filter="soft", seconds=Decimal("12.7"))]
    strip = make("hard over soft", AtEnlarger(aperture=8.0, head_height_mm=620.0), base=base)
    with day_desk() as desk:
        kept = desk.recipes().save(write(strip))
        phone = Phone(desk)
        page = phone.look(f"/shelf/{kept.id}/edit")
        answer = phone.send("/shelf/write/strip", page.typed(bands="6"), do="keep")
        assert answer.status_code == 303
        after = desk.recipes().model(kept.id)
    assert isinstance(after, Strip)
    assert isinstance(after.times, StopTimes)
    assert (after.template, after.times.none_first, after.times.bands) == ("hard over soft", True, 6)
    assert after.under == strip.under
