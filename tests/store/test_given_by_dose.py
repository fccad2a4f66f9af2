"""A light that its dose has ended: what it is worth to an edition, to its recipe, and to how the print looked."""

from __future__ import annotations

from typing import Literal, cast

import pytest
from tools.fitted_papers import demo
from tools.history import Pages, came, intent
from tools.written_files import recipe_from

from controller.contrast.asks import Papers, Recipes
from controller.contrast.how_it_looked import Looks
from controller.contrast.looked_sheet import next_of
from controller.daemon.into_recipe import offered
from controller.daemon.recipe_shelf import RecipeShelf
from controller.editions.alike import alike
from controller.paper.paper import Paper
from controller.recipe.compile_recipe import compile_any
from controller.recipe.recipe import Recipe
from controller.store.entries import CalledGiven, Closed, Entry, SheetPlanned
from controller.store.folding import fold
from controller.store.levels import Dose, LevelKey
from controller.store.records import SheetRecord
from controller.store.said_of_sheets import LightChange

MODEL = recipe_from(light=[{"filter": "soft", "seconds": 12.0}, {"filter": "hard", "seconds": 4.4}])
LONGEST_MS = 15_119
"""A third of a stop over 12 s: 12·2^(1/3) = 15.119."""


class Kept:
    """One recipe, and a paper that was read."""

    def recipe(self, source: str, version: int | None = None) -> Recipe:
        return MODEL

    def longest_ms(self) -> int:
        return 600_000

    def called(self, name: str) -> str:
        return "p1"

    def fetch(self, source: str, version: int | None = None) -> Paper:
        return demo()


def sheet(
    soft_ms: int,
    stops: float | None = None,
    *,
    longest_ms: int = LONGEST_MS,
    why: Literal["complete", "foot"] = "complete",
) -> SheetRecord:
    """A print whose soft base was lit for so long, and was by so many stops stronger than the last good one."""
    soft = intent("a", "s", 1, lit_ms=12_000).model_copy(update={"longest_ms": longest_ms})
    dose: list[Entry] = [] if stops is None else [_dose(stops)]
    called: list[Entry] = [CalledGiven(sheet="s", step=1, by="foot")] if why == "foot" else []
    pages = Pages()
    pages.write(
        SheetPlanned(sheet="s", number=12, plan=compile_any(MODEL, source="r", version=1)),
        *(soft, came("a", soft_ms, why=why), *dose, *called),
        *(intent("b", "s", 2, lit_ms=4_400), came("b", 4_400)),
        Closed(sheet="s", outcome="complete"),
    )
    (record,) = fold(pages.rows)
    return record


def _dose(stops: float) -> Dose:
    return Dose(sheet="s", light="a", sensor="x", level=1.0, at=LevelKey(filter="soft"), stops=stops)


def changes(record: SheetRecord) -> tuple[LightChange, ...]:
    """What comes of a highlight that looked a little light."""
    looks, papers, recipes = Looks(light=-1, dark=0), cast("Papers", Kept()), cast("Recipes", Kept())
    return next_of(record, looks, papers, recipes, Kept().longest_ms).looked.changes


@pytest.mark.parametrize(("soft_ms", "stops"), [(10_000, 0.263), (14_290, -0.252), (10_000, None)])
def test_it_gave_what_was_ordered_of_it(soft_ms: int, stops: float | None) -> None:
    """Its time stays in the record; an edition, the recipe and a verdict go by the light that the paper had."""
    record, whole = sheet(soft_ms, stops), sheet(12_000, 0.0)
    assert record.steps[0].given_most_ms == soft_ms
    assert record.steps[0].worth_ms == (12_000, 12_000)
    assert (alike(whole, record).spread_stops, alike(whole, record).why) == (0.0, "")
    assert not offered(cast("RecipeShelf", Kept()), record).all
    assert not offered(cast("RecipeShelf", Kept()), record).why_not
    assert changes(record) == changes(whole)
    assert changes(record)[0].before == 12.0


def test_at_its_longest_it_gave_what_the_sensor_says() -> None:
    """A lamp half a stop weak gives in the longest time a sixth of a stop too little: 15.119·2^−0.5 = 10.69 of 12 s."""
    record = sheet(LONGEST_MS, -0.5)
    assert record.steps[0].worth_ms[1] == pytest.approx(10_691, abs=1)
    assert alike(sheet(12_000, 0.0), record).spread_stops == pytest.approx(-1 / 6, abs=1e-3)
    assert alike(sheet(12_000, 0.0), record).why == "spread"


@pytest.mark.parametrize(
    ("soft_ms", "more"),
    [(11_000, {"why": "foot"}), (12_001, {}), (11_000, {"longest_ms": 0})],
    ids=["by foot", "by its plan", "no dose asked"],
)
def test_any_other_light_is_worth_its_time(soft_ms: int, more: dict[str, object]) -> None:
    """Stopped by foot, ended by its plan, or of a sheet whose dose was not asked for: whatever the sensor saw."""
    assert sheet(soft_ms, 0.2, **more).steps[0].worth_ms == (soft_ms, soft_ms)  # type: ignore[arg-type]
