"""Files written whole or not at all, on the card when the call returns; and cells that no spreadsheet obeys."""

from __future__ import annotations

import os
import re
import secrets
from pathlib import Path
from typing import Final

from controller.errors import Impossible
from controller.words import say

_NUMBER: Final = re.compile(r"[-+]?[0-9]*\.?[0-9]+")
_FORMULA: Final = re.compile(r"[\s\0-\x1f\u200b\ufeff]*[=+\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n]")
"""What a spreadsheet takes a cell for a formula by, with the wide forms of the signs; some first strip its blanks.

Source: common practice against injected formulas.
"""
_WITHIN: Final = re.compile(r"([;\t][ \t]*)('*)(?=[=@\uff1d\uff20]|[+\-\uff0b\uff0d](?![ 0-9.,]))")
"""The same after what parts cells where a comma does not, as in countries that write decimals with one."""


def read_start(place: Path, most: int) -> bytes:
    """Return what a file holds, and of one that is larger a byte more than `most`: enough to refuse it by.

    A file may be of any size, and a device has no end; neither is held in memory.

    Raises:
        OSError: it cannot be read.
    """
    with place.open("rb") as file:
        return file.read(most + 1)


def write_whole(place: Path, content: bytes, *, mode: int = 0o644) -> None:
    """Write a file so that, whatever happens, either all of it is there or what was there before.

    Raises:
        OSError: nothing was changed.
    """
    draft = place.with_name(f".{place.name}.{secrets.token_hex(4)}")
    try:
        opened = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        with os.fdopen(opened, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(place)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise
    settle(place.parent)


def write_out(place: Path, content: bytes, *made_from: Path) -> None:
    """Write what somebody asked to have in a file of theirs: whole or not at all, where it is a plain file.

    A pipe or device (“/dev/null”) and what a link leads to are written to, and never replaced.

    Raises:
        Impossible: it is one of the files that it was made from, which would be lost.
        OSError: of `place`, whatever it was that could not be done.
    """
    if place.is_file() and any(each.exists() and place.samefile(each) for each in made_from):
        raise Impossible(say("command.made-from", file=place))
    if place.is_symlink() or (place.exists() and not place.is_file()):
        place.write_bytes(content)
        return
    try:
        write_whole(place, content)
    except OSError as problem:
        raise OSError(problem.errno, problem.strerror, str(place)) from problem


def settle(folder: Path) -> None:
    """Bring a folder's list of names to disk, so that a rename outlives a power cut."""
    opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def sync_file(path: Path) -> None:
    """Bring a file's content to disk."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def bare_cell(text: str) -> str:
    """Return words as a cell of a spreadsheet holds them: an apostrophe before what would be taken for a formula."""
    plain = _WITHIN.sub(r"\1'\2", text)
    return f"'{plain}" if _is_formula(text.lstrip("'")) else plain


def words_of_cell(cell: str) -> str:
    """Return the words that `bare_cell` made a cell of."""
    words = _WITHIN.sub(lambda found: found[1] + found[2][1:], cell)
    return words[1:] if words.startswith("'") and _is_formula(words.lstrip("'")) else words


def _is_formula(text: str) -> bool:
    return _FORMULA.match(text) is not None and not _NUMBER.fullmatch(text)
