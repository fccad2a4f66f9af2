"""A real darkroom, while it serves: what is kept is taken out, and what is brought in counts at once."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from tools.daemon_bench import bench, until
from tools.patience import PATIENCE_S

from controller.backup.export import INDEX, export
from controller.backup.packed import pack_export
from controller.daemon.recipe_shelf import RecipeShelf
from controller.picture.contact_sheets import CONTACT_SHEETS
from controller.store.folder import DataFolder
from controller.store.settings import Settings, keep_settings
from controller.store.shelf import Shelf

pytestmark = pytest.mark.usefixtures("by_real_time")


def test_a_serving_darkroom_takes_in_and_gives_out(tmp_path: Path) -> None:
    """Recipes of another darkroom are found, its settings are in force, and the file taken out has them; no restart."""
    other = DataFolder(tmp_path / "other")
    with Shelf.open(other.shelf) as shelf:
        RecipeShelf(shelf, lambda: 600_000).stock()
        keep_settings(shelf, Settings(safe_minutes=7))
        # the practice sets lie on every practice shelf under the same ids, so they are there already
        ids = {one.id for one in shelf.each()} - {sheet.id for sheet in CONTACT_SHEETS}
    packed = pack_export(other, tmp_path / "packed", date(2026, 11, 30))
    with bench(tmp_path / "serving") as darkroom:
        yours = darkroom.desk.your_data()
        with packed.open("rb") as file:
            yours.bring(file, packed.name)
        until(lambda: yours.view().under_way == "", PATIENCE_S)
        view = yours.view()
        assert view.in_said == ""
        assert view.brought is not None
        assert {one.id for one in view.brought.kept} == ids
        assert darkroom.desk.settings().safe_minutes == 7
        assert all(darkroom.desk.recipes().fetch(id_).version == 1 for id_ in ids - {"settings"})
        assert ids - {"settings"} <= {
            one.id for kind in ("recipe", "strip") for one in darkroom.desk.find().things(kind, "").things
        }
        yours.take_out()
        until(lambda: yours.view().under_way == "", PATIENCE_S)
        assert yours.taken_out().exists()
    assert not (tmp_path / "serving" / "data" / "taken-out").exists()
    index = json.loads((export(DataFolder(tmp_path / "serving" / "data"), tmp_path / "after") / INDEX).read_text())
    assert ids <= {one["id"] for one in index["shelf"]}
