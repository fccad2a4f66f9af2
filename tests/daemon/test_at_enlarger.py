"""What stands at the enlarger, from page to journal: changed, stamped on sheets, and found again by another daemon.

A whole darkroom in virtual time, without a thread; a killed one is a copy of its folder in the midst of the evening.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from tools.virtual_darkroom import VirtualDarkroom, virtual_darkroom

import controller.daemon.takeover as takeover
from controller.backup.export import export
from controller.backup.import_ import import_
from controller.enlarger.enlargers import ENLARGER, Enlarger, column_offset_mm, read_tree
from controller.enlarger.standing import InCarrier
from controller.errors import Impossible, WrongMoment
from controller.foot import acts
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.entries import StoodAtEnlarger
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.shelf import Shelf
from hardware.clock import ManualClock

SHEET = """{"format": "treadle/recipe/1", "title": "Pier", "light": [{"filter": "2", "seconds": 2.0}], "local": [],
 "negative": {"name": "pier", "format": "24x36"}, "paper": {"name": "paper two", "support": "FB"},
 "lens": {"focal_mm": 80, "aperture": 11}, "head_height_mm": 400}"""


@pytest.fixture
def room(tmp_path: Path) -> Iterator[VirtualDarkroom]:
    with virtual_darkroom(tmp_path / "one") as made:
        yield made


def attic(**more: object) -> Enlarger:
    return read_tree({"format": ENLARGER, "name": "attic", "light_source": "condenser", **more}, "attic")


def stands(room: VirtualDarkroom) -> AtEnlarger:
    return room.desk.at_enlarger().standing()


def change(room: VirtualDarkroom, **changes: object) -> None:
    room.desk.at_enlarger().change(room.status().number, **changes)


def load(room: VirtualDarkroom, text: str = SHEET) -> str:
    kept = room.desk.recipes().save(text)
    room.desk.do(acts.Load(source=kept.id), room.status().number)
    room.run(1000)
    return kept.id


def light(room: VirtualDarkroom) -> None:
    """Put the filter in, begin the step, and wait until its light is over."""
    for _ in range(4):
        room.press()
        room.run(6000)
        if room.status().open:
            break
    room.run(6000)
    assert room.status().open


def close(room: VirtualDarkroom) -> None:
    room.desk.do(acts.CloseSheet(), room.status().number)
    room.run(1000)


def told(room: VirtualDarkroom) -> list[AtEnlarger]:
    """Return the journal's rows of what stands."""
    room.close()
    with Journal.open(room.data.journal, ManualClock(), Stamp.here()) as journal:
        return [row.entry.bench for row in journal.rows() if isinstance(row.entry, StoodAtEnlarger)]


# ---- the practice darkroom


def test_a_newcomer_finds_all_that_stands_at_the_enlarger(room: VirtualDarkroom) -> None:
    """A new practice darkroom has a negative in the carrier, a paper out, an enlarger; its sample recipe fits them."""
    bench = stands(room)
    assert (bench.negative_title, bench.paper_title, bench.aperture) == ("harbour crane", "paper one", 8)
    at_enlarger = room.desk.at_enlarger()
    known = at_enlarger.enlargers().fetch(bench.enlarger)
    assert bench.head_height_mm is not None
    assert known.magnification_at(bench.head_height_mm) == pytest.approx(bench.magnification)
    (crane,) = (kept for kept in room.desk.recipes().kept("recipe") if kept.title.startswith("Harbour crane"))
    room.desk.do(acts.Load(source=crane.id), room.status().number)
    assert at_enlarger.differs() == ()
    assert [paper.title for paper in at_enlarger.papers_lately()] == ["paper one"]
    assert "harbour crane" in [negative.title for negative in at_enlarger.negatives_lately()]


def test_a_negative_of_another_format_has_its_own_set_up(room: VirtualDarkroom) -> None:
    """A practice darkroom stood for roll film too, as its column has it; the 4×5's set-up is found again."""
    at_enlarger, first = room.desk.at_enlarger(), stands(room)
    crane = InCarrier(title=first.negative_title, format=first.negative_format)
    bench = at_enlarger.put_in(room.status().number, InCarrier(title="lighthouse", format="24×36")).bench
    assert (bench.negative_title, bench.magnification, bench.aperture, bench.focal_mm) == ("lighthouse", 6.3, 4, 50)
    offset = at_enlarger.enlargers().fetch(bench.enlarger).column_offset_mm
    assert column_offset_mm(50, 6.3, bench.head_height_mm or 0) == pytest.approx(float(offset or 0), abs=0.5), (
        "a scale in mm"
    )
    at_enlarger.put_in(room.status().number, None)
    assert at_enlarger.put_in(room.status().number, crane).bench == first


def test_nothing_is_put_where_somebody_worked_before(tmp_path: Path) -> None:
    """A practice darkroom whose shelf has anything gets no enlarger, and nothing stands at it."""
    data = DataFolder(tmp_path / "one" / "data")
    with Shelf.open(data.shelf) as shelf:
        shelf.save("recipe", "Pier", SHEET)
    with virtual_darkroom(tmp_path / "one") as room:
        assert stands(room).bare
        assert room.desk.at_enlarger().enlargers().kept() == ()


# ---- a sheet


def test_each_sheet_has_a_copy_of_what_stood_at_its_first_light(room: VirtualDarkroom) -> None:
    """A change with something loaded counts for the sheet that is begun next, and for those after it."""
    source = load(room)
    change(room, negative="set1:7", negative_title="stones", aperture=5.6)
    light(room)
    first = stands(room)
    assert (first.negative_title, first.aperture, first.head_height_mm) == ("stones", 11, 400)  # set up by foot
    sheet = room.status().sheet
    close(room)
    light(room)
    again = room.status().sheet
    close(room)
    change(room, box="13")
    light(room)
    third = room.status().sheet
    for id_, bench in ((sheet, first), (again, first), (third, stands(room))):
        record = room.desk.record(id_)
        assert (record.plan.source, record.plan.bench) == (source, bench)
    assert stands(room).box == "13"


def test_a_sheet_that_was_announced_and_taken_back_is_planned_anew(room: VirtualDarkroom) -> None:
    """A change after a lead-in that brought no light is in the record of the light that comes later."""
    load(room)
    while room.status().place != "lead-in":
        room.press()
        room.run(0 if room.status().place == "lead-in" else 6000)
    room.press()
    room.run(3000)
    assert not room.status().open
    change(room, negative_title="stones")
    light(room)
    assert room.desk.record(room.status().sheet).plan.bench == stands(room)


def test_a_new_version_of_what_is_loaded_is_stamped_too(room: VirtualDarkroom) -> None:
    """What is saved while it is loaded becomes the next sheet's, with what stands."""
    source = load(room)
    room.desk.recipes().save(SHEET.replace("2.0", "3.0"), source)
    plan = room.status().plan
    assert plan is not None
    assert (plan.version, plan.bench) == (2, stands(room))


def test_with_a_sheet_open_nothing_is_changed(room: VirtualDarkroom) -> None:
    """What stands belongs to the open sheet: a change is refused in a sentence, and after the close it is taken."""
    load(room)
    light(room)
    before = stands(room)
    with pytest.raises(WrongMoment, match="belongs to it"):
        change(room, negative_title="stones")
    assert stands(room) == before
    close(room)
    change(room, negative_title="stones")
    assert stands(room).negative_title == "stones"


def test_a_change_decided_on_an_old_page_is_refused(room: VirtualDarkroom) -> None:
    """Two phones may change at once: whoever was overtaken hears of it, and nothing of the first is lost."""
    number = room.status().number
    room.desk.at_enlarger().change(number, negative_title="stones")
    with pytest.raises(WrongMoment):
        room.desk.at_enlarger().change(number, paper_title="paper two")
    assert stands(room).negative_title == "stones"


def test_a_figure_without_sense_is_refused(room: VirtualDarkroom) -> None:
    """A figure out of its limits changes nothing, and its sentence says the limits."""
    before = stands(room)
    with pytest.raises(Impossible, match="f-number 0"):
        change(room, aperture=0.1)
    assert stands(room) == before


def test_what_is_loaded_is_taken_over_by_one_tap(room: VirtualDarkroom) -> None:
    """The recipe's negative, paper and set-up stand; then it differs in nothing."""
    load(room)
    at_enlarger = room.desk.at_enlarger()
    assert [each.what for each in at_enlarger.differs()] == [
        "negative",
        "paper",
        "head height",
        "aperture",
        "focal length",
    ]
    at_enlarger.take_loaded(room.status().number)
    assert at_enlarger.differs() == ()
    assert (stands(room).paper_title, stands(room).support, stands(room).aperture) == ("paper two", "FB", 11)
    plan = room.status().plan
    assert plan is not None
    assert plan.bench == stands(room)
    room.desk.do(acts.PutDown(), room.status().number)
    with pytest.raises(Impossible, match="Nothing is loaded"):
        at_enlarger.take_loaded(room.status().number)


def test_a_sheet_is_found_by_what_stood_for_it(room: VirtualDarkroom) -> None:
    """A search among the sheets looks through negative, paper, box and enlarger as they stood."""
    load(room)
    change(room, negative_title="heron", paper_title="paper nine", box="4417")
    light(room)
    sheet = room.status().sheet
    close(room)
    change(room, negative_title="stones", box="13")
    light(room)
    close(room)
    for word in ("heron", "nine 4417", "practice enlarger heron"):
        assert [line.id for line in room.desk.find().sheets(word).sheets] == [sheet], word


def test_the_spreadsheet_of_an_export_says_how_each_sheet_stood(room: VirtualDarkroom, tmp_path: Path) -> None:
    """`sheets.csv` has negative, paper, box, height, f-number and enlarger of each step's sheet."""
    load(room)
    change(room, box="12")
    light(room)
    close(room)
    with (export(room.data, tmp_path / "out") / "sheets.csv").open(encoding="utf-8", newline="") as lines:
        (line,) = csv.DictReader(lines)
    found = {name: line[name] for name in ("negative", "paper", "box", "head_height_mm", "f_number", "enlarger")}
    assert found == {
        "negative": "harbour crane",
        "paper": "paper one",
        "box": "12",
        "head_height_mm": "400.0",
        "f_number": "11.0",
        "enlarger": "practice enlarger",
    }


def test_every_change_is_one_row_of_the_journal(room: VirtualDarkroom) -> None:
    """Each change is filed once, with all that stands after it; what changes nothing is not filed."""
    first = stands(room)
    change(room, box="13")
    second = stands(room)
    change(room, box="13")
    change(room, aperture=11.0)
    third = stands(room)
    assert told(room)[1:] == [first, second, third], "after how it stood for roll film"


# ---- another daemon


def killed(room: VirtualDarkroom, to: Path) -> Path:
    """Return a copy of the darkroom's folder as it is now: what a killed daemon leaves."""
    shutil.copytree(room.data.path, to / "data", ignore=shutil.ignore_patterns("lock*"))
    return to


@pytest.mark.parametrize("sheet_open", [False, True])
def test_another_daemon_finds_what_stood(room: VirtualDarkroom, tmp_path: Path, sheet_open: bool) -> None:
    """After a kill, in the midst of a sheet or between two, what stands is as it was, and the next sheet says so."""
    load(room)
    change(room, negative_title="stones", head_height_mm=512.5, box="13")
    if sheet_open:
        light(room)
    before, sheet = stands(room), room.status().sheet
    folder = killed(room, tmp_path / "two")
    room.close()
    with virtual_darkroom(folder, ids=2) as after:
        assert stands(after) == before
        if sheet_open:
            assert after.status().sheet == sheet
            assert after.desk.record(sheet).plan.bench == before
            close(after)
        plan = after.status().plan
        assert plan is not None
        assert plan.bench == before
        change(after, negative_title="pier")
        plan = after.status().plan
        assert plan is not None
        assert plan.bench == stands(after)


def test_what_was_changed_long_ago_is_found_by_the_last_sheet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where more rows were filed since than are looked at, the newest sheet's own copy says what stands."""
    monkeypatch.setattr(takeover, "_LOOK_BACK", 12)
    with virtual_darkroom(tmp_path / "one") as room:
        load(room)
        change(room, negative_title="stones")
        for _ in range(4):
            light(room)
            close(room)
        before = stands(room)
        assert before.negative_title == "stones"
        folder = killed(room, tmp_path / "two")
    with virtual_darkroom(folder, ids=2) as after:
        assert stands(after) == before


def test_what_stands_goes_out_and_comes_back(room: VirtualDarkroom, tmp_path: Path) -> None:
    """An export holds the enlargers and the rows; imported elsewhere, all stands as it stood here."""
    change(room, negative_title="stones")
    room.desk.at_enlarger().save(attic(callier=1.2), room.status().number)
    before, kept = stands(room), [each.title for each in room.desk.at_enlarger().enlargers().kept()]
    out = export(room.data, tmp_path / "out")
    assert len(list((out / "enlargers").iterdir())) == 2
    import_(out, DataFolder(tmp_path / "two" / "data"))
    with virtual_darkroom(tmp_path / "two", ids=3) as there:
        assert stands(there) == before
        assert [each.title for each in there.desk.at_enlarger().enlargers().kept()] == kept


# ---- enlargers


def test_a_second_enlarger_is_a_second_set_of_figures(room: VirtualDarkroom) -> None:
    """One tap takes its lens, its set-up and its lag, and another all of the first one's; nothing is typed again."""
    at_enlarger, first = room.desk.at_enlarger(), stands(room)
    room.desk.change_settings({"lamp_lag_seconds": 0.06})  # found on the page of the lamp
    second = at_enlarger.save(attic(focal_mm=80, lag_seconds=Decimal("0.12")), room.status().number).id
    assert stands(room) == first
    at_enlarger.choose(room.status().number, second)
    there = stands(room)
    assert (there.enlarger_title, there.focal_mm, there.head_height_mm) == ("attic", 80, None)
    assert room.desk.settings().lamp_lag_seconds == 0.12
    at_enlarger.set_up(room.status().number, head_height_mm=300.0, aperture=5.6)
    at_enlarger.choose(room.status().number, first.enlarger)
    assert stands(room) == first
    assert room.desk.settings().lamp_lag_seconds == 0.06
    assert at_enlarger.enlargers().fetch(first.enlarger).lag_seconds == Decimal("0.06")
    at_enlarger.choose(room.status().number, second)
    assert (stands(room).head_height_mm, stands(room).aperture) == (300, 5.6)


def test_an_enlarger_whose_lag_is_not_known_has_none_of_the_other_s(room: VirtualDarkroom) -> None:
    """The lag of one lamp says nothing of another's: it is 0 until it is found."""
    room.desk.change_settings({"lamp_lag_seconds": 0.06})
    second = room.desk.at_enlarger().save(attic(), room.status().number).id
    room.desk.at_enlarger().choose(room.status().number, second)
    assert room.desk.settings().lamp_lag_seconds == 0


def test_one_known_pair_teaches_the_column(room: VirtualDarkroom) -> None:
    """A height with its magnification is kept with the enlarger; from then on the height alone is enough."""
    at_enlarger = room.desk.at_enlarger()
    second = at_enlarger.save(attic(), room.status().number).id
    at_enlarger.choose(room.status().number, second)
    at_enlarger.set_up(room.status().number, focal_mm=150.0, head_height_mm=620.0, magnification=2.0)
    assert at_enlarger.enlargers().fetch(second).column_offset_mm == Decimal("55.0")
    at_enlarger.set_up(room.status().number, head_height_mm=882.5)
    assert stands(room).magnification == pytest.approx(4.0)
    before = stands(room)
    with pytest.raises(Impossible, match="gives a magnification of 2"):
        at_enlarger.set_up(room.status().number, head_height_mm=620.0, magnification=3.0)
    assert stands(room) == before


def test_the_first_enlarger_has_what_is_in_force(tmp_path: Path) -> None:
    """Where none had a name, the first that is kept is worked from then on, with set-up and lag as they are."""
    data = DataFolder(tmp_path / "one" / "data")
    with Shelf.open(data.shelf) as shelf:
        shelf.save("recipe", "Pier", SHEET)
    with virtual_darkroom(tmp_path / "one") as room:
        room.desk.change_settings({"lamp_lag_seconds": 0.06})
        change(room, aperture=8.0, head_height_mm=620.0)
        first = room.desk.at_enlarger().save(attic(), room.status().number).id
        assert (stands(room).enlarger, stands(room).head_height_mm) == (first, 620)
        assert room.desk.settings().lamp_lag_seconds == 0.06


def test_what_was_used_lately_is_read_from_the_journal_s_end(room: VirtualDarkroom) -> None:
    """Lists of papers, negatives and set-ups come from the rows themselves, the last first."""
    for title, height in (("stones", 500.0), ("pier", 510.0), ("stones", 520.0)):
        change(room, negative_title=title, negative_format="", head_height_mm=height)
    at_enlarger = room.desk.at_enlarger()
    assert [each.title for each in at_enlarger.negatives_lately()][:3] == ["stones", "pier", "harbour crane"]
    assert [each.head_height_mm for each in at_enlarger.setups_lately()] == [510, 500, 620, 368]
