"""Files written whole or not at all, on the card when the call returns; and cells that no spreadsheet obeys."""

from __future__ import annotations

import os
import re
import secrets
from pathlib import Path
from typing import Final

_NUMBER: Final = re.compile(r"[-+]?[0-9]*\.?[0-9]+")
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes a cell for a formula by. Source: common practice against injected formulas."""


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


def write_out(place: Path, content: bytes) -> None:
    """Write what somebody asked to have in a file of theirs: whole or not at all, where it is a plain file.

    A pipe or device (“/dev/null”) and what a link leads to are written to, and never replaced.

    Raises:
        OSError: of `place`, whatever it was that could not be done.
    """
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
    return f"'{text}" if _is_formula(text.lstrip("'")) else text


def words_of_cell(cell: str) -> str:
    """Return the words that `bare_cell` made a cell of."""
    return cell[1:] if cell.startswith("'") and _is_formula(cell.lstrip("'")) else cell


def _is_formula(text: str) -> bool:
    return text.startswith(_FORMULA) and not _NUMBER.fullmatch(text)
