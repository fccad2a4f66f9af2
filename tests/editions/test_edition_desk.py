"""Editions over real stores: numbers in the journal, prints compared by their light, and what a restore forgets."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from tools.editions_room import BENCH, DAY, Room, opened
from tools.history import came, intent, plan, step, strip, whole_sheet
from tools.patience import line_from

from controller.backup.dated import backup, restore
from controller.backup.export import export
from controller.backup.import_ import import_
from controller.backup.registered import checked
from controller.commands.replay import play_recipe
from controller.daemon.edition_marks import FILE
from controller.editions.alike import alike
from controller.editions.ledger import KIND, read_edition, told
from controller.errors import Impossible, KeeperGone, NotThere, StoreTrouble, WrongMoment
from controller.recipe.files import read_feet, read_recipe
from controller.recipe.plan import Flashed
from controller.store.edition_rows import Numbered
from controller.store.entries import Closed, Entry, SheetPlanned
from controller.store.folder import DataFolder
from controller.store.said_of_sheets import Picked

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    with opened(tmp_path / "data") as made:
        yield made


def test_an_edition_of_five_from_its_reference_print(room: Room) -> None:
    """Five prints alike are 1/5 to 5/5, each 0.000 off in its row; the sixth is refused, and may be a proof."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 1)
    for number in range(2, 7):
        room.sheet(f"s{number}", number)
    assert [each.sheet for each in room.board(edition).ready] == ["s6", "s5", "s4", "s3", "s2", "s1"]
    assert [room.keep(edition, f"s{number}") for number in range(1, 6)] == ["1/5", "2/5", "3/5", "4/5", "5/5"]
    rows = [row.entry for row in room.journal.of_editions()]
    assert [(row.number, row.spread_stops) for row in rows if isinstance(row, Numbered)] == [
        (number, 0.0) for number in range(1, 6)
    ]
    with pytest.raises(Impossible, match="All 5 numbers"):
        room.keep(edition, "s6")
    assert told(room.board(edition).ledger.edition, room.desk.give(edition, "s6", "proof", 1)) == "proof I"
    assert room.board(edition).ready == ()
    assert room.desk.of_sheet(room.desk.of_print(edition, "s3")[2]) == (edition, "3/5")


@pytest.mark.parametrize(
    ("lit_ms", "off", "why"),
    [
        ((10_100, 8_000), 0.0, ""),
        ((10_400, 7_900), 0.042, ""),  # log2(10.4 / 10.1), as `calc spread` has it
        ((10_100, 7_600), -0.074, ""),  # log2(7.6 / 8)
        ((10_100, 7_500), -0.093, "spread"),  # over 1/12 = 0.0833…
        ((10_100, 4_000), -1.0, "spread"),
        ((10_100, 0), None, "no light"),
    ],
)
def test_a_print_is_compared_by_what_it_was_given(
    room: Room, lit_ms: tuple[int, ...], off: float | None, why: str
) -> None:
    """The step that is farthest off counts, in log2; over 1/12 stop, or without light, nothing is numbered."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    room.sheet("s2", 2, *lit_ms)
    (ready,) = [each for each in room.board(edition).ready if each.sheet == "s2"]
    assert (ready.alike.spread_stops, ready.alike.why) == (off, why)
    if not why:
        assert room.keep(edition, "s2") == "1/5"
        return
    for said in ("", "+0.001"):
        with pytest.raises(Impossible, match="withheld"):
            room.keep(edition, "s2", said)
    assert room.journal.of_editions() == ()
    assert room.keep(edition, "s2", "—" if off is None else f"{off:+.3g}".replace("-", "−")) == "1/5"
    (row,) = room.journal.of_editions()
    assert isinstance(row.entry, Numbered)
    assert (row.entry.said, row.entry.spread_stops) == (True, off)


def test_replays_of_one_recipe_are_alike() -> None:
    """Five replays of one recipe, through compiler, grammar and keeper: each 0.000 stops off the first."""
    here = ROOT / "tests" / "examples"
    recipe, feet = read_recipe((here / "crane.recipe.json").read_bytes(), "crane"), (here / "crane.feet.json")
    records = [play_recipe(recipe, read_feet(feet.read_bytes(), "f"), name="crane").records[0] for _ in range(5)]
    assert [alike(records[0], record).spread_stops for record in records] == [0.0] * 5


def test_a_light_that_was_held_and_finished_is_the_same_light(tmp_path: Path) -> None:
    """A light that was stopped by foot and then finished counts as the whole one: 0.000."""
    with opened(tmp_path / "data") as room:
        edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
        rows: list[Entry] = [SheetPlanned(sheet="s2", number=2, plan=plan().model_copy(update={"bench": BENCH}))]
        for light, at, part, ms in (("a", 1, 1, 4_000), ("b", 1, 2, 6_100), ("c", 2, 1, 8_000)):
            rows += [
                intent(light, "s2", at, part, lit_ms=ms),
                came(light, ms, why="foot" if light == "a" else "complete"),
            ]
        room.journal.append(*rows, Closed(sheet="s2", outcome="complete"))
        assert room.board(edition).ready[0].alike.spread_stops == 0.0
        assert room.keep(edition, "s2") == "1/5"


def test_what_is_no_print_of_the_edition_is_refused(room: Room) -> None:
    """Another recipe, other times, a flash of its own, another enlargement, a strip, an open sheet, and none at all."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    room.sheet("other", 2, source="gate")
    longer = (step(planned_ms=12_000), step(2, 8_000))
    room.sheet("later", 3, version=2, steps=longer)
    room.sheet("flashed", 8, version=3, flashed=Flashed(filter="soft", planned_ms=400))
    room.sheet("larger", 4, bench=BENCH.model_copy(update={"magnification": 2.5}))
    room.journal.append(*whole_sheet("strip", 5, strip()))
    room.journal.append(*whole_sheet("open", 6)[:-1])
    for sheet, told_of in (
        ("other", "not made by version 1"),
        ("later", "not made by version 1"),
        ("flashed", "not made by version 1"),
        ("larger", "of another size"),
        ("strip", "no print of a recipe"),
        ("open", "is open"),
    ):
        with pytest.raises(Impossible, match=told_of):
            room.keep(edition, sheet)
    with pytest.raises(NotThere):
        room.keep(edition, "nowhere")
    room.sheet("same", 7, version=2)  # a title was corrected: its times are the edition's
    assert {each.sheet for each in room.board(edition).ready} == {"s1", "larger", "same"}
    assert room.keep(edition, "same") == "1/5"
    with pytest.raises(Impossible, match="begins with a complete print"):
        room.desk.begin("strip", 5, 0)


def test_a_number_is_given_by_day_alone(room: Room) -> None:
    """Not with paper about, whatever was tapped; a reject neither."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    room.status = DAY.model_copy(update={"day_until_ns": None})
    for outcome in ("keep", "reject"):
        with pytest.raises(WrongMoment, match="by day"):
            room.desk.give(edition, "s1", outcome, 1)  # type: ignore[arg-type]
    assert room.journal.of_editions() == ()


def test_one_edition_of_one_print(room: Room) -> None:
    """A second one of the same version is the first one; with another size it is refused once a number is given."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    assert room.desk.begin("s1", 5, 0) == edition
    room.desk.change(edition, 8, 1)
    assert room.keep(edition, "s1") == "1/8"
    with pytest.raises(Impossible, match="stays that size"):
        room.desk.begin("s1", 5, 0)
    with pytest.raises(Impossible, match="stays that size"):
        room.desk.change(edition, 9, 1)


def test_an_answer_that_did_not_come_counts_as_given(room: Room) -> None:
    """A row of which nobody said whether it was filed keeps its number; when it comes in late, it stands once."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    room.sheet("s2", 2)
    room.silent = True
    with pytest.raises(KeeperGone):
        room.keep(edition, "s1")
    room.silent = False
    assert room.keep(edition, "s2") == "2/5"
    row = room.journal.of_editions()[0].entry
    assert isinstance(row, Numbered)
    room.journal.append(row.model_copy(update={"sheet": "s1", "number": 1}))
    assert [len(each) for each in room.board(edition).ledger.kept.values()] == [1, 1]


def test_a_number_that_is_not_on_file_is_not_told_as_given(room: Room) -> None:
    """With a full card the printer is told to wait with the pencil; the number is nobody else's."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    room.sheet("s2", 2)
    room.full = True
    with pytest.raises(StoreTrouble, match="do not write it on the print yet"):
        room.keep(edition, "s1")
    room.full = False
    assert room.keep(edition, "s2") == "2/5"


def test_two_editions_of_one_print_are_told_by_the_check(room: Room) -> None:
    """One that a file brought beside one's own is named, with what to do."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    room.shelf.save(KIND, "brought", room.desk.written(edition))
    assert ["are editions of one print" in said for said in checked(room.shelf)] == [True]


def test_numbers_since_a_restored_backup_are_known_and_asked(tmp_path: Path) -> None:
    """A restore forgets rows; what this machine noted is out all the same, and nothing is given until that is said."""
    folder = tmp_path / "data"
    with opened(folder) as room:
        edition = room.desk.begin(room.sheet("s1", 1), 5, 1)
        room.sheet("s2", 2)
        assert room.keep(edition, "s1") == "1/5"
    made = backup(DataFolder(folder), date(2025, 3, 1))
    with opened(folder) as room:
        room.sheet("s3", 3)
        assert [room.keep(edition, sheet) for sheet in ("s2", "s3")] == ["2/5", "3/5"]
    restore(made, DataFolder(folder))
    with opened(folder) as room:
        room.sheet("s4", 4)
        board = room.board(edition)
        assert (board.sure, [one.number for one in board.out]) == (False, [2, 3])
        assert board.ledger.next("keep") == 4
        with pytest.raises(WrongMoment, match="Say first which numbers are out"):
            room.keep(edition, "s4")
        room.desk.give(edition, "s4", "reject")  # that promises nothing
        room.desk.say_out(edition, set(), set())
        board = room.board(edition)
        assert (board.sure, board.out) == (True, ())
        assert room.keep(edition, room.sheet("s5", 5)) == "4/5"
        assert [one.sheet for one in board.ledger.given if one.outcome == "keep"] == ["s1", "s2", "s3"]


def test_on_a_new_card_the_printer_says_which_numbers_are_out(tmp_path: Path) -> None:
    """An export taken in elsewhere brings numbers and terms; what was given since only its printer knows."""
    with opened(tmp_path / "one") as room:
        edition = room.desk.begin(room.sheet("s1", 1), 5, 1)
        assert room.keep(edition, "s1") == "1/5"
        room.sheet("s2", 2)
    out = export(DataFolder(tmp_path / "one"), tmp_path / "out")
    (ledger,) = (out / "ledgers").iterdir()
    assert [one.number for one in read_edition(ledger.read_text(), "ledger").sheets] == [1]
    import_(out, DataFolder(tmp_path / "two"))
    assert not (tmp_path / "two" / FILE).exists()
    again = export(DataFolder(tmp_path / "two"), tmp_path / "again")
    for file in sorted(path for path in out.rglob("*") if path.is_file()):
        assert (again / file.relative_to(out)).read_bytes() == file.read_bytes()
    with opened(tmp_path / "two") as room:
        with pytest.raises(WrongMoment):
            room.keep(edition, "s2")
        with pytest.raises(Impossible):
            room.desk.say_out(edition, {6}, set())
        room.desk.say_out(edition, {1, 2}, {1})
        board = room.board(edition)
        assert (board.ledger.without_sheet("keep"), board.ledger.without_sheet("proof")) == ((2,), (1,))
        assert told(board.ledger.edition, room.desk.give(edition, "s2", "keep", 2)) == "2/5"
        assert room.board(edition).ledger.next("keep") == 3


def test_an_edition_that_a_backup_does_not_know_comes_back_with_its_terms(tmp_path: Path) -> None:
    """Begun after the backup: begun again it is the same edition, and of no other size."""
    folder = tmp_path / "data"
    with opened(folder) as room:
        room.sheet("s1", 1)
    made = backup(DataFolder(folder), date(2025, 3, 1))
    with opened(folder) as room:
        edition = room.desk.begin("s1", 5, 0)
        assert room.keep(edition, "s1") == "1/5"
    restore(made, DataFolder(folder))
    with opened(folder) as room:
        with pytest.raises(Impossible, match="stays that size"):
            room.desk.begin("s1", 6, 0)
        assert room.desk.begin("s1", 5, 0) == edition
        board = room.board(edition)
        assert (board.sure, [one.number for one in board.out]) == (False, [1])


def test_a_file_of_another_darkroom_adds_what_it_knows(room: Room, tmp_path: Path) -> None:
    """The file of an edition is taken in alone, numbers and all, and the edition's own file has them again."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    assert room.keep(edition, "s1") == "1/5"
    text = room.desk.written(edition)
    (tmp_path / "five.json").write_text(text, encoding="utf-8")
    there = DataFolder(tmp_path / "there")
    (kept,) = import_(tmp_path / "five.json", there).kept
    with opened(there.path) as other:
        board = other.board(kept.id)
        assert [(one.sheet, one.number) for one in board.ledger.given] == [("s1", 1)]
        assert board.sure is False
        assert read_edition(other.desk.written(kept.id), "f").sheets == read_edition(text, "f").sheets


def test_a_file_that_says_another_size_changes_no_promise(room: Room) -> None:
    """What was promised with the first number stands, and the check tells of the file."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    assert room.keep(edition, "s1") == "1/5"
    text = room.desk.written(edition).replace('"size": 5', '"size": 50')
    room.shelf.save(KIND, "Harbour crane", text, edition)
    assert room.board(edition).ledger.edition.size == 5
    assert ["begun as an edition of 5, and its file says 50" in said for said in checked(room.shelf)] == [True]


def test_what_an_edition_cost_and_what_is_left(room: Room) -> None:
    """A strip, a spoiled print and five kept ones out of a box of 25 at 1.25: 18 left, (7 × 1.25 + 4.20) / 5 = 2.59."""
    stock = room.desk.stock()
    stock.count("p1", "paper one", "A", 25, Decimal("1.25"))
    room.journal.append(*whole_sheet("strip", 1, strip().model_copy(update={"bench": BENCH})))
    room.journal.append(Picked(sheet="strip", band=2, filter="hard", seconds=8.0, recipe="crane", recipe_version=1))
    rows = whole_sheet("bad", 2, plan().model_copy(update={"bench": BENCH}))
    room.journal.append(*rows[:-1], Closed(sheet="bad", outcome="spoiled"))
    edition = room.desk.begin(room.sheet("s1", 3), 5, 0)
    for number in range(2, 6):
        room.sheet(f"s{number}", number + 2)
    for number in range(1, 6):
        room.keep(edition, f"s{number}")
    room.desk.give(edition, "bad", "reject")
    room.desk.say_more(edition, "", "selenium", Decimal("4.20"))
    cost = room.desk.cost(edition)
    assert (cost.sheets, cost.paper, cost.a_print) == (7, Decimal("8.75"), Decimal("2.59"))
    (box,) = stock.boxes()
    assert (box.left, box.price) == (18, Decimal("1.25"))
    stock.count("p1", "paper one", "A", 17, Decimal("1.25"))  # one was fogged in the drying
    assert [each.left for each in stock.boxes()] == [17]
    assert [row.entry.kind for row in room.journal.of_editions()].count("box counted") == 2
    room.status = DAY.model_copy(update={"bench": BENCH.model_copy(update={"box": "B"})})
    assert [(each.box, each.left, each.out) for each in stock.boxes()] == [("B", None, True), ("A", 17, False)]


def test_looking_at_an_edition_reads_no_more_than_its_own(room: Room) -> None:
    """Numbers and boxes are read by their index, sheets of a recipe and of a box by key: nothing goes through all."""
    edition = room.desk.begin(room.sheet("s1", 1), 5, 0)
    asked: list[str] = []
    for connection in (room.journal._connection, room.lookups._connection):
        connection.set_trace_callback(asked.append)
    room.keep(edition, "s1")
    room.desk.stock().count("p1", "paper one", "A", 25, None)
    room.desk.cost(edition)
    room.desk.stock().boxes()
    for connection in (room.journal._connection, room.lookups._connection):
        connection.set_trace_callback(None)
    own = ("numbered", "edition_terms", "thread_sheets", "box_sheets")
    questions = {sql for sql in asked if sql.startswith("SELECT") and any(name in sql for name in own)}
    assert len(questions) >= 4
    for sql in questions:
        connection = room.journal._connection if "numbered" in sql else room.lookups._connection
        for *_, how in connection.execute(f"EXPLAIN QUERY PLAN {sql}"):
            assert not how.startswith("SCAN") or how in ("SCAN of", "SCAN (subquery-1)"), (sql, how)


KILLED = """
import sys
from pathlib import Path
from tools.editions_room import opened
with opened(Path(sys.argv[1])) as room:
    edition = next((one.id for one in room.shelf.latest("edition")), None)
    for number in range(len(room.journal.sheets()) + 1, 240):
        sheet = room.sheet(f"s{number}", number)
        edition = edition or room.desk.begin(sheet, 240, 0)
        if not room.board(edition).sure:
            room.desk.say_out(edition, set(), set())
        print(sheet, room.keep(edition, sheet), flush=True)
"""


def _deaths(folder: Path, count: int, dice: random.Random) -> None:
    """Kill whoever gives numbers so often, each time somewhere in the midst, and look at the ledger after each."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests")])}
    told_of: dict[str, str] = {}
    for _ in range(count):
        with subprocess.Popen(
            [sys.executable, "-c", KILLED, str(folder)], stdout=subprocess.PIPE, env=environment, text=True
        ) as giver:
            assert giver.stdout is not None
            said = [line_from(giver) for _ in range(dice.randint(1, 4))]
            if (rest := dice.random() * 0.02) > 0.005:
                time.sleep(rest)
            giver.send_signal(signal.SIGKILL)
            said += [line for line in giver.stdout if line.endswith("\n")]
        assert giver.returncode in (-signal.SIGKILL, 0)
        told_of |= dict(line.split() for line in said if line.strip())
        with opened(folder) as room:
            (edition,) = [one.id for one in room.shelf.latest(KIND)]
            ledger = room.board(edition).ledger
            known = {one.sheet: told(ledger.edition, one) for one in ledger.given}
            assert told_of.items() <= known.items()
            assert len(set(known.values())) == len(known)
            assert not ledger.twice


def test_a_killed_darkroom_loses_and_doubles_no_number(tmp_path: Path) -> None:
    """After ten kills at random moments every number that was told stands on its print, and each stands once."""
    _deaths(tmp_path / "data", 10, random.Random(1))


@pytest.mark.long
def test_many_deaths_lose_and_double_no_number(tmp_path: Path) -> None:
    """The same after 200."""
    for number in range(4):
        _deaths(tmp_path / f"{number}", 50, random.Random(number))
