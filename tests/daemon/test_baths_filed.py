"""A sheet worked in a whole darkroom: its rows name their baths, and the page counts it, over a restart as well."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from tools.virtual_darkroom import VirtualDarkroom, virtual_darkroom

from controller.foot import acts
from controller.store.tray_rows import TrayEntered
from controller.trays.ledger import Bath

RECIPE = {
    "format": "treadle/recipe/1",
    "title": "quay",
    "light": [{"filter": "soft", "seconds": 3}],
    "local": [],
    "paper": {"support": "FB", "size": "16x20 in"},
}


def do(room: VirtualDarkroom, act: acts.Act) -> None:
    """Carry an act out on the present snapshot."""
    room.desk.do(act, room.status().number)
    room.run(0)


def print_one(room: VirtualDarkroom) -> str:
    """Work a sheet on FB by foot, close it, follow its print out of the last tray, and return the sheet's id."""
    room.desk.at_enlarger().change(room.status().number, paper="", paper_title="fibre", support="FB")
    do(room, acts.Load(source=room.desk.recipes().save(json.dumps(RECIPE)).id))
    for _ in range(8):
        if room.status().place == "finished":
            break
        room.press()
        room.run(9000)
    do(room, acts.CloseSheet())
    room.run(60_000)
    last = entered(room)[-1]
    assert not last.tray
    return last.sheet


def entered(room: VirtualDarkroom) -> list[TrayEntered]:
    """Return the rows of prints in the trays."""
    with room.darkroom._journal.reader() as reader:
        return [row.entry for row in reader.rows(kinds=("tray",)) if isinstance(row.entry, TrayEntered)]


def in_tray(room: VirtualDarkroom, tray: str) -> Bath:
    """Return the bath in a tray, as the page has it."""
    bath = next(each.bath for each in room.desk.trays().in_trays() if each.tray == tray)
    assert bath is not None
    return bath


def test_a_print_is_counted_to_the_baths_it_lay_in(tmp_path: Path) -> None:
    """A sheet of 16×20 is four of 8×10, in each bath it came through; the next one is one more, restart or not."""
    with virtual_darkroom(tmp_path) as room:
        room.desk.trays().make_fresh("developer", litres="2")
        room.desk.trays().make_fresh("fix 1")
        sheet = print_one(room)
        developer, fix = (in_tray(room, name) for name in ("developer", "fix 1"))
        named = {row.tray: (row.bath, row.prints, row.eights) for row in entered(room) if row.bath}
        assert named["developer"] == (developer.id, 1, 4.0)
        assert named["fix 1"] == (fix.id, 1, 4.0)
        assert (developer.litres, developer.prints, developer.fb) == (2.0, 1, 4.0)
        told = [(each.bath, each.prints) for each in room.desk.record(sheet).trays if each.tray == "fix 1"]
        assert told == [(fix.id, 1)]
    shutil.rmtree(tmp_path / "run")  # as another boot finds it
    with virtual_darkroom(tmp_path, ids=2) as room:
        if "no paper in the trays" in room.status().can:
            do(room, acts.NoPaperInTrays())
        sheet = print_one(room)
        assert (in_tray(room, "fix 1").prints, in_tray(room, "fix 1").fb) == (2, 8.0)
        assert [row.prints for row in entered(room) if row.sheet == sheet and row.tray == "fix 1"] == [2]
        room.desk.trays().make_fresh("fix 1")
        assert (in_tray(room, "fix 1").moved_up, in_tray(room, "fix 1").prints) == (True, 0)


def test_a_process_that_is_kept_is_the_next_prints(tmp_path: Path) -> None:
    """No second fix any more: the next print goes through one."""
    with virtual_darkroom(tmp_path) as room:
        trays = room.desk.trays()
        trays.keep_process(trays.processes()["FB"].model_copy(update={"fix_2_seconds": 0.0}))
        print_one(room)
        way = [row.tray for row in entered(room)]
        assert way[:6] == ["on its way", "developer", "drain", "stop", "fix", "rinse"]
