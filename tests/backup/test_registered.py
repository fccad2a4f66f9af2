"""A room that keeps something says so once; copies, exports, imports and checks ask there and name no kind."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from tools.history import FakeWall, plan

from controller.backup import export as export_module
from controller.backup import registered
from controller.backup.export import export
from controller.backup.import_ import import_
from controller.backup.registered import ROOMS, THINGS, read_thing, unread
from controller.errors import Unreadable
from controller.keeping import Derived, Execute, Keeps, ThingKind
from controller.store.entries import Entry, SheetPlanned
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.lookups import Lookups
from controller.store.shelf import Shelf
from controller.store.versions import Kept
from hardware.clock import ManualClock

LENSES = "treadle/lenses/1"


def _read(text: str, name: str) -> str:
    if '"frames"' not in text:
        raise Unreadable(f"{name}: no frames.")
    return "Set 12"


@pytest.fixture
def lenses(monkeypatch: pytest.MonkeyPatch) -> ThingKind:
    """A room to come, registered for the length of a test."""
    thing = ThingKind("lenses", "lenses", LENSES, _read, lambda text: _read(text, ""))
    monkeypatch.setitem(THINGS, "lenses", thing)
    return thing


def test_a_new_kind_goes_out_and_comes_back(lenses: ThingKind, tmp_path: Path) -> None:
    """What a new room keeps on the shelf is exported, imported and brought by itself, by its declaration alone."""
    here, there = DataFolder(tmp_path / "here"), DataFolder(tmp_path / "there")
    text = f'{{"format": "{LENSES}", "frames": []}}'
    with Shelf.open(here.shelf, FakeWall().now) as shelf:
        shelf.save(lenses.kind, "Set 12", text)
    out = export(here, tmp_path / "out")
    (file,) = (out / lenses.folder).iterdir()
    assert file.read_text() == text
    assert [one.kind for one in import_(out, there).kept] == ["lenses"]
    assert export(there, tmp_path / "again").joinpath("export.json").read_bytes() == (out / "export.json").read_bytes()
    (tmp_path / "other.json").write_text(text.replace("[]", "[{}]"))
    assert [one.title for one in import_(tmp_path / "other.json", there).kept] == ["Set 12"]
    file.write_text(f'{{"format": "{LENSES}"}}')
    with pytest.raises(Unreadable, match="no frames"):
        import_(out, there)


def test_what_this_software_cannot_read_any_more_is_named(lenses: ThingKind, tmp_path: Path) -> None:
    """A thing on the shelf whose latest text its own room refuses is named by the check, whatever its kind."""
    with Shelf.open(tmp_path / "shelf.db", FakeWall().now) as shelf:
        shelf.save(lenses.kind, "Set 12", f'{{"format": "{LENSES}", "frames": []}}')
        shelf.save("recipe", "Crane", "{}")
        kept = shelf.save(lenses.kind, "Set 13", "{}")
        assert [sentence[:6] for sentence in unread(shelf)] == ["Crane:", "Set 13"]
        shelf.save(lenses.kind, "Set 13", f'{{"format": "{LENSES}", "frames": [1]}}', kept.id)
        assert [sentence[:6] for sentence in unread(shelf)] == ["Crane:"]


def test_an_export_of_a_kind_that_is_not_known_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a newer Treadle keeps is not taken in by one that does not know it; nothing is kept."""
    test = monkeypatch
    test.setitem(THINGS, "lenses", ThingKind("lenses", "lenses", LENSES, _read))
    here, there = DataFolder(tmp_path / "here"), DataFolder(tmp_path / "there")
    with Shelf.open(here.shelf, FakeWall().now) as shelf:
        shelf.save("lenses", "Set 12", f'{{"format": "{LENSES}", "frames": []}}')
    out = export(here, tmp_path / "out")
    test.delitem(THINGS, "lenses")
    with pytest.raises(Unreadable, match="a lenses, which this software does not know"):
        import_(out, there)
    assert not there.shelf.exists()


def test_a_rooms_own_tables_follow_the_shelf(tmp_path: Path, lenses: ThingKind) -> None:
    """What a room looks up in tables of its own is filled by its declaration, as things change, and built anew."""
    place = tmp_path / "lookups.db"
    text = f'{{"format": "{LENSES}", "frames": [1, 2]}}'

    def frames(lookups: Lookups) -> list[tuple[object, ...]]:
        assert lookups.follow()
        return lookups.rows("SELECT set_id, count FROM lenses WHERE count > ?", 0)

    def note(execute: Execute, _place: int, kept: Kept) -> None:
        _read(kept.body, kept.title)
        count = len(json.loads(kept.body)["frames"])
        execute("INSERT OR REPLACE INTO lenses VALUES (?, ?)", (kept.id, count))

    tables = "CREATE TABLE lenses (set_id TEXT PRIMARY KEY, count INTEGER NOT NULL) STRICT;"
    own = Derived((lenses.kind,), tables, note)
    journal = Journal.open(tmp_path / "journal.db", ManualClock(), Stamp("boot", "0", 1))
    with Shelf.open(tmp_path / "shelf.db", FakeWall().now) as shelf, journal:
        shelf.save("recipe", "Crane", "{}")
        kept = shelf.save(lenses.kind, "Set 12", text)
        with closing(Lookups(place, shelf, journal, THINGS, (own,))) as lookups:
            assert frames(lookups) == [(kept.id, 2)]
            shelf.save(lenses.kind, "Set 12", text.replace("[1, ", "[0, 1, "), kept.id)
            assert frames(lookups) == [(kept.id, 3)]
            newer = shelf.save(lenses.kind, "Set 13", "{}")
            assert frames(lookups) == [(kept.id, 3)]
            assert [one.id for one in lookups.find("set", lenses.kind)] == [newer.id, kept.id]
            lookups.rebuild()
            assert frames(lookups) == [(kept.id, 3)]
        again = replace(own, version=2)
        for other in (again, replace(again, tables=tables.replace("TEXT PRIMARY", "ANY PRIMARY"))):
            with closing(sqlite3.connect(place)) as direct, direct:
                direct.execute("UPDATE lenses SET count = 9")
            with closing(Lookups(place, shelf, journal, THINGS, (other,))) as lookups:
                assert frames(lookups) == [(kept.id, 3)]


def test_every_kind_of_row_belongs_to_one_room() -> None:
    """The rooms' kinds of row are the journal's, each once; kinds of things and their folders are no two alike."""
    rows = [row for room in ROOMS for row in room.rows]
    assert len(rows) == len(set(rows))
    assert set(rows) == set(get_args(get_args(Entry)[0]))
    for name in ("kind", "folder", "format"):
        names = [getattr(thing, name) for thing in THINGS.values()]
        assert len(names) == len(set(names))


def test_no_kind_is_named_outside_its_room() -> None:
    """Neither export nor import nor the shelf spells the name of any kind of thing."""
    source = "".join(
        Path(module).read_text(encoding="utf-8")
        for module in (
            export_module.__file__,
            Path(export_module.__file__).with_name("import_.py"),
            Path(export_module.__file__).parent.parent / "store" / "shelf.py",
            Path(export_module.__file__).parent.parent / "store" / "journal.py",
        )
    )
    assert [kind for kind in THINGS if f'"{kind}"' in source] == []


def test_an_export_reads_the_journal_of_one_moment(tmp_path: Path) -> None:
    """A row that is filed while an export is being written is not in it, nor counted by it."""
    journal = Journal.open(tmp_path / "journal.db", ManualClock(), Stamp("boot", "0", 1))
    journal.append(SheetPlanned(sheet="a", number=1, plan=plan()))
    with journal.reader().at_this_moment() as reader:
        journal.append(SheetPlanned(sheet="b", number=2, plan=plan()))
        assert len(list(reader.each())) == 1
        assert reader.sheets() == ("a",)
    with journal.reader() as reader:
        assert reader.sheets() == ("a", "b")
    journal.close()


@pytest.mark.parametrize("kind", THINGS)
def test_what_needs_its_export_is_not_brought_alone(kind: str) -> None:
    """A file that means nothing without the export around it is refused by itself, and is not among what would do."""
    thing = THINGS[kind]
    text = f'{{"format": "{thing.format}", "no": 1}}'
    assert _refusal(text, alone=False) == _read_by(thing, text)
    assert (_refusal(text, alone=True) == _read_by(thing, text)) is thing.by_itself
    offered = _refusal('{"format": "treadle/nothing/1"}', alone=True).partition("treadle/nothing/1")[2]
    assert (thing.format in offered) is thing.by_itself


def _refusal(text: str, *, alone: bool) -> str:
    try:
        read_thing(text, "file.json", alone=alone)
    except Unreadable as problem:
        return str(problem)
    return ""


def test_a_newer_form_is_known_by_its_room() -> None:
    """A file of a form's later number is refused by the room it belongs to, which can say that it is newer."""
    for thing in THINGS.values():
        text = f'{{"format": "{thing.format.rpartition("/")[0]}/77"}}'
        assert _refusal(text, alone=False) == _read_by(thing, text) != ""
    assert {"recipe", "strip", "paper", "carry", "settings"} <= set(THINGS)


def _read_by(thing: ThingKind, text: str) -> str:
    try:
        thing.read(text, "file.json")
    except Unreadable as problem:
        return str(problem)
    return ""


def test_the_check_reads_so_many_of_a_kind(lenses: ThingKind, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a kind of which there are very many, the last saved are read, so that a check ends."""
    monkeypatch.setattr(registered, "LOOKED_AT", 2)
    with Shelf.open(tmp_path / "shelf.db", FakeWall().now) as shelf:
        for number in range(4):
            shelf.save(lenses.kind, f"Set {number}", "{}")
        assert sorted(sentence[:6] for sentence in unread(shelf)) == ["Set 2:", "Set 3:"]


def test_a_room_that_keeps_nothing_declares_nothing() -> None:
    """A declaration without anything kept is a mistake, and is told at once."""
    with pytest.raises(AssertionError, match="nothing to declare"):
        Keeps(room="empty")
