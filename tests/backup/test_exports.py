"""Everything can be taken out as plain files and brought back; what is not as it must be is refused as a whole."""

from __future__ import annotations

import csv
import json
import os
import shutil
import stat
import tempfile
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.history import FakeWall, came, intent, plan, strip, through_trays, whole_sheet
from tools.written_files import text_of

from controller.backup import export as module
from controller.backup.export import INDEX, JOURNAL_FILE, export
from controller.backup.import_ import LONGEST_LINE, Brought, import_
from controller.daemon.paper_shelf import PaperShelf
from controller.errors import StoreTrouble, Unreadable
from controller.recipe.plan import Flashed
from controller.store.database import read_store
from controller.store.entries import Added, Assumed, CalledGiven, Closed, FilterSaid, LeftOut, SheetPlanned, Struck
from controller.store.folder import DataFolder
from controller.store.journal import Journal
from controller.store.said_of_sheets import Picked, Remark
from controller.store.settings import Settings, keep_settings
from controller.store.shelf import Shelf
from controller.trays.process import TrayName
from hardware.clock import ManualClock


def recipe(title: str = "Harbour crane", seconds: float = 10.1) -> str:
    return json.dumps(
        {"format": "treadle/recipe/1", "title": title, "light": [{"filter": "soft", "seconds": seconds}], "local": []}
    )


def strip_text(title: str = "Proof", bands: int = 7) -> str:
    times = {"kind": "seconds", "step": 3, "bands": bands}
    return json.dumps(
        {
            "format": "treadle/strip/1",
            "title": title,
            "filter": "soft",
            "times": times,
            "card": "cover",
            "pace": "press",
        },
        indent=3,
    )


def paper_text(name: str = "Paper one") -> str:
    emulsion = {"weight": 1.0, "soft_speed": 0.5, "hard_speed": -0.5}
    return json.dumps(
        {
            "format": "treadle/paper/1",
            "name": name,
            "box": {"label": "box 4", "dated": "2026-03-01"},
            "shape": "logistic",
            "contrast": 9.0,
            "shoulder": 1.0,
            "dmin": 0.05,
            "dmax": 2.1,
            "emulsions": [emulsion],
            "rms_density": 0.01,
            "worst_density": 0.03,
        }
    )


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def fill(data: DataFolder) -> None:
    """Put a little of everything into a data folder."""
    wall_clock = FakeWall()
    with Shelf.open(data.shelf, wall_clock.now) as shelf:
        crane = shelf.save("recipe", "Harbour crane", recipe())
        shelf.save("strip", "Proof", strip_text())
        shelf.save("recipe", "Harbour crane", recipe(seconds=12.0) + "\r\n", crane.id)
        shelf.save("paper", "Paper one", paper_text())
        keep_settings(shelf, Settings(beat_seconds=7.0))
        keep_settings(shelf, Settings(safe_minutes=6.0))
        away = shelf.save("recipe", "Øl & brød / 8×10", recipe("Øl & brød / 8×10"))
        shelf.put_away(away.id)
        shelf.take_out(away.id)
        shelf.put_away(away.id)
    with Journal.open(data.journal, ManualClock(), wall_clock.stamp()) as journal:
        journal.append(*whole_sheet("s1", 1, strip()))
        journal.append(
            Picked(sheet="s1", band=2, filter="soft", seconds=6.0, recipe=crane.id, recipe_version=2),
            Remark(sheet="s1", text='dry-down, "8 %"\nand more'),
        )
        journal.append(SheetPlanned(sheet="s2", number=2, plan=plan()), intent("a", "s2"), came("a", 0, 10_100))
        journal.append(Assumed(sheet="s2", light="a", given_ns=10**9), Struck(sheet="s2", light="a"))


@pytest.fixture
def full(tmp_path: Path) -> DataFolder:
    data = DataFolder(tmp_path / "full")
    fill(data)
    return data


@pytest.fixture
def empty(tmp_path: Path) -> DataFolder:
    return DataFolder(tmp_path / "empty")


def test_an_export_brought_into_an_empty_folder_exports_the_same(
    full: DataFolder, empty: DataFolder, tmp_path: Path
) -> None:
    """Export → import → export is the identity, byte for byte, journal and put-away things included."""
    out = export(full, tmp_path / "out")
    brought = import_(out, empty)
    assert (len(brought.kept), brought.rows, brought.journal_left) == (7, 15, False)
    assert files(export(empty, tmp_path / "again")) == files(out)
    assert import_(out, empty) == Brought(journal_left=True)
    assert files(export(empty, tmp_path / "third")) == files(out)


def test_an_export_is_files_that_people_can_read(full: DataFolder, tmp_path: Path) -> None:
    """Recipes, strips, papers and settings are files of their own, with the text as it was written."""
    out = export(full, tmp_path / "out")
    names = sorted(files(out))
    with Shelf.look(full.shelf) as shelf:
        (crane,) = shelf.latest("recipe")
    assert f"recipes/harbour-crane.{crane.id}.v1.json" in names
    assert (out / f"recipes/harbour-crane.{crane.id}.v2.json").read_bytes() == crane.body.encode()
    assert json.loads((out / "settings.json").read_text())["safe_minutes"] == 6.0
    assert json.loads((out / "settings/settings.v1.json").read_text())["beat_seconds"] == 7.0
    assert [name for name in names if name.startswith("recipes/l-br-d-8-10.")]
    assert len([name for name in names if name.startswith(("strips/proof.", "papers/paper-one."))]) == 2
    assert len((out / JOURNAL_FILE).read_text().splitlines()) == 15
    sheets = [json.loads((out / name).read_text()) for name in names if name.startswith("sheets/")]
    assert [(sheet["number"], sheet["outcome"]) for sheet in sheets] == [(1, "complete"), (2, "open")]


def test_sheets_are_listed_step_by_step_for_a_spreadsheet(full: DataFolder, tmp_path: Path) -> None:
    """sheets.csv has one line a step, with planned and given seconds."""
    with (export(full, tmp_path / "out") / "sheets.csv").open(newline="") as file:
        lines = list(csv.DictReader(file))
    assert [(line["number"], line["step"], line["name"]) for line in lines] == [
        ("1", "1", "band 1 of 3"),
        ("1", "2", "band 2 of 3"),
        ("1", "3", "band 3 of 3"),
        ("2", "1", "soft base"),
        ("2", "2", "soft base"),
    ]
    assert (lines[0]["planned_seconds"], lines[0]["given_least_seconds"], lines[0]["opened"]) == (
        "3.0",
        "3.0",
        "2025-03-01T19:00:00.000Z",
    )
    assert (lines[3]["given_most_seconds"], lines[3]["lit_seconds"]) == ("0.0", "10.1")


def test_a_flash_given_beforehand_is_in_the_sum(empty: DataFolder, tmp_path: Path) -> None:
    """It is a line of its own, step 0: a sum over a sheet's lines is all the light that its paper had."""
    wall_clock = FakeWall()
    Shelf.open(empty.shelf, wall_clock.now).close()
    flashed = plan().model_copy(update={"flashed": Flashed(filter="soft", planned_ms=300)})
    with Journal.open(empty.journal, ManualClock(), wall_clock.stamp()) as journal:
        journal.append(SheetPlanned(sheet="s1", number=7, plan=flashed), intent("a", "s1"), came("a", 4_000, 4_000))
    with (export(empty, tmp_path / "out") / "sheets.csv").open(newline="") as file:
        first, *rest = csv.DictReader(file)
    assert (first["step"], first["name"], first["filter"], first["given_most_seconds"]) == ("0", "flash", "soft", "0.3")
    assert (first["number"], first["title"], first["lit_seconds"]) == ("7", flashed.title, "0.0")
    assert (first["called_given"], first["dose_stops"]) == ("", "")
    whole = sum(float(line["given_most_seconds"]) for line in (first, *rest))
    own = sum(float(line["given_most_seconds"]) for line in rest)
    assert whole == pytest.approx(own + 0.3)
    assert own > 0


def test_each_column_of_the_spreadsheet_tells_its_own(empty: DataFolder, tmp_path: Path) -> None:
    """Least and most, called given, left out and added, kind and title, outcome, clock and the sheet's opening."""
    wall_clock = FakeWall(set_from_outside=False)
    Shelf.open(empty.shelf, wall_clock.now).close()
    more = plan().steps[0].model_copy(update={"number": 3, "name": "one more", "planned_ms": 2_000})
    with Journal.open(empty.journal, ManualClock(), wall_clock.stamp()) as journal:
        journal.append(SheetPlanned(sheet="s1", number=7, plan=plan()), intent("a", "s1"), came("a", 4_000, 5_500))
        wall_clock.at += timedelta(minutes=3)
        journal.append(
            CalledGiven(sheet="s1", step=1, by="page"),
            LeftOut(sheet="s1", step=2),
            Added(sheet="s1", step=more),
            Closed(sheet="s1", outcome="spoiled"),
        )
    with (export(empty, tmp_path / "out") / "sheets.csv").open(newline="") as file:
        one, two, three = csv.DictReader(file)
    told = ["number", "sheet", "kind", "title", "outcome", "clock_set", "step", "name", "filter"]
    assert [one[name] for name in told] == [
        "7",
        "s1",
        "recipe",
        "Harbour crane",
        "spoiled",
        "no",
        "1",
        "soft base",
        "soft",
    ]
    seconds = ["planned_seconds", "given_least_seconds", "given_most_seconds", "lit_seconds"]
    assert [one[name] for name in seconds] == ["10.1", "4.0", "5.5", "5.5"]
    assert one["opened"][11:16] == "19:00"
    said = [(line["called_given"], line["left_out"], line["added"]) for line in (one, two, three)]
    assert said == [("yes", "no", "no"), ("no", "yes", "no"), ("no", "no", "yes")]


def test_an_export_goes_on_beside_a_daemon_and_overwrites_nothing(full: DataFolder, tmp_path: Path) -> None:
    """A folder in use can be exported; a folder that is there already is refused and left alone."""
    with full.locked(), Journal.open(full.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(FilterSaid(filter="00"))
        out = export(full, tmp_path / "out")
    assert len((out / JOURNAL_FILE).read_text().splitlines()) == 16
    before = files(out)
    with pytest.raises(StoreTrouble, match="is there already"):
        export(full, out)
    assert files(out) == before
    (tmp_path / "file").touch()
    with pytest.raises(StoreTrouble, match="Nothing could be exported"):
        export(full, tmp_path / "file" / "out")
    assert not list(tmp_path.glob(".*"))


def test_an_export_is_made_from_a_card_that_has_become_read_only(
    full: DataFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failing card is often remounted so: what lies on it can be carried off, to its last row."""
    with Journal.open(full.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(Remark(sheet="s", text="the last word"))
        wanted = files(export(full, tmp_path / "as ever"))
        shutil.copytree(full.path, tmp_path / "card")
    card, opened = DataFolder(tmp_path / "card"), []
    assert card.journal.with_name("journal.db-wal").stat().st_size
    with monkeypatch.context() as patch:
        patch.setattr(module.os, "statvfs", lambda _: SimpleNamespace(f_flag=os.ST_RDONLY))
        patch.setattr(module, "read_store", lambda path, schema: opened.append(path) or read_store(path, schema))
        made = export(card, tmp_path / "out" / "carried off")
    assert files(made) == wanted
    assert b"the last word" in wanted[JOURNAL_FILE]
    assert opened
    assert not any(path.is_relative_to(card.path) for path in opened)
    assert [path.name for path in made.parent.iterdir()] == [made.name]


def test_one_file_can_be_brought(empty: DataFolder, tmp_path: Path) -> None:
    """A recipe, a strip and settings are each taken from a single file; the same again brings nothing."""
    for name, text, kind in (
        ("crane.json", recipe(), "recipe"),
        ("two.json", text_of("two-negatives.recipe.json"), "recipe"),
        ("proof.json", strip_text(), "strip"),
        ("set.json", '{"format": "treadle/settings/1", "beat_seconds": 4}', "settings"),
    ):
        (tmp_path / name).write_text(text)
        (kept,) = import_(tmp_path / name, empty).kept
        assert (kept.kind, kept.version, kept.body) == (kind, 1, text)
        assert import_(tmp_path / name, empty) == Brought()
    with Shelf.look(empty.shelf) as shelf:
        assert [one.title for one in shelf.everything()[0]] == [
            *("Harbour crane", "Lighthouse under another sky", "Proof", "settings")
        ]


def test_a_recipe_that_contradicts_the_column_is_refused(empty: DataFolder, tmp_path: Path) -> None:
    """By itself it is refused with its name and what the column has; an enlarger that agrees lets it pass."""
    column = {"name": "attic", "light_source": "diffuser", "focal_mm": 150, "column_offset_mm": 55}
    (tmp_path / "attic.json").write_text(json.dumps({"format": "treadle/enlarger/1", **column}))
    import_(tmp_path / "attic.json", empty)
    said = json.loads(recipe()) | {"lens": {"focal_mm": 150}, "head_height_mm": 620, "magnification": 4}
    (tmp_path / "crane.json").write_text(json.dumps(said))
    with pytest.raises(Unreadable, match=r"crane\.json: At 620 mm .* magnification of 2\.00 on this column, not 4"):
        import_(tmp_path / "crane.json", empty)
    with Shelf.look(empty.shelf) as shelf:
        assert [one.kind for one in shelf.everything()[0]] == ["enlarger"]
    (tmp_path / "crane.json").write_text(json.dumps(said | {"magnification": 2.01}))
    assert import_(tmp_path / "crane.json", empty).kept


def test_a_paper_file_is_brought_in_by_itself(empty: DataFolder, tmp_path: Path) -> None:
    """A file that “treadle paper fit” wrote comes onto the shelf under the paper's own name, with its text."""
    (tmp_path / "fitted.json").write_text(paper_text("Warm tone, matt"))
    (kept,) = import_(tmp_path / "fitted.json", empty).kept
    assert (kept.kind, kept.title, kept.body) == ("paper", "Warm tone, matt", paper_text("Warm tone, matt"))
    with Shelf.open(empty.shelf) as shelf:
        assert PaperShelf(shelf).fetch(kept.id).dmax == 2.1


def test_a_paper_of_a_newer_form_is_refused(empty: DataFolder, tmp_path: Path) -> None:
    """A paper of a form that this software does not know is named as such, and not kept."""
    (tmp_path / "fitted.json").write_text(paper_text().replace("paper/1", "paper/7"))
    with pytest.raises(Unreadable, match="of a newer Treadle"):
        import_(tmp_path / "fitted.json", empty)


def test_a_file_that_was_put_away_is_taken_out(empty: DataFolder, tmp_path: Path) -> None:
    """Bringing what lies put away puts it back on the list instead of making a double."""
    (tmp_path / "crane.json").write_text(recipe())
    (kept,) = import_(tmp_path / "crane.json", empty).kept
    with Shelf.open(empty.shelf) as shelf:
        shelf.put_away(kept.id)
    import_(tmp_path / "crane.json", empty)
    with Shelf.look(empty.shelf) as shelf:
        assert shelf.latest("recipe") == (kept,)


def test_two_journals_are_not_joined(full: DataFolder, tmp_path: Path) -> None:
    """A data folder with sheets of its own takes the recipes and leaves the journal, and says so."""
    out = export(full, tmp_path / "out")
    other = DataFolder(tmp_path / "other")
    with Journal.open(other.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*whole_sheet("mine", 1))
        rows = journal.rows()
    brought = import_(out, other)
    assert (len(brought.kept), brought.rows, brought.journal_left) == (7, 0, True)
    with Journal.open(other.journal, ManualClock(), FakeWall().stamp()) as journal:
        assert journal.rows() == rows


def test_nothing_is_brought_into_a_folder_in_use(full: DataFolder, tmp_path: Path) -> None:
    """While a daemon owns the data folder an import is refused."""
    out = export(full, tmp_path / "out")
    with full.locked(), pytest.raises(StoreTrouble, match="in use by another"):
        import_(out, DataFolder(full.path))


def test_nothing_is_brought_without_room(
    full: DataFolder, empty: DataFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An import that might fill the card is refused before anything is kept."""
    out = export(full, tmp_path / "out")
    monkeypatch.setattr(DataFolder, "free_bytes", lambda _: 16_000_000)
    with pytest.raises(StoreTrouble, match="There is no room"):
        import_(out, empty)
    assert not empty.shelf.exists()


def _edit_index(out: Path, **changes: object) -> None:
    index = json.loads((out / INDEX).read_text())
    for key, value in changes.items():
        place: object = index
        *path, last = key.split("__")
        for part in path:
            place = place[int(part) if part.isdigit() else part]  # type: ignore[index]
        place[last] = value  # type: ignore[index]
    (out / INDEX).write_text(json.dumps(index))


def _first(out: Path) -> Path:
    return out / str(json.loads((out / INDEX).read_text())["shelf"][0]["file"])


def _drop_line(out: Path) -> None:
    lines = (out / JOURNAL_FILE).read_text().splitlines(keepends=True)
    (out / JOURNAL_FILE).write_text("".join(lines[:4] + lines[5:]))


def _edit_line(out: Path, old: str, new: str) -> None:
    text = (out / JOURNAL_FILE).read_text()
    assert old in text
    (out / JOURNAL_FILE).write_text(text.replace(old, new, 1))


SPOILT = {
    "no list": (lambda out: (out / INDEX).unlink(), "export.json cannot be read"),
    "no JSON": (lambda out: (out / INDEX).write_text("{"), "does not say what is in this export"),
    "another format": (lambda out: _edit_index(out, format="x"), r"\(format: "),
    "a version missing": (lambda out: _edit_index(out, shelf__0__version=2), "does not follow the version before"),
    "a kind changed": (lambda out: _edit_index(out, shelf__2__kind="strip"), "does not follow the version before"),
    "an odd id": (lambda out: _edit_index(out, shelf__0__id="../x"), "shelf.0.id"),
    "two settings": (lambda out: _edit_index(out, shelf__3__kind="settings"), "does not follow the version before"),
    "away of nothing": (lambda out: _edit_index(out, away__0__id="nobody"), "does not follow the version before"),
    "a file outside": (lambda out: _edit_index(out, shelf__0__file="../../etc/passwd"), "lies outside"),
    "an absolute file": (lambda out: _edit_index(out, shelf__0__file="/etc/passwd"), "lies outside"),
    "a file missing": (lambda out: _first(out).unlink(), "cannot be read: No such file"),
    "a bad recipe": (lambda out: _first(out).write_text(recipe(seconds=-1)), "recipes/harbour-crane"),
    "a strip for a recipe": (lambda out: _first(out).write_text(strip_text()), "list calls it a recipe"),
    "no text": (lambda out: _first(out).write_bytes(b"\xff\xfe{"), "is not text in UTF-8"),
    "a huge file": (lambda out: _first(out).write_text(" " * 300_000), "larger than 256 kB"),
    "a list for a paper": (lambda out: next((out / "papers").iterdir()).write_text("[]"), "must be one object"),
    "a paper without figures": (
        lambda out: next((out / "papers").iterdir()).write_text('{"format": "treadle/paper/1", "name": "x"}'),
        "“box” is missing",
    ),
    "a recipe for a paper": (
        lambda out: next((out / "papers").iterdir()).write_text(recipe()),
        "list calls it a paper",
    ),
    "bad settings": (
        lambda out: (out / "settings.json").write_text('{"format": "treadle/settings/1", "beat_seconds": 1}'),
        "settings.json: “beat_seconds” is 1, and must be from 3 to 10",
    ),
    "a line missing": (_drop_line, "Row 5 of the journal is missing: row 6"),
    "lines cut off": (lambda out: _edit_index(out, rows=16), "has 15 lines, and should have 16"),
    "no journal": (lambda out: (out / JOURNAL_FILE).unlink(), "journal.jsonl cannot be read"),
    "half a line": (lambda out: _edit_line(out, '"kind":"closed"', '"kind":"cl'), "line 8: this is no row"),
    "an odd time": (lambda out: _edit_line(out, "2025-03-01T", "soon T"), "line 1: this is no row"),
    "an endless number": (lambda out: _edit_line(out, '"at_ns":0', '"at_ns":1' + "0" * 30), "line 1: this is no row"),
}


@pytest.mark.parametrize("spoil", SPOILT)
def test_a_spoilt_export_is_refused_as_a_whole(full: DataFolder, empty: DataFolder, tmp_path: Path, spoil: str) -> None:
    """Whatever is wrong anywhere in an export, the file is named, and nothing at all is kept."""
    out = export(full, tmp_path / "out")
    change, sentence = SPOILT[spoil]
    change(out)
    with pytest.raises(Unreadable, match=sentence):
        import_(out, empty)
    assert [path.name for path in empty.path.iterdir()] == ["lock"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("{}", "x.json"),
        ('{"format": "treadle/recipe/9"}', "x.json"),
        ("[1]", "must be one object"),
        ("NaN", "must be one object"),
        ("[" * 200_000, "nested too deep"),
        (recipe(seconds=0), "x.json"),
    ],
)
def test_a_bad_single_file_is_refused(empty: DataFolder, tmp_path: Path, text: str, sentence: str) -> None:
    """A single file that is nothing Treadle knows, or is not as it must be, is named and not kept."""
    (tmp_path / "x.json").write_text(text)
    with pytest.raises(Unreadable, match=sentence):
        import_(tmp_path / "x.json", empty)
    assert [path.name for path in empty.path.iterdir()] == ["lock"]


def test_an_id_that_is_something_else_here_is_refused(full: DataFolder, empty: DataFolder, tmp_path: Path) -> None:
    """An export whose recipe has the id of a strip here is refused as a whole."""
    out = export(full, tmp_path / "out")
    with Shelf.look(full.shelf) as shelf:
        crane = shelf.everything()[0][0]
    with Shelf.open(empty.shelf) as shelf:
        shelf.take_in([crane.model_copy(update={"kind": "strip"})])
    with pytest.raises(Unreadable, match="is something else on this shelf"):
        import_(out, empty)
    with Shelf.look(empty.shelf) as shelf:
        assert len(shelf.everything()[0]) == 1


acts = st.lists(
    st.one_of(
        st.tuples(
            st.just("save"), st.integers(0, 3), st.sampled_from(["Crane", "Slip", "a/b", "…"]), st.integers(1, 9)
        ),
        st.tuples(st.just("away"), st.integers(0, 3)),
        st.tuples(st.just("out"), st.integers(0, 3)),
        st.tuples(st.just("sheet"), st.booleans()),
    ),
    max_size=12,
)


@settings(max_examples=15, deadline=None)
@given(acts)
def test_whatever_is_kept_export_and_import_are_the_identity(done: list[tuple[object, ...]]) -> None:
    """For any shelf and any journal: export → import into an empty folder → export gives the same files."""
    with tempfile.TemporaryDirectory() as name:
        data, other = DataFolder(Path(name) / "data"), DataFolder(Path(name) / "other")
        ids: list[str] = []
        with (
            Shelf.open(data.shelf, FakeWall().now) as shelf,
            Journal.open(data.journal, ManualClock(), FakeWall().stamp()) as journal,
        ):
            for number, act in enumerate(done, 1):
                match act:
                    case ("save", int(place), str(title), int(seconds)):
                        id_ = ids[place] if place < len(ids) else None
                        kept = shelf.save("recipe", title, recipe(title, seconds), id_)
                        if id_ is None:
                            ids.append(kept.id)
                    case ("away", int(place)) if place < len(ids):
                        shelf.put_away(ids[place])
                    case ("out", int(place)) if place < len(ids):
                        shelf.take_out(ids[place])
                    case ("sheet", bool(whole)):
                        entries = whole_sheet(f"s{number}", number)
                        journal.append(*(entries if whole else entries[:-1]))
                    case _:
                        pass
        out = export(data, Path(name) / "out")
        import_(out, other)
        assert files(export(other, Path(name) / "again")) == files(out)


def test_a_pipe_is_no_source(empty: DataFolder, tmp_path: Path) -> None:
    """A named pipe is refused in a sentence, alone or inside an export; nobody waits for it."""
    os.mkfifo(tmp_path / "pipe.json")
    with pytest.raises(Unreadable, match="no plain file"):
        import_(tmp_path / "pipe.json", empty)
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "folder" / "export.json")
    with pytest.raises(Unreadable, match="no plain file"):
        import_(tmp_path / "folder", empty)


def test_a_line_without_end_is_no_row(empty: DataFolder, tmp_path: Path) -> None:
    """A line of a journal longer than any row is refused with its number, before more of it is read."""
    (tmp_path / "export.json").write_text('{"format": "treadle/export/1", "rows": 1}')
    (tmp_path / "journal.jsonl").write_bytes(b"x" * (LONGEST_LINE + 10))
    with pytest.raises(Unreadable, match="line 1: this is no row"):
        import_(tmp_path, empty)


@pytest.mark.parametrize("name", ["../\x1b[31m", "x" * 5000, "\x1b[31m" * 50])
def test_what_an_export_calls_its_files_is_shown_safely(empty: DataFolder, tmp_path: Path, name: str) -> None:
    """A control character in a file's name in an export's list never reaches the terminal, nor does one without end."""
    listed = {"file": name, "id": "abc", "version": 1, "kind": "recipe", "title": "t", "made": "x"}
    (tmp_path / "export.json").write_text(json.dumps({"format": "treadle/export/1", "shelf": [listed]}))
    with pytest.raises(Unreadable) as refused:
        import_(tmp_path, empty)
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 600


def test_an_export_is_for_its_owner_alone(full: DataFolder, tmp_path: Path) -> None:
    """Nobody else on the machine can look into an export, whatever its maker's umask is."""
    before = os.umask(0)
    try:
        assert stat.S_IMODE(export(full, tmp_path / "new" / "out").stat().st_mode) == 0o700
    finally:
        os.umask(before)


def test_the_trays_of_a_sheet_stand_in_the_spreadsheet(empty: DataFolder, tmp_path: Path) -> None:
    """How long it was developed, fixed and washed, how warm, and each tray with its in and out; else empty cells."""
    way: tuple[tuple[TrayName, int], ...] = (
        ("on its way", 10_000),
        ("developer", 90_000),
        ("fix 1", 60_000),
        ("fix 2", 120_000),
    )
    with Journal.open(empty.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*whole_sheet("a", 1), *through_trays("a", 1, *way, celsius=20))
        journal.append(*whole_sheet("b", 2), *through_trays("b", 2, *way[:2])[:-1])
        journal.append(*whole_sheet("c", 3))
    found = {
        line["sheet"]: line
        for line in csv.DictReader((export(empty, tmp_path / "out") / "sheets.csv").read_text().splitlines())
    }
    names = ["process", "developer_seconds", "appearance_seconds", "developer_celsius", "fix_seconds", "wash_seconds"]
    assert [found["a"][name] for name in names] == ["RC", "90.0", "", "20.0", "180.0", ""]
    assert found["a"]["trays"] == (
        "on its way 0.0-10.0 s | developer 10.0-100.0 s 20 °C | fix 1 100.0-160.0 s | fix 2 160.0-280.0 s"
    )
    assert found["b"]["trays"] == "on its way 0.0-10.0 s | developer 10.0- s"
    assert {found["c"][name] for name in (*names, "trays")} == {""}


def test_a_title_is_no_formula(empty: DataFolder, tmp_path: Path) -> None:
    """A sheet whose title begins like a formula stands in the spreadsheet as words."""
    with Journal.open(empty.journal, ManualClock(), FakeWall().stamp()) as journal:
        journal.append(*whole_sheet("a", 1, plan().model_copy(update={"title": "=1+1"})))
    lines = csv.DictReader((export(empty, tmp_path / "out") / "sheets.csv").read_text().splitlines())
    assert {line["title"] for line in lines} == {"'=1+1"}
