"""Recipes and strips on the shelf: kept as versions, compiled before they are kept, ordered by use, picked into."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from tools.history import Pages, whole_sheet
from tools.written_files import text_of, tree_of

from controller.daemon import recipe_shelf
from controller.daemon.recipe_shelf import RecipeShelf
from controller.errors import Impossible, NotThere, Unreadable
from controller.keeping import ThingKind
from controller.picture.contact_sheets import CONTACT_SHEETS, lying_on
from controller.picture.invented import invented
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.recipe import Lens
from controller.recipe.strip import Strip
from controller.store.entries import Loaded
from controller.store.folding import fold
from controller.store.records import SheetRecord
from controller.store.shelf import Shelf

ANY_THING = ThingKind("negatives", "negatives", "treadle/negatives/1", lambda _text, name: name)


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with Shelf.open(tmp_path / "shelf.db") as opened:
        yield opened


@pytest.fixture
def library(shelf: Shelf) -> RecipeShelf:
    return RecipeShelf(shelf, lambda: 600_000)


def recipe(title: str = "a print", seconds: float = 10.0) -> str:
    return json.dumps(
        {"format": "treadle/recipe/1", "title": title, "light": [{"filter": "2", "seconds": seconds}], "local": []}
    )


def printed(library: RecipeShelf, source: str) -> SheetRecord:
    """Return the record of a sheet of what is kept as `source`."""
    pages = Pages()
    pages.write(*whole_sheet("sheet-1", 1, library.plan(source)))
    return fold(pages.rows)[0]


def test_an_empty_shelf_is_stocked_once_with_samples_that_compile(library: RecipeShelf) -> None:
    """A newcomer's shelf gets the samples, each of which can be lit; a shelf with anything on it gets none."""
    library.stock()
    first = [*library.kept("recipe"), *library.kept("strip")]
    assert {kept.kind for kept in first} == {"recipe", "strip"}
    for kept in first:
        assert library.plan(kept.id).steps
    library.stock()
    assert [*library.kept("recipe"), *library.kept("strip")] == first


def test_a_sample_with_a_light_longer_than_is_allowed_here_is_left_out(shelf: Shelf) -> None:
    """Where the longest light is set to its least, 10 s, the darkroom still opens, with the samples that fit."""
    library = RecipeShelf(shelf, lambda: 10_000)
    library.stock()
    kept = [*library.kept("recipe"), *library.kept("strip")]
    assert kept
    assert all(step.planned_ms <= 10_000 for each in kept for step in library.plan(each.id).steps)


def test_practice_negatives_lie_on_a_new_shelf_under_ids_of_their_own(
    library: RecipeShelf, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both contact sheets are laid down once, each frame by the title of the negative that its reference names."""
    monkeypatch.setitem(recipe_shelf.THINGS, "negatives", ANY_THING)
    library.stock()
    library.stock()
    for sheet in CONTACT_SHEETS:
        kept = shelf.get(sheet.id)
        written = json.loads(kept.body)
        assert (kept.kind, kept.version, kept.title, written["set"]) == ("negatives", 1, sheet.title, sheet.title)
        assert (written["format"], written["frame_format"]) == ("treadle/negatives/1", sheet.frame_format)
        assert written["rows"] * written["columns"] == len(written["frames"]) == len(sheet.negatives)
        assert [frame["title"] for frame in written["frames"]] == [invented(name).title for name in sheet.negatives]
        for frame, name in zip(written["frames"], sheet.negatives, strict=True):
            assert lying_on(f"{kept.id}:{frame['frame']}") == (sheet, name)
        assert f"{invented(sheet.negatives[0]).rebate_density:.2f}" in written["notes"]


def test_a_darkroom_that_keeps_no_sets_gets_none(
    library: RecipeShelf, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What no room keeps could be neither exported nor read, so it is not laid down."""
    monkeypatch.delitem(recipe_shelf.THINGS, "negatives", raising=False)
    library.stock()
    assert shelf.holds("recipe")
    assert not shelf.holds("negatives")


def test_samples_that_were_put_away_do_not_come_back(library: RecipeShelf) -> None:
    """Who put every sample away has an empty list, and keeps it."""
    library.stock()
    for kept in (*library.kept("recipe"), *library.kept("strip")):
        library.put_away(kept.id)
    library.stock()
    assert not library.kept("recipe")
    assert not library.kept("strip")


def test_saving_again_makes_a_version_and_saving_the_same_makes_none(library: RecipeShelf) -> None:
    """Versions are numbered on; the same text again is the version that is there."""
    first = library.save(recipe())
    second = library.save(recipe(seconds=11.0), first.id)
    assert (second.id, second.version) == (first.id, 2)
    assert library.save(recipe(seconds=11.0), first.id).version == 2
    assert [kept.version for kept in library.versions(first.id)] == [2, 1]
    assert library.plan(first.id).steps[0].planned_ms == 11_000
    assert library.plan(first.id, 1).steps[0].planned_ms == 10_000
    assert library.plan(first.id, 1).version == 1


@pytest.mark.parametrize("text", ["", "{", "[]", '{"format": "treadle/recipe/9"}', recipe(seconds=-1)])
def test_what_cannot_be_read_is_refused_and_not_kept(library: RecipeShelf, text: str) -> None:
    """A text that is no recipe is refused with a sentence, and the shelf stays as it was."""
    with pytest.raises(Unreadable) as refusal:
        library.save(text)
    assert len(str(refusal.value).split()) > 4
    assert not library.kept("recipe")


def test_what_cannot_be_lit_is_refused_and_not_kept(library: RecipeShelf, shelf: Shelf) -> None:
    """A recipe whose step is longer than the longest light is refused before it is kept."""
    short = RecipeShelf(shelf, lambda: 5_000)
    with pytest.raises((Impossible, Unreadable)):
        short.save(recipe(seconds=10.0))
    assert not library.kept("recipe")


def test_a_review_keeps_nothing(library: RecipeShelf) -> None:
    """Reviewing shows the steps, and leaves the shelf as it was."""
    assert library.review(recipe(seconds=7.5)).steps[0].planned_ms == 7500
    assert not library.kept("recipe")


def test_what_was_used_last_comes_first(library: RecipeShelf) -> None:
    """The list is in the order of use, then of making; what the journal says of loading counts after a restart."""
    ids = [library.save(recipe(title)).id for title in ("one", "two", "three")]
    assert [kept.id for kept in library.kept("recipe")] == ids[::-1]
    library.used(ids[0])
    assert [kept.id for kept in library.kept("recipe")] == [ids[0], ids[2], ids[1]]
    pages = Pages()
    pages.write(Loaded(source=ids[1], version=1, title="two"), Loaded(source=ids[2], version=1, title="three"))
    last = library.remember(pages.rows)
    assert last is not None
    assert last.source == ids[2]
    assert [kept.id for kept in library.kept("recipe")] == [ids[2], ids[1], ids[0]]


def test_nothing_is_loaded_after_it_was_put_down(library: RecipeShelf) -> None:
    """Where the last word of the journal is that nothing is chosen, nothing is remembered as loaded."""
    pages = Pages()
    pages.write(Loaded(source="gone", version=1, title="x"), Loaded(source="", version=0, title=""))
    assert library.remember(pages.rows) is None


def test_what_is_not_there_is_said_to_be_gone(library: RecipeShelf) -> None:
    """An unknown id and an unknown version are refused by name."""
    kept = library.save(recipe())
    with pytest.raises(NotThere):
        library.plan("zzzzzzzz")
    with pytest.raises(NotThere):
        library.fetch(kept.id, 9)


def test_settings_are_no_recipe(library: RecipeShelf, shelf: Shelf) -> None:
    """Other things on the shelf cannot be loaded."""
    shelf.save("settings", "settings", "{}", only=True)
    with pytest.raises(NotThere):
        library.plan("settings")


def test_a_pick_becomes_the_base_of_a_new_recipe(library: RecipeShelf) -> None:
    """A band picked from a strip makes a recipe with it as its base, and the pick names recipe and version."""
    tree = tree_of("proof.strip.json") | {"lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620}
    strip = library.save(json.dumps(tree))
    picked, kept = library.take_pick(printed(library, strip.id), 4, between=False, recipe="")
    assert kept is not None
    assert (picked.band, picked.seconds, picked.recipe, picked.recipe_version) == (4, 12.0, kept.id, 1)
    assert library.plan(kept.id).steps[0].planned_ms == 12_000


def test_a_pick_between_two_bands_is_their_geometric_middle(library: RecipeShelf) -> None:
    """Between 9.5 and 12.0 s lies 10.7 s: the geometric mean (worked example: √(9.5 · 12.0) = 10.68)."""
    tree = tree_of("thirds.strip.json") | {"lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620}
    strip = library.save(json.dumps(tree))
    picked, _ = library.take_pick(printed(library, strip.id), 3, between=True, recipe="")
    assert picked.seconds == 10.7


def test_a_pick_goes_into_a_recipe_as_its_next_version(library: RecipeShelf) -> None:
    """A pick for a recipe that is there makes its next version; the one before stays."""
    base = library.save(recipe("mine", 8.0))
    tree = tree_of("proof.strip.json") | {"lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620}
    strip = library.save(json.dumps(tree))
    picked, kept = library.take_pick(printed(library, strip.id), 5, between=False, recipe=base.id)
    assert kept is not None
    assert (kept.id, kept.version, picked.recipe_version) == (base.id, 2, 2)
    assert library.plan(base.id).steps[0].planned_ms == 15_000
    assert library.plan(base.id, 1).steps[0].planned_ms == 8000


def test_a_pick_without_aperture_and_height_is_noted_and_makes_no_recipe(library: RecipeShelf) -> None:
    """Without aperture and head height a pick is not offered as a base: it is noted, and why is said."""
    tree = tree_of("proof.strip.json")
    for key in ("lens", "head_height_mm"):
        tree.pop(key, None)
    strip = library.save(json.dumps(tree))
    record = printed(library, strip.id)
    assert library.meaning(record, 4, between=False).not_offered
    picked, kept = library.take_pick(record, 4, between=False, recipe="")
    assert kept is None
    assert (picked.seconds, picked.recipe) == (12.0, "")


def test_what_stood_at_the_enlarger_is_not_asked(library: RecipeShelf) -> None:
    """Aperture, height and magnification come from the sheet's own stamp; what the strip says itself comes first."""
    tree = tree_of("proof.strip.json")
    for key in ("lens", "head_height_mm", "magnification"):
        tree.pop(key, None)
    stood = AtEnlarger(aperture=5.6, head_height_mm=612.5, magnification=2.75)
    for more, expected in (({}, ("5.6", "612.5", "2.75")), ({"lens": {"aperture": 8}}, ("8", "612.5", "2.75"))):
        strip = library.save(json.dumps(tree | more))
        record = printed(library, strip.id)
        record = record.model_copy(update={"plan": record.plan.standing(stood)})
        assert library.lacking(record) == {}
        _, kept = library.take_pick(record, 4, between=False, recipe="")
        assert kept is not None
        made = library.recipe(kept.id)
        assert made.lens is not None
        assert (str(made.lens.aperture), str(made.head_height_mm), str(made.magnification)) == expected


def test_what_is_said_with_a_pick_leaves_what_the_strip_says(library: RecipeShelf) -> None:
    """A strip with a height of its own keeps it, whatever is said with the pick; only what it lacks is filled in."""
    tree = tree_of("proof.strip.json") | {"lens": {"focal_mm": 150}, "head_height_mm": 620}
    strip = library.save(json.dumps(tree))
    record = printed(library, strip.id)
    assert library.lacking(record) == {"aperture": None}
    picked, kept = library.take_pick(
        record, 4, between=False, recipe="", aperture=Decimal(8), head_height_mm=Decimal(500)
    )
    assert kept is not None
    after = library.model(strip.id)
    assert isinstance(after, Strip)
    assert (after.lens, after.head_height_mm) == (Lens(focal_mm=Decimal(150), aperture=Decimal(8)), Decimal(620))
    assert library.recipe(kept.id).head_height_mm == 620
    assert library.lacking(record.model_copy(update={"picks": (picked,)})) == {}


def test_a_pick_that_is_refused_leaves_the_strip_as_it_was(library: RecipeShelf) -> None:
    """A pick into a recipe that stands at another aperture is refused, and nothing of it is kept."""
    strip = library.save(json.dumps(tree_of("proof.strip.json") | {"head_height_mm": 620, "lens": {"focal_mm": 150}}))
    tree = json.loads(recipe("mine", 8.0)) | {"lens": {"aperture": 11}}
    base = library.save(json.dumps(tree))
    with pytest.raises(Impossible, match="11"):
        library.take_pick(printed(library, strip.id), 4, between=False, recipe=base.id, aperture=Decimal(8))
    assert (library.fetch(strip.id).version, library.fetch(base.id).version) == (1, 1)


def test_a_pick_goes_into_no_strip_and_comes_from_no_recipe(library: RecipeShelf) -> None:
    """A strip cannot take a pick over, and a recipe's sheet has no bands."""
    tree = tree_of("proof.strip.json") | {"lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620}
    strip = library.save(json.dumps(tree))
    with pytest.raises(Impossible):
        library.take_pick(printed(library, strip.id), 4, between=False, recipe=strip.id)
    other = library.save(recipe())
    with pytest.raises(Impossible):
        library.meaning(printed(library, other.id), 1, between=False)


def test_every_example_can_be_kept_and_comes_back_as_it_was_meant(library: RecipeShelf) -> None:
    """What is kept of an example file compiles to the same steps as the file."""
    for name in ("crane.recipe.json", "everything.recipe.json", "everything.strip.json", "sky.strip.json"):
        kept = library.save(text_of(name))
        assert library.plan(kept.id).steps == library.review(text_of(name)).steps
