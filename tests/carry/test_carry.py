"""Recipes carried over: sizes, apertures, papers, flash and dry-down, against published figures."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from tools.crane_paper import CRANE, crane, seconds_of, to_paper_two
from tools.hidden_papers import BOX, paper_one, paper_two, readings

from controller.carry.carry import carry
from controller.carry.changes import Change, FilterStops, ToAperture, ToDryDown, ToFlash, ToPaper, ToSize
from controller.carry.other_paper import corrections
from controller.errors import Impossible
from controller.paper.emulsions import densities, mixture
from controller.paper.fit import fit
from controller.recipe.compile_recipe import compile_recipe
from controller.recipe.recipe import Flash, Paper, Recipe


@pytest.mark.parametrize(
    ("before", "after", "factor", "stops"),
    [("2", "4", 2.7778, 1.474), ("2", "2.8", 1.6044, 0.682)],
)
def test_published_sizes(before: str, after: str, factor: float, stops: float) -> None:
    """4×5 from 8×10 to 16×20 is ×2.78, to 11×14 between half and three quarters of a stop.

    Source: a public print-size worked example (seen), and (1 + m)² of the thin lens (from memory).
    """
    recipe = crane(magnification=Decimal(before))
    found = carry(recipe, (ToSize(magnification=Decimal(after)),))
    for each in found.factors:
        assert each.factor == pytest.approx(factor, abs=1e-4)
        assert each.stops == pytest.approx(stops, abs=1e-3)
    assert seconds_of(found.recipe) == pytest.approx([10.1 * factor, 8.0 * factor], abs=0.051)


@pytest.mark.parametrize(("m", "printed"), [("0.1", 1.21), ("0.5", 2.25), ("1", 4), ("2", 9), ("3", 16)])
def test_the_goerz_table(m: str, printed: float) -> None:
    """From a far subject (m near 0) to each m the factor is the printed (1 + m)².

    Source: Goerz lens table, Practical Photography vol. II (seen).
    """
    recipe = crane(magnification=Decimal("0.01"), image_mm=None, head_height_mm=None)
    short = recipe.model_copy(update={"local": ()})
    found = carry(short, (ToSize(magnification=Decimal(m)),))
    assert found.factors[0].factor * 1.01**2 == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(
    ("focal", "m", "lens_to_easel", "lens_to_negative"),
    [("152.4", "4", 30, 7.5), ("76.2", "8", 27, 3.375), ("177.8", "2", 21, 10.5)],
)
def test_the_column_by_distance(focal: str, m: str, lens_to_easel: float, lens_to_negative: float) -> None:
    """The column moves by what the published distances, lens to easel and to negative, differ by.

    Source: British Journal Almanac table (6 in ×4, 3 in ×8) and Sinclair Handbook (7 in ×2) (both seen), inches.
    """
    recipe = crane(lens={"focal_mm": Decimal(focal), "aperture": 8}, magnification=1, image_mm=None)
    found = carry(recipe, (ToSize(magnification=Decimal(m)),)).recipe
    at_life_size = 4 * float(focal)
    assert found.head_height_mm is not None
    moved = float(found.head_height_mm) - 620
    assert moved == pytest.approx((lens_to_easel + lens_to_negative) * 25.4 - at_life_size, abs=0.06)


def test_marked_stops() -> None:
    """From f/8 to f/5.6 as marked is half the time exactly, not 1/2.04 (derived)."""
    found = carry(crane(), (ToAperture(aperture=Decimal("5.6")),))
    assert found.factors[0].factor == 0.5
    assert found.factors[0].stops == -1.0
    assert found.recipe.lens is not None
    assert found.recipe.lens.aperture == Decimal("5.6")
    assert seconds_of(found.recipe) == [5.05, 4.0]


def test_the_area_rule_is_shown_as_wrong() -> None:
    """At small magnifications the area rule is shown beside, with how far wrong it is; at large ones it is not."""
    small = carry(crane(), (ToSize(magnification=Decimal("2.75")),))
    assert any("area of the prints the factor would be 1.89" in note for note in small.notes)
    large = carry(crane(magnification=10, head_height_mm=None), (ToSize(magnification=Decimal(11)),))
    assert not any("area" in note for note in large.notes)


def test_by_the_projected_image() -> None:
    """A new image size gives the magnification, and the pupil magnification changes the factor."""
    image = (Decimal(330), Decimal(264))
    found = carry(crane(), (ToSize(image_mm=image),))
    assert found.recipe.magnification == Decimal("2.75")
    assert found.recipe.image_mm == image
    assert found.factors[0].factor == pytest.approx((3.75 / 3.0) ** 2)
    pupil = carry(crane(), (ToSize(image_mm=image, pupil=0.8),))
    assert pupil.factors[0].factor == pytest.approx(((1 + 2.75 / 0.8) / (1 + 2 / 0.8)) ** 2)


def test_a_paper_s_size_is_kept_where_nothing_else_is_known_of_it() -> None:
    """The new paper's size goes into a recipe that names no paper, as it does beside one that is named."""
    larger = ToSize(magnification=Decimal("2.75"), paper_size="11x14")
    for paper, after in ((None, Paper(size="11x14")), ({"support": "FB"}, Paper(support="FB", size="11x14"))):
        assert carry(crane(paper=paper), (larger,)).recipe.paper == after


def test_dry_down_spares_the_flash() -> None:
    """Dry-down of 8 % and 10 % makes 20 s into 18.4 and 18.0 s (second-hand, rest derived), but leaves the flash."""
    flash = {"seconds": 3, "way": "no negative"}
    recipe = crane(light=[{"filter": "soft", "seconds": 20}], local=[], flash=flash)
    for percent, new in ((8, 18400), (10, 18000)):
        found = carry(recipe, (ToDryDown(dry_down_percent=Decimal(percent)),))
        assert [(line.old_ms, line.new_ms) for line in found.lines] == [(3000, 3000), (20000, new)]


def test_every_step_is_shown_old_and_new() -> None:
    """Each step of the sheet stands in the lines with its old and its new time, its stops unchanged."""
    found = carry(crane(), (ToSize(magnification=Decimal("2.75")),))
    old = compile_recipe(found.before, source="", version=1).steps
    new = compile_recipe(found.recipe, source="", version=1).steps
    assert [(line.old_ms, line.new_ms) for line in found.lines] == [
        (a.planned_ms, b.planned_ms) for a, b in zip(old, new, strict=True)
    ]
    assert [line.stops for line in found.lines] == [step.stops for step in old]
    assert [line.old_ms for line in found.lines] == [10100, 10100, 1700, 6300, 4700]


def test_flash_follows_size_and_comes_and_goes() -> None:
    """A flash is re-scaled with size and aperture; a threshold strip's flash is put in as found, and taken out."""
    recipe = crane(flash={"seconds": Decimal("2.0"), "way": "opal under the lens"})
    larger = carry(recipe, (ToSize(magnification=Decimal(4)), ToAperture(aperture=Decimal(11))))
    assert larger.recipe.flash is not None
    assert float(larger.recipe.flash.seconds) == pytest.approx(2.0 * 2.7778 * 2, abs=0.06)
    found = Flash(seconds=Decimal("1.3"), way="no negative")
    put = carry(crane(), (ToFlash(flash=found), ToSize(magnification=Decimal(4))))
    assert put.recipe.flash == found
    assert (put.lines[0].old_ms, put.lines[0].new_ms) == (0, 1300)
    gone = carry(recipe, (ToFlash(flash=None),))
    assert gone.recipe.flash is None
    assert (gone.lines[0].old_ms, gone.lines[0].new_ms) == (2000, 0)


def test_a_flash_follows_its_own_filter() -> None:
    """Where soft and hard are corrected apart, a flash through hard takes hard's correction."""
    recipe = crane(flash={"seconds": 2, "way": "no negative", "filter": "hard"}, local=[])
    change = ToPaper(
        paper=Paper(name="two"),
        stops=(FilterStops(filter="soft", stops=1.0), FilterStops(filter="hard", stops=-1.0)),
    )
    found = carry(recipe, (change,)).recipe
    assert (found.flash and found.flash.seconds, *seconds_of(found)) == (1, 20.2, 4.0)


def test_a_column_that_would_leave_its_scale_is_read() -> None:
    """A height that comes out under the scale's nought, or metres over it, is not written down but asked for."""
    for height, m in ((30, "1.5"), (9_990, "4")):
        found = carry(crane(head_height_mm=height, local=[]), (ToSize(magnification=Decimal(m)),))
        assert found.recipe.head_height_mm is None
        assert any("Read the column’s scale" in note for note in found.notes)


def test_reciprocity_lengthens() -> None:
    """With a measured exponent p the factor is F^(1/p); a paper that tells no difference has p 1."""
    plain = carry(crane(), (ToSize(magnification=Decimal(4)),))
    bent = carry(crane(), (ToSize(magnification=Decimal(4)),), exponent=0.9)
    assert bent.factors[0].factor == pytest.approx(plain.factors[0].factor ** (1 / 0.9), rel=1e-9)
    with pytest.raises(Impossible, match=r"cannot be 0\.2"):
        carry(crane(), (), exponent=0.2)


def test_another_paper_prints_alike() -> None:
    """On the hidden second paper the light tone keeps its density over white, the dark one its share of black."""
    recipe = crane(local=[])
    found = carry(recipe, (to_paper_two(recipe),))
    one, two = paper_one(), paper_two()
    old = one.densities(10.1, 8.0, [1.25, 0.22])
    new = two.densities(*seconds_of(found.recipe), [1.25, 0.22])
    assert new[0] - two.dmin == pytest.approx(old[0] - one.dmin, abs=0.02)
    assert (new[1] - two.dmin) / (two.dmax - two.dmin) == pytest.approx(
        (old[1] - one.dmin) / (one.dmax - one.dmin), abs=0.02
    )
    assert found.apart
    assert found.recipe.paper is not None
    assert found.recipe.paper.name == "paper two"
    assert found.recipe.dry_down_percent == 10


def test_a_paper_swapped_back() -> None:
    """The corrections from one paper to another and back cancel."""
    one, two = (fit(readings(each), BOX) for each in (paper_one(), paper_two()))
    there = corrections(one, two, 10.1, 8.0, 1.25, 0.22)
    assert there.soft_stops is not None
    assert there.hard_stops is not None
    new = 10.1 * 2**there.soft_stops, 8.0 * 2**there.hard_stops
    back = corrections(two, one, *new, 1.25, 0.22)
    assert back.soft_stops == pytest.approx(-there.soft_stops, abs=1e-6)
    assert back.hard_stops == pytest.approx(-there.hard_stops, abs=1e-6)


def test_one_light_alone_keeps_its_tone() -> None:
    """A print through soft alone is corrected by one number, its light tone kept; a white tone fixes none."""
    one, two = (fit(readings(each), BOX) for each in (paper_one(), paper_two()))
    found = corrections(one, two, 20.0, 0.0, 1.0, 0.22)
    assert found.hard_stops is None
    assert found.soft_stops is not None
    old = float(densities(mixture(one), 20.0, 0.0, 1.0)) - one.dmin
    assert float(densities(mixture(two), 20.0 * 2**found.soft_stops, 0.0, 1.0)) - two.dmin == pytest.approx(
        old, abs=1e-6
    )
    with pytest.raises(Impossible, match="fixes no time"):
        corrections(two, one, 1e-6, 0.0, 4.0, 0.22)


@pytest.mark.parametrize(
    ("more", "change", "says"),
    [
        ({"magnification": None}, ToSize(magnification=Decimal(3)), "does not say its magnification"),
        ({"image_mm": None}, ToSize(image_mm=(Decimal(300), Decimal(240))), "new size is not known"),
        ({"lens": None}, ToAperture(aperture=Decimal(11)), "does not say its aperture"),
        ({}, ToPaper(paper=Paper(name="two"), stops=()), "no correction for filter soft"),
        (
            {"local": []},
            ToAperture(aperture=Decimal(128)),
            "longer than the longest exposure. Open the lens by 8 stops",
        ),
        (
            {"local": [], "light": [{"filter": "soft", "seconds": Decimal("0.5")}]},
            ToAperture(aperture=Decimal("2")),
            "too short to expose. Stop the lens down by 4 stops",
        ),
        (
            {"local": []},
            ToPaper(paper=Paper(name="two"), stops=tuple(FilterStops(filter=f, stops=5.9) for f in ("soft", "hard"))),
            "longer than the longest exposure. Open the lens by 6 stops",
        ),
    ],
)
def test_what_cannot_be_carried_is_refused(more: dict[str, Any], change: Change, says: str) -> None:
    """What a change needs and the recipe does not say, and times that cannot be given, are refused with the remedy."""
    values = {name: value for name, value in (CRANE | more).items() if value is not None}
    with pytest.raises(Impossible, match=says):
        carry(Recipe.model_validate(values), (change,), longest_ms=600_000)


def test_without_focal_length_the_column_is_read() -> None:
    """Without a focal length the column's new reading is asked for, never guessed."""
    found = carry(crane(lens={"aperture": 8}), (ToSize(magnification=Decimal(3)),))
    assert found.recipe.head_height_mm is None
    assert any("Read the column’s scale" in note for note in found.notes)
    told = carry(crane(), (ToSize(magnification=Decimal(3), head_height_mm=Decimal(700)),))
    assert told.recipe.head_height_mm == 700


def test_burns_in_seconds_through_both_part() -> None:
    """A burn in seconds through both filters is written once for each where their corrections differ."""
    local = [{"area": "E", "act": "burn", "filter": "both", "seconds": Decimal("2.0")}]
    change = ToPaper(
        paper=Paper(name="two"),
        stops=(FilterStops(filter="soft", stops=1.0), FilterStops(filter="hard", stops=-1.0)),
    )
    found = carry(crane(local=local), (change,))
    assert [(work.filter, work.seconds) for work in found.recipe.local] == [
        ("soft", Decimal("4.0")),
        ("hard", Decimal(1)),
    ]
    alike = carry(crane(local=local), (ToAperture(aperture=Decimal(11)),))
    assert [(work.filter, work.seconds) for work in alike.recipe.local] == [("both", Decimal("4.0"))]


def test_what_no_recipe_may_have_is_refused() -> None:
    """A size whose picture no easel holds is refused with the key, not kept."""
    tiny = crane(magnification=Decimal("0.5"), light=[{"filter": "soft", "seconds": Decimal("0.1")}], local=[])
    with pytest.raises(Impossible, match="“image_mm” would become 28800"):
        carry(tiny, (ToSize(magnification=Decimal(60), head_height_mm=Decimal(600)),))
