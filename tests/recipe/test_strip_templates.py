"""Strips by template: everything from the enlarger and the last pick, and each can be lit."""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.errors import Impossible
from controller.exposure.stops import parse_more_stops
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_recipe import compile_strip
from controller.recipe.files import read_recipe, write
from controller.recipe.pick import apply_pick, pick_meaning, read_pick
from controller.recipe.plan import Hands, Plan, StepKind
from controller.recipe.recipe import FilterTime
from controller.recipe.strip import Strip
from controller.recipe.strip_templates import can_be_finer, fineness_of, make, own_centre_ms

AT = AtEnlarger(
    negative="crane:3",
    negative_title="harbour crane",
    negative_format="4x5",
    paper="p1",
    paper_title="paper one",
    support="RC",
    enlarger="e1",
    head_height_mm=620.0,
    magnification=2.0,
    aperture=8.0,
    focal_mm=150.0,
    soft="00",
    hard="5",
)
SOFT = FilterTime(filter="soft", seconds=Decimal("12.7"))
HARD = FilterTime(filter="hard", seconds=Decimal("8.0"))


def _plan(strip: Strip) -> Plan:
    return compile_strip(strip, source="s", version=1)


def _totals(strip: Strip) -> tuple[int, ...]:
    told = _plan(strip).strip
    assert told is not None
    return told.totals_ms


def _each(centre_ms: int = 12_000, at: AtEnlarger = AT) -> dict[str, Strip]:
    first = make("first", at, centre_ms=centre_ms)
    return {
        "first": first,
        "finer": make("finer", at, last=first, centre_ms=centre_ms),
        "hard over soft": make("hard over soft", at, base=[SOFT]),
        "same place": make("same place", at, last=first, centre_ms=centre_ms),
        "burn": make("burn", at, base=[SOFT, HARD]),
        "flash": make("flash", at, base=[SOFT]),
        "proof": make("proof", at),
    }


@pytest.mark.parametrize("template", ["first", "finer", "hard over soft", "same place", "burn", "flash", "proof"])
def test_everything_comes_from_the_enlarger(template: str) -> None:
    """Paper, head height, lens and the filters' numbers are written into every strip, and the file reads the same."""
    strip = _each()[template]
    assert strip.template == template
    assert (strip.head_height_mm, strip.filters.soft, strip.filters.hard) == (620, "00", "5")
    assert (strip.paper.name, strip.paper.support, strip.lens.focal_mm) == ("paper one", "RC", 150)
    with_negative = template not in ("flash", "proof")
    assert (strip.negative is not None) == with_negative
    assert ("harbour crane" in strip.title) == with_negative
    assert _plan(strip).strip.template == template
    assert read_recipe(write(strip), "again") == strip
    assert json.loads(write(strip))["template"] == template


def test_a_bare_enlarger_gives_bare_strips() -> None:
    """What is not known at the enlarger is not said in the strip; it can be lit all the same."""
    for strip in _each(at=AtEnlarger()).values():
        assert _plan(strip).steps
        assert not {"negative", "paper", "lens", "head_height_mm", "magnification", "filters"} & strip.model_fields_set


def test_a_strip_without_a_template_says_none() -> None:
    """A plan of a strip that no template made is written as it always was."""
    plain = make("first", AT, centre_ms=12_000).model_copy(update={"template": None})
    dumped = _plan(plain).model_dump(mode="json")
    assert "template" not in dumped["strip"]
    assert "template" not in json.loads(write(plain))


def test_the_first_strip_is_as_fine_as_is_known() -> None:
    """Around the estimate, five bands by halves or seven by thirds: a stop either way."""
    coarse = make("first", AT, centre_ms=12_000, step=Fraction(1, 2), bands=5)
    assert _totals(coarse) == (6_000, 8_500, 12_000, 17_000, 24_000)
    assert _totals(make("first", AT, centre_ms=12_000)) == (6_000, 7_600, 9_500, 12_000, 15_100, 19_000, 24_000)


def test_hard_over_soft_has_a_band_of_soft_alone() -> None:
    """The first band gets the soft base only; then hard light around two thirds of it, by thirds."""
    strip = make("hard over soft", AT, base=[SOFT])
    plan = _plan(strip)
    assert plan.strip.totals_ms == (0, 4_300, 5_400, 6_700, 8_500, 10_700, 13_500, 17_000)
    assert [(step.act, step.filter, step.planned_ms) for step in plan.steps[:2]] == [
        (StepKind.UNDER, "soft", 12_700),
        (StepKind.BAND, "hard", 4_300),
    ]
    assert plan.steps[1].card == "recipe.card-cover-first"
    assert strip.title.startswith("Hard strip over 12.7 s soft")


def test_soft_alone_is_a_pick_too() -> None:
    """The band without hard light, picked, makes a recipe of the soft base alone; a hard base that was there goes."""
    strip = make("hard over soft", AT, base=[SOFT])
    none, half = read_pick(_plan(strip), 1), read_pick(_plan(strip), 1, between=True)
    assert (none.seconds, half.seconds) == (0.0, 2.2)
    assert "no hard light" in pick_meaning(_plan(strip), strip, 1).meaning
    alone = apply_pick(None, strip, none)
    assert [(light.filter, light.seconds) for light in alone.light] == [("soft", Decimal("12.7"))]
    both = apply_pick(None, strip, read_pick(_plan(strip), 4))
    assert [light.filter for light in both.light] == ["soft", "hard"]
    assert [light.filter for light in apply_pick(both, strip, none).light] == ["soft"]
    worked = both.model_copy(update={"local": read_recipe(_WITH_WORK, "x").local})
    with pytest.raises(Impossible) as refused:
        apply_pick(worked, strip, none)
    assert "area B goes by the hard base" in str(refused.value)


_WITH_WORK = json.dumps(
    {
        "format": "treadle/recipe/1",
        "title": "x",
        "light": [{"filter": "hard", "seconds": 8}],
        "local": [{"area": "B", "act": "burn", "filter": "hard", "stops": "1/3"}],
    }
)


@pytest.mark.parametrize(
    ("step", "finer", "bands"), [("1", "1/2", 5), ("1/2", "1/6", 7), ("1/3", "1/6", 5), ("1/6", "1/12", 5)]
)
def test_finer_around_the_pick(step: str, finer: str, bands: int) -> None:
    """Half as far apart or less, and one step of the last strip to either side of the pick."""
    last = make("first", AT, centre_ms=20_000, step=Fraction(step), bands=5)
    strip = make("finer", AT, last=last, centre_ms=20_000)
    assert (strip.times.step, strip.times.bands, strip.times.centre) == (finer, bands, 20)
    totals = _totals(strip)
    assert totals[0] <= round(20_000 / 2 ** float(Fraction(step))) + 100
    assert totals[-1] >= round(20_000 * 2 ** float(Fraction(step))) - 100


def test_nothing_is_finer_than_twelfths() -> None:
    """A strip by twelfths has no finer one: it is refused in a sentence."""
    last = make("finer", AT, last=make("first", AT, centre_ms=20_000, step=Fraction(1, 6), bands=5), centre_ms=20_000)
    assert last.times.step == "1/12"
    assert not can_be_finer(last.times, 20_000)
    with pytest.raises(Impossible) as refused:
        make("finer", AT, last=last, centre_ms=20_000)
    assert "no difference" in str(refused.value)


def test_finer_keeps_what_lies_over_all() -> None:
    """A finer hard strip lies over the same soft base, and its middle is the pick's own hard light."""
    last = make("hard over soft", AT, base=[SOFT])
    pick = read_pick(_plan(last), 4)
    strip = make("finer", AT, last=last, centre_ms=own_centre_ms(last, pick))
    assert strip.under == (SOFT,)
    assert (strip.filter, strip.times.centre) == ("hard", Decimal("6.7"))
    under_itself = last.model_copy(update={"under": (FilterTime(filter="hard", seconds=Decimal("2.5")),)})
    assert own_centre_ms(under_itself, read_pick(_plan(under_itself), 4)) == 6_700


def test_even_seconds_have_a_fineness_where_they_are_picked() -> None:
    """Bands of 3 s are a stop apart at 3 s and a fifth of one at 21 s (derived: log₂ of neighbours, to a twelfth)."""
    proof = make("proof", AT)
    assert _totals(proof) == (3_000, 6_000, 9_000, 12_000, 15_000, 18_000, 21_000)
    assert fineness_of(proof.times, 3_000) == 1
    assert fineness_of(proof.times, 21_000) == Fraction(3, 12)
    assert make("finer", AT, last=proof, centre_ms=3_000).times.step == "1/2"


def test_the_same_place_is_seen_through_a_window() -> None:
    """Every band of a same-spot strip gets its whole time by itself, through a window."""
    strip = _each()["same place"]
    plan = _plan(strip)
    assert strip.card == "window"
    assert tuple(plan.strip.pulses_ms) == plan.strip.totals_ms


def test_a_burn_strip_lies_over_the_whole_base() -> None:
    """Burns go over the base through their own filter; the lights before it lie under, those behind it come after."""
    soft, hard = make("burn", AT, base=[SOFT, HARD]), make("burn", AT, base=[SOFT, HARD], filter_name="hard")
    assert (soft.under, soft.after, soft.filter) == ((SOFT,), (HARD,), "soft")
    assert (hard.under, hard.after, hard.filter) == ((SOFT, HARD), (), "hard")
    assert soft.times.base == SOFT.seconds
    assert _plan(soft).strip.stops == ("0", "1/3", "2/3", "1", "4/3")


def test_a_threshold_strip_has_no_negative_and_may_be_stopped_down() -> None:
    """By sixths, a stop either way of a twentieth of the soft pick, stopped down until sixths can be told apart."""
    strip = make("flash", AT, base=[SOFT])
    plan = _plan(strip)
    assert plan.steps[0].hands is Hands.NEGATIVE_OUT
    assert (strip.times.step, strip.times.bands) == ("1/6", 13)
    assert (strip.lens.aperture, plan.aperture) == (22, "22")
    assert strip.times.centre == Decimal("4.8")  # 0.6 s at f/8, three marked stops down
    with pytest.raises(Impossible) as refused:
        apply_pick(None, strip, read_pick(plan, 3))
    assert "flash" in str(refused.value)
    known = make("flash", AT, centre_ms=5_000)
    assert (known.times.centre, known.times.bands, known.lens.aperture) == (5, 7, 8)


@pytest.mark.parametrize(
    ("template", "said"),
    [
        ("first", "middle band"),
        ("finer", "pick one"),
        ("same place", "pick one"),
        ("hard over soft", "base"),
        ("burn", "base"),
        ("flash", "base"),
    ],
)
def test_what_a_template_wants(template: str, said: str) -> None:
    """Without what it wants a template is refused, and the sentence says what to do."""
    with pytest.raises(Impossible) as refused:
        make(template, AT)  # type: ignore[arg-type]
    assert said in str(refused.value)


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(["first", "finer", "same place", "hard over soft", "burn", "proof"]),
    st.integers(1, 4_000),
    st.sampled_from([Fraction(1, 6), Fraction(1, 3), Fraction(1, 2)]),
    st.sampled_from([5, 7, 9]),
    st.sampled_from([30_000, 600_000]),
)
def test_each_can_be_lit_or_says_why_not(template: str, tenths: int, step: Fraction, bands: int, longest: int) -> None:
    """Whatever the time, what a template gives can be lit; what cannot be made is refused and nothing else is raised.

    A finer strip is finer than the one it follows, however short its times.
    """
    centre = tenths * 100
    base = [FilterTime(filter="soft", seconds=Decimal(tenths) / 10)] if centre <= 600_000 else []
    try:
        last = make("first", AT, centre_ms=centre, step=step, bands=bands, longest_ms=longest)
        strip = make(template, AT, centre_ms=centre, base=base, last=last, step=step, bands=bands, longest_ms=longest)  # type: ignore[arg-type]
    except Impossible:
        return
    plan = compile_strip(strip, source="s", version=1, longest_ms=longest)
    assert all(step.planned_ms <= longest for step in plan.steps)
    if template == "finer":
        assert parse_more_stops(strip.times.step) < parse_more_stops(last.times.step)
    if template in ("first", "finer", "same place"):
        assert centre in plan.strip.totals_ms


def test_magnifications_are_written_as_a_strip_can_have_them() -> None:
    """A magnification that the column rule gave has many places; a strip keeps six."""
    strip = make("first", AT.model_copy(update={"magnification": 2.75123456789}), centre_ms=9_000)
    assert strip.magnification == Decimal("2.751235")


def test_long_names_leave_the_title_short() -> None:
    """A title that would be too long for a strip goes without the negative's; the negative is named all the same."""
    strip = make("first", AT.model_copy(update={"negative_title": "x" * 200}), centre_ms=9_000)
    assert strip.title == "First strip, soft"
    assert strip.negative.name == "x" * 200
