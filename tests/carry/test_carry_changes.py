"""From what a printer wants to what is reckoned: one kept paper against another, sizes and what a recipe leaves out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from tools.crane_paper import crane
from tools.hidden_papers import BOX, Hidden, paper_one, paper_two
from tools.known_papers import READ_AT, known

from controller.carry.carry_over import CarryDesk, distances, said_too, size_change
from controller.carry.other_paper import Flashes, corrections, corrections_of
from controller.carry.wanted import CarryWanted, KeptPapers, SizeWanted
from controller.contrast.recipe_lights import lights_of, put_lights, stand_of
from controller.errors import Impossible
from controller.paper.boxes import changed_speed
from controller.paper.flash import Flash
from controller.paper.paper import Paper, Setup
from controller.paper.tones import OVER_WHITE
from controller.recipe.recipe import Recipe
from controller.words import say

WANTED = KeptPapers(before="one", after="two")
ELSEWHERE = READ_AT.model_copy(update={"aperture": 11.0})
"""Where every light takes twice the seconds that it takes at f/8."""
FIRST, LAST = 0.08, 0.92


def stops(before: Paper, after: Paper, wanted: KeptPapers = WANTED, **recipe: Any) -> dict[str, float]:
    notes: list[str] = []
    found = corrections_of(crane(**recipe), wanted, before, after, notes)
    assert notes == []
    return {each.filter: each.stops for each in found}


def test_the_same_paper_needs_no_more() -> None:
    """From a paper to itself no light changes."""
    assert stops(known(), known()) == pytest.approx({"soft": 0.0, "hard": 0.0}, abs=1e-3)


def test_a_faster_box_needs_less_of_each_light() -> None:
    """A box a stop faster to soft and half a stop to hard needs a stop less of soft and half a stop less of hard."""
    faster = changed_speed(known(), BOX, 1.0, 0.5)
    assert stops(known(), faster) == pytest.approx({"soft": -1.0, "hard": -0.5}, abs=2e-3)


def test_readings_at_another_set_up_count_for_that() -> None:
    """One paper read at f/8, or at f/11 with twice the seconds, is one paper: no light changes, whichever comes first.

    The same figures at f/11 are of a paper a stop faster.
    """
    elsewhere = changed_speed(known(setup=ELSEWHERE), BOX, -1.0, -1.0)
    for one, two in ((known(), elsewhere), (elsewhere, known())):
        assert stops(one, two) == pytest.approx({"soft": 0.0, "hard": 0.0}, abs=1e-3)
    assert stops(known(), known(setup=ELSEWHERE)) == pytest.approx({"soft": -1.0, "hard": -1.0}, abs=1e-3)


def _tone(of: Hidden, density: float) -> float:
    """Return the negative's density that the demo print's two lights print so dark."""
    return float(brentq(lambda d: float(of.densities(10.1, 8.0, np.array(d))) - density, -4.0, 6.0))


@pytest.mark.parametrize(("light", "dark"), [(None, None), (0.30, 1.60)])
def test_the_two_tones_come_where_they_belong(light: float | None, dark: float | None) -> None:
    """On the other paper the light tone keeps its density over white and the dark one its share of the way to black.

    The tones are first tone and last detail (0.08 over white and 0.92 of the way, common practice) unless told.
    """
    one = replace(paper_one(), dmin=0.10)
    two = replace(paper_two(), dmin=0.06, contrast=np.full(3, 9.0))
    wanted = KeptPapers(before="one", after="two", light=light, dark=dark)
    more = stops(known(one), known(two), wanted)
    lights = 10.1 * 2.0 ** more["soft"], 8.0 * 2.0 ** more["hard"]
    tones = (light or 0.10 + FIRST, dark or 0.10 + LAST * 2.00)
    printed = two.densities(*lights, np.array([_tone(one, tone) for tone in tones]))
    assert printed[0] - 0.06 == pytest.approx(tones[0] - 0.10, abs=2e-3)
    assert (printed[1] - 0.06) / 2.14 == pytest.approx((tones[1] - 0.10) / 2.00, abs=2e-3)


def test_every_filter_of_the_recipe_is_corrected() -> None:
    """Work and flash through a filter's own number are corrected as the light that it is."""
    faster = changed_speed(known(), BOX, 1.0, 0.5)
    flash = {"seconds": 2, "filter": "5", "way": "no negative"}
    work = [{"area": "A", "act": "burn", "filter": "00", "seconds": 3}]
    found = stops(known(), faster, flash=flash, local=work)
    assert found == pytest.approx({"soft": -1.0, "hard": -0.5, "00": -1.0, "5": -0.5}, abs=2e-3)


def test_tones_off_the_scale_or_crossed_are_refused() -> None:
    """A tone that the old paper does not have fixes nothing, and a light tone darker than the dark one neither."""
    for tones in ({"light": 0.04}, {"dark": 2.2}, {"light": 1.5, "dark": 0.5}):
        with pytest.raises(Impossible):
            stops(known(), known(), KeptPapers(before="one", after="two", **tones))


# ---- dry-down, set-up, sizes


def test_lights_reach_the_paper_less_dry_down() -> None:
    """With 10 % of dry-down 10.1 s and 8.0 s reach the paper as 9.09 s and 7.2 s, and back again."""
    recipe = crane(dry_down_percent=10)
    lights = lights_of(recipe, READ_AT)
    assert (lights.soft, lights.hard) == pytest.approx((9.09, 7.2))
    again = put_lights(recipe, READ_AT, stand_of(recipe), (Decimal("9.09"), Decimal("7.2")))
    assert [light.seconds for light in again.light] == [Decimal("10.1"), Decimal("8.0")]


def test_what_a_recipe_says_itself_counts() -> None:
    """What is typed beside a recipe fills only what it leaves out: magnification, aperture, focal length."""
    typed = CarryWanted(now_magnification=Decimal(3), now_aperture=Decimal(4), focal_mm=Decimal(80))
    assert said_too(crane(), typed) == crane()
    bare = said_too(crane(magnification=None, lens=None, image_mm=None), typed)
    assert (bare.magnification, bare.lens and bare.lens.aperture, bare.lens and bare.lens.focal_mm) == (3, 4, 80)
    assert said_too(crane(lens={"aperture": 8}), typed).lens == crane(lens={"aperture": 8, "focal_mm": 80}).lens


def test_a_size_is_carried_with_all_that_was_typed_of_it() -> None:
    """Pupil, head height and paper size go along; of magnification, image and distance exactly one is told."""
    wanted = SizeWanted(magnification=Decimal(4), pupil=0.9, head_height_mm=Decimal(700), paper_size="16x20 in")
    found = size_change(crane(), wanted)
    assert (found.magnification, found.pupil, found.head_height_mm) == (4, 0.9, 700)
    assert found.paper_size == "16x20 in"
    for none_or_two in (SizeWanted(), SizeWanted(magnification=Decimal(4), image_mm=(Decimal(480), Decimal(384)))):
        with pytest.raises(Impossible):
            size_change(crane(), none_or_two)


@pytest.mark.parametrize(
    ("focal", "m", "easel", "negative"),
    [("152.4", 4, 762.0, 190.5), ("76.2", 8, 685.8, 85.725), ("177.8", 2, 533.4, 266.7)],
)
def test_distances_are_the_published_ones(focal: str, m: int, easel: float, negative: float) -> None:
    """6 in ×4 stands 30 in from the easel and 7½ in from the negative; 3 in ×8, 27 and 3⅜; 7 in ×2, 21 and 10½.

    Source: British Journal Almanac table and Sinclair Handbook (both seen). From the distance the size is found again.
    """
    lens = {"focal_mm": Decimal(focal), "aperture": 8}
    found = distances(crane(lens=lens), crane(lens=lens, magnification=Decimal(m)))
    assert found is not None
    assert float(found[1].lens_to_easel_mm) == pytest.approx(easel, abs=0.051)
    assert float(found[1].lens_to_negative_mm) == pytest.approx(negative, abs=0.051)
    back = size_change(crane(lens=lens), SizeWanted(lens_to_easel_mm=Decimal(str(easel))))
    assert float(back.magnification or 0) == pytest.approx(m, abs=1e-3)


def test_a_lens_nearer_than_its_focal_length_makes_no_image() -> None:
    """At its focal length from the easel, nearer, or hardly further, a lens throws no image there: refused."""
    for distance in ("100", "150", "150.5"):
        with pytest.raises(Impossible):
            size_change(crane(), SizeWanted(lens_to_easel_mm=Decimal(distance)))


@pytest.mark.parametrize(("filter_name", "bases"), [("soft", "both"), ("hard", "both"), ("soft", "hard")])
@pytest.mark.parametrize("here", [READ_AT, ELSEWHERE])
def test_a_flash_goes_to_another_paper_with_its_print(filter_name: str, bases: str, here: Setup) -> None:
    """By the two hidden papers themselves: what the flash prints alone stays, and the first tone over it stays too."""
    one, two = paper_one(), paper_two()

    def alone(of: Hidden, seconds: float) -> float:
        return float(of.densities(0.0, 0.0, [0.0], **{f"{filter_name}_flash": seconds})[0]) - of.dmin

    def first(of: Hidden, recipe: Recipe, negative: float) -> float:
        given = {each.filter: float(each.seconds) for each in recipe.light}
        assert recipe.flash is not None
        flash = {f"{filter_name}_flash": float(recipe.flash.seconds)}
        return float(of.densities(given.get("soft", 0.0), given.get("hard", 0.0), [negative], **flash)[0]) - of.dmin

    seconds = brentq(lambda tried: alone(one, tried) - 0.035, 1e-3, 30.0)
    light = [{"filter": "soft", "seconds": 10.1}] if bases == "both" else []
    light.append({"filter": "hard", "seconds": 8.0})
    flash = {"seconds": Decimal(f"{seconds:.3f}"), "filter": filter_name, "way": "no negative"}
    recipe = crane(light=light, local=[], flash=flash, lens={"aperture": 8})
    slower = 0.0 if here is READ_AT else -1.0  # the same paper, its seconds read at f/11
    papers = {"one": known(one), "two": changed_speed(known(two, setup=here), BOX, slower, slower)}
    shelf = SimpleNamespace(fetch=papers.__getitem__, called=lambda _name: "")
    desk = CarryDesk(None, shelf, lambda *_: recipe, lambda: 600_000, lambda _sheet: None)
    done = desk.preview("r", None, CarryWanted(paper=WANTED))
    made = done.carried.recipe
    assert say("paper.carry-flash-reckoned") in done.notes
    assert made.flash is not None
    assert alone(two, float(made.flash.seconds)) == pytest.approx(alone(one, seconds), abs=0.001)
    over = brentq(lambda tried: first(one, recipe, tried) - OVER_WHITE["first"], 0.0, 4.0)
    assert first(two, made, over) == pytest.approx(OVER_WHITE["first"], abs=0.001)


@pytest.mark.parametrize("hard", [8.0, 0.0])
def test_both_papers_tones_lie_over_their_flash(hard: float) -> None:
    """Where the new paper's flash is less, the lights make up for it: the light tone keeps its density."""
    one, two, soft = paper_one(), paper_two(), 14.0
    flashes = Flashes(before=Flash(seconds=0.4), after=Flash(seconds=0.02), stops=0.0)
    found = corrections(known(one), known(two), soft, hard, 1.25, 0.22, flashes)
    assert found.soft_stops is not None
    now = soft * 2.0**found.soft_stops, hard * 2.0 ** (found.hard_stops or 0.0)
    old = float(one.densities(soft, hard, [1.25], soft_flash=0.4)[0]) - one.dmin
    assert float(two.densities(*now, [1.25], soft_flash=0.02)[0]) - two.dmin == pytest.approx(old, abs=0.001)
    assert float(two.densities(*now, [1.25])[0]) - two.dmin < old - 0.002
