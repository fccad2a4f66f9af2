"""Which negative the practice darkroom prints: what is chosen, what stands at the enlarger, what the recipe names."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from tools.on_the_roll import reference_of
from tools.picture_darkroom import recipe, strip, worked

from controller.model import Frozen
from controller.picture.contact_sheets import CONTACT_SHEETS
from controller.picture.negatives import INVENTED, ROLL
from controller.picture.raster import raster
from controller.picture.scene import negatives_named
from controller.practice.board import bare_scene, easel_of
from controller.practice.in_carrier import CARRIER, FIRST, InCarrier, mapped, negative_of, short_name
from controller.practice.practice_scene import PracticeScene
from controller.recipe.compile_recipe import compile_any
from controller.recipe.plan import Plan
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip


class AtEnlarger(Frozen):
    """What is told of the enlarger; a stand-in with the fields that are read."""

    negative: str = ""
    negative_title: str = ""
    negative_format: str = ""
    magnification: float | None = None
    aperture: float | None = None
    focal_mm: float | None = None


def planned(model: Recipe | Strip, bench: AtEnlarger | None = None, **of_strip: Any) -> Plan:
    """Return a plan as it is begun with this at the enlarger, with what a strip's plan is told besides."""
    plan = compile_any(model, source="made", version=1)
    strip_plan = plan.strip
    if strip_plan is not None and of_strip:
        strip_plan = strip_plan.model_copy(update=of_strip)
    return plan.model_copy(update={"bench": bench, "strip": strip_plan})


PLAIN = recipe(("2", 10.0))
STRIP = strip(filter="2", times={"kind": "seconds", "step": 3, "bands": 5})


@pytest.mark.parametrize("name", INVENTED)
def test_the_plan_says_what_stood_at_the_enlarger(name: str) -> None:
    """The negative of a sheet is the one that its plan was stamped with, by reference, or by its title alone."""
    by_reference = AtEnlarger(negative=reference_of(name), negative_title="whatever it is called now")
    assert negative_of(planned(PLAIN, by_reference)).name == name
    by_title = AtEnlarger(negative_title=InCarrier(name=name).title.upper())
    assert negative_of(planned(PLAIN, by_title)).name == name


def test_without_a_plan_what_stands_there_now_is_seen() -> None:
    """With nothing loaded the baseboard shows the negative that stands at the enlarger; a plan's own goes before it."""
    standing = AtEnlarger(negative="practice-film:5")
    assert negative_of(None, standing=standing).name == "oak"
    assert negative_of(planned(PLAIN, AtEnlarger(negative="practice-film:2")), standing=standing).name == "pier"


def test_what_is_chosen_on_the_practice_page_goes_before_it() -> None:
    """A negative or a picture of one's own that was chosen there is printed whatever stands at the enlarger."""
    plan = planned(PLAIN, AtEnlarger(negative="practice-film:5"))
    for chosen in ("slip", "own", "film"):
        assert negative_of(plan, PLAIN, chosen).name == chosen
    assert negative_of(plan, PLAIN, CARRIER).name == "oak"
    assert PracticeScene().negative == CARRIER


def test_where_nothing_of_ours_stands_there_the_recipe_tells() -> None:
    """A set of the printer's own, or an empty bench: the recipe's negative counts by its name, else the crane."""
    named = recipe(("2", 10.0), negative={"name": "Frost on a fence", "format": "4x5"})
    others = AtEnlarger(negative="abcdefgh:7", negative_title="harbour crane")
    for bench in (None, AtEnlarger(), others):
        assert negative_of(planned(named, bench), named).name == "fence"
        assert negative_of(planned(PLAIN, bench), PLAIN).name == FIRST


def test_a_proof_strip_is_of_the_whole_contact_sheet() -> None:
    """A strip made as a contact proof prints the sheet that the negative at the enlarger lies on; no other does."""
    for negative, sheet in (("practice-film:3", "film"), ("practice-sheets:2", "proof"), ("", "proof")):
        bench = AtEnlarger(negative=negative)
        assert negative_of(planned(STRIP, bench, template="proof"), STRIP).name == sheet
        assert negative_of(planned(STRIP, bench, template="first"), STRIP).name not in ("film", "proof")
    assert negative_of(planned(STRIP, None, template="proof"), STRIP, "oak").name == "film"


@pytest.mark.parametrize("sheet", CONTACT_SHEETS, ids=lambda sheet: sheet.name)
def test_a_recipe_of_a_set_is_its_contact_proof(sheet: Any) -> None:
    """A recipe whose negative is called as a set is, and a bench that holds a set without a frame, print all of it."""
    of_set = recipe(("2", 15.0), negative={"name": sheet.title})
    assert negative_of(planned(of_set), of_set).name == sheet.name
    one = AtEnlarger(negative=reference_of(sheet.negatives[-1]))
    assert negative_of(planned(of_set, one), of_set).name == sheet.name
    assert negative_of(planned(PLAIN, AtEnlarger(negative=sheet.id)), PLAIN).name == sheet.name
    assert short_name(sheet.title) == sheet.name


def test_how_the_enlarger_stands_comes_with_it() -> None:
    """Magnification, aperture and lens of the enlarger are those of the practice baseboard, where they are known."""
    bench = AtEnlarger(negative="practice-film:5", magnification=4.0, aperture=5.6, focal_mm=50.0)
    lies = negative_of(planned(PLAIN, bench), PLAIN)
    assert (lies.magnification, lies.lens) == (4.0, {"aperture": 5.6, "focal_mm": 50.0})
    scene = bare_scene(negatives_named(lies.name), PracticeScene(), lies)
    assert scene.open_mm == pytest.approx((144.0, 96.0))
    assert (scene.enlarger.magnification, scene.enlarger.aperture, scene.enlarger.focal_mm) == (4.0, 5.6, 50.0)
    unknown = bare_scene(negatives_named("oak"), PracticeScene(), InCarrier(name="oak"))
    assert unknown.enlarger.magnification == pytest.approx(6.6)


def test_a_setup_for_another_format_is_not_this_ones() -> None:
    """What is chosen on the practice page has another format than what stands there: it fits its paper instead."""
    bench = AtEnlarger(negative_title="harbour crane", negative_format="4x5", magnification=2.0, aperture=11.0)
    assert negative_of(planned(PLAIN, bench), PLAIN, "oak") == InCarrier(name="oak")
    assert negative_of(planned(PLAIN, bench), PLAIN, "slip").magnification == 2.0
    film = AtEnlarger(negative="practice-film:1", magnification=6.0)
    assert negative_of(planned(STRIP, film, template="proof"), STRIP).magnification == 6.0
    assert negative_of(planned(PLAIN, film), PLAIN, "crane").magnification is None


def test_the_baseboard_shows_the_negative_and_its_areas() -> None:
    """Each negative gives another picture on the baseboard; the easel is as wide to high as its picture."""
    seen = []
    for name in ("crane", *ROLL[:3]):
        scene = bare_scene(negatives_named(name), PracticeScene(), InCarrier(name=name))
        seen.append(raster(scene).image)
        easel = easel_of(scene)
        assert easel.across_by_down == pytest.approx(1.25 if name == "crane" else 1.5, abs=0.01)
        assert len(easel.middles) == 8
    for number, one in enumerate(seen):
        assert all(np.abs(one - two).mean() > 0.01 for two in seen[number + 1 :])


def test_a_map_shows_the_recipes_own_negative_first() -> None:
    """A recipe's printing map lies on the negative that it names, also while another stands at the enlarger."""
    named = recipe(("2", 10.0), negative={"name": "bare oak"})
    assert mapped(named, CARRIER, InCarrier(name="pier")) == "oak"
    assert mapped(PLAIN, CARRIER, InCarrier(name="pier")) == "pier"
    assert mapped(named, "slip", InCarrier(name="slip")) == "slip"


def test_a_plan_of_before_is_read() -> None:
    """A plan that has neither bench nor template, as today's have, prints what it did: the crane, or what is chosen."""
    plan = worked(STRIP).records[0].plan
    assert negative_of(plan, STRIP).name == FIRST
    assert negative_of(plan, STRIP, "fence").name == "fence"
