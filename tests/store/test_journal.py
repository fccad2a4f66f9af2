"""The journal only grows, says who wrote what when, and loses nothing that it said was filed."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.history import FakeWall, came, intent, plan, whole_sheet
from tools.patience import line_from

from controller import wall
from controller.errors import StoreTrouble
from controller.store import database as schema
from controller.store.database import open_store
from controller.store.entries import FilterSaid, NoLightCame, SheetPlanned
from controller.store.folding import unfinished
from controller.store.journal import ROOM, Journal, setup_hash
from controller.store.lookups import Lookups
from controller.store.schemas import JOURNAL, Schema
from controller.store.shelf import Shelf
from hardware.clock import ManualClock


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(1_000)


@pytest.fixture
def wall_clock() -> FakeWall:
    return FakeWall()


@pytest.fixture
def journal(tmp_path: Path, clock: ManualClock, wall_clock: FakeWall) -> Iterator[Journal]:
    with Journal.open(tmp_path / "journal.db", clock, wall_clock.stamp()) as opened:
        yield opened


def test_a_row_says_who_wrote_it_when_and_under_which_settings(journal: Journal, clock: ManualClock) -> None:
    """A row carries number, boot, monotonic and wall time with its flag, software, protocol and setup hash."""
    journal.set_hash(setup_hash("wiring", "settings"))
    clock.set(5_000)
    (row,) = journal.append(FilterSaid(filter="00"))
    assert row.model_dump(exclude={"entry"}) == {
        "number": 1,
        "boot": "boot-1",
        "at_ns": 5_000,
        "wall": "2025-03-01T19:00:00.000Z",
        "synchronised": True,
        "software": "9.9",
        "protocol": 1,
        "setup": setup_hash("wiring", "settings"),
        "sheet": "",
    }
    assert journal.rows() == (row,)


def test_setup_hashes_tell_where_one_text_ends() -> None:
    """Wiring and settings that only together read the same have different hashes."""
    assert setup_hash("ab", "c") != setup_hash("a", "bc")


def test_rows_keep_their_order_when_the_wall_clock_jumps(journal: Journal, wall_clock: FakeWall) -> None:
    """Rows are ordered by number, whatever the wall's clock says."""
    for hours in (0, 5, -48, 1):
        wall_clock.at += timedelta(hours=hours)
        wall_clock.set_from_outside = not wall_clock.set_from_outside
        journal.append(FilterSaid(filter=str(hours)))
    rows = journal.rows()
    assert [row.number for row in rows] == [1, 2, 3, 4]
    assert [row.entry.filter for row in rows if isinstance(row.entry, FilterSaid)] == ["0", "5", "-48", "1"]
    assert [row.synchronised for row in rows] == [False, True, False, True]


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE rows SET body = '{}'",
        "DELETE FROM rows",
        "INSERT OR REPLACE INTO rows SELECT 1, boot, at_ns, wall, synchronised, software, protocol, setup, kind,"
        " sheet, light, '{}', NULL FROM rows",
    ],
)
def test_the_file_refuses_to_change_or_drop_a_row(journal: Journal, change: str) -> None:
    """What is filed stays as it was, even for somebody who asks the database itself."""
    before = journal.append(FilterSaid(filter="00"))
    with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
        journal._connection.execute(change)
    assert journal.rows() == before


def test_a_fact_filed_twice_is_filed_once(journal: Journal) -> None:
    """Facts are filed by order id: a second one of the same light does nothing, the first one stands."""
    journal.append(intent("a", "s"), intent("b", "s"), came("a", 500), NoLightCame(light="b", why="foot"))
    again = journal.append(came("a", 700), NoLightCame(light="a", why="page"), NoLightCame(light="b", why="page"))
    assert again == ()
    assert [row.entry.kind for row in journal.rows()] == ["intent", "intent", "light", "no light"]


def test_light_that_came_after_all_is_filed(journal: Journal) -> None:
    """A light is never dropped because "no light" was said before."""
    journal.append(intent("a", "s"), NoLightCame(light="a", why="fault"))
    assert len(journal.append(came("a"))) == 1


def test_a_fact_belongs_to_the_sheet_of_its_intent(journal: Journal) -> None:
    """The rows of a sheet hold the facts of its lights, though a fact names only its order."""
    journal.append(*whole_sheet("s1", 1), FilterSaid(filter="5"), *whole_sheet("s2", 2))
    assert [row.entry.kind for row in journal.rows(sheet="s2")] == [entry.kind for entry in whole_sheet("s2", 2)]


def test_rows_are_filed_all_or_none(journal: Journal) -> None:
    """When one entry of several cannot be filed, none is."""
    journal.append(intent("a", "s"))
    with pytest.raises(StoreTrouble):
        journal.append(FilterSaid(filter="00"), intent("a", "s"))
    assert journal.last() == 1
    assert journal.append(FilterSaid(filter="00"))[0].number == 2


def test_nothing_is_armed_without_room_but_facts_are_filed(
    tmp_path: Path, clock: ManualClock, wall_clock: FakeWall
) -> None:
    """Under 16 MB free no plan and no intent is filed; a fact is."""
    free = ROOM
    with Journal.open(tmp_path / "j.db", clock, wall_clock.stamp(), free=lambda: free) as journal:
        assert journal.room_left()
        journal.append(intent("a", "s"))
        free = ROOM - 1
        assert not journal.room_left()
        for entry in (intent("b", "s"), SheetPlanned(sheet="s", number=1, plan=plan())):
            with pytest.raises(StoreTrouble, match="16 MB"):
                journal.append(came("a"), entry)
        assert journal.last() == 1
        journal.append(came("a"))
        assert journal.last() == 2


def test_a_full_card_is_said_and_nothing_is_half_filed(journal: Journal) -> None:
    """When the database cannot grow, the sentence says that the card is full, and no row of the call stays."""
    journal.append(FilterSaid(filter="00"))
    pages = journal._connection.execute("PRAGMA page_count").fetchone()[0]
    journal._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(StoreTrouble, match="card is full"):
        journal.append(*(FilterSaid(filter="x" * 3000) for _ in range(20)))
    assert journal.last() == 1
    journal._connection.execute("PRAGMA max_page_count = 100000")
    assert journal.append(FilterSaid(filter="5"))[0].number == 2


def test_a_held_file_is_said_and_nothing_is_filed(journal: Journal, tmp_path: Path) -> None:
    """While another program holds the file, an append is refused with a sentence, and goes through afterwards."""
    journal._connection.execute("PRAGMA busy_timeout = 20")
    with closing(sqlite3.connect(tmp_path / "journal.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreTrouble, match="held by another program"):
            journal.append(FilterSaid(filter="00"))
        other.execute("ROLLBACK")
    assert journal.append(FilterSaid(filter="00"))[0].number == 1


def test_a_damaged_journal_is_refused_and_left_as_it_is(tmp_path: Path, wall_clock: FakeWall) -> None:
    """A journal with damaged pages is not opened; its bytes stay; a fresh one starts only when told."""
    path = tmp_path / "journal.db"
    with Journal.open(path, ManualClock(), wall_clock.stamp()) as journal:
        journal.append(*(FilterSaid(filter="x" * 900) for _ in range(40)))
    content = bytearray(path.read_bytes())
    content[3 * 4096 : 5 * 4096] = b"\xa5" * 8192
    path.write_bytes(content)
    with pytest.raises(StoreTrouble, match="is damaged"):
        Journal.open(path, ManualClock(), wall_clock.stamp())
    assert path.read_bytes() == bytes(content)
    aside = Journal.start_fresh(path)
    assert aside is not None
    assert aside.read_bytes() == bytes(content)
    with Journal.open(path, ManualClock(), wall_clock.stamp()) as journal:
        assert journal.last() == 0
    second = Journal.start_fresh(path)
    assert second not in (None, aside)
    assert Journal.start_fresh(path) is None


def test_what_a_crash_left_beside_a_journal_is_set_aside_with_it(tmp_path: Path, wall_clock: FakeWall) -> None:
    """No write-ahead file stays, to be read into the empty journal that comes next; the old one has its rows."""
    path = tmp_path / "crashed" / "journal.db"
    path.parent.mkdir()
    with Journal.open(tmp_path / "journal.db", ManualClock(), wall_clock.stamp()) as journal:
        journal.append(FilterSaid(filter="00"))
        for each in tmp_path.glob("journal.db*"):  # as a power cut leaves them
            path.with_name(each.name).write_bytes(each.read_bytes())
    assert path.with_name("journal.db-wal").stat().st_size > 0
    aside = Journal.start_fresh(path)
    assert aside is not None
    assert not list(path.parent.glob("journal.db*"))
    with Journal.open(path, ManualClock(), wall_clock.stamp()) as fresh:
        assert fresh.last() == 0
    with Journal.open(aside, ManualClock(), wall_clock.stamp()) as old:
        assert [row.entry for row in old.rows()] == [FilterSaid(filter="00")]


@pytest.mark.parametrize(
    ("pragma", "sentence"),
    [(f"user_version = {JOURNAL.version + 1}", "newer Treadle"), ("application_id = 7", "not a journal")],
)
def test_a_file_that_is_not_ours_to_write_is_refused(
    tmp_path: Path, wall_clock: FakeWall, pragma: str, sentence: str
) -> None:
    """A journal of newer software, and a database that is no journal, are refused and not touched."""
    path = tmp_path / "journal.db"
    Journal.open(path, ManualClock(), wall_clock.stamp()).close()
    with closing(sqlite3.connect(path)) as other:
        other.execute(f"PRAGMA {pragma}")
    before = path.read_bytes()
    with pytest.raises(StoreTrouble, match=sentence):
        Journal.open(path, ManualClock(), wall_clock.stamp())
    assert path.read_bytes() == before


def test_a_folder_that_is_not_there_is_said(tmp_path: Path, wall_clock: FakeWall) -> None:
    """A journal in a folder that does not exist is refused with a sentence."""
    with pytest.raises(StoreTrouble, match="cannot be opened"):
        Journal.open(tmp_path / "away" / "journal.db", ManualClock(), wall_clock.stamp())


FIRST_VERSION = """
CREATE TABLE rows (
    number INTEGER PRIMARY KEY AUTOINCREMENT, boot TEXT NOT NULL, at_ns INTEGER NOT NULL, wall TEXT NOT NULL,
    synchronised INTEGER NOT NULL CHECK (synchronised IN (0, 1)), software TEXT NOT NULL,
    protocol INTEGER NOT NULL, setup TEXT NOT NULL, kind TEXT NOT NULL, sheet TEXT NOT NULL, light TEXT NOT NULL,
    body TEXT NOT NULL
) STRICT;
CREATE INDEX rows_of_a_sheet ON rows (sheet, number);
CREATE INDEX sheets_in_order ON rows (number) WHERE kind = 'planned';
CREATE UNIQUE INDEX once_a_light ON rows (light, kind)
    WHERE light <> '' AND kind IN ('intent', 'light', 'no light');
CREATE TRIGGER rows_stay BEFORE UPDATE ON rows
    BEGIN SELECT RAISE(ABORT, 'the journal is only ever added to'); END;
CREATE TRIGGER rows_remain BEFORE DELETE ON rows
    BEGIN SELECT RAISE(ABORT, 'the journal is only ever added to'); END;
INSERT INTO rows VALUES (1, 'old-boot', 77, '2025-01-02T03:04:05.678Z', 0, '0.1.0', 1, 'abc', 'intent', 's', 'a',
    '{"kind":"intent","light":"a","light_kind":"step","sheet":"s","step":1,"part":1,"filter":"soft","lit_ms":500,
      "lag_ms":0,"start_ns":9}');
PRAGMA application_id = 1953653866;
PRAGMA user_version = 1;
"""
"""What the first released software made. Never edited."""


def test_a_journal_of_the_first_version_opens_and_goes_on(tmp_path: Path, wall_clock: FakeWall) -> None:
    """A file made by the first version is read, brought up, and added to."""
    path = tmp_path / "journal.db"
    with closing(sqlite3.connect(path)) as old:
        old.executescript(FIRST_VERSION)
    with Journal.open(path, ManualClock(), wall_clock.stamp()) as journal:
        assert [one.light for one in journal.unfinished()] == ["a"]
        assert journal.rows()[0].wall == "2025-01-02T03:04:05.678Z"
        assert journal.append(came("a", 500))[0].sheet == "s"
        assert journal._connection.execute("PRAGMA user_version").fetchone()[0] == JOURNAL.version


def test_migrations_run_once_in_order_and_a_failed_one_changes_nothing(tmp_path: Path) -> None:
    """A file passes through every migration it lacks; one that fails leaves the version before it whole."""
    path = tmp_path / "notes.db"
    one = Schema("journal", 7, "a", ("CREATE TABLE a (x); INSERT INTO a VALUES (1)",))
    open_store(path, one).close()
    bad = Schema("journal", 7, "a", (*one.migrations, "ALTER TABLE a ADD COLUMN y; INSERT INTO nowhere VALUES (1)"))
    with pytest.raises(StoreTrouble, match="nowhere"):
        open_store(path, bad)
    good = Schema("journal", 7, "a", (*one.migrations, "ALTER TABLE a ADD COLUMN y", "UPDATE a SET y = 2"))
    for _ in range(2):
        with closing(open_store(path, good)) as connection:
            assert connection.execute("SELECT x, y FROM a").fetchall() == [(1, 2)]
            assert connection.execute("PRAGMA user_version").fetchone() == (3,)


def test_the_journal_is_kept_with_a_write_ahead_file_and_full_syncing(journal: Journal) -> None:
    """What was filed outlives a power cut: WAL, synchronous FULL."""
    assert journal._connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert journal._connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_each_connection_keeps_few_pages(journal: Journal, tmp_path: Path) -> None:
    """Writer, readers, shelf and lookups hold a quarter of a megabyte each, however many rows they have seen."""
    with (
        journal.reader() as reader,
        closing(Shelf.open(tmp_path / "shelf.db")) as shelf,
        closing(Lookups(tmp_path / "lookups.db", shelf, reader, {})) as lookups,
    ):
        for each in (journal, reader, shelf, lookups):
            assert each._connection.execute("PRAGMA cache_size").fetchone() == (-256,)


def test_only_one_thread_writes(journal: Journal) -> None:
    """A second thread's append is a mistake in the program, until that thread has taken over."""
    journal.append(FilterSaid(filter="00"))
    seen: list[str] = []

    def work() -> None:
        try:
            journal.append(FilterSaid(filter="1"))
        except AssertionError as problem:
            seen.append(str(problem))
        journal.adopt()
        journal.append(FilterSaid(filter="2"))

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == ["the journal has one writing thread"]
    assert journal.last() == 2


def test_readers_in_other_threads_see_whole_appends_only(journal: Journal) -> None:
    """A reader beside the writer sees each append either not at all or as a whole, and cannot write."""
    counts: list[int] = []
    done = threading.Event()

    def look() -> None:
        with journal.reader() as reader:
            while not done.is_set():
                counts.append(len(reader.rows()))

    thread = threading.Thread(target=look)
    thread.start()
    for _ in range(30):
        journal.append(FilterSaid(filter="a"), FilterSaid(filter="b"), FilterSaid(filter="c"))
    done.set()
    thread.join()
    assert counts
    assert all(count % 3 == 0 for count in counts)
    with journal.reader() as reader, pytest.raises(sqlite3.OperationalError, match="readonly"):
        reader._connection.execute("INSERT INTO rows DEFAULT VALUES")


def test_a_journal_in_memory_has_readers_too(wall_clock: FakeWall) -> None:
    """A replay's journal is read through the same readers, and their closing does not close it."""
    with Journal.in_memory(ManualClock(), wall_clock.stamp()) as journal:
        with journal.reader() as reader:
            journal.append(FilterSaid(filter="00"))
            assert reader.last() == 1
        assert journal.append(FilterSaid(filter="5"))[0].number == 2


def test_closing_leaves_one_whole_file(tmp_path: Path, wall_clock: FakeWall) -> None:
    """After closing, everything is in the one file; closing twice does nothing."""
    journal = Journal.open(tmp_path / "journal.db", ManualClock(), wall_clock.stamp())
    journal.append(FilterSaid(filter="00"))
    journal.close()
    journal.close()
    assert [path.name for path in tmp_path.iterdir()] == ["journal.db"]


def test_a_row_that_cannot_be_understood_is_named(journal: Journal) -> None:
    """A row whose body is no entry is refused by its number."""
    journal.append(FilterSaid(filter="00"))
    journal._connection.execute(
        "INSERT INTO rows SELECT 2, boot, at_ns, wall, synchronised, software, protocol, setup, kind, sheet,"
        ' light, \'{"kind":"filter","filter":3}\', NULL FROM rows'
    )
    with pytest.raises(StoreTrouble, match="Row 2 of the journal"):
        journal.rows()


def test_rows_can_be_asked_for_in_part(journal: Journal) -> None:
    """After a number, of one sheet, of some kinds, so many: each narrows, and they narrow together."""
    journal.append(*whole_sheet("s1", 1), *whole_sheet("s2", 2))
    numbers = [row.number for row in journal.rows(kinds=("light", "closed"))]
    assert numbers == [3, 5, 6, 9, 11, 12]
    assert [row.number for row in journal.rows(kinds=("light", "closed"), after=5, limit=2)] == [6, 9]
    assert [row.number for row in journal.rows(kinds=("closed",), sheet="s2")] == [12]
    assert [row.number for row in journal.each(kinds=("light", "closed"), after=5)] == [6, 9, 11, 12]
    assert journal.planned(before=100, limit=9) == ((7, "s2"), (1, "s1"))
    assert journal.planned(before=100, limit=1) == ((7, "s2"),)
    assert journal.planned(before=7, limit=9) == ((1, "s1"),)
    assert journal.touched(6) == ({"s2"}, 12)
    assert journal.touched(12) == (frozenset(), 12)


@given(st.lists(st.sampled_from(["intent", "light", "no light", "other"]), max_size=12), st.data())
def test_unfinished_by_question_is_unfinished_by_folding(kinds: list[str], data: st.DataObject) -> None:
    """The journal's own question for unfinished intents and the folding of its rows find the same ones."""
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as journal:
        made = 0
        for kind in kinds:
            match kind:
                case "intent":
                    journal.append(intent(f"l{made}", "s"))
                    made += 1
                case "light" if made:
                    journal.append(came(f"l{data.draw(st.integers(0, made - 1))}"))
                case "no light" if made:
                    journal.append(NoLightCame(light=f"l{data.draw(st.integers(0, made - 1))}", why="foot"))
                case _:
                    journal.append(FilterSaid(filter="00"))
        assert journal.unfinished() == unfinished(journal.rows())


def test_looking_up_a_light_never_goes_through_all_rows(journal: Journal) -> None:
    """A light is looked up by an index: filing stays quick, and finding what is unfinished goes through once (i)."""
    asked: list[str] = []
    journal._connection.set_trace_callback(asked.append)
    journal.append(intent("a", "s"), came("a"), NoLightCame(light="a", why="foot"))
    journal.unfinished()
    journal._connection.set_trace_callback(None)
    questions = [sql for sql in dict.fromkeys(asked) if sql.startswith("SELECT") and "light" in sql]
    assert len(questions) >= 4
    for sql in questions:
        for *_, plan_ in journal._connection.execute(f"EXPLAIN QUERY PLAN {sql}"):
            assert "SCAN" not in plan_ or plan_ == "SCAN i", (sql, plan_)


KILLED = """
import sys
from pathlib import Path
from tools.history import FakeWall, came, intent
from controller.store.journal import Journal
from hardware.clock import ManualClock
journal = Journal.open(Path(sys.argv[1]), ManualClock(), FakeWall().stamp())
for n in range(100000):
    rows = journal.append(intent(f"l{n}", "s"), came(f"l{n}"), intent(f"m{n}", "s"))
    print(rows[-1].number, flush=True)
"""


@pytest.mark.parametrize("count", [1, 9, 40])
def test_a_killed_writer_loses_no_row_that_it_had_filed(tmp_path: Path, count: int) -> None:
    """After kill -9 in the middle of appending, every row announced is there and no append is there by half."""
    path = tmp_path / "journal.db"
    root = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(root), str(root / "tests")])}
    with subprocess.Popen(
        [sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE, env=environment, text=True
    ) as writer:
        assert writer.stdout is not None
        for _ in range(count):
            announced = int(line_from(writer))
        writer.send_signal(signal.SIGKILL)
        announced = max([announced, *(int(line) for line in writer.stdout if line.endswith("\n"))])
    assert writer.returncode == -signal.SIGKILL
    with Journal.open(path, ManualClock(), FakeWall().stamp()) as journal:
        numbers = [row.number for row in journal.rows()]
        assert numbers == list(range(1, len(numbers) + 1))
        assert len(numbers) >= announced
        assert len(numbers) % 3 == 0
        assert len(journal.unfinished()) == len(numbers) // 3


@given(st.datetimes(timezones=st.just(UTC)))
def test_a_label_names_its_moment_to_the_millisecond(moment: datetime) -> None:
    """A wall label reads back as the moment it was made of, to the millisecond, and says that it is UTC."""
    label = wall.label(moment)
    assert label.endswith("Z")
    assert timedelta(0) <= moment - wall.moment(label) < timedelta(milliseconds=1)


def test_the_wall_clock_can_be_asked_whether_it_is_set(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The kernel's own word counts; where it cannot be asked, or says no, the time service's own mark decides."""
    assert isinstance(wall.synchronised(), bool)
    monkeypatch.setattr(wall, "_adjtimex", lru_cache(wall._adjtimex.__wrapped__))
    mark = tmp_path / "synchronized"
    monkeypatch.setattr(wall, "_SYNCHRONISED_FILE", mark)
    with monkeypatch.context() as patch:
        patch.setattr("ctypes.CDLL", lambda *_, **__: object())
        wall._adjtimex.cache_clear()
        assert not wall.synchronised()
        mark.touch()
        assert wall.synchronised()
    for answer, known in ((-1, False), (0, True), (4, True), (5, False)):
        monkeypatch.setattr(wall, "_adjtimex", lambda answer=answer: lambda _room: answer)
        mark.unlink(missing_ok=True)
        assert wall.synchronised() is known


def test_the_busy_wait_is_shorter_than_a_lead_in() -> None:
    """Waiting for a held file ends before the shortest lead-in would."""
    assert schema.BUSY_MS < 1200
