"""What a card or a power cut does to journal and shelf is told in a sentence, and never taken for the truth."""

from __future__ import annotations

import logging
import shutil
import sqlite3
import stat
import struct
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import islice
from pathlib import Path

import pytest
from tools.history import FakeWall, whole_sheet

from controller.backup.export import export
from controller.commands.check.card import look_at_stores
from controller.errors import ControllerError, Damaged, StoreTrouble
from controller.store.database import read_store, telling
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.rows import Reader
from controller.store.said_of_sheets import Remark
from controller.store.schemas import JOURNAL
from controller.store.shelf import Shelf
from controller.store.write_ahead import frames_in
from hardware.clock import ManualClock


def _journal(data: DataFolder) -> Journal:
    return Journal.open(data.journal, ManualClock(), FakeWall().stamp())


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    """A data folder with a sheet, a recipe, and a word that it is put away."""
    folder = DataFolder(tmp_path / "data")
    folder.key()
    with Shelf.open(folder.shelf, FakeWall().now) as shelf:
        shelf.put_away(shelf.save("recipe", "Crane", '{"seconds": 10.1}').id)
    with _journal(folder) as journal:
        journal.append(*whole_sheet("a", 1), Remark(sheet="a", text="ten point one"))
    return folder


def _flip(path: Path, before: bytes, after: bytes) -> None:
    whole = path.read_bytes()
    assert whole.count(before) == 1
    path.write_bytes(whole.replace(before, after))


def _all_commands(data: DataFolder, out: Path) -> Iterator[str]:
    """Give what each way of looking at both stores says that is no good."""

    def read_journal() -> None:
        with _journal(data) as journal:
            journal.rows()

    def read_shelf() -> None:
        with Shelf.open(data.shelf) as shelf:
            list(shelf.each())
            shelf.all_away()

    for look in (read_journal, read_shelf, lambda: export(data, out)):
        try:
            look()
        except ControllerError as problem:
            yield str(problem)
        else:
            yield ""
    yield " ".join(one.words for one in look_at_stores(data, daemon=False) if one.level == "must")


# ---- a checksum a row


def test_a_digit_that_the_card_changed_in_a_row_is_told(data: DataFolder, tmp_path: Path) -> None:
    """One letter changed within a row is found on reading it and by the check; the file itself counts as whole."""
    _flip(data.journal, b"ten point one", b"ten point two")
    with _journal(data) as journal, pytest.raises(Damaged, match=r"Row \d+ .* not as it was written"):
        journal.rows()
    assert ["not as it was written" in said for said in _all_commands(data, tmp_path / "out")] == [
        True,
        False,
        True,
        True,
    ]


def test_a_digit_that_the_card_changed_on_the_shelf_is_told(data: DataFolder, tmp_path: Path) -> None:
    """One digit changed in a recipe's seconds is found on reading it, on exporting it and by the check."""
    _flip(data.shelf, b'{"seconds": 10.1}', b'{"seconds": 18.1}')
    with Shelf.open(data.shelf) as shelf, pytest.raises(Damaged, match="not as it was written"):
        shelf.latest("recipe", away=True)
    assert [bool(said) for said in _all_commands(data, tmp_path / "out")] == [False, True, True, True]


def test_rows_of_before_stand_without_a_checksum(data: DataFolder) -> None:
    """Rows that an older version filed are read as they are; new ones beside them carry a checksum."""
    with closing(sqlite3.connect(data.journal)) as connection:
        connection.executescript("DROP TRIGGER rows_stay; UPDATE rows SET sum = NULL WHERE number < 3;")
    with _journal(data) as journal:
        assert journal.changed() is None
        assert len(journal.rows()) > 3
    with closing(sqlite3.connect(data.journal)) as connection:
        connection.execute("UPDATE rows SET sum = sum + 1 WHERE number = 4")
        connection.commit()
    with _journal(data) as journal:
        assert journal.changed() == 4


# ---- a file of no bytes


@pytest.mark.parametrize("name", ["journal", "shelf"])
@pytest.mark.parametrize("content", [b"", None], ids=["no bytes", "no tables"])
def test_an_empty_store_is_damaged_where_there_was_one(data: DataFolder, name: str, content: bytes | None) -> None:
    """An existing file without tables is never taken for a new one, nor called good, while anything tells of more."""
    place = data.path / f"{name}.db"
    place.unlink()
    if content is None:
        with closing(sqlite3.connect(place)) as connection:
            connection.execute("VACUUM")
    else:
        place.write_bytes(content)
    before = place.read_bytes()
    with pytest.raises(Damaged, match="it is empty, and there was more in it"):
        _journal(data) if name == "journal" else Shelf.open(data.shelf)
    levels = {one.name: one.level for one in look_at_stores(data, daemon=False)}
    assert levels[name] == "must"
    assert place.read_bytes() == before
    with pytest.raises(StoreTrouble, match="empty"):
        export(data, data.path.parent / "out")


@pytest.mark.parametrize("sign", ["secret.key", "backups", "the other"])
def test_any_sign_of_what_was_there_counts(data: DataFolder, sign: str) -> None:
    """The key, a backup or the other store with something in it is enough to tell that there was a journal."""
    data.journal.write_bytes(b"")
    (data.path / "secret.key").unlink()
    if sign != "the other":
        data.shelf.unlink()
    if sign == "secret.key":
        DataFolder(data.path).key()
    if sign == "backups":
        (data.backups / "2025-03-01").mkdir(parents=True)
        (data.backups / "2025-03-01" / "manifest.json").write_text("{}")
    with pytest.raises(Damaged):
        _journal(data)


def test_a_fresh_start_is_made_where_it_is_asked_for(data: DataFolder) -> None:
    """Set aside, an empty journal gives way to a new one; in a folder that never had one an empty file does, too."""
    data.journal.write_bytes(b"")
    Journal.start_fresh(data.journal)
    with _journal(data) as journal:
        assert journal.last() == 0
    alone = data.path.parent / "alone" / "journal.db"
    alone.parent.mkdir()
    alone.touch()
    with Journal.open(alone, ManualClock(), FakeWall().stamp()) as journal:
        assert journal.last() == 0


def test_a_new_store_is_its_owners_alone(tmp_path: Path) -> None:
    """A store that is made is for its owner's eyes only, with what lies beside it; an older one becomes so."""
    with Shelf.open(tmp_path / "shelf.db") as shelf:
        shelf.save("recipe", "Crane", "{}")
        assert {stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()} == {0o600}
    (tmp_path / "shelf.db").chmod(0o644)
    Shelf.open(tmp_path / "shelf.db").close()
    assert stat.S_IMODE((tmp_path / "shelf.db").stat().st_mode) == 0o600


# ---- text that is none


def test_text_that_is_none_is_damage(tmp_path: Path) -> None:
    """Where the database quotes, or holds, text that cannot be read, that is damage in a sentence, not a traceback."""
    with pytest.raises(Damaged, match="text cannot be read"), telling(tmp_path / "journal.db", JOURNAL):
        b"\xff".decode()


@pytest.mark.parametrize("name", ["journal", "shelf"])
def test_a_table_whose_name_is_no_text_is_damage(data: DataFolder, tmp_path: Path, name: str) -> None:
    """A damaged name in the database's own list of tables ends no command with a traceback."""
    place = data.path / f"{name}.db"
    whole = place.read_bytes()
    for before in (b"INDEX rows_of_a_sheet", b"INDEX away_of_one", b"INDEX kept_of_a_kind"):
        whole = whole.replace(before, before[:-3] + b"\xff\xfe\xff")
    place.write_bytes(whole)
    said = list(_all_commands(data, tmp_path / "out"))
    assert said[-1]
    assert all(words.isprintable() for words in said)


def test_a_put_away_thing_without_sense_is_damage(data: DataFolder) -> None:
    """A row of the shelf that says what no row can is damage in a sentence."""
    with closing(sqlite3.connect(data.shelf)) as connection:
        connection.executescript(
            "DROP TRIGGER kept_stay; DROP TRIGGER away_stay; UPDATE kept SET sum = NULL, kind = '7 !';"
        )
    with Shelf.open(data.shelf) as shelf, pytest.raises(Damaged, match="cannot be understood"):
        list(shelf.each())


# ---- the write-ahead file


@pytest.mark.parametrize(
    "damage",
    [
        "DROP TRIGGER rows_remain; DROP TABLE rows",
        "PRAGMA user_version = 1",
        "PRAGMA user_version = 3",
        "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = replace(sql, 'light', 'ligkt')",
    ],
)
def test_a_file_that_is_not_what_its_head_says_is_damaged(data: DataFolder, damage: str) -> None:
    """Whole to the database, but without its table, or of another version than its head says: damage, and a remedy."""
    _journal(data).close()
    with closing(sqlite3.connect(data.journal)) as connection:
        connection.executescript(damage)
    for ask in (
        lambda: _journal(data).unfinished(),
        lambda: Journal.open(data.journal, ManualClock(), FakeWall().stamp(), whole=False).unfinished(),
    ):
        with pytest.raises(Damaged, match="treadle restore"):
            ask()


def _unclean(data: DataFolder, into: Path) -> DataFolder:
    """Return a copy of a folder as a power cut leaves it: several appends in the write-ahead file only."""
    with _journal(data) as journal:
        for number in range(20):
            journal.append(Remark(sheet="a", text=f"remark {number}"))
        shutil.copytree(data.path, into)
    return DataFolder(into)


def test_what_a_write_ahead_file_lost_is_said(data: DataFolder, tmp_path: Path) -> None:
    """A damaged frame drops what was filed after it: the journal that is opened says so, once."""
    cut = _unclean(data, tmp_path / "cut")
    wal = cut.journal.with_name("journal.db-wal")
    whole = frames_in(cut.journal)
    assert whole >= 20
    damaged = bytearray(wal.read_bytes())
    damaged[32 + (whole // 2) * (24 + 4096) + 100] ^= 1
    wal.write_bytes(damaged)
    with _journal(cut) as journal:
        assert "lost" in " ".join(journal.notes)
    with _journal(cut) as journal:
        assert journal.notes == ()


@pytest.mark.parametrize("at", [0, 16, 24], ids=["magic", "salt", "checksum"])
def test_a_damaged_head_is_said(data: DataFolder, tmp_path: Path, at: int) -> None:
    """With its head damaged all of a write-ahead file is dropped: that is said as well."""
    cut = _unclean(data, tmp_path / "cut")
    wal = cut.journal.with_name("journal.db-wal")
    damaged = bytearray(wal.read_bytes())
    damaged[at] ^= 4
    wal.write_bytes(damaged)
    with _journal(cut) as journal:
        assert journal.notes


def test_an_unclean_end_without_damage_is_not_told_of(data: DataFolder, tmp_path: Path) -> None:
    """A power cut that lost nothing, or cut off a row that was never confirmed, is no trouble."""
    cut = _unclean(data, tmp_path / "cut")
    wal = cut.journal.with_name("journal.db-wal")
    with wal.open("ab") as file:
        file.write(struct.pack(">6I", 2, 0, *struct.unpack(">2I", wal.read_bytes()[16:24]), 0, 0) + bytes(4096))
    with _journal(cut) as journal:
        assert journal.notes == ()
        assert journal.rows()[-1].entry == Remark(sheet="a", text="remark 19")


def test_a_closed_sheet_is_in_the_journal_itself(data: DataFolder) -> None:
    """Soon after a sheet is closed the write-ahead file is empty, with the journal still in use."""
    with _journal(data) as journal:
        journal.append(*whole_sheet("b", 2))
        assert journal._emptying is not None
        journal._emptying.join(10)
        assert data.journal.with_name("journal.db-wal").stat().st_size == 0
        journal.append(Remark(sheet="b", text="after"))
        assert data.journal.with_name("journal.db-wal").stat().st_size > 0


def test_emptying_waits_for_nobody(data: DataFolder, caplog: pytest.LogCaptureFixture) -> None:
    """With a reader in the middle of the journal a closed sheet is filed no later; nothing is said of it."""
    caplog.set_level(logging.WARNING)
    with _journal(data) as journal, closing(sqlite3.connect(data.journal, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM rows").fetchone()
        journal.append(*whole_sheet("b", 2))
        assert journal._emptying is not None
        journal._emptying.join(10)
        assert not journal._emptying.is_alive()
        journal.append(*whole_sheet("c", 3))
    assert not caplog.records


def _misled(path: Path, table: str) -> None:
    """Have a search of a table's rows end before rows that it has passed, as a flipped bit in its tree can.

    SQLite's file format: a table's interior page (kind 5) has a header of 12 bytes, then the places of its cells, each
    the number of a page (4 bytes) and the highest row number below it (a varint).
    """
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (size,) = connection.execute("PRAGMA page_size").fetchone()
        (root,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    whole = bytearray(path.read_bytes())
    page = (root - 1) * size
    assert whole[page] == 5, "there are too few rows for a tree"
    (cells,) = struct.unpack_from(">H", whole, page + 3)
    (cell,) = struct.unpack_from(">H", whole, page + 12 + 2 * (cells - 1))
    key = page + cell + 4
    assert whole[key] < 0x80, "the highest number below takes more than a byte"
    whole[key : key + 1] = b"\x7f"  # 127, where it was less
    path.write_bytes(whole)


@pytest.mark.parametrize("look", ["each", "changed", "export", "follow"])
def test_rows_that_never_end_are_damage(data: DataFolder, tmp_path: Path, look: str) -> None:
    """A tree that leads back would have whoever reads row after row read for ever, and an export fill the card."""
    with _journal(data) as journal:
        for number in range(90):
            journal.append(Remark(sheet="a", text=f"{number} " + "the sky a little darker " * 20))
        assert journal.last() < 127
    _misled(data.journal, "rows")
    journal = Reader(read_store(data.journal, JOURNAL), data.journal, None)

    def follow() -> None:
        after = 0
        for _ in range(100):
            _, after = journal.touched(after, 50)

    looks: dict[str, Callable[[], object]] = {
        "each": lambda: list(islice(journal.each(), 1000)),
        "changed": journal.changed,
        "export": lambda: export(data, tmp_path / "out"),
        "follow": follow,
    }
    with journal, pytest.raises(Damaged, match="do not stand in their order"):
        looks[look]()


def test_a_shelf_that_never_ends_is_damage(data: DataFolder) -> None:
    """The same of what is kept."""
    with Shelf.open(data.shelf, FakeWall().now) as shelf:
        for number in range(60):
            shelf.save("recipe", f"Crane {number}", '{"notes": "' + "as the proof " * 60 + '"}')
    _misled(data.shelf, "kept")
    with Shelf.look(data.shelf) as shelf, pytest.raises(Damaged, match="in their order"):
        list(islice(shelf.each(), 1000))


@pytest.mark.parametrize("version", [-1, -2, -90])
def test_a_version_below_nothing_is_damage(data: DataFolder, version: int) -> None:
    """A head that lost it would have old changes made to the tables again, or the reader end in a mistake of ours."""
    with closing(sqlite3.connect(data.journal)) as connection:
        connection.execute(f"PRAGMA user_version = {version}")
    before = data.journal.read_bytes()
    with pytest.raises(Damaged, match=f"it says that its version is {version}"):
        _journal(data)
    assert data.journal.read_bytes() == before
