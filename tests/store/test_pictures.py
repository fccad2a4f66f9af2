"""The store of pictures: named by what is in them, written whole or not at all, bounded."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest
from PIL import Image

from controller.errors import NotThere, StoreTrouble, Unreadable
from controller.store import pictures as pictures_
from controller.store.pictures import LARGEST_BYTES, Pictures, hash_of, size_of


def jpeg(width: int = 64, height: int = 48, level: int = 90, **more: object) -> bytes:
    out = io.BytesIO()
    Image.new("L", (width, height), level).save(out, "JPEG", **more)  # type: ignore[arg-type]
    return out.getvalue()


@pytest.fixture
def store(tmp_path: Path) -> Pictures:
    return Pictures(tmp_path / "pictures")


def test_the_same_picture_is_kept_once(store: Pictures) -> None:
    """A picture goes by its hash; kept twice it is one file, and another one is another."""
    assert list(store.each()) == []
    name = store.keep(jpeg(), "a.jpg")
    assert name == hash_of(jpeg())
    at = store.place(name).stat()
    assert store.keep(jpeg(), "b.jpg") == name
    assert store.place(name).stat().st_ino == at.st_ino
    other = store.keep(jpeg(level=20), "c.jpg")
    assert sorted(store.each()) == sorted((name, other))
    assert store.read(name) == jpeg()
    assert store.size(name) == (64, 48)
    assert store.total_bytes() == len(jpeg()) + len(jpeg(level=20))


@pytest.mark.parametrize("progressive", [False, True])
def test_its_size_is_told_from_its_head(progressive: bool) -> None:
    """Width and height as the decoder has them, of either way to pack it, with what a camera writes before it."""
    exif = Image.Exif()
    exif[0x0112] = 6
    content = jpeg(301, 77, progressive=progressive, exif=exif, comment=b"\xff\xc0" * 40)
    assert size_of(content) == Image.open(io.BytesIO(content)).size


@pytest.mark.parametrize(
    "content",
    [b"", b"\xff\xd8", b"\xff\xd8\xff\xd9", jpeg()[:-2], jpeg()[:100], b"GIF89a" + bytes(100), b"<html>", bytes(1000)],
)
def test_what_is_no_jpeg_is_not_kept(store: Pictures, content: bytes) -> None:
    """A picture that a browser could not show is refused with its name, and there is no file of it."""
    with pytest.raises(Unreadable, match=r"odd\.jpg is no picture"):
        store.keep(content, "odd.jpg")
    assert list(store.folder.rglob("*")) == []


def test_one_that_is_too_large_is_not_kept(store: Pictures) -> None:
    """However good it is, a picture of more bytes than any that was made small here is refused."""
    with pytest.raises(Unreadable, match="at most 400 kB"):
        store.keep(jpeg()[:-2] + bytes(LARGEST_BYTES) + b"\xff\xd9", "large.jpg")


def test_there_are_only_so_many(store: Pictures, monkeypatch: pytest.MonkeyPatch) -> None:
    """What grows is bounded: one more than the most is refused, those that are there stay."""
    monkeypatch.setattr(pictures_, "MOST_PICTURES", 2)
    names = [store.keep(jpeg(level=level), "a.jpg") for level in (1, 2)]
    with pytest.raises(StoreTrouble, match="there are 2 already"):
        store.keep(jpeg(level=3), "a.jpg")
    assert sorted(store.each()) == sorted(names)
    assert store.keep(jpeg(level=1), "a.jpg") == names[0]


def test_a_card_that_cannot_be_written_is_told(store: Pictures, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full or read-only card is said in a sentence; neither a picture nor half of one is left."""

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(StoreTrouble, match="No space left"):
        store.keep(jpeg(), "a.jpg")
    assert not [path for path in store.folder.rglob("*") if path.is_file()]


def test_a_damaged_one_is_told_and_mended(store: Pictures) -> None:
    """A file that is not what its name says is never given out; kept anew, it is whole."""
    name = store.keep(jpeg(), "a.jpg")
    store.place(name).write_bytes(jpeg(level=3))
    assert not store.whole(name)
    assert store.has(name)
    with pytest.raises(NotThere, match="not here"):
        store.read(name)
    store.keep(jpeg(), "a.jpg")
    assert store.whole(name)


@pytest.mark.parametrize("name", ["", "..", "../../etc/passwd", "a" * 63, "A" * 64, "0" * 65])
def test_a_name_leads_nowhere_else(store: Pictures, name: str) -> None:
    """Only a hash is a picture's name."""
    assert not store.has(name)
    with pytest.raises(NotThere):
        store.read(name)
