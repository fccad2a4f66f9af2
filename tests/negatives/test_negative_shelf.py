"""Sets on the shelf: made in one act, marked, photographed, listed by day, searched, and what was made of one."""

from __future__ import annotations

import io
import json
import re
import resource
import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from tempfile import TemporaryFile
from types import SimpleNamespace
from typing import Any, BinaryIO

import pytest
from PIL import Image
from tools.history import plan, whole_sheet
from tools.near_unpacker import NearUnpacker
from tools.negatives import fill, heavy_photograph, keep, photograph, tree
from tools.pictures import png

from controller.backup.registered import DERIVED, THINGS
from controller.daemon import negative_lists
from controller.daemon.negative_shelf import NegativeShelf
from controller.daemon.photographs import LONGEST_SIDE, MOST_KEPT_BYTES, Photographs
from controller.errors import NotThere, StoreTrouble, Unreadable, WrongMoment
from controller.negatives import keeps
from controller.negatives.sets import CORNERS, KIND, LOOKS, MARKS
from controller.store.entries import Photographed
from controller.store.journal import Journal, Stamp
from controller.store.lookups import Lookups
from controller.store.pictures import Pictures
from controller.store.records import SheetRecord
from controller.store.shelf import Shelf
from controller.unpack.unpacker import Unpacker
from hardware.clock import ManualClock

TODAY = date(2026, 11, 30)


class Bench:
    """Everything that negatives stand on, in memory and one folder."""

    def __init__(self, folder: Path) -> None:
        self.kept = Shelf.in_memory()
        self.journal = Journal.in_memory(ManualClock(), Stamp.here())
        self.lookups = Lookups(None, self.kept, self.journal, THINGS, DERIVED)
        self.pictures = Pictures(folder / "pictures")
        self.rows: list[Photographed] = []
        self.busy = False
        self.laid: list[BinaryIO] = []
        unpacker = NearUnpacker(lambda: self.busy)
        self.photographs = Photographs(self.pictures, unpacker, self.rows.append, folder)
        self.shelf = NegativeShelf(self.kept, self.lookups, self.photographs)

    def lay(self, content: bytes) -> BinaryIO:
        """Lay bytes into a file, as a page does with what a form brings."""
        self.laid.append(TemporaryFile())  # noqa: SIM115 - closed below
        self.laid[-1].write(content)
        return self.laid[-1]

    def close(self) -> None:
        for part in (*self.laid, self.lookups, self.journal, self.kept):
            part.close()


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    yield made
    made.close()


# ---- made in one act


def test_what_the_program_knows_is_proposed(bench: Bench) -> None:
    """Today's date is there from the first; film, format, development and how the frames lay come from the last set."""
    first = bench.shelf.proposal(TODAY)
    assert (first.name, first.day, first.film, first.frame_format) == ("2026-11-30", TODAY, "", "")
    bench.shelf.make(tree(12, rows=3, columns=4))
    after = bench.shelf.proposal(TODAY)
    assert (after.name, after.film, after.frame_format) == ("film 13", "slow film", "6x6")
    assert after.development == "fine grain 1+1, 9 min, 20 °C"
    assert (after.rows, after.columns, after.count, after.first) == (3, 4, 12, "1")


def test_one_that_is_malformed_leaves_nothing(bench: Bench) -> None:
    """A tree that is not as it must be is refused at its place, and nothing is kept of it."""
    with pytest.raises(Unreadable) as refused:
        bench.shelf.make(tree(date="soon"))
    assert refused.value.place == ("date",)
    assert not bench.kept.holds(KIND)


def test_corrections_keep_what_frames_said(bench: Bench) -> None:
    """With other facts and frames, a frame that stays keeps its title and marks, and the set its photograph."""
    kept = bench.shelf.make(tree(12))
    bench.shelf.photograph(kept.id, bench.lay(photograph()), "proof.jpg")
    bench.shelf.mark(kept.id, "3", "maybe")
    other = {key: value for key, value in tree(12).items() if key not in ("rows", "columns")}
    other |= {"set": "film twelve", "frames": [{"frame": name} for name in ("00", "3", "1")]}
    bench.shelf.change(kept.id, other)
    now = bench.shelf.fetch(kept.id)
    assert [one.frame for one in now.negatives.frames] == ["00", "3", "1"]
    assert now.negatives.frame("3").mark == "maybe"
    assert now.negatives.frame("1").title == tree(12)["frames"][0]["title"]
    assert now.negatives.proof is not None
    assert (now.version, now.negatives.set) == (4, "film twelve")
    assert len(bench.shelf.fetch(kept.id, 1).negatives.frames) == 12


@pytest.mark.parametrize("mark", [*MARKS, ""])
def test_a_tap_marks_and_rubs_out(bench: Bench, mark: str) -> None:
    """Each mark is kept by one act, which done twice is done once; rubbed out it is gone."""
    kept = bench.shelf.make(tree(12))
    for _ in range(2):
        bench.shelf.mark(kept.id, "2", mark)
    assert (bench.shelf.fetch(kept.id).negatives.frame("2").mark or "") == mark
    assert bench.shelf.fetch(kept.id).version == (2 if mark else 1)
    bench.shelf.look(kept.id, "2", "1/3")
    bench.shelf.rub_out(kept.id, "2")
    one = bench.shelf.fetch(kept.id).negatives.frame("2")
    assert (one.mark, one.look) == (None, None)


@pytest.mark.parametrize("look", LOOKS)
def test_how_a_frame_looks_is_kept(bench: Bench, look: str) -> None:
    """Each third of a stop from −1 to +1 is kept as it was said."""
    kept = bench.shelf.make(tree(12))
    bench.shelf.look(kept.id, "5", look)
    assert bench.shelf.fetch(kept.id).negatives.frame("5").look == look


def test_what_there_is_not_is_refused(bench: Bench) -> None:
    """Another mark, look, frame, set, corner or photograph is told in a sentence; nothing changes."""
    kept = bench.shelf.make(tree(12))
    recipe = bench.kept.save("recipe", "Crane", "{}")
    shelf = bench.shelf
    for refused in (
        lambda: shelf.mark(kept.id, "2", "yes"),
        lambda: shelf.look(kept.id, "2", "1/4"),
        lambda: shelf.write(kept.id, "2", "t" * 201, ""),
        lambda: shelf.write(kept.id, "2", "", "n" * 4001),
        lambda: shelf.write(kept.id, "2", "two\nlines", ""),
    ):
        with pytest.raises(Unreadable, match=r"\.$"):
            refused()
    for gone in (
        lambda: shelf.mark(kept.id, "99", "print"),
        lambda: shelf.mark("nothing", "2", "print"),
        lambda: shelf.mark(recipe.id, "2", "print"),
        lambda: shelf.corner(kept.id, CORNERS[0], 0.1, 0.1),
        lambda: shelf.whole_picture(kept.id),
        lambda: shelf.negative("no reference"),
        lambda: shelf.negative(f"{kept.id}:99"),
        lambda: shelf.life(f"{kept.id}:99"),
        lambda: shelf.put_away(recipe.id),
        lambda: shelf.photograph("nothing", bench.lay(photograph()), "a.jpg"),
        lambda: bench.photographs.picture("0" * 64),
    ):
        with pytest.raises(NotThere):
            gone()
    assert shelf.fetch(kept.id).version == 1
    assert list(bench.pictures.each()) == []


def test_taps_from_two_phones_are_all_kept(bench: Bench) -> None:
    """Two phones that mark the same contact sheet at once lose no mark."""
    kept = bench.shelf.make(tree(12))
    hands = [
        threading.Thread(target=lambda name=name: bench.shelf.look(kept.id, name, "2/3"))  # type: ignore[misc]
        for name in ("1", "2", "4", "5", "7", "8")
    ]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    frames = bench.shelf.fetch(kept.id).negatives
    assert [frames.frame(name).look for name in ("1", "2", "4", "5", "7", "8")] == ["2/3"] * 6


# ---- the photograph


def test_a_photograph_is_kept_small_and_upright(bench: Bench) -> None:
    """A phone's picture that lies on its side is kept upright, at most 1600 pixels and 300 kB, and filed."""
    exif = Image.Exif()
    exif[0x0112] = 6  # its first row is at the right
    kept = bench.shelf.make(tree(12))
    content = photograph(4000, 3000, rows=3, columns=4, exif=exif)
    bench.shelf.photograph(kept.id, bench.lay(content), "proof.jpg")
    proof = bench.shelf.fetch(kept.id).negatives.proof
    assert proof is not None
    assert bench.rows == [Photographed(hash=proof.photograph, of="proof", thing=kept.id)]
    small = bench.photographs.picture(proof.photograph)
    assert len(small) <= MOST_KEPT_BYTES
    picture = Image.open(io.BytesIO(small))
    assert picture.size == bench.photographs.size(proof.photograph) == (1200, LONGEST_SIDE)
    assert picture.getexif().get(0x0112) is None
    # what was at the left of the lowest row is now at the top left
    assert picture.getpixel((60, 100)) == pytest.approx(240 - 8 * 180 // 12, abs=3)
    assert not list(bench.pictures.folder.parent.glob("tmp*"))


def test_a_png_will_do(bench: Bench) -> None:
    """A PNG is kept as a small JPEG as well."""
    kept = bench.shelf.make(tree(12))
    bench.shelf.photograph(kept.id, bench.lay(photograph(format="PNG")), "proof.png")
    proof = bench.shelf.fetch(kept.id).negatives.proof
    assert proof is not None
    assert bench.photographs.size(proof.photograph) == (1200, 900)


def test_noise_is_kept_small_too(bench: Bench) -> None:
    """Even a picture of nothing but noise comes to no more than 300 kB."""
    kept = bench.shelf.make(tree(12))
    noise = Image.effect_noise((2400, 1800), 120)
    out = io.BytesIO()
    noise.save(out, "JPEG", quality=95)
    bench.shelf.photograph(kept.id, bench.lay(out.getvalue()), "noise.jpg")
    assert 0 < bench.pictures.total_bytes() <= MOST_KEPT_BYTES


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "no picture"),
        (b"GIF89a" + bytes(400), "no picture"),
        (photograph()[:2000], "no picture"),
        (photograph(90, 90), "too small"),
        (png(30_000, 200, 0, 8), "side of more than"),
        (b"%PDF-1.4" + bytes(100), "no picture"),
        (bytes(24_000_001), "larger than 24 MB"),
        (photograph().replace(b"\xff\xda", b"\xff\xd9"), "no picture"),
    ],
)
def test_what_is_no_photograph_leaves_nothing(bench: Bench, content: bytes, words: str) -> None:
    """A file that is none is refused with its name and a remedy: no picture, no version, no row."""
    kept = bench.shelf.make(tree(12))
    with pytest.raises(Unreadable, match=rf"odd\.jpg.*{words}"):
        bench.shelf.photograph(kept.id, bench.lay(content), "odd.jpg")
    assert list(bench.pictures.each()) == []
    assert bench.rows == []
    assert bench.shelf.fetch(kept.id).version == 1


def test_a_sheet_goes_first(bench: Bench) -> None:
    """While a sheet is open no photograph is unpacked: it is to be brought again."""
    kept = bench.shelf.make(tree(12))
    bench.busy = True
    with pytest.raises(WrongMoment, match="a sheet is open"):
        bench.shelf.photograph(kept.id, bench.lay(photograph()), "proof.jpg")
    assert list(bench.pictures.each()) == []


def test_a_shelf_that_cannot_be_written_leaves_no_picture(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the set's next version cannot be kept, neither is its photograph."""
    kept = bench.shelf.make(tree(12))

    def refuse(*_: object, **__: object) -> None:
        raise StoreTrouble("The card is full.")

    monkeypatch.setattr(bench.kept, "save", refuse)
    with pytest.raises(StoreTrouble):
        bench.shelf.photograph(kept.id, bench.lay(photograph()), "proof.jpg")
    assert list(bench.pictures.each()) == []


def test_corners_are_set_one_by_one(bench: Bench) -> None:
    """Each tapped corner is kept; one that would fold the field is refused; without any the photograph is it."""
    kept = bench.shelf.make(tree(12))
    bench.shelf.photograph(kept.id, bench.lay(photograph()), "proof.jpg")
    for which, at in zip(CORNERS, ((0.1, 0.1), (0.9, 0.2), (0.95, 0.9), (-0.5, 0.8)), strict=True):
        bench.shelf.corner(kept.id, which, *at)
    proof = bench.shelf.fetch(kept.id).negatives.proof
    assert proof is not None
    assert proof.corners is not None
    assert [tuple(map(float, one)) for one in proof.corners] == [(0.1, 0.1), (0.9, 0.2), (0.95, 0.9), (0.0, 0.8)]
    before = bench.shelf.fetch(kept.id).version
    with pytest.raises(Unreadable, match="as a clock goes"):
        bench.shelf.corner(kept.id, "top-left", 1.0, 1.0)
    with pytest.raises(NotThere):
        bench.shelf.corner(kept.id, "middle", 0.5, 0.5)
    assert bench.shelf.fetch(kept.id).version == before
    bench.shelf.whole_picture(kept.id)
    after = bench.shelf.fetch(kept.id).negatives.proof
    assert after is not None
    assert after.corners is None


def test_a_photograph_of_24_mb_is_kept_in_under_3_s(bench: Bench, tmp_path: Path) -> None:
    """The largest photograph that is taken in costs less than 3 s of a processor, the process of its own included.

    How long one waits for it on a quiet machine, `tests/benchmarks/bench_negatives.py` says.
    """
    content = heavy_photograph()
    assert 20e6 < len(content) <= 24e6
    photographs = Photographs(bench.pictures, Unpacker(lambda: False), bench.rows.append, tmp_path)
    shelf = NegativeShelf(bench.kept, bench.lookups, photographs)
    kept, file = shelf.make(tree(12)), bench.lay(content)
    before = processor_s()
    shelf.photograph(kept.id, file, "heavy.jpg")
    took = processor_s() - before
    assert took < 3.0, f"{took:.2f} s"
    assert 0 < bench.pictures.total_bytes() <= MOST_KEPT_BYTES


def processor_s() -> float:
    """Return what this process and those that it has ended have had of a processor, in seconds."""
    every = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in every)


# ---- lists and searches


def test_lists_go_by_day_page_by_page(bench: Bench) -> None:
    """The newest day is first, whichever was saved last; pages follow without gap; those put away are apart."""
    for number in (30, 10, 20, 40, 50):
        keep(bench.kept, tree(number))
    oldest = keep(bench.kept, tree(5))
    bench.shelf.mark(oldest.id, "1", "print")
    bench.shelf.put_away(next(one.id for one in bench.shelf.page().sets if one.title == "film 40"))
    first = bench.shelf.page(limit=2)
    second = bench.shelf.page(limit=2, below=first.more)
    third = bench.shelf.page(limit=2, below=second.more)
    titles = [one.title for page in (first, second, third) for one in page.sets]
    assert titles == ["film 50", "film 30", "film 20", "film 10", "film 5"]
    assert not third.more
    assert [one.title for one in bench.shelf.page(away=True).sets] == ["film 40"]
    line = third.sets[0]
    assert (line.film, line.frame_format, line.frames) == ("fast film", "6x6", 12)
    assert line.prints == sum(one.get("mark") == "print" for one in tree(5)["frames"][1:]) + 1


@pytest.mark.parametrize(
    "below", ["", "x", "9", "2026-01-01", "2026-01-01.x", "1.2.3", "9" * 400, ".", "2026-01-01.-4"]
)
def test_any_address_of_a_page_is_a_page(bench: Bench, below: str) -> None:
    """Whatever an address says of where a page begins, there is a page."""
    keep(bench.kept)
    bench.shelf.page(below=below)
    bench.shelf.page("film", below=below)


def test_words_find_films_and_frames(bench: Bench) -> None:
    """Beginnings of words find sets by name, film, development and notes, and frames by their own titles and notes."""
    kept = bench.shelf.make(tree(12, notes="Under the trees"))
    bench.shelf.write(kept.id, "2", "Brücke im Nebel", "wants a soft sky")
    other = bench.shelf.make(
        tree(13, film="kitchen film", frames=[{"frame": "1"}], frame_format="8x10", rows=1, columns=1)
    )
    find = bench.shelf.page
    assert [one.id for one in find("film 12").sets] == [kept.id]
    assert [one.id for one in find("kitchen").sets] == [other.id]
    assert [one.id for one in find("tree").sets] == [kept.id]
    assert [one.frame for one in find("brucke").frames] == ["2"]
    assert [one.title for one in find("neb film").frames] == ["Brücke im Nebel"]
    assert [one.frame for one in find("soft sky").frames] == ["2"]
    assert find("kitchen").frames == (), "a set's words alone are no negative's"
    assert find("nowhere").sets == find("nowhere").frames == ()
    bench.shelf.write(kept.id, "2", "", "")
    assert find("nebel").frames == ()
    bench.shelf.write(kept.id, "2", "Steg", "")
    bench.shelf.put_away(kept.id)
    assert find("steg").frames == find("steg").sets == ()
    assert [one.frame for one in find("steg", away=True).frames] == ["2"]


@pytest.mark.parametrize("words", ['" x', '" OR "', "own:", "(", "*", "\0 x", "NEAR(a b)", "a" * 5000, "-", "Ω ' ;"])
def test_any_words_may_be_sought(bench: Bench, words: str) -> None:
    """What is typed into a search is sought, never obeyed."""
    keep(bench.kept)
    assert bench.shelf.page(words).sets == ()


def test_one_of_a_newer_version_is_in_the_list(bench: Bench) -> None:
    """A set that this software cannot read is in the list and in searches by its title, and its page says why."""
    newer = bench.kept.save(KIND, "film 99", json.dumps({"format": "treadle/negatives/9"}))
    assert [one.title for one in bench.shelf.page().sets] == ["film 99"]
    assert [one.id for one in bench.shelf.page("film 99").sets] == [newer.id]
    with pytest.raises(Unreadable, match="film 99"):
        bench.shelf.fetch(newer.id)


def test_questions_are_answered_by_indexes(bench: Bench) -> None:
    """With 800 negatives no question of a page goes through a whole table or sorts what it found."""
    fill(bench.kept, 72)
    while not bench.lookups.follow():
        pass
    assert bench.lookups.rows("SELECT sum(frames) FROM negative_sets")[0][0] > 780
    for sql, values in (
        (negative_lists.BY_DAY, (0, "2016-06-01", 50, 21)),
        (negative_lists.ONE_SET, ("x",)),
        (negative_lists.FRAMES, ("quay", 30, 0)),
        (negative_lists.SHEETS, ("x:1", 1 << 62, 61)),
        (negative_lists.LATER, ("x:1", 7, 21)),
    ):
        steps = [row[3] for row in bench.lookups.rows(f"EXPLAIN QUERY PLAN {sql}", *values)]
        scans = [step for step in steps if step.startswith("SCAN") and "VIRTUAL TABLE INDEX" not in step]
        assert scans == [], steps
        assert not any("TEMP B-TREE" in step for step in steps), steps


# ---- what was made of it


def test_a_life_is_the_sheets_it_stood_in_the_carrier_for(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sheets stamped with a negative are its own, newest first; those of others, and unstamped ones, are not."""
    kept = bench.shelf.make(tree(12))
    stamps = {"sheet1": f"{kept.id}:1", "sheet2": f"{kept.id}:2", "sheet3": f"{kept.id}:1"}

    def stamped(record: SheetRecord) -> str:
        bench_ = SimpleNamespace(negative=stamps.get(record.id, ""))
        return of_plan(SimpleNamespace(plan=SimpleNamespace(bench=bench_)))  # type: ignore[arg-type]

    of_plan = keeps.negative_of
    monkeypatch.setattr(keeps, "negative_of", stamped)
    for number in range(1, 5):
        bench.journal.append(*whole_sheet(f"sheet{number}", number, plan()))
    life = bench.shelf.life(f"{kept.id}:1")
    assert [line.id for line in life.sheets] == ["sheet3", "sheet1"]
    assert bench.shelf.life(f"{kept.id}:3").sheets == ()


def test_a_life_has_the_recipes_that_name_it(bench: Bench) -> None:
    """A recipe whose negative has this title is of its life; one that only has the words in its own is not."""
    kept = bench.shelf.make(tree(12))
    bench.shelf.write(kept.id, "2", "Quay at dawn", "")
    light = {"light": [{"filter": "soft", "seconds": 10.0}], "local": []}
    recipe = {"format": "treadle/recipe/1", "title": "Morning", "negative": {"name": "quay at dawn"}} | light
    named = bench.kept.save("recipe", "Morning", json.dumps(recipe))
    other = {"format": "treadle/recipe/1", "title": "Quay at dawn, another"} | light
    bench.kept.save("recipe", "Quay at dawn, another", json.dumps(other))
    assert [one.id for one in bench.shelf.life(f"{kept.id}:2").recipes] == [named.id]
    assert bench.shelf.life(f"{kept.id}:1").recipes == ()


def test_a_plan_without_a_bench_names_no_negative(bench: Bench) -> None:
    """A sheet of before negatives were kept has none, and is noted nowhere."""
    bench.journal.append(*whole_sheet("sheet1", 1, plan()))
    while not bench.lookups.follow():
        pass
    assert bench.lookups.rows("SELECT * FROM negative_sheets") == []


def test_a_set_takes_little_of_the_shelf(bench: Bench) -> None:
    """A film of 36 with its marks is about a kilobyte a version: an evening of taps is nothing to a card."""
    kept = bench.shelf.make(tree(12, "24x36"))
    assert len(kept.body) < 2600
    assert re.search(r'\{"frame": "2"\}', kept.body)


def test_what_it_was_is_kept(bench: Bench) -> None:
    """Each tap is a version, and none of them is ever changed."""
    kept = bench.shelf.make(tree(12))
    bench.shelf.mark(kept.id, "2", "print")
    bench.shelf.mark(kept.id, "2", "no")
    marks: list[Any] = [
        bench.shelf.fetch(kept.id, one.version).negatives.frame("2").mark for one in bench.shelf.versions(kept.id)
    ]
    assert marks == ["no", "print", None]
