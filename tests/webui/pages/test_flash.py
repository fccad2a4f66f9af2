"""Flash and light source on the pages that find soft and hard: chosen, found by a threshold strip, shown, and kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest
from tools.fitted_papers import demo
from tools.hidden_papers import paper_one
from tools.history import whole_sheet
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.enlarger.enlargers import read_tree as enlarger_from
from controller.paper.flash import most_seconds
from controller.paper.paper import Paper, Reciprocity, Setup
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe, write
from controller.recipe.plan import Hands, StepKind
from controller.recipe.recipe import FilterTime, Flash, Recipe
from controller.recipe.strip_templates import make
from controller.store.said_of_sheets import Picked

READ_AT = Setup(magnification=2.0, aperture=8.0, head_height_mm=620.0, soft_filter="00", hard_filter="5")
TONES = {"by": "negative", "light-negative": "1.35", "dark-negative": "0.20", "light-own": "0.13", "dark-own": "1.93"}
BENCH = AtEnlarger(paper_title="paper one", box="7", magnification=2.0, head_height_mm=620.0, aperture=8.0)


@pytest.fixture(scope="module")
def one() -> Paper:
    return demo().model_copy(update={"name": "paper one", "setup": READ_AT})


@pytest.fixture
def desk(one: Paper) -> Iterator[StandInDesk]:
    with day_desk(one) as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def ask(phone: Phone, status: int = 200, **typed: Any) -> Page:
    named = {name.replace("_", "-"): value for name, value in typed.items()}
    paper = phone.desk.papers().kept()[0].id
    fields = {"go": "1", "paper": paper, "light": "first", "dark": "last", **TONES, **named}
    return phone.look(f"/contrast?{urlencode(fields)}", status)


def pair_of(page: Page) -> tuple[float, float]:
    soft, hard = re.search(r"([\d.]+) s soft \+ ([\d.]+) s hard", page.words).groups()  # type: ignore[union-attr]
    return float(soft), float(hard)


def stand(desk: StandInDesk, **figures: Any) -> None:
    tree = {"format": "treadle/enlarger/1", "name": "the big one", **figures}
    kept = desk.at_enlarger().enlargers().keep(enlarger_from(tree, "e"))
    desk.show(bench=AtEnlarger(enlarger=kept.id, enlarger_title="the big one"))


def find_level(desk: StandInDesk, *, at: AtEnlarger = BENCH, seconds: float = 0.3, opal: bool = False) -> None:
    """Work a threshold strip with what stands, and pick its fourth band."""
    base = [FilterTime(filter="soft", seconds=Decimal(12))]
    strip = make("flash", at, centre_ms=round(seconds * 1000), base=base)
    if opal:
        strip = strip.model_copy(update={"opal": True})
    kept = desk.recipes().save(write(strip))
    plan = desk.recipes().plan(kept.id, kept.version).model_copy(update={"bench": at})
    journal = desk.read_journal()
    journal.append(*whole_sheet("level", 12, plan))
    journal.append(Picked(sheet="level", band=4, filter="soft", seconds=seconds, level=True))
    desk.lookups.follow("rows")


def kept_recipe(phone: Phone, page: Page, **typed: str) -> Recipe:
    answer = phone.send("/contrast/keep", page.typed(**({"title": "Quay"} | typed)))
    assert answer.status_code == 303, answer.text
    source = answer.headers["Location"].removeprefix("/shelf/").partition("?")[0]
    kept = phone.desk.recipes().fetch(source)
    read = read_recipe(kept.body, kept.title)
    assert isinstance(read, Recipe)
    return read


# ---- diffuser or condenser


def test_the_enlargers_light_source_is_in_both_densities(phone: Phone, desk: StandInDesk) -> None:
    """A condenser of Q 1.1 that stands gives the pair of densities times 1.1; nothing is asked, the note says it."""
    bare = ask(phone)
    assert "Say once which light source" in bare.words
    stand(desk, light_source="condenser", callier=1.1)
    page = ask(phone)
    assert "both densities times 1.1" in page.words
    assert "readings at the easel" in page.words
    stand(desk, light_source="diffuser")
    assert pair_of(ask(phone)) == pair_of(bare)
    assert pair_of(page) == pair_of(ask(phone, light_negative="1.485", dark_negative="0.22")) != pair_of(bare)
    stand(desk, light_source="condenser", callier=1.1)
    notes = kept_recipe(phone, page).notes or ""
    assert "negative 1.35" in notes
    assert "Callier 1.1" in notes


def test_a_condenser_without_a_figure_counts_as_the_usual_one(phone: Phone, desk: StandInDesk) -> None:
    """Usual is 1.2, as the page of a negative's range has it (from memory, marked so there); that page asks no more."""
    stand(desk, light_source="condenser")
    assert "times 1.2" in ask(phone).words
    typed = {"go": "1", "by": "measured", "thin": "0.2", "dense": "1.2", "paper": ""}
    negative = phone.look(f"/contrast/negative?{urlencode(typed)}")
    assert "times 1.2" in negative.words
    assert "1.20" in negative.words
    assert "in-source" not in negative.ids


def test_strips_contain_the_light_source(phone: Phone, desk: StandInDesk) -> None:
    """Two picks were made by the enlarger itself: Q is not applied to them."""
    picks = {"by": "picks", "soft_pick": "10.1", "hard_pick": "8"}
    bare = pair_of(ask(phone, **picks))
    stand(desk, light_source="condenser", callier=1.3)
    assert pair_of(ask(phone, **picks)) == bare


# ---- a flash


def test_a_flash_of_so_many_seconds(phone: Phone, one: Paper) -> None:
    """0.3 s give 4.8 + 10.2 instead of 12.3 + 5.5 (paper one), what the flash alone prints is shown, and is kept."""
    assert pair_of(ask(phone)) == pytest.approx((12.3, 5.5), abs=0.1001)
    page = ask(phone, flash="seconds", flash_seconds="0.3")
    assert pair_of(page) == pytest.approx((4.8, 10.2), abs=0.1001)
    alone = float(paper_one().densities(0.0, 0.0, 0.0, soft_flash=0.3)) - 0.05
    shown = re.search(r"It alone prints ([\d.]+) over white", page.words)
    assert shown is not None
    assert float(shown[1]) == pytest.approx(alone, abs=0.003)
    recipe = kept_recipe(phone, page)
    steps = compile_any(recipe, source="r", version=1).steps
    assert (steps[0].act, steps[0].filter, steps[0].planned_ms) == (StepKind.FLASH, "soft", 300)
    assert [step.hands for step in steps] == [Hands.NEGATIVE_OUT, Hands.NEGATIVE_BACK, None]
    soft, hard = (float(light.seconds) for light in recipe.light)
    printed = paper_one().densities(soft, hard, np.array([1.35, 0.20]), soft_flash=0.3)
    assert printed == pytest.approx([0.13, 1.93], abs=0.03)


def test_a_flash_by_its_density(phone: Phone, one: Paper) -> None:
    """A flash that is to print 0.02 by itself has the seconds that do, cut to 0.01 s."""
    page = ask(phone, flash="density", flash_density="0.02")
    said = re.search(r"Flash first: ([\d.]+) s", page.words)
    assert said is not None
    assert float(said[1]) == pytest.approx(most_seconds(one, density=0.02), abs=0.01)
    assert "It alone prints 0.0" in page.words


def test_a_flash_that_prints_is_refused_at_its_field(phone: Phone) -> None:
    page = ask(phone, 422, flash="seconds", flash_seconds="0.6")
    assert "over 0.04 white is white no more" in page.told()["flash"]
    assert "at most 0.49 s" in page.told()["flash"]
    assert "missing" in ask(phone, 422, flash="seconds", flash_seconds="").told()["flash-seconds"]


def test_out_of_reach_offers_the_least_flash(phone: Phone) -> None:
    """A negative of 1.60 cannot be had; the flash that reaches it is named, and one tap calculates with it."""
    page = ask(phone, light_negative="1.60")
    assert "Out of reach" in page.words
    assert "Over a flash of 0.1 s through soft both can be had." in page.words
    there = ask(phone, light_negative="1.60", flash="seconds", flash_seconds="0.1", flash_through="soft")
    assert "Both tones come where you want them." in there.words
    assert "Over a flash of" not in ask(phone, light_own="1.2").words


def test_a_recipe_brings_its_flash_and_loses_it_with_none(phone: Phone, desk: StandInDesk) -> None:
    """What a recipe says of its flash stands in the form; put in without one, the recipe has none any more."""
    made = kept_recipe(phone, ask(phone, flash="seconds", flash_seconds="0.3"))
    source = next(kept.id for kept in desk.recipes().kept("recipe") if kept.title == "Quay")
    form = dict(phone.look(f"/contrast?recipe={source}").typed())
    assert (form["flash"], form["flash-seconds"], form["flash-through"]) == ("seconds", "0.3", "soft")
    assert made.flash is not None
    held = phone.look(f"/contrast/hold?{urlencode({'go': '1', **dict(_hold(phone, source))})}")
    assert "Flash first: 0.30 s" in held.words
    assert kept_recipe(phone, ask(phone), into=source).flash is None


def _hold(phone: Phone, source: str) -> dict[str, str]:
    return dict(phone.look(f"/contrast/hold?recipe={source}").typed()) | {"recipe": source}


# ---- a level that was found


def test_a_level_that_was_found_is_offered_and_taken(phone: Phone, desk: StandInDesk) -> None:
    """The pick of a threshold strip stands in the list, whole and by half, and is the recipe's flash."""
    find_level(desk, seconds=0.4)
    page = phone.look(f"/contrast?paper={desk.papers().kept()[0].id}")
    assert "just under: 0.4 s soft, sheet 12" in page.words
    assert "half of it: 0.2 s soft, sheet 12" in page.words
    half = ask(phone, flash="half level")
    assert pair_of(half) == pytest.approx((7.4, 8.5), abs=0.1001)
    flash = kept_recipe(phone, half).flash
    assert flash is not None
    assert (flash.seconds, flash.filter, flash.way) == (Decimal("0.2"), "soft", "no negative")


def test_a_level_follows_height_and_aperture(phone: Phone, desk: StandInDesk) -> None:
    """Found at f/16, it is a quarter of the seconds at f/8; from magnification 2 to 2.75 1.5625 times as many."""
    find_level(desk, at=BENCH.model_copy(update={"aperture": 16.0}), seconds=1.2)
    assert "Flash first: 0.30 s" in ask(phone, flash="just under level").words
    assert "Flash first: 0.47 s" in ask(phone, flash="just under level", magnification="2.75").words
    assert "Flash first: 0.60 s" in ask(phone, flash="just under level", aperture="11").words


def test_a_level_on_a_paper_that_fails_in_long_light_follows_as_its_lights_do(
    phone: Phone, desk: StandInDesk, one: Paper
) -> None:
    """From f/16 to f/8 not a quarter but 4^(−1/0.9) of the seconds, on the contrast page as in a recipe's form."""
    failing = one.model_copy(update={"reciprocity": Reciprocity(exponent=0.9, date=date(2026, 11, 30))})
    desk.papers().keep(failing, desk.papers().kept()[0].id)
    find_level(desk, at=BENCH.model_copy(update={"aperture": 16.0}), seconds=1.2)
    assert "Flash first: 0.26 s" in ask(phone, flash="just under level").words
    page = phone.look("/shelf/new/recipe")
    typed = {"title": "Quay", "paper_name": "paper one", "light_0_seconds": "12", "magnification": "2"}
    taken = phone.press("/shelf/write/recipe", page, "level just under level", **typed, lens_aperture="8")
    assert dict(taken.fields)["flash-seconds"] == "0.26"


@pytest.mark.parametrize(
    ("at", "typed", "words"),
    [
        ({"paper_title": "another"}, {}, "found on another"),
        ({"aperture": None}, {}, "The aperture is not known"),
        ({"magnification": None, "head_height_mm": 700.0}, {}, "with the head at 700 mm, and it stands at 620 mm"),
        ({"magnification": None, "head_height_mm": None}, {}, "found at some height"),
        ({}, {"aperture": "2.8"}, "shorter than a light can be"),
        ({}, {"flash": "just under gone"}, "not there any more"),
    ],
)
def test_a_level_that_says_nothing_here_is_refused(
    phone: Phone, desk: StandInDesk, at: dict[str, Any], typed: dict[str, str], words: str
) -> None:
    find_level(desk, at=BENCH.model_copy(update=at))
    assert words in ask(phone, 422, **({"flash": "just under level"} | typed)).told()["flash"]


def test_an_opal_is_known_by_its_level_alone(phone: Phone, desk: StandInDesk) -> None:
    """A level found with the opal is flashed with it; on the curve it counts as half of what would show."""
    find_level(desk, seconds=4.0, opal=True)
    page = ask(phone, flash="just under level")
    assert "with the opal under the lens" in page.words
    assert "0.020 over white" in page.words
    flash = kept_recipe(phone, page).flash
    assert flash is not None
    assert (flash.seconds, flash.way) == (Decimal(4), "opal under the lens")


@pytest.mark.parametrize(("share", "density"), [("just under", "0.020"), ("half", "0.001")])
def test_a_recipe_brings_its_flash_through_an_opal(phone: Phone, desk: StandInDesk, share: str, density: str) -> None:
    """Its level is chosen, so that the pair is found over it and the recipe keeps it; so does another contrast."""
    find_level(desk, seconds=4.0, opal=True)
    made = kept_recipe(phone, ask(phone, flash=f"{share} level"))
    source = next(kept.id for kept in desk.recipes().kept("recipe") if kept.title == "Quay")
    form = dict(phone.look(f"/contrast?recipe={source}").typed())
    assert form["flash"] == f"{share} level"
    again = ask(phone, flash=form["flash"])
    assert f"{density} over white" in again.words
    assert kept_recipe(phone, again, into=source).flash == made.flash
    held = phone.look(f"/contrast/hold?{urlencode({'go': '1', **dict(_hold(phone, source))})}")
    assert "with the opal under the lens" in held.words
    assert f"{density} over white" in held.words


# ---- in the forms of recipes and strips


def test_one_tap_takes_a_level_into_a_recipe(phone: Phone, desk: StandInDesk) -> None:
    """The button of a level fills the flash in, at the recipe's own aperture; it is kept with the next version."""
    find_level(desk, at=BENCH.model_copy(update={"aperture": 16.0}), seconds=1.2)
    page = phone.look("/shelf/new/recipe")
    assert "just under: 1.2 s soft, sheet 12" in page.words
    typed = {"title": "Quay", "paper_name": "paper one", "light_0_seconds": "12", "magnification": "2"}
    taken = phone.press("/shelf/write/recipe", page, "level just under level", **typed, lens_aperture="8")
    fields = dict(taken.fields)
    assert (fields["flash-seconds"], fields["flash-filter"], fields["flash-way"]) == ("0.3", "soft", "no negative")
    assert "highlights print up to a stop darker" not in taken.words
    refused = phone.press("/shelf/write/recipe", page, "level just under level", **typed, lens_aperture="", status=422)
    assert "The aperture is not known" in refused.told()["flash-seconds"]
    assert dict(refused.fields)["light-0-seconds"] == "12"


def test_a_flash_on_a_paper_that_is_not_read_is_warned_of(phone: Phone, desk: StandInDesk) -> None:
    """Highlights print up to a stop darker over it, and the strip is to be made again."""
    flash = {"flash_seconds": "0.3", "flash_filter": "soft", "title": "Quay", "light_0_seconds": "12"}
    new = phone.look("/shelf/new/recipe")
    warned = phone.press("/shelf/write/recipe", new, "look", **flash, paper_name="some other paper")
    assert "make the strip again over the flash" in warned.words
    quiet = phone.press("/shelf/write/recipe", new, "look", **flash, paper_name="paper one")
    assert "make the strip again" not in quiet.words


def test_an_opal_without_its_level_is_warned_of(phone: Phone, desk: StandInDesk) -> None:
    flash = {"flash_seconds": "4", "title": "Quay", "light_0_seconds": "12", "paper_name": "paper one"}
    flash["flash_way"] = "opal under the lens"
    new = phone.look("/shelf/new/recipe")
    assert "No flash level was found with an opal" in phone.press("/shelf/write/recipe", new, "look", **flash).words
    find_level(desk, seconds=4.0, opal=True)
    assert "No flash level was found" not in phone.press("/shelf/write/recipe", new, "look", **flash).words


def test_the_threshold_strip_is_one_tap_and_its_pick_is_kept(phone: Phone, desk: StandInDesk) -> None:
    """From the usual strips to the kept level: no negative, by sixths; its page says what is kept, and leads on."""
    page = phone.press("/shelf/write/strip", phone.look("/shelf/new/strip"), "usual flash")
    assert dict(page.fields)["template"] == "flash"
    answer = phone.send("/shelf/write/strip", page.typed(), do="keep")
    kept = desk.recipes().fetch(answer.headers["Location"].removeprefix("/shelf/").partition("?")[0])
    desk.work(kept, "threshold")
    look = phone.look("/pick/threshold?band=4")
    assert "Keep as the flash level" in look.words
    assert "kept as the flash level of this paper" in look.words
    assert "Use this time" not in look.words
    picked, made = desk.recipes().take_pick(desk.records["threshold"], 4, between=False, recipe="")
    assert (picked.level, made) == (True, None)
    done = phone.look("/pick/threshold?band=4&done=1")
    assert any("flash=just" in link for link in done.links)


def test_a_pick_over_a_flash_takes_the_flash_along(phone: Phone, desk: StandInDesk) -> None:
    """A base strip with the flash under it makes a recipe with that flash; the strip's sheet begins with it."""
    tree = make("first", BENCH, centre_ms=12_000, flash=Flash(seconds=Decimal("0.3"), way="no negative"))
    kept = desk.recipes().save(write(tree))
    record = desk.work(kept, "over flash")
    assert [step.act for step in record.plan.steps][:2] == [StepKind.FLASH, StepKind.BAND]
    assert [step.hands for step in record.plan.steps][:2] == [Hands.NEGATIVE_OUT, Hands.NEGATIVE_BACK]
    picked, made = desk.recipes().take_pick(record, 4, between=False, recipe="", title="Quay")
    assert made is not None
    assert "level" not in picked.model_dump_json()
    assert desk.recipes().recipe(made.id).flash == tree.flash


def test_sheets_are_flashed_beforehand(phone: Phone, desk: StandInDesk) -> None:
    """From a recipe with a flash: a plan of five sheets, kept as typed, edited as it is, and no strip to pick from."""
    made = kept_recipe(phone, ask(phone, flash="seconds", flash_seconds="0.3"))
    source = next(kept.id for kept in desk.recipes().kept("recipe") if kept.title == "Quay")
    page = phone.look(f"/shelf/{source}")
    refused = phone.send(f"/shelf/{source}/flash-sheets", page.typed(sheets="1"))
    assert refused.status_code == 422
    assert "whole number from 2 to 50" in refused.text
    answer = phone.send(f"/shelf/{source}/flash-sheets", page.typed(sheets="5"))
    assert answer.status_code == 303
    kept = answer.headers["Location"].removeprefix("/shelf/").partition("?")[0]
    strip = desk.recipes().model(kept)
    assert strip.title == "Flash 5 sheets, 0.3 s soft"
    assert strip.lens == made.lens
    edited = phone.send("/shelf/write/strip", phone.look(f"/shelf/{kept}/edit").typed(bands="6"), do="keep")
    assert edited.status_code == 303, edited.text
    record = desk.work(desk.recipes().fetch(kept), "flashed")
    assert [step.name for step in record.plan.steps][-1] == "sheet 6 of 6"
    page = phone.look("/sheets/flashed")
    assert not any(link.startswith("/pick/") for link in page.links)
    phone.look("/pick/flashed", 422)
    assert "sheets flashed" in phone.look("/sheets").words


def test_a_sheet_flashed_beforehand_says_so_and_sums_it(phone: Phone, desk: StandInDesk) -> None:
    """Its record and its review say what it had beforehand; the record counts it in."""
    kept_recipe(phone, ask(phone, flash="seconds", flash_seconds="0.3"))
    source = next(kept.id for kept in desk.recipes().kept("recipe") if kept.title == "Quay")
    form = phone.look(f"/shelf/{source}/edit")
    answer = phone.send("/shelf/write/recipe", [*form.typed(), ("flash-beforehand", "yes")], do="keep")
    assert answer.status_code == 303, answer.text
    kept = desk.recipes().fetch(source)
    assert "Take a sheet that was flashed beforehand: 0.3 s through soft" in phone.look(f"/shelf/{source}").words
    record = desk.work(kept, "printed")
    whole = sum(step.planned_ms for step in record.plan.steps) + 300
    words = phone.look("/sheets/printed").words
    assert f"Flashed beforehand: 0.3 s, soft. With it {whole / 1000:.1f} s of light in all." in words


def test_without_a_flash_no_sheets_are_flashed(desk: StandInDesk, phone: Phone) -> None:
    """A form that was open while the flash was taken out in another window: a sentence, and nothing is kept."""
    before = len(desk.recipes().kept("strip"))
    page = phone.look(f"/shelf/{desk.crane.id}")
    own = [(name, value) for name, value in page.fields if name in ("token", "number", "run")]
    answer = phone.send(f"/shelf/{desk.crane.id}/flash-sheets", [*own, ("sheets", "3")])
    assert answer.status_code == 422
    assert len(desk.recipes().kept("strip")) == before
