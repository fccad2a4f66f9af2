"""Pictures go wherever the rest goes: out and in, into each night's backup, to a second place, and back."""

from __future__ import annotations

import io
import json
import os
import zipfile
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from PIL import Image
from tools.history import FakeWall, whole_sheet
from tools.negatives import keep, tree
from tools.stick import stick_beside

from controller.backup.dated import MANIFEST, backup, backups, bring_back
from controller.backup.export import export
from controller.backup.import_ import bring_things, import_
from controller.backup.packed import pack_export
from controller.backup.packed_export import LARGEST_PACKED_INDEX, PackedExport
from controller.backup.registered import photographs_amiss, pictures_amiss
from controller.backup.second_place import SecondPlace
from controller.errors import StoreTrouble, Unreadable
from controller.store.archive import Archive
from controller.store.entries import Photographed
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.pictures import Pictures
from controller.store.shelf import Shelf
from controller.store.whole import GivenUp
from hardware.clock import ManualClock

DAY = date(2026, 3, 1)


def jpeg(level: int) -> bytes:
    out = io.BytesIO()
    Image.new("L", (160, 120), level).save(out, "JPEG")
    return out.getvalue()


def fill(data: DataFolder, *levels: int) -> list[str]:
    """Keep a set with a photograph for each of these greys; return what the pictures are called."""
    names = []
    with Shelf.open(data.shelf, FakeWall().now) as shelf, _journal(data):
        for level in levels:
            names.append(Pictures(data.pictures).keep(jpeg(level), "a.jpg"))
            keep(shelf, tree(level, proof={"photograph": names[-1]}))
    return names


def _journal(data: DataFolder) -> Journal:
    return Journal.open(data.journal, ManualClock(), Stamp("boot", "0", 1))


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    return DataFolder(tmp_path / "data")


@pytest.fixture
def stick(tmp_path: Path) -> Iterator[Path]:
    with stick_beside(tmp_path) as folder:
        yield folder


def held(data: DataFolder) -> list[str]:
    return list(Pictures(data.pictures).each())


# ---- out and in


def test_an_export_brings_them_to_an_empty_folder(data: DataFolder, tmp_path: Path) -> None:
    """What goes out comes in the same: pictures, sets, and the export that is made of them again."""
    names = fill(data, 10, 20)
    out = export(data, tmp_path / "out")
    assert sorted(path.stem for path in (out / "pictures").iterdir()) == sorted(names)
    there = DataFolder(tmp_path / "there")
    import_(out, there)
    assert held(there) == held(data) == sorted(names)
    again = export(there, tmp_path / "again")
    for path in out.rglob("*"):
        if path.is_file():
            assert (again / path.relative_to(out)).read_bytes() == path.read_bytes()
    assert import_(out, there).kept == ()


def test_without_pictures_an_export_is_as_it_was(data: DataFolder, tmp_path: Path) -> None:
    """The list has no key for pictures where there are none, so that an older Treadle reads it."""
    with Shelf.open(data.shelf, FakeWall().now) as shelf:
        keep(shelf)
    index = json.loads((export(data, tmp_path / "out") / "export.json").read_text())
    assert sorted(index) == ["away", "format", "rows", "shelf"]


def test_the_phones_zip_has_them(data: DataFolder, tmp_path: Path) -> None:
    """What a phone carries away and brings to another machine has the pictures in it."""
    names = fill(data, 10)
    packed = pack_export(data, tmp_path / "out", DAY)
    there = DataFolder(tmp_path / "there")
    with packed.open("rb") as file:
        bring_things(PackedExport(file, "zip"), there, LARGEST_PACKED_INDEX, lambda: None)
    assert held(there) == names


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda file: file.write_bytes(jpeg(99)), "not the picture that its name says"),
        (lambda file: file.write_bytes(b"\xff\xd8" + bytes(500_000)), "larger than 390 kB"),
        (lambda file: file.write_bytes(b""), "not the picture"),
        (lambda file: file.unlink(), "No such file"),
    ],
)
def test_an_export_with_another_picture_is_refused(data: DataFolder, tmp_path: Path, spoil: object, words: str) -> None:
    """A picture that is not what its name says, too large or gone: nothing of the export is kept."""
    fill(data, 10, 20)
    out = export(data, tmp_path / "out")
    spoil(max((out / "pictures").iterdir()))  # type: ignore[operator]
    there = DataFolder(tmp_path / "there")
    with pytest.raises(Unreadable, match=words):
        import_(out, there)
    assert held(there) == []
    assert not there.shelf.exists()


@pytest.mark.parametrize("name", ["../../secret.key", "x", "A" * 64, 7, ""])
def test_a_list_names_pictures_by_hash_alone(data: DataFolder, tmp_path: Path, name: object) -> None:
    """No name in an export's list leads out of it."""
    fill(data, 10)
    out = export(data, tmp_path / "out")
    index = json.loads((out / "export.json").read_text())
    (out / "export.json").write_text(json.dumps(index | {"pictures": [name]}))
    with pytest.raises(Unreadable, match="pictures"):
        import_(out, DataFolder(tmp_path / "there"))


def test_a_picture_that_is_none_is_refused(data: DataFolder, tmp_path: Path) -> None:
    """A file under its right hash that no browser would show as a JPEG is not kept."""
    import hashlib

    fill(data, 10)
    out = export(data, tmp_path / "out")
    page = b"<html><script>"
    name = hashlib.sha256(page).hexdigest()
    (out / "pictures" / f"{name}.jpg").write_bytes(page)
    index = json.loads((out / "export.json").read_text())
    (out / "export.json").write_text(json.dumps(index | {"pictures": [*index["pictures"], name]}))
    there = DataFolder(tmp_path / "there")
    with pytest.raises(Unreadable, match="no picture that can be kept"):
        import_(out, there)
    assert held(there) == []


def test_where_the_things_are_refused_no_picture_stays(
    data: DataFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shelf that cannot be written at the last moment leaves none of the pictures that came before it."""
    fill(data, 10, 20)
    out = export(data, tmp_path / "out")
    there = DataFolder(tmp_path / "there")

    def refuse(*_: object) -> None:
        raise StoreTrouble("The card is full.")

    monkeypatch.setattr(Shelf, "take_in", refuse)
    with pytest.raises(StoreTrouble):
        import_(out, there)
    assert held(there) == []


def test_a_zip_in_a_zip_is_bounded(data: DataFolder, tmp_path: Path) -> None:
    """A picture in a zip that unpacks to more than any picture is refused, not unpacked."""
    (name,) = fill(data, 10)
    packed = pack_export(data, tmp_path / "out", DAY)
    swollen = tmp_path / "swollen.zip"
    with zipfile.ZipFile(packed) as whole, zipfile.ZipFile(swollen, "w", zipfile.ZIP_DEFLATED) as to:
        for one in whole.infolist():
            to.writestr(one.filename, bytes(90_000_000) if name in one.filename else whole.read(one))
    with swollen.open("rb") as file, pytest.raises(Unreadable, match="390 kB"):
        bring_things(PackedExport(file, "zip"), DataFolder(tmp_path / "there"), LARGEST_PACKED_INDEX, lambda: None)


# ---- backed up and brought back


def test_a_night_copies_what_it_has_more(data: DataFolder) -> None:
    """Pictures lie once beside the backups, each the same file; every manifest names those of its night."""
    first = fill(data, 10)
    backup(data, DAY)
    more = fill(data, 20)
    backup(data, DAY + timedelta(days=1))
    beside = Pictures(data.backups / "pictures")
    assert sorted(beside.each()) == sorted([*first, *more])
    assert all(beside.place(one).samefile(Pictures(data.pictures).place(one)) for one in beside.each())
    named = [{one.sha256 for one in made.pictures} for _, made in backups(data)]
    assert named == [set(first), {*first, *more}]
    assert {made.format for _, made in backups(data)} == {"treadle/backup/3"}


def test_without_pictures_a_backup_is_as_it_was(data: DataFolder) -> None:
    """A data folder without pictures has the manifest that it had before there were any."""
    with Shelf.open(data.shelf), _journal(data):
        folder = backup(data, DAY)
    assert sorted(json.loads((folder / MANIFEST).read_text())) == ["day", "format", "journal", "serial", "shelf"]
    assert not (data.backups / "pictures").exists()


@pytest.mark.parametrize("linked", [True, False])
def test_a_restore_brings_back_what_is_gone(
    data: DataFolder, tmp_path: Path, linked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lost picture comes back with a restore, here and to another folder, also where files have no second names."""
    if not linked:

        def refuse(*_: object) -> None:
            raise OSError(1, "Operation not permitted")

        monkeypatch.setattr(os, "link", refuse)
    names = fill(data, 10, 20)
    folder = backup(data, DAY)
    Pictures(data.pictures).drop(names[0])
    assert len(bring_back(folder.name, data)) == 2
    assert held(data) == sorted(names)
    there = DataFolder(tmp_path / "there")
    assert len(bring_back(str(folder), there)) == 1
    assert held(there) == sorted(names)


def test_what_is_not_beside_the_backup_is_told(data: DataFolder, tmp_path: Path) -> None:
    """A restore without the pictures brings the rest, and says how many are missing."""
    names = fill(data, 10, 20)
    folder = backup(data, DAY)
    Pictures(data.backups / "pictures").drop(names[0])
    there = DataFolder(tmp_path / "there")
    assert bring_back(str(folder), there)[-1].startswith("One photograph that belongs to it")
    with Shelf.look(there.shelf) as shelf:
        (said,) = pictures_amiss(shelf, Pictures(there.pictures))
    assert said.startswith("The photograph of “film 10” is not in")


def test_a_picture_goes_with_the_last_backup_that_names_it(data: DataFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture that the data folder has no longer goes once no backup names it."""
    monkeypatch.setattr("controller.backup.dated.KEEP", 2)
    (name,) = fill(data, 10)
    backup(data, DAY)
    Pictures(data.pictures).drop(name)
    beside = Pictures(data.backups / "pictures")
    backup(data, DAY + timedelta(days=1))
    assert list(beside.each()) == [name]
    backup(data, DAY + timedelta(days=2))
    assert list(beside.each()) == []


def test_a_damaged_picture_does_not_take_a_good_ones_place(data: DataFolder) -> None:
    """What went bad before it was ever backed up is left out; the check tells of it."""
    names = fill(data, 10, 20)
    Pictures(data.pictures).place(names[0]).write_bytes(jpeg(77))
    folder = backup(data, DAY)
    (made,) = (made for place, made in backups(data) if place == folder)
    assert [one.sha256 for one in made.pictures] == [names[1]]
    with Shelf.look(data.shelf) as shelf:
        (said,) = pictures_amiss(shelf, Pictures(data.pictures))
    assert "is not what it was" in said


def test_one_that_is_given_up_can_be_made_again(data: DataFolder) -> None:
    """A backup that is given up between two pictures leaves nothing that counts, and the next one is whole."""
    names = fill(data, *range(10, 20))
    calls = 0

    def between() -> None:
        nonlocal calls
        calls += 1
        if (data.backups / "pictures").exists() and calls > 6:
            raise GivenUp

    with pytest.raises(GivenUp):
        backup(data, DAY, between)
    assert backups(data) == []
    backup(data, DAY)
    assert len(backups(data)[0][1].pictures) == len(names)


def test_a_second_place_gets_the_difference(data: DataFolder, stick: Path, tmp_path: Path) -> None:
    """Only pictures that are not there yet are written to a stick; a restore from it brings all of them."""
    first = fill(data, 10)
    second = SecondPlace(data, stick)
    backup(data, DAY)
    second.copy()
    there = Pictures(second.folder / "pictures")
    stamp = there.place(first[0]).stat().st_mtime_ns
    more = fill(data, 20)
    backup(data, DAY + timedelta(days=1))
    folder = second.copy()
    assert sorted(there.each()) == sorted([*first, *more])
    assert there.place(first[0]).stat().st_mtime_ns == stamp
    other = DataFolder(tmp_path / "other")
    bring_back(str(folder), other)
    assert held(other) == sorted([*first, *more])


def test_a_picture_lost_in_the_second_place_is_copied_again(data: DataFolder, stick: Path) -> None:
    """The same backup is copied once; but what a stick has lost of its pictures goes there again."""
    (name,) = fill(data, 10)
    second = SecondPlace(data, stick)
    backup(data, DAY)
    second.copy()
    there = Pictures(second.folder / "pictures")
    there.drop(name)
    second.copy()
    assert there.whole(name)
    assert len(second.copies()) >= 1


def test_room_is_reckoned_for_pictures(data: DataFolder, stick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stick with too little room for the pictures is told before anything is written."""
    fill(data, 10, 20)
    second = SecondPlace(data, stick)
    backup(data, DAY)
    wanted = sum(one.bytes for one in backups(data)[-1][1].files().values())
    monkeypatch.setattr(SecondPlace, "_free", lambda _self: wanted + 1_000_000 + 100)
    with pytest.raises(StoreTrouble):
        second.look_for_room()
    with pytest.raises(StoreTrouble):
        second.copy()
    assert second.copies() == []


# ---- of dry prints, which the journal names


def photograph_sheet(data: DataFolder, grey: int = 40) -> str:
    """Lay a sheet with a photograph of its dry print into a journal; return the photograph's hash."""
    picture = Pictures(data.pictures).keep(jpeg(grey), "print.jpg")
    with Shelf.open(data.shelf), _journal(data) as journal:
        for entry in (*whole_sheet("print-1", 7), Photographed(hash=picture, of="sheet", thing="print-1")):
            journal.append(entry)
    return picture


def photographed(data: DataFolder) -> list[str]:
    """Return the hashes that the records of a folder's sheets name."""
    with _journal(data) as journal:
        records = Archive(journal).sheets()
    return [record.photograph.hash for record in records if record.photograph is not None]


def test_photographs_of_prints_go_along(data: DataFolder, tmp_path: Path) -> None:
    """An export and a backup carry them with the sheets that name them, to a folder that is empty."""
    picture = photograph_sheet(data)
    for number, bring in enumerate((lambda to: import_(export(data, tmp_path / "out"), to), None)):
        there = DataFolder(tmp_path / f"there-{number}")
        if bring is not None:
            bring(there)
        else:
            bring_back(str(backup(data, DAY)), there)
        assert held(there) == [picture]
        assert photographed(there) == [picture]


def test_without_its_sheets_no_photograph_comes(data: DataFolder, tmp_path: Path) -> None:
    """Where the journal stays behind, nothing would ever show the photographs of its prints: only proofs come."""
    (proof,) = fill(data, 10)
    photograph_sheet(data)
    there = DataFolder(tmp_path / "there")
    with _journal(there) as journal:
        for entry in whole_sheet("other", 1):
            journal.append(entry)
    assert import_(export(data, tmp_path / "out"), there).journal_left
    assert held(there) == [proof]
    zipped = DataFolder(tmp_path / "zipped")
    with pack_export(data, tmp_path / "packed", DAY).open("rb") as file:
        bring_things(PackedExport(file, "zip"), zipped, LARGEST_PACKED_INDEX, lambda: None)
    assert held(zipped) == [proof]


def test_the_check_misses_the_last_of_each_sheet(data: DataFolder) -> None:
    """A sheet's photograph that is gone is told with the sheet's number; one that was taken away is not missed."""
    picture = photograph_sheet(data)
    pictures = Pictures(data.pictures)
    with _journal(data) as journal:
        assert list(photographs_amiss(journal, pictures)) == []
        pictures.drop(picture)
        (said,) = photographs_amiss(journal, pictures)
        assert said.startswith("The photograph of sheet 7, “Harbour crane”, is not in")
        journal.append(Photographed(hash="", of="sheet", thing="print-1"))
        assert list(photographs_amiss(journal, pictures)) == []


def test_what_the_check_looks_for(data: DataFolder) -> None:
    """Where all are here there is nothing to say, of sets that are put away as well."""
    names = fill(data, 10)
    with Shelf.open(data.shelf) as shelf:
        assert list(pictures_amiss(shelf, Pictures(data.pictures))) == []
        shelf.put_away(next(iter(shelf.latest("negatives"))).id)
        Pictures(data.pictures).drop(names[0])
        assert len(list(pictures_amiss(shelf, Pictures(data.pictures)))) == 1
