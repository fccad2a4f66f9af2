"""What was carried over goes with an export: strips and recipe stay linked on the shelf they are brought to."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

from controller.backup.export import export
from controller.backup.import_ import import_
from controller.backup.registered import checked
from controller.carry.carry_over import CarryDesk
from controller.carry.check_strips import confirmed_by
from controller.carry.wanted import CarryWanted
from controller.daemon.paper_shelf import PaperShelf
from controller.daemon.recipe_shelf import RecipeShelf
from controller.store.folder import DataFolder
from controller.store.shelf import Shelf
from controller.words import say

RECIPE = {
    "format": "treadle/recipe/1",
    "title": "Quay",
    "light": [{"filter": "soft", "seconds": 10.1}],
    "local": [],
    "lens": {"aperture": 8},
}


def test_links_outlive_an_export_and_an_import(tmp_path: Path) -> None:
    """Brought to an empty data folder, the check strip still confirms the recipe it was made for."""
    here, there = DataFolder(tmp_path / "here"), DataFolder(tmp_path / "there")
    with here.locked(), Shelf.open(here.shelf) as shelf:
        source = shelf.save("recipe", "Quay", json.dumps(RECIPE))
        recipes = RecipeShelf(shelf, lambda: 180_000)
        desk = CarryDesk(shelf, PaperShelf(shelf), recipes.recipe, lambda: 180_000, lambda _sheet: None)
        made = desk.keep(source.id, None, CarryWanted(aperture=Decimal(11)), title="Quay, f/11")
        link = confirmed_by(shelf, made.strips[0].id)
    brought = import_(export(here, tmp_path / "out"), there)
    assert [kept.kind for kept in brought.kept] == ["recipe", "recipe", "strip", "carry"]
    with Shelf.open(there.shelf) as shelf:
        assert confirmed_by(shelf, made.strips[0].id) == link
        assert link is not None
        assert link.recipe == made.recipe
        assert confirmed_by(shelf, source.id) is None


def test_what_a_carried_recipe_leans_on_is_looked_for(tmp_path: Path) -> None:
    """The check names each version that something carried over speaks of and that is not on the shelf; else nothing."""
    with Shelf.open(tmp_path / "shelf.db") as shelf, Shelf.open(tmp_path / "other.db") as other:
        source = shelf.save("recipe", "Quay", json.dumps(RECIPE))
        recipes = RecipeShelf(shelf, lambda: 180_000)
        desk = CarryDesk(shelf, PaperShelf(shelf), recipes.recipe, lambda: 180_000, lambda _sheet: None)
        made = desk.keep(source.id, None, CarryWanted(aperture=Decimal(11)), title="Quay, f/11")
        assert list(checked(shelf)) == []
        other.take_in(one for one in shelf.each() if one.kind not in ("strip", "recipe") or one.id == source.id)
        gone = [made.recipe, *made.strips]
        words = [say("carry.link-gone", title="Quay, f/11", id=each.id, version=each.version) for each in gone]
        assert list(checked(other)) == words
        assert other.save("carry", "of a newer version", "{}")
        assert list(checked(other)) == words
