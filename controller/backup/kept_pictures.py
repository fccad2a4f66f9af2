"""How pictures are backed up: once, beside the backups that name them, so that a night's copy is what it has more.

A picture is never changed and its name is its hash: one folder of them serves all backups of a place. Here, on the same
card, each is the same file under a second name; in a second place it is a copy, read back once it is written. A picture
that no backup names any more goes with the last one that did.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import Final

from controller.backup.pieces import FileSeal
from controller.errors import NotThere, StoreTrouble
from controller.files import settle, write_whole
from controller.store.folder import DataFolder
from controller.store.pictures import Pictures
from controller.words import say

BESIDE: Final = "pictures"


def beside(place: Path) -> Pictures:
    """Return the pictures of the backups that lie in a folder."""
    return Pictures(place / BESIDE)


def back_up_pictures(data: DataFolder, between: Callable[[], None]) -> tuple[FileSeal, ...]:
    """Give each picture of a data folder its second name beside the backups, and return what a manifest says of them.

    One that is damaged is left out, unless it was backed up before: then that one is named, as it was.

    Raises:
        OSError: one cannot be written.
    """
    pictures, there = Pictures(data.pictures), beside(data.backups)
    named = []
    for picture in pictures.each():
        place = there.place(picture)
        if not place.exists():
            try:
                content = pictures.read(picture)
            except NotThere:  # damaged: the check tells of it
                continue
            _folders(place)
            try:
                os.link(pictures.place(picture), place)
            except OSError:  # a file system that knows no second names
                write_whole(place, content, mode=0o600)
        named.append(FileSeal(bytes=place.stat().st_size, sha256=picture))
        between()
    return tuple(named)


def lacking_bytes(place: Path, named: Iterable[FileSeal]) -> int:
    """Return how much of the pictures that a manifest names is not in a place yet."""
    there = beside(place)
    return sum(one.bytes for one in named if not _is_there(there, one))


def copy_pictures(source: Path, target: Path, named: Iterable[FileSeal], between: Callable[[], None]) -> None:
    """Copy the pictures that a manifest names from one place of backups to another, as far as they are not there yet.

    Raises:
        StoreTrouble: one is not what it was, or is not read back as it was written.
        OSError: one cannot be written.
    """
    here, there = beside(source), beside(target)
    for one in named:
        if _is_there(there, one):
            continue
        try:
            content = here.read(one.sha256)
        except NotThere:
            raise StoreTrouble(say("store.second-source", path=here.folder)) from None
        place = there.place(one.sha256)
        _folders(place)
        write_whole(place, content, mode=0o600)
        if not there.whole(one.sha256):
            raise StoreTrouble(say("store.second-unlike", path=target))
        between()


def bring_pictures(folder: Path, data: DataFolder, named: Iterable[FileSeal]) -> None:
    """Put back the pictures that a backup names and a data folder lacks, as far as they are whole beside the backup.

    Raises:
        StoreTrouble: one cannot be written.
    """
    pictures, there = Pictures(data.pictures), beside(folder.parent)
    for one in named:
        if not pictures.whole(one.sha256):
            with suppress(NotThere):
                pictures.keep(there.read(one.sha256), one.sha256)


def missing_of(data: DataFolder, named: Iterable[FileSeal]) -> int:
    """Return how many of the pictures that a backup names a data folder lacks."""
    pictures = Pictures(data.pictures)
    return sum(not pictures.has(one.sha256) for one in named)


def drop_unnamed(place: Path, named: Iterable[Iterable[FileSeal]]) -> None:
    """Take away the pictures in a place of backups that none of its manifests names any more."""
    there = beside(place)
    wanted = {one.sha256 for each in named for one in each}
    for picture in tuple(there.each()):
        if picture not in wanted:
            there.drop(picture)


def _is_there(there: Pictures, one: FileSeal) -> bool:
    try:
        return there.place(one.sha256).stat().st_size == one.bytes
    except OSError:
        return False


def _folders(place: Path) -> None:
    for folder in (place.parent.parent, place.parent):
        if not folder.exists():
            folder.mkdir(mode=0o700)
            settle(folder.parent)
