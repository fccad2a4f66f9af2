"""Recipes carried over: there and back, stops kept, the check strip and its pick, against published figures."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from paper.hidden import BOX, paper_one, paper_two, readings

from controller.compiler import compile_recipe, compile_strip
from controller.errors import Impossible
from controller.paper.another_paper import corrections
from controller.paper.carry import Carried, carry
from controller.paper.changes import Change, FilterStops, ToAperture, ToDryDown, ToFlash, ToPaper, ToSize
from controller.paper.checks import check_strips, take_pick
from controller.paper.emulsions import densities, mixture
from controller.paper.fit import fit
from controller.paper.kept_time import carried_value
from controller.reading import read_recipe, write
from controller.recipes import Flash, Paper, Recipe

CRANE: dict[str, Any] = {
    "title": "Crane",
    "negative": {"name": "crane", "format": "4x5"},
    "paper": {"name": "paper one", "support": "RC", "size": "8x10 in"},
    "image_mm": [240, 192],
    "magnification": Decimal("2.0"),
    "lens": {"focal_mm": 150, "aperture": 8},
    "head_height_mm": 620,
    "light": [{"filter": "soft", "seconds": Decimal("10.1")}, {"filter": "hard", "seconds": Decimal("8.0")}],
    "local": [
        {"area": "A", "what": "sky", "act": "burn", "filter": "soft", "stops": "1"},
        {"area": "C", "act": "dodge", "filter": "hard", "stops": "1/3"},
        {"area": "B", "act": "burn", "filter": "hard", "stops": "2/3"},
    ],
}


def _crane(**more: Any) -> Recipe:
    return Recipe.model_validate(CRANE | more)


def _seconds(recipe: Recipe) -> list[float]:
    return [float(light.seconds) for light in recipe.light]


@pytest.mark.parametrize(
    ("before", "after", "factor", "stops"),
    [("2", "4", 2.7778, 1.474), ("2", "2.8", 1.6044, 0.682)],
)
def test_published_sizes(before: str, after: str, factor: float, stops: float) -> None:
    """4×5 from 8×10 to 16×20 is ×2.78, to 11×14 between half and three quarters of a stop.

    Source: a public print-size worked example (seen), and (1 + m)² of the thin lens (from memory).
    """
    recipe = _crane(magnification=Decimal(before))
    found = carry(recipe, (ToSize(magnification=Decimal(after)),))
    for each in found.factors:
        assert each.factor == pytest.approx(factor, abs=1e-4)
        assert each.stops == pytest.approx(stops, abs=1e-3)
    assert _seconds(found.recipe) == pytest.approx([10.1 * factor, 8.0 * factor], abs=0.051)


@pytest.mark.parametrize(("m", "printed"), [("0.1", 1.21), ("0.5", 2.25), ("1", 4), ("2", 9), ("3", 16)])
def test_the_goerz_table(m: str, printed: float) -> None:
    """From a far subject (m near 0) to each m the factor is the printed (1 + m)².

    Source: Goerz lens table, Practical Photography vol. II (seen).
    """
    recipe = _crane(magnification=Decimal("0.01"), image_mm=None, head_height_mm=None)
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
    recipe = _crane(lens={"focal_mm": Decimal(focal), "aperture": 8}, magnification=1, image_mm=None)
    found = carry(recipe, (ToSize(magnification=Decimal(m)),)).recipe
    at_life_size = 4 * float(focal)
    assert found.head_height_mm is not None
    moved = float(found.head_height_mm) - 620
    assert moved == pytest.approx((lens_to_easel + lens_to_negative) * 25.4 - at_life_size, abs=0.06)


def test_marked_stops() -> None:
    """From f/8 to f/5.6 as marked is half the time exactly, not 1/2.04 (derived)."""
    found = carry(_crane(), (ToAperture(aperture=Decimal("5.6")),))
    assert found.factors[0].factor == 0.5
    assert found.factors[0].stops == -1.0
    assert found.recipe.lens is not None
    assert found.recipe.lens.aperture == Decimal("5.6")
    assert _seconds(found.recipe) == [5.05, 4.0]


def test_the_area_rule_is_shown_as_wrong() -> None:
    """At small magnifications the area rule is shown beside, with how far wrong it is; at large ones it is not."""
    small = carry(_crane(), (ToSize(magnification=Decimal("2.75")),))
    assert any("area of the prints the factor would be 1.89" in note for note in small.notes)
    large = carry(_crane(magnification=10, head_height_mm=None), (ToSize(magnification=Decimal(11)),))
    assert not any("area" in note for note in large.notes)


def test_by_the_projected_image() -> None:
    """A new image size gives the magnification, and the pupil magnification changes the factor."""
    image = (Decimal(330), Decimal(264))
    found = carry(_crane(), (ToSize(image_mm=image),))
    assert found.recipe.magnification == Decimal("2.75")
    assert found.recipe.image_mm == image
    assert found.factors[0].factor == pytest.approx((3.75 / 3.0) ** 2)
    pupil = carry(_crane(), (ToSize(image_mm=image, pupil=0.8),))
    assert pupil.factors[0].factor == pytest.approx(((1 + 2.75 / 0.8) / (1 + 2 / 0.8)) ** 2)


def test_dry_down_spares_the_flash() -> None:
    """Dry-down of 8 % and 10 % makes 20 s into 18.4 and 18.0 s (second-hand, rest derived), but leaves the flash."""
    flash = {"seconds": 3, "way": "no negative"}
    recipe = _crane(light=[{"filter": "soft", "seconds": 20}], local=[], flash=flash)
    for percent, new in ((8, 18400), (10, 18000)):
        found = carry(recipe, (ToDryDown(dry_down_percent=Decimal(percent)),))
        assert [(line.old_ms, line.new_ms) for line in found.lines] == [(3000, 3000), (20000, new)]


def test_every_step_is_shown_old_and_new() -> None:
    """Each step of the sheet stands in the lines with its old and its new time, its stops unchanged."""
    found = carry(_crane(), (ToSize(magnification=Decimal("2.75")),))
    old = compile_recipe(found.before, source="", version=1).steps
    new = compile_recipe(found.recipe, source="", version=1).steps
    assert [(line.old_ms, line.new_ms) for line in found.lines] == [
        (a.planned_ms, b.planned_ms) for a, b in zip(old, new, strict=True)
    ]
    assert [line.stops for line in found.lines] == [step.stops for step in old]
    assert [line.old_ms for line in found.lines] == [10100, 10100, 1700, 6300, 4700]


def test_flash_follows_size_and_comes_and_goes() -> None:
    """A flash is re-scaled with size and aperture; a threshold strip's flash is put in as found, and taken out."""
    recipe = _crane(flash={"seconds": Decimal("2.0"), "way": "opal under the lens"})
    larger = carry(recipe, (ToSize(magnification=Decimal(4)), ToAperture(aperture=Decimal(11))))
    assert larger.recipe.flash is not None
    assert float(larger.recipe.flash.seconds) == pytest.approx(2.0 * 2.7778 * 2, abs=0.06)
    found = Flash(seconds=Decimal("1.3"), way="no negative")
    put = carry(_crane(), (ToFlash(flash=found), ToSize(magnification=Decimal(4))))
    assert put.recipe.flash == found
    assert (put.lines[0].old_ms, put.lines[0].new_ms) == (0, 1300)
    gone = carry(recipe, (ToFlash(flash=None),))
    assert gone.recipe.flash is None
    assert (gone.lines[0].old_ms, gone.lines[0].new_ms) == (2000, 0)


def test_reciprocity_lengthens() -> None:
    """With a measured exponent p the factor is F^(1/p); a paper that tells no difference has p 1."""
    plain = carry(_crane(), (ToSize(magnification=Decimal(4)),))
    bent = carry(_crane(), (ToSize(magnification=Decimal(4)),), exponent=0.9)
    assert bent.factors[0].factor == pytest.approx(plain.factors[0].factor ** (1 / 0.9), rel=1e-9)
    with pytest.raises(Impossible, match=r"0\.2 is none"):
        carry(_crane(), (), exponent=0.2)


def _to_two(recipe: Recipe) -> ToPaper:
    one, two = (fit(readings(each), BOX) for each in (paper_one(), paper_two()))
    found = corrections(one, two, *_seconds(recipe), light=1.25, dark=0.22)
    assert found.soft_stops is not None
    assert found.hard_stops is not None
    return ToPaper(
        paper=Paper(name="paper two", support="FB"),
        stops=(
            FilterStops(filter="soft", stops=found.soft_stops),
            FilterStops(filter="hard", stops=found.hard_stops),
        ),
        dry_down_percent=Decimal(10),
    )


def test_another_paper_prints_alike() -> None:
    """On the hidden second paper the light tone keeps its density over white, the dark one its share of black."""
    recipe = _crane(local=[])
    found = carry(recipe, (_to_two(recipe),))
    one, two = paper_one(), paper_two()
    old = one.densities(10.1, 8.0, [1.25, 0.22])
    new = two.densities(*_seconds(found.recipe), [1.25, 0.22])
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


# ---- laws

tenths = st.integers(5, 1200).map(lambda n: Decimal(n) / 10)
stops = st.sampled_from(["1/3", "1/2", "1", "1 1/3"])


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    """Any recipe typed to a tenth of a second, with burns and dodges in stops and burns in seconds."""
    names = draw(st.sampled_from([["soft"], ["soft", "hard"], ["2"], ["hard", "soft"]]))
    local: list[dict[str, Any]] = []
    for area in draw(st.lists(st.sampled_from("ABCDE"), max_size=3, unique=True)):
        one = {"area": area, "filter": draw(st.sampled_from(names))}
        if draw(st.booleans()):
            local.append(one | {"act": "burn", "stops": draw(stops)})
        else:
            local.append(one | {"act": "burn", "seconds": draw(tenths)})
    if draw(st.booleans()):
        local.append({"area": "D", "act": "dodge", "filter": names[0], "stops": "1/4"})
    more: dict[str, Any] = {}
    if draw(st.booleans()):
        more["flash"] = {"seconds": draw(tenths), "way": "no negative"}
    if draw(st.booleans()):
        more["dry_down_percent"] = Decimal(draw(st.integers(1, 12)))
    light = [{"filter": name, "seconds": draw(st.integers(40, 600).map(lambda n: Decimal(n) / 10))} for name in names]
    return _crane(light=light, local=local, **more)


@st.composite
def changes(draw: st.DrawFn) -> tuple[Change, Change]:
    """A change, and the change that undoes it on the crane's recipe."""
    match draw(st.sampled_from(["size", "aperture", "paper"])):
        case "size":
            after = Decimal(draw(st.integers(60, 900))) / 100
            return ToSize(magnification=after), ToSize(
                magnification=Decimal("2.0"), image_mm=(Decimal(240), Decimal(192))
            )
        case "aperture":
            after = draw(st.sampled_from(["4", "5.6", "11", "16"]))
            return ToAperture(aperture=Decimal(after)), ToAperture(aperture=Decimal(8))
    moved = {name: draw(st.floats(-2.0, 2.0)) for name in ("soft", "hard", "2")}
    there, back = (tuple(FilterStops(filter=name, stops=sign * moved[name]) for name in moved) for sign in (1.0, -1.0))
    return ToPaper(paper=Paper(name="paper two"), stops=there), ToPaper(
        paper=Paper.model_validate(CRANE["paper"]), stops=back
    )


@given(recipe=recipes(), change=changes(), exponent=st.sampled_from([1.0, 1.0, 0.92]))
@settings(max_examples=150, deadline=None)
def test_there_and_back_is_the_identity(recipe: Recipe, change: tuple[Change, Change], exponent: float) -> None:
    """A recipe carried over and back is the stored recipe again, and every compiled step within 0.1 s."""
    there, back = change
    if isinstance(back, ToPaper):
        back = back.model_copy(update={"dry_down_percent": recipe.dry_down_percent})
    first = _carried(recipe, there, exponent)
    again = _carried(first.recipe, back, exponent)
    assert again.recipe == recipe
    assert write(again.recipe) == write(recipe) or _numbers(again.recipe) == _numbers(recipe)
    old = compile_recipe(recipe, source="", version=1).steps
    new = compile_recipe(again.recipe, source="", version=1).steps
    assert all(abs(a.planned_ms - b.planned_ms) <= 100 for a, b in zip(old, new, strict=True))


def _numbers(recipe: Recipe) -> object:
    return recipe.model_dump(mode="json", exclude_none=True)


def _carried(recipe: Recipe, change: Change, exponent: float) -> Carried:
    try:
        return carry(recipe, (change,), exponent=exponent)
    except Impossible:
        assume(False)
        raise


@given(recipe=recipes(), change=changes())
@settings(max_examples=60, deadline=None)
def test_stops_survive(recipe: Recipe, change: tuple[Change, Change]) -> None:
    """Every stop of a burn or dodge survives any carry-over and any pick, exactly as it was typed."""
    found = _carried(recipe, change[0], 1.0)
    assert [work.stops for work in found.recipe.local] == [work.stops for work in recipe.local]
    try:
        picked = take_pick(found, recipe.light[0].filter, Decimal("7.7"))
    except Impossible:
        return
    assert [work.stops for work in picked.recipe.local] == [work.stops for work in recipe.local]


@given(recipe=recipes(), change=changes())
@settings(max_examples=60, deadline=None)
def test_carried_light_is_exact(recipe: Recipe, change: tuple[Change, Change]) -> None:
    """Each carried base is its old one times its filter's factor, to half a tenth of a second or what that becomes."""
    found = _carried(recipe, change[0], 1.0)
    factors = {each.filter: each.factor for each in found.factors}
    for old, new in zip(recipe.light, found.recipe.light, strict=True):
        exact = float(old.seconds) * factors[old.filter]
        assert abs(float(new.seconds) - exact) <= 0.05 * min(1.0, factors[old.filter]) + 5e-4


@given(typed=st.integers(1, 6000), factor=st.fractions(Fraction(1, 90), Fraction(90)))
@settings(max_examples=300, deadline=None)
def test_tenths_come_back(typed: int, factor: Fraction) -> None:
    """A time typed to a tenth comes back exactly from any factor between 1/90 and 90."""
    seconds = Decimal(typed) / 10
    there = carried_value(seconds, factor, Decimal("0.1"), 3)
    assume(there >= Decimal("0.1"))
    assert carried_value(there, 1 / factor, Decimal("0.1"), 3) == seconds


# ---- the check strip


def test_one_strip_confirms_a_size() -> None:
    """After a change of size one fine strip through the first filter is proposed, at the new height and aperture."""
    found = carry(_crane(), (ToSize(magnification=Decimal("2.75")),))
    (strip,) = check_strips(found)
    assert strip.filter == "soft"
    assert strip.under == ()
    assert strip.times.kind == "stops"
    assert strip.times.centre == found.recipe.light[0].seconds
    assert strip.times.step == "1/6"
    assert strip.head_height_mm == found.recipe.head_height_mm
    assert strip.magnification == Decimal("2.75")
    assert compile_strip(strip, source="", version=1).strip is not None
    assert read_recipe(write(strip), "strip.json") == strip


def test_two_strips_confirm_a_paper() -> None:
    """After a change of paper there is one strip a filter, the second over the new first base."""
    recipe = _crane(local=[])
    found = carry(recipe, (_to_two(recipe),))
    soft, hard = check_strips(found)
    assert (soft.filter, hard.filter) == ("soft", "hard")
    assert soft.under == ()
    assert hard.under == found.recipe.light[:1]


def test_short_bases_get_coarser_strips() -> None:
    """Where sixths of a stop come out alike at a tenth of a second, the strip is coarser."""
    recipe = _crane(light=[{"filter": "soft", "seconds": Decimal("0.6")}], local=[])
    (strip,) = check_strips(carry(recipe, ()))
    assert strip.times.kind == "stops"
    assert strip.times.step != "1/6"


def test_a_pick_corrects_the_bases_alone() -> None:
    """A pick sets its filter's base, the others follow by its ratio, stops stay and the factors say so."""
    found = carry(_crane(), (ToSize(magnification=Decimal("2.75")),))
    assert _seconds(found.recipe) == [15.8, 12.5]
    picked = take_pick(found, "soft", Decimal("14.1"))
    assert _seconds(picked.recipe) == [14.1, pytest.approx(12.5 * 14.1 / 15.8, abs=0.051)]
    assert [work.stops for work in picked.recipe.local] == ["1", "1/3", "2/3"]
    assert picked.factors[0].factor == pytest.approx(found.factors[0].factor * 14.1 / 15.8)
    assert picked.lines[0].new_ms == 14100
    with pytest.raises(Impossible, match="through 2"):
        take_pick(found, "2", Decimal(14))


def test_a_pick_after_a_paper_corrects_its_own_filter() -> None:
    """Where soft and hard were corrected apart, a pick of one leaves the other."""
    recipe = _crane(local=[])
    found = carry(recipe, (_to_two(recipe),))
    before = _seconds(found.recipe)
    picked = take_pick(found, "hard", Decimal("6.3"))
    assert _seconds(picked.recipe) == [before[0], 6.3]
    assert picked.apart


# ---- refusals


@pytest.mark.parametrize(
    ("more", "change", "says"),
    [
        ({"magnification": None}, ToSize(magnification=Decimal(3)), "does not say its magnification"),
        ({"image_mm": None}, ToSize(image_mm=(Decimal(300), Decimal(240))), "new size is not known"),
        ({"lens": None}, ToAperture(aperture=Decimal(11)), "does not say its aperture"),
        ({}, ToPaper(paper=Paper(name="two"), stops=()), "no correction for filter soft"),
        ({"local": []}, ToAperture(aperture=Decimal(128)), "longer than the longest light. Open the lens by 8 stops"),
        (
            {"local": [], "light": [{"filter": "soft", "seconds": Decimal("0.5")}]},
            ToAperture(aperture=Decimal("2")),
            "too short to give. Stop the lens down by 4 stops",
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
    found = carry(_crane(lens={"aperture": 8}), (ToSize(magnification=Decimal(3)),))
    assert found.recipe.head_height_mm is None
    assert any("Read the column's scale" in note for note in found.notes)
    told = carry(_crane(), (ToSize(magnification=Decimal(3), head_height_mm=Decimal(700)),))
    assert told.recipe.head_height_mm == 700


def test_burns_in_seconds_through_both_part() -> None:
    """A burn in seconds through both filters is written once for each where their corrections differ."""
    local = [{"area": "E", "act": "burn", "filter": "both", "seconds": Decimal("2.0")}]
    change = ToPaper(
        paper=Paper(name="two"),
        stops=(FilterStops(filter="soft", stops=1.0), FilterStops(filter="hard", stops=-1.0)),
    )
    found = carry(_crane(local=local), (change,))
    assert [(work.filter, work.seconds) for work in found.recipe.local] == [
        ("soft", Decimal("4.0")),
        ("hard", Decimal(1)),
    ]
    alike = carry(_crane(local=local), (ToAperture(aperture=Decimal(11)),))
    assert [(work.filter, work.seconds) for work in alike.recipe.local] == [("both", Decimal("4.0"))]
