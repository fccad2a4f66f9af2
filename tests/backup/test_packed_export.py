"""A zip of whoever's making is brought in whole or not at all, and each refusal is a sentence."""

from __future__ import annotations

import io
import json
import stat
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.backup import packed_export as module
from controller.backup.import_ import bring_things
from controller.backup.packed_export import LARGEST_PACKED_INDEX, MOST_FILES, PackedExport
from controller.errors import Unreadable
from controller.store.folder import DataFolder
from controller.store.settings import Settings, write_settings
from controller.store.shelf import Shelf
from controller.store.whole import GivenUp

RECIPE = json.dumps(
    {"format": "treadle/recipe/1", "title": "Crane", "light": [{"filter": "soft", "seconds": 10.1}], "local": []}
)
STRIP = RECIPE.replace("recipe", "strip")


def listed(file: str = "recipes/crane.json", **more: object) -> dict[str, object]:
    made = "2026-03-01T20:15:00+00:00"
    return {"file": file, "id": "abcdef", "version": 1, "kind": "recipe", "title": "Crane", "made": made} | more


def index(*entries: dict[str, object], rows: int = 0) -> str:
    return json.dumps({"format": "treadle/export/1", "shelf": entries, "away": [], "rows": rows})


def packed(*files: tuple[str | zipfile.ZipInfo, str | bytes], way: int = zipfile.ZIP_DEFLATED) -> bytes:
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w", way) as whole:
        for name, text in files:
            whole.writestr(name, text)
    return into.getvalue()


def export(*more: tuple[str | zipfile.ZipInfo, str | bytes], root: str = "treadle/", **how: int) -> bytes:
    return packed((f"{root}export.json", index(listed())), (f"{root}recipes/crane.json", RECIPE), *more, **how)


def link(name: str) -> zipfile.ZipInfo:
    made = zipfile.ZipInfo(name)
    made.external_attr = (stat.S_IFLNK | 0o777) << 16
    return made


def changed(what: bytes, old: bytes, new: bytes) -> bytes:
    assert old in what
    return what.replace(old, new)


def ending(files: int = 2, size: int | None = None, comment: bytes = b"", before: bytes = b"") -> bytes:
    """An export whose end says something else."""
    whole = export()
    fields = list(struct.unpack("<4s4H2LH", whole[-22:]))
    fields[3], fields[4], fields[7] = files, files, len(comment)
    if size is not None:
        fields[5] = size
    return whole[:-22] + before + struct.pack("<4s4H2LH", *fields) + comment


def locked() -> bytes:
    whole = bytearray(export())
    at = whole.index(b"PK\1\2")
    whole[at + 8] |= 1
    return bytes(whole)


HOSTILE: dict[str, Callable[[], bytes]] = {
    "a path above": lambda: export(("../evil.json", RECIPE)),
    "a path above, within": lambda: export(("treadle/recipes/../../../evil.json", RECIPE)),
    "a path from the root": lambda: export(("/etc/evil.json", RECIPE)),
    "a path of another system": lambda: export(("..\\evil.json", RECIPE)),
    "a listed path above": lambda: packed(("export.json", index(listed("../../etc/hostname")))),
    "a listed path from the root": lambda: packed(("export.json", index(listed("/etc/hostname")))),
    "a link": lambda: export((link("treadle/link"), "/etc/passwd")),
    "a list that is a link": lambda: packed((link("export.json"), "/etc/passwd")),
    "two of one name": lambda: changed(export(("treadle/recipes/cranf.json", STRIP)), b"cranf", b"crane"),
    "locked": locked,
    "packed another way": lambda: export(way=zipfile.ZIP_LZMA),
    "a bomb": lambda: packed(("export.json", index(listed())), ("recipes/crane.json", bytes(300_000_000))),
    "a bomb as its list": lambda: packed(("export.json", b"[" * 40_000_000)),
    "many names of one bomb": lambda: packed(
        ("export.json", index(*(listed(id=f"id{number:05}") for number in range(2000)))),
        ("recipes/crane.json", RECIPE[:-1] + " " * 250_000 + "}"),
    ),
    "a list too long": lambda: ending(files=MOST_FILES + 1),
    "a list too large": lambda: ending(size=500_000_000),
    "a list of the long form": lambda: ending(before=b"PK\6\7" + bytes(16)),
    "words after its end": lambda: ending(comment=b"PK\5\6 and more"),
    "a list elsewhere": lambda: ending(size=5),
    "cut short": lambda: export()[:-30],
    "only its beginning": lambda: b"PK",
    "a damaged file": lambda: changed(export(way=zipfile.ZIP_STORED), b"Crane", b"Crana"),
    "no list": lambda: packed(("recipes/crane.json", RECIPE)),
    "a list too deep": lambda: export(root="a/b/c/"),
    "a list that is none": lambda: packed(("export.json", "[]")),
    "a list that is no text": lambda: packed(("export.json", b"\xff\xfe")),
    "a file that is lacking": lambda: packed(("export.json", index(listed()))),
    "a file that is no recipe": lambda: packed(("export.json", index(listed())), ("recipes/crane.json", "GIF89a")),
    "a file of another kind": lambda: packed(
        ("export.json", index(listed())), ("recipes/crane.json", write_settings(Settings()))
    ),
    "a kind that nobody knows": lambda: packed(
        ("export.json", index(listed(kind="spell"))), ("recipes/crane.json", RECIPE)
    ),
    "the second of two": lambda: packed(
        ("export.json", index(listed(), listed("b.json", id="bcdefg"))), ("recipes/crane.json", RECIPE), ("b.json", "?")
    ),
    "another zip": lambda: packed(("export.json", export())),
}


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    data = DataFolder(tmp_path / "data")
    Shelf.open(data.shelf).close()
    return data


def bring(what: bytes, data: DataFolder, between: Callable[[], None] = lambda: None) -> int:
    return len(bring_things(PackedExport(io.BytesIO(what), "all.zip"), data, LARGEST_PACKED_INDEX, between).kept)


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_zip_is_a_sentence(data: DataFolder, tmp_path: Path, what: str) -> None:
    """Whatever is wrong with it is said in one sentence, and nothing of it is stored anywhere."""
    before = sorted(path.name for path in tmp_path.rglob("*"))
    with pytest.raises(Unreadable) as told:
        bring(HOSTILE[what](), data)
    sentence = str(told.value)
    assert sentence.endswith((".", "…"))
    assert "\n" not in sentence
    assert len(sentence) < 500
    with Shelf.look(data.shelf) as shelf:
        assert shelf.marks() == (0, 0)
    assert sorted(path.name for path in tmp_path.rglob("*") if not path.name.endswith(("-wal", "-shm"))) == before


@pytest.mark.parametrize("root", ["", "treadle/", "Some folder, renamed/"])
def test_an_honest_one_comes_in(data: DataFolder, root: str) -> None:
    """At the top of the zip or in one folder, packed or stored; once: what is here already is passed over."""
    assert bring(export(root=root), data) == 1
    assert bring(export(root=root, way=zipfile.ZIP_STORED), data) == 0


def test_one_that_is_given_up_stores_nothing(data: DataFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """At whichever step a sheet is opened, none of it is kept, also where some of it was written already."""
    monkeypatch.setattr("controller.backup.export.STEP_S", 0.0)
    ids = [f"id{number:04}" for number in range(5)]
    what = packed(
        ("export.json", index(*(listed(f"{id_}.json", id=id_) for id_ in ids))),
        *((f"{id_}.json", RECIPE) for id_ in ids),
    )
    steps: list[int] = []
    for last in range(1, 30):
        left = last

        def between() -> None:
            nonlocal left
            left -= 1
            if not left:
                raise GivenUp

        try:
            assert bring(what, data, between) == 5
        except GivenUp:
            steps.append(last)
            with Shelf.look(data.shelf) as shelf:
                assert shelf.marks() == (0, 0)
        else:
            break
    assert len(steps) == 11, "before, five looked at, five written"


def test_what_is_unpacked_is_counted(data: DataFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit counts every reading: what is listed over and over ends like what is large."""
    monkeypatch.setattr(module, "MOST_UNPACKED", 2 * len(RECIPE) + len(index(listed())))
    assert bring(export(), data) == 1
    monkeypatch.setattr(module, "MOST_UNPACKED", 2 * len(RECIPE) + len(index(listed())) - 1)
    with pytest.raises(Unreadable, match="unpacks to more"):
        bring(export(), data)
