"""How a sheet looked: its lights as they were given, the recipe's next version, and the sheets that take no verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from tools.fitted_papers import demo
from tools.history import Pages, came, intent, whole_sheet
from tools.written_files import recipe_from

from controller.contrast.how_it_looked import Looks, mend
from controller.contrast.looked_one_filter import mend_one_filter
from controller.contrast.looked_sheet import next_of, take
from controller.contrast.split_grade import ContrastDesk
from controller.errors import ControllerError, Impossible, NotThere, WrongMoment
from controller.paper.flash import Flash
from controller.paper.ladder import TYPICAL, Ladder
from controller.paper.paper import Paper, Reciprocity, Setup
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.recipe.plan import Plan
from controller.recipe.recipe import FilterTime, Recipe
from controller.recipe.recipe import Paper as PaperAsked
from controller.recipe.strip import Strip
from controller.recipe.strip_templates import make
from controller.store.entries import CalledGiven, Closed, Entry, LeftOut, LightSeen, SheetPlanned, Struck
from controller.store.folding import fold
from controller.store.records import SheetRecord
from controller.store.said_of_sheets import Looked, Picked
from controller.store.versions import Kept

LONGEST_MS = 600_000
SPLIT: dict[str, Any] = {
    "light": [{"filter": "soft", "seconds": 12.0}, {"filter": "hard", "seconds": 4.4}],
    "paper": {"name": "paper one"},
}
BENCH = AtEnlarger(paper="p1", paper_title="paper one", soft="00", hard="5", magnification=2.0, aperture=8.0)


@dataclass
class Papers:
    """One read paper, or none."""

    paper: Paper | None = None

    def kept(self) -> Sequence[Kept]:
        return ()

    def called(self, name: str) -> str:
        return "p1" if self.paper and name == "paper one" else ""

    def fetch(self, source: str, version: int | None = None) -> Paper:
        if self.paper is None:
            raise NotThere("none is kept")
        return self.paper

    def ladder(self, source: str, version: int | None = None) -> Ladder:
        return TYPICAL


@dataclass
class Recipes:
    """One recipe in its versions."""

    versions: list[Recipe] = field(default_factory=list)

    def recipe(self, source: str, version: int | None = None) -> Recipe:
        return self.versions[-1 if version is None else version - 1]

    def save(self, text: str, source: str | None = None) -> Kept:
        made = read_recipe(text, "kept")
        assert isinstance(made, Recipe)
        compile_any(made, source="r", version=1)
        self.versions.append(made)
        return Kept(id="r", version=len(self.versions), kind="recipe", title=made.title, body=text, made="")


def record_of(plan: Plan, *more: Entry, entries: Sequence[Entry] | None = None) -> SheetRecord:
    """The record of a sheet, every step of it given unless told."""
    pages = Pages()
    pages.write(*(whole_sheet("s", 12, plan) if entries is None else entries), *more)
    (record,) = fold(pages.rows)
    return record


def plan_of(model: Recipe | Strip, bench: AtEnlarger | None = None) -> Plan:
    return compile_any(model, source="r", version=1).model_copy(update={"bench": bench})


def looked(
    model: Recipe, light: int, dark: int, *, paper: Paper | None = None, bench: AtEnlarger | None = None
) -> tuple[Looked, Recipes]:
    """Take a look of a whole print over."""
    recipes = Recipes([model])
    record = record_of(plan_of(model, bench))
    found = next_of(record, Looks(light=light, dark=dark), Papers(paper), recipes, lambda: LONGEST_MS)
    return take(found, record, recipes)[0], recipes


def seconds_of(recipe: Recipe) -> dict[str, Decimal]:
    return {light.filter: light.seconds for light in recipe.light}


# ---- the next version


def test_a_print_makes_its_recipe_s_next_version() -> None:
    """A little light above and right below: the recipe's next version has the new pair, and the row says it."""
    row, recipes = looked(recipe_from(**SPLIT), -1, 0, paper=demo(), bench=BENCH)
    pair = mend(Looks(light=-1, dark=0), Decimal("12.0"), Decimal("4.4"), paper=demo())
    assert seconds_of(recipes.versions[1]) == {"soft": pair.soft_seconds, "hard": pair.hard_seconds}
    assert (row.recipe, row.recipe_version, row.by) == ("r", 2, "paper")
    assert [(each.filter, each.before, each.after) for each in row.changes] == [
        ("soft", 12.0, float(pair.soft_seconds)),
        ("hard", 4.4, float(pair.hard_seconds)),
    ]
    assert [each.twelfths for each in row.changes] == [pair.twelfths.soft, pair.twelfths.hard]


def test_right_makes_no_version() -> None:
    """Where both looked right nothing is changed, and the look is filed all the same."""
    row, recipes = looked(recipe_from(**SPLIT), 0, 0, paper=demo())
    assert (row.light, row.dark, row.recipe, row.recipe_version, row.changes) == (0, 0, "", 0, ())
    assert len(recipes.versions) == 1


def test_the_lights_are_those_that_were_given() -> None:
    """What the print had counts, not what was planned: a base called given early is mended from what it had."""
    model = recipe_from(**SPLIT)
    entries: list[Entry] = [
        SheetPlanned(sheet="s", number=12, plan=plan_of(model)),
        *(intent("a", "s", lit_ms=12_000), came("a", 9_000, why="foot")),
        CalledGiven(sheet="s", step=1, by="foot"),
        *(intent("b", "s", 2, lit_ms=4_400), came("b", 4_400)),
        Closed(sheet="s", outcome="complete"),
    ]
    recipes = Recipes([model])
    found = next_of(
        record_of(plan_of(model), entries=entries), Looks(light=-1, dark=0), Papers(demo()), recipes, lambda: LONGEST_MS
    )
    pair = mend(Looks(light=-1, dark=0), Decimal("9.0"), Decimal("4.4"), paper=demo())
    assert found.recipe is not None
    assert seconds_of(found.recipe)["soft"] == pair.soft_seconds
    assert found.looked.changes[0].before == 9.0


def test_stops_follow_and_local_work_stays() -> None:
    """Burns and dodges stay as they are written; parts of a dodged base add up to the base that was had."""
    local = [
        {"area": "A", "act": "burn", "filter": "soft", "stops": "1"},
        {"area": "C", "act": "dodge", "filter": "hard", "stops": "1/3"},
    ]
    model = recipe_from(**SPLIT, local=local)
    plain, _ = looked(recipe_from(**SPLIT), -1, 0, paper=demo())
    row, recipes = looked(model, -1, 0, paper=demo())
    assert row.changes == plain.changes
    assert recipes.versions[1].local == model.local


def test_a_recipe_that_was_edited_since_keeps_its_edit() -> None:
    """The new times go into the latest version: what was written into it after the print stays."""
    local = [{"area": "A", "act": "burn", "filter": "soft", "stops": "1/2"}]
    recipes = Recipes([recipe_from(**SPLIT), recipe_from(**SPLIT, local=local, title="edited")])
    record = record_of(plan_of(recipes.versions[0]))
    take(next_of(record, Looks(light=-1, dark=0), Papers(demo()), recipes, lambda: LONGEST_MS), record, recipes)
    made = recipes.versions[2]
    assert (made.title, made.local) == ("edited", recipes.versions[1].local)
    assert seconds_of(made)["soft"] == Decimal("13.9")


@pytest.mark.parametrize("p", [1.0, 0.9])
@pytest.mark.parametrize("read", [True, False])
def test_a_recipe_that_was_carried_to_another_size_since_keeps_its_size(p: float, read: bool) -> None:
    """How the small print looked changes the large one's times by the same twelfths: ×4 takes (5/3)^(2/p) of ×2.

    It is judged at the size that it was printed at, whatever the recipe says by now.
    """
    small = recipe_from(**SPLIT, magnification=2.0, lens={"aperture": 8.0})
    longer = (25 / 9) ** (1 / p if read else 1.0)
    bases = {"light": [{"filter": "soft", "seconds": 33.3}, {"filter": "hard", "seconds": 12.2}]}
    large = recipe_from(**(SPLIT | bases), magnification=4.0, lens={"aperture": 8.0})
    failing = {"setup": Setup(magnification=2.0, aperture=8.0)}
    failing |= {"reciprocity": Reciprocity(exponent=p, date=date(2026, 11, 30))}
    papers, looks = Papers(demo().model_copy(update=failing) if read else None), Looks(light=-1, dark=0)
    record = record_of(plan_of(small, BENCH if read else None))
    here, recipes = Recipes([small]), Recipes([small, large])
    row, _ = take(next_of(record, looks, papers, here, lambda: LONGEST_MS), record, here)
    carried, _ = take(next_of(record, looks, papers, recipes, lambda: LONGEST_MS), record, recipes)
    assert [each.twelfths for each in carried.changes] == [each.twelfths for each in row.changes]
    for one, other in zip(row.changes, carried.changes, strict=True):
        assert other.after == pytest.approx(one.after * longer, abs=0.06)
        assert float(seconds_of(recipes.versions[2])[other.filter]) == other.after


def test_dry_down_is_written_before_it_is_taken_off() -> None:
    """With dry-down the recipe says what leaves the new seconds after it."""
    model = recipe_from(**SPLIT, dry_down_percent=10)
    row, recipes = looked(model, -1, 0, paper=demo())
    assert row.changes[0].before == 10.8
    steps = compile_any(recipes.versions[1], source="r", version=2).steps
    assert [each.planned_ms / 1000 for each in steps] == [each.after for each in row.changes]


def test_a_printer_s_own_filters_are_soft_and_hard() -> None:
    """Bases named by what is written on the filters are the same pair, by the enlarger's word or by the recipe's."""
    model = recipe_from(light=[{"filter": "00", "seconds": 12.0}, {"filter": "5", "seconds": 4.4}])
    row, recipes = looked(model, -1, 0, bench=BENCH)
    assert list(seconds_of(recipes.versions[1])) == ["00", "5"]
    assert row.by == "typical"
    by_recipe = recipe_from(light=[{"filter": "00", "seconds": 12.0}], filters={"soft": "00", "hard": "5"})
    assert list(seconds_of(looked(by_recipe, 0, -2)[1].versions[1])) == ["00", "hard"]


def test_one_filter_changes_time_and_number() -> None:
    """A print through filter 2 whose shadow is far too light goes through a harder filter, and its burns with it."""
    local = [{"area": "A", "act": "burn", "filter": "2", "stops": "1/2"}]
    row, recipes = looked(recipe_from(local=local), 0, -3, paper=demo(), bench=BENCH)
    found = mend_one_filter(Looks(light=0, dark=-3), "2", Decimal("10.0"), paper=demo())
    made = recipes.versions[1]
    assert seconds_of(made) == {found.filter: found.seconds}
    assert found.filter != "2"
    assert made.local[0].filter == found.filter
    assert row.changes[0].filter == found.filter


def test_several_filters_follow_the_highlight() -> None:
    """Bases through filters of which nothing is known are changed alike, by the highlight."""
    model = recipe_from(light=[{"filter": "1", "seconds": 10.0}, {"filter": "4", "seconds": 20.0}])
    row, _ = looked(model, -1, 0, paper=demo())
    assert row.by == "highlight"
    assert {each.twelfths for each in row.changes} == {2.5}


def test_another_set_up_than_the_paper_s() -> None:
    """The paper's seconds are turned into the print's: at f/11, twice the seconds, the change is the same."""
    read_at = demo().model_copy(update={"setup": Setup(magnification=2.0, aperture=8.0)})
    here, _ = looked(recipe_from(**SPLIT), -1, 1, paper=read_at, bench=BENCH)
    twice = {"light": [{"filter": "soft", "seconds": 24.0}, {"filter": "hard", "seconds": 8.8}]}
    there, _ = looked(recipe_from(**twice), -1, 1, paper=read_at, bench=BENCH.model_copy(update={"aperture": 11.0}))
    assert [each.twelfths for each in there.changes] == [each.twelfths for each in here.changes]


def test_no_pair_can_mend_it_is_filed_with_the_reason() -> None:
    """Where no pair mends it the nearest is made, and the row says why it is only that."""
    row, recipes = looked(recipe_from(**SPLIT), -3, 3, paper=demo())
    assert "softer light" in row.why
    assert len(recipes.versions) == 2


def test_a_base_that_would_be_too_long_is_refused() -> None:
    """A new time over the longest light is refused in a sentence, and nothing is kept."""
    recipes = Recipes([recipe_from()])
    record = record_of(plan_of(recipes.versions[0]))
    with pytest.raises(Impossible) as refused:
        next_of(record, Looks(light=-3, dark=-3), Papers(), recipes, lambda: 10_500)
    assert "open the lens" in str(refused.value)


# ---- strips


def _strip(pick: int, **more: Any) -> tuple[SheetRecord, Recipes]:
    strip = make("first", AtEnlarger(aperture=8.0, head_height_mm=620.0), centre_ms=12_000)
    plan = plan_of(strip)
    assert plan.strip is not None
    picked = Picked(sheet="s", band=pick, filter="soft", seconds=plan.strip.totals_ms[pick - 1] / 1000, **more)
    seconds = {"filter": "soft", "seconds": picked.seconds}
    return record_of(plan, picked), Recipes([recipe_from(light=[seconds], paper={"name": "paper one"})])


def test_two_looks_of_one_soft_strip_are_a_pair() -> None:
    """The picked band, and how dark the shadow is in it, make the pick's recipe a pair of soft and hard."""
    record, recipes = _strip(4, recipe="r", recipe_version=1)
    found = next_of(record, Looks(light=0, dark=-2), Papers(demo()), recipes, lambda: LONGEST_MS)
    row, kept = take(found, record, recipes)
    pair = mend(Looks(light=0, dark=-2), Decimal("12.0"), Decimal(0), paper=demo())
    assert kept is not None
    assert seconds_of(recipes.versions[1]) == {"soft": pair.soft_seconds, "hard": pair.hard_seconds}
    assert pair.hard_seconds > 0
    assert (row.changes[1].filter, row.changes[1].before) == ("hard", 0.0)


def test_a_pick_that_made_no_recipe_has_no_version() -> None:
    """A pick without aperture and height made no recipe: what would be given is told, and nothing is kept."""
    record, recipes = _strip(4)
    found = next_of(record, Looks(light=0, dark=-2), Papers(demo()), recipes, lambda: LONGEST_MS)
    assert found.recipe is None
    assert take(found, record, recipes) == (found.looked, None)
    assert found.looked.changes


# ---- no verdict


def _refused(record: SheetRecord, error: type[ControllerError] = Impossible) -> str:
    with pytest.raises(error) as refused:
        next_of(record, Looks(light=-1, dark=0), Papers(), Recipes([recipe_from(**SPLIT)]), lambda: LONGEST_MS)
    return str(refused.value)


def test_an_open_sheet_takes_no_verdict() -> None:
    """A sheet that is not closed has not been looked at."""
    plan = plan_of(recipe_from(**SPLIT))
    assert "Sheet 12 is still open" in _refused(record_of(plan, entries=whole_sheet("s", 12, plan)[:-1]), WrongMoment)


@pytest.mark.parametrize("bench", [None, BENCH])
@pytest.mark.parametrize("named", [True, False])
def test_a_print_whose_recipe_is_for_another_paper_since_takes_no_verdict(
    bench: AtEnlarger | None, named: bool
) -> None:
    """Times of one paper are wrong on another; which paper a print is on, its recipe or the enlarger told."""
    then = recipe_from(**(SPLIT if named else SPLIT | {"paper": {"support": "RC"}}))
    recipes = Recipes([then, recipe_from(**SPLIT, title="carried")])
    recipes.versions[1] = recipes.versions[1].model_copy(update={"paper": PaperAsked(name="paper two")})
    record = record_of(plan_of(then, bench))
    if bench is None and not named:  # nobody said what it is on
        next_of(record, Looks(light=1, dark=0), Papers(demo()), recipes, lambda: LONGEST_MS)
        return
    with pytest.raises(Impossible) as refused:
        next_of(record, Looks(light=1, dark=0), Papers(demo()), recipes, lambda: LONGEST_MS)
    assert "Sheet 12 is on paper one, and its recipe is for paper two now" in str(refused.value)
    assert "Print it on paper two" in str(refused.value)  # the remedy
    assert len(recipes.versions) == 2


def test_a_print_on_the_paper_that_its_recipe_came_to_be_for_is_judged() -> None:
    """A recipe that is put right, to the paper which lay at the enlarger, takes the verdict; a version gone is none."""
    then = recipe_from(**SPLIT).model_copy(update={"paper": PaperAsked(name="paper two")})
    recipes = Recipes([then, recipe_from(**SPLIT)])
    record = record_of(plan_of(then, BENCH))
    assert next_of(record, Looks(light=1, dark=0), Papers(demo()), recipes, lambda: LONGEST_MS).recipe is not None


def test_a_picked_strip_whose_recipe_is_for_another_paper_since_takes_no_verdict() -> None:
    """A pick's recipe that was carried to another paper is not mended by the strip any more."""
    record, recipes = _strip(4, recipe="r", recipe_version=1)
    recipes.versions.append(recipes.versions[0].model_copy(update={"paper": PaperAsked(name="paper two")}))
    with pytest.raises(Impossible, match="its recipe is for paper two now"):
        next_of(record, Looks(light=0, dark=-2), Papers(demo()), recipes, lambda: LONGEST_MS)


def test_a_check_takes_no_verdict() -> None:
    """A check of the lamp has no highlight."""
    plan = plan_of(recipe_from(**SPLIT))
    record = record_of(plan).model_copy(update={"plan": plan.model_copy(update={"kind": "check"})})
    assert "check light" in _refused(record)


@pytest.mark.parametrize(
    "failure",
    [
        (Struck(sheet="s", light="s.1"),),
        (LightSeen(sheet="s", light="s.1", came=False),),
    ],
)
def test_a_lamp_that_failed_takes_no_verdict(failure: tuple[Entry, ...]) -> None:
    """A light that gave nothing, or that the sensor missed, makes a sheet that says nothing of its times."""
    plan = plan_of(recipe_from(**SPLIT))
    whole = whole_sheet("s", 12, plan)
    record = record_of(plan, entries=[*whole[:3], *failure, *whole[3:]])
    assert record.lamp_failed
    assert "lamp failed on sheet 12" in _refused(record)


def test_a_light_in_doubt_takes_no_verdict() -> None:
    """After a power cut nobody knows what the paper had, until the printer has said what to assume."""
    plan = plan_of(recipe_from(**SPLIT))
    whole = whole_sheet("s", 12, plan)
    record = record_of(plan, entries=[whole[0], whole[1], came("s.1", 2_000, 12_000, why="fault"), *whole[3:]])
    assert "lamp failed" in _refused(record)


def test_a_failure_that_was_made_good_is_none() -> None:
    """A light that was struck and given again leaves a sheet that can be judged."""
    plan = plan_of(recipe_from(**SPLIT))
    whole = whole_sheet("s", 12, plan)
    again = [Struck(sheet="s", light="s.1"), intent("again", "s", 1, 2, lit_ms=12_000), came("again", 12_000)]
    record = record_of(plan, entries=[*whole[:3], *again, *whole[3:]])
    assert not record.lamp_failed
    assert next_of(
        record, Looks(light=-1, dark=0), Papers(), Recipes([recipe_from(**SPLIT)]), lambda: LONGEST_MS
    ).recipe


def test_a_sheet_closed_early_takes_no_verdict() -> None:
    """A sheet that was closed before its hard base has not had its light; one left out on purpose has."""
    plan = plan_of(recipe_from(**SPLIT))
    whole = whole_sheet("s", 12, plan)
    early = record_of(plan, entries=[*whole[:3], Closed(sheet="s", outcome="spoiled")])
    assert "before it had all its light" in _refused(early)
    on_purpose = [*whole[:3], LeftOut(sheet="s", step=2), Closed(sheet="s", outcome="complete")]
    assert not record_of(plan, entries=on_purpose).lamp_failed
    recipes = Recipes([recipe_from(**SPLIT)])
    found = next_of(
        record_of(plan, entries=on_purpose), Looks(light=0, dark=-2), Papers(demo()), recipes, lambda: LONGEST_MS
    )
    assert found.recipe is not None


def test_strips_that_are_not_judged_so() -> None:
    """Without a pick, and on burn, flash and proof strips, there is no highlight and shadow to judge."""
    at, base = AtEnlarger(aperture=8.0), [FilterTime(filter="soft", seconds=Decimal("12.0"))]
    assert "No band of this strip is picked" in _refused(record_of(plan_of(make("first", at, centre_ms=12_000))))
    for template in ("burn", "flash", "proof"):
        assert "pick a band of it instead" in _refused(record_of(plan_of(make(template, at, base=base))))


# ---- the record, and the desk


def test_looks_are_in_the_record_the_last_last() -> None:
    """What was said of a sheet is in its record, in order; without a look its record is written as it always was."""
    plan = plan_of(recipe_from(**SPLIT))
    rows = Looked(sheet="s", light=-1, dark=0), Looked(sheet="s", light=0, dark=1, third=-2)
    assert record_of(plan, *rows).looked == rows
    assert "looked" not in record_of(plan).model_dump(mode="json")
    assert "third" not in rows[0].model_dump(mode="json")


def test_the_desk_takes_a_look_over() -> None:
    """The contrast desk previews a look without keeping anything, and takes it over with the version it made."""
    recipes = Recipes([recipe_from(**SPLIT)])
    desk = ContrastDesk(Papers(demo()), lambda: LONGEST_MS, recipes)  # type: ignore[arg-type]
    record, looks = record_of(plan_of(recipes.versions[0])), Looks(light=-1, dark=0, third=2)
    preview = desk.looked(record, looks)
    assert len(recipes.versions) == 1
    row = desk.take_looks(record, looks)
    assert (row.recipe_version, row.third) == (2, 2)
    assert recipes.versions[1] == preview.recipe


@pytest.mark.parametrize("beforehand", [None, True])
def test_the_flash_that_a_sheet_had_counts(beforehand: bool | None) -> None:
    """A flash of the sheet's own and one given beforehand are both part of what the tones print."""
    flash = {"seconds": 0.3, "filter": "soft", "way": "no negative"} | ({"beforehand": True} if beforehand else {})
    row, recipes = looked(recipe_from(**SPLIT, flash=flash), -1, 0, paper=demo(), bench=BENCH)
    pair = mend(Looks(light=-1, dark=0), Decimal("12.0"), Decimal("4.4"), paper=demo(), flash=Flash(seconds=0.3))
    assert seconds_of(recipes.versions[1]) == {"soft": pair.soft_seconds, "hard": pair.hard_seconds}
    assert recipes.versions[1].flash == recipes.versions[0].flash
    bare = mend(Looks(light=-1, dark=0), Decimal("12.0"), Decimal("4.4"), paper=demo())
    assert (pair.soft_seconds, pair.hard_seconds) != (bare.soft_seconds, bare.hard_seconds)
    assert row.recipe_version == 2


def test_a_flash_whose_light_cannot_be_told_counts_as_just_under() -> None:
    """Through an opal, or through a filter that is neither soft nor hard, seconds say nothing on the paper's curve."""
    for flash in (
        {"seconds": 4.0, "way": "opal under the lens"},
        {"seconds": 4.0, "filter": "2", "way": "no negative"},
        {"seconds": 4.0, "way": "opal under the lens", "beforehand": True},
    ):
        _, recipes = looked(recipe_from(**SPLIT, flash=flash), -1, 0, paper=demo(), bench=BENCH)
        pair = mend(Looks(light=-1, dark=0), Decimal("12.0"), Decimal("4.4"), paper=demo(), flash="just under")
        assert seconds_of(recipes.versions[1]) == {"soft": pair.soft_seconds, "hard": pair.hard_seconds}
