"""Photographs of dry prints: kept small, told by the sheet's record, replaced, taken away and put back; all on file."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryFile
from typing import BinaryIO

import pytest
from PIL import Image
from tools.history import whole_sheet
from tools.near_unpacker import NearUnpacker
from tools.negatives import photograph

from controller.daemon.photographs import (
    LONGEST_SIDE,
    MOST_KEPT_BYTES,
    MOST_SMALL_BYTES,
    SMALL_SIDE,
    Photographs,
)
from controller.errors import ControllerError, Impossible, KeeperGone, NotThere, StoreTrouble, Unreadable, WrongMoment
from controller.store.archive import Archive
from controller.store.entries import Photographed
from controller.store.journal import Journal, Stamp
from controller.store.pictures import Pictures
from controller.store.records import SheetRecord
from controller.store.sessions import outline
from hardware.clock import ManualClock

SHEET = "print-1"


class Bench:
    """A journal with one closed sheet, and a folder of pictures."""

    def __init__(self, folder: Path) -> None:
        self.journal = Journal.in_memory(ManualClock(), Stamp.here())
        for entry in whole_sheet(SHEET, 7):
            self.journal.append(entry)
        self.archive, self.pictures = Archive(self.journal), Pictures(folder / "pictures")
        self.busy, self.trouble = False, None
        self.trouble: ControllerError | None
        self.photographs = Photographs(self.pictures, NearUnpacker(lambda: self.busy), self._note, folder)

    def _note(self, row: Photographed) -> None:
        if self.trouble is not None:
            raise self.trouble
        self.journal.append(row)

    @property
    def record(self) -> SheetRecord:
        return self.archive.record(SHEET)

    def bring(self, content: bytes, name: str = "print.jpg") -> Photographed:
        with lay(content) as file:
            self.photographs.of_sheet(self.record, file, name)
        found = self.record.photograph
        assert found is not None
        return found


def lay(content: bytes) -> BinaryIO:
    file = TemporaryFile()  # noqa: SIM115 - the caller closes it
    file.write(content)
    return file


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    yield made
    made.journal.close()


def test_it_is_kept_twice_one_of_them_small(bench: Bench) -> None:
    """At most 1600 pixels and 300 kB, and once more a quarter as wide; the record and the list's line name them."""
    kept = bench.bring(photograph(4000, 3000))
    assert (kept.of, kept.thing) == ("sheet", SHEET)
    for picture, side, most in (
        (kept.hash, LONGEST_SIDE, MOST_KEPT_BYTES),
        (kept.small, SMALL_SIDE, MOST_SMALL_BYTES),
    ):
        content = bench.photographs.picture(picture)
        assert len(content) <= most
        assert Image.open(io.BytesIO(content)).size == bench.photographs.size(picture) == (side, side * 3 // 4)
    assert outline(bench.record).line.photograph == kept.small


def test_what_was_before_stays_on_file(bench: Bench) -> None:
    """Replaced, taken away, put back: the last word counts, and each photograph that there was can be had again."""
    first, second = bench.bring(photograph()), bench.bring(photograph(900, 1200))
    assert first.hash != second.hash
    assert bench.record.photographs_before == (first,)
    bench.photographs.take_away(bench.record)
    assert bench.record.photograph is None
    assert outline(bench.record).line.photograph == ""
    assert bench.record.photographs_before == (second, first)
    rows = bench.journal.last()
    bench.photographs.take_away(bench.record)
    assert bench.journal.last() == rows, "what is away is not taken away once more"
    bench.photographs.put_back(bench.record, first.hash)
    assert bench.record.photograph == first
    assert bench.record.photographs_before == (second,)
    assert len(bench.record.photographs) == 4
    assert bench.pictures.count() == 4


def test_the_same_once_more_is_no_news(bench: Bench) -> None:
    """Brought twice it is kept once, and no row says it again."""
    bench.bring(photograph())
    rows = bench.journal.last()
    bench.bring(photograph())
    assert (bench.journal.last(), bench.pictures.count()) == (rows, 2)


def test_another_sheets_cannot_be_put_back(bench: Bench) -> None:
    """Only what a sheet had can be shown again, and only while it is here."""
    kept = bench.bring(photograph())
    bench.photographs.take_away(bench.record)
    with pytest.raises(NotThere):
        bench.photographs.put_back(bench.record, "0" * 64)
    bench.pictures.drop(kept.hash)
    with pytest.raises(NotThere):
        bench.photographs.put_back(bench.record, kept.hash)
    assert bench.record.photograph is None


def test_an_open_sheet_has_no_dry_print(bench: Bench) -> None:
    """A sheet that is not closed is refused by its number."""
    with lay(photograph()) as file, pytest.raises(Impossible, match="Sheet 7 is still open"):
        bench.photographs.of_sheet(bench.record.model_copy(update={"closed": None}), file, "print.jpg")
    assert bench.pictures.count() == 0


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "no picture"),
        (b"%PDF-1.4" + bytes(100), "no picture"),
        (photograph()[:2000], "no picture"),
        (photograph(90, 90), "too small"),
        (bytes(24_000_001), "larger than 24 MB"),
    ],
)
def test_what_is_no_photograph_leaves_nothing(bench: Bench, content: bytes, words: str) -> None:
    """A file that is none is refused with its name: no picture, no row; the one that there was is shown still."""
    before, rows = bench.bring(photograph()), bench.journal.last()
    with pytest.raises(Unreadable, match=rf"odd\.jpg.*{words}"):
        bench.bring(content, "odd.jpg")
    assert (bench.record.photograph, bench.journal.last(), bench.pictures.count()) == (before, rows, 2)


@pytest.mark.parametrize(
    ("spoil", "error", "stay"),
    [
        (lambda bench: setattr(bench, "busy", True), WrongMoment, 0),
        (lambda bench: setattr(bench, "trouble", StoreTrouble("The card is full.")), StoreTrouble, 0),
        # the row may be filed yet: then its pictures must be here
        (lambda bench: setattr(bench, "trouble", KeeperGone("Nobody answers.")), KeeperGone, 2),
    ],
)
def test_what_cannot_be_filed_leaves_no_picture(
    bench: Bench, spoil: Callable[[Bench], None], error: type[ControllerError], stay: int
) -> None:
    """While a sheet is open, or where the journal cannot be written, nothing stays."""
    spoil(bench)
    with pytest.raises(error):
        bench.bring(photograph())
    assert (bench.record.photographs, bench.pictures.count()) == ((), stay)


def test_a_photograph_of_a_proof_is_no_sheets(bench: Bench) -> None:
    """Rows of proofs touch no sheet, whatever a set is called."""
    bench.journal.append(Photographed(hash="0" * 64, of="proof", thing=SHEET))
    assert bench.record.photographs == ()


def test_the_images_corners_are_filed_with_the_photograph(bench: Bench) -> None:
    """Each corner is a row; the last counts, goes with its photograph, and comes back with it; no row says no news."""
    first = bench.bring(photograph(900))
    assert first.corners is None
    bench.photographs.fills(bench.record)
    bench.photographs.corner(bench.record, "top-left", 0.1, 0.2)
    now = bench.record.photograph
    assert now is not None
    assert now.corners == ((0.1, 0.2), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    rows = len(list(bench.journal.rows()))
    bench.photographs.corner(bench.record, "top-left", 0.1, 0.2)
    assert len(list(bench.journal.rows())) == rows
    assert bench.bring(photograph(900)).corners == now.corners, "the same photograph once more says nothing new"
    assert bench.bring(photograph(1200)).corners is None, "another one lies otherwise"
    bench.photographs.put_back(bench.record, first.hash)
    assert bench.record.photograph == now
    (before,) = bench.record.photographs_before
    assert before.hash != now.hash, "each photograph is offered once, however often its corners moved"


@pytest.mark.parametrize(("which", "place"), [("top-left", (0.99, 0.99)), ("bottom-right", (0.0, 0.5))])
def test_corners_that_fold_are_refused(bench: Bench, which: str, place: tuple[float, float]) -> None:
    """A sentence, and nothing is filed; a corner that there is none, and a sheet without a photograph, neither."""
    with pytest.raises(NotThere):
        bench.photographs.corner(bench.record, which, *place)
    bench.bring(photograph(900))
    rows = len(list(bench.journal.rows()))
    with pytest.raises(Unreadable):
        bench.photographs.corner(bench.record, which, *place)
    with pytest.raises(NotThere):
        bench.photographs.corner(bench.record, "middle", 0.5, 0.5)
    assert len(list(bench.journal.rows())) == rows


def test_a_row_of_before_has_no_corners() -> None:
    """A journal of an earlier version is read as it is, and written as it was."""
    text = '{"kind":"photographed","hash":"","of":"sheet","thing":"print-1"}'
    assert Photographed.model_validate_json(text).corners is None
    assert Photographed.model_validate_json(text).model_dump_json() == text
