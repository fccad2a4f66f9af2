"""Everything as plain files: recipes, strips, papers and settings, and the journal row by row.

An export is a folder. `export.json` says what is in it; each version on the shelf is a file that can be read,
edited and imported by itself; `sheets.csv` and `sheets/` are for reading only and are not taken back in.
"""

from __future__ import annotations

import csv
import io
import os
import re
import secrets
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Final, Literal

from pydantic import Field

from controller.errors import StoreTrouble
from controller.files import settle
from controller.model import Frozen
from controller.store.database import JOURNAL, read_store
from controller.store.folder import DataFolder
from controller.store.folding import fold
from controller.store.records import SheetRecord
from controller.store.rows import Reader, Row
from controller.store.shelf import Away, Kept, Kind, Shelf
from controller.words import say

INDEX: Final = "export.json"
JOURNAL_FILE: Final = "journal.jsonl"
LONGEST_SLUG: Final = 40
FOLDERS: Final[dict[Kind, str]] = {"recipe": "recipes", "strip": "strips", "paper": "papers", "carry": "carried"}


class Listed(Frozen):
    """One version on the shelf, but for its text, which is in `file`."""

    file: str
    id: str = Field(pattern="^[0-9a-z-]{1,40}$")
    version: int = Field(ge=1)
    kind: Kind
    title: str
    made: str


class Index(Frozen):
    """What an export holds, in the order in which it was kept."""

    format: Literal["treadle/export/1"] = "treadle/export/1"
    shelf: tuple[Listed, ...] = ()
    away: tuple[Away, ...] = ()
    rows: int = Field(default=0, ge=0)
    """How many lines the journal has."""


def export(data: DataFolder, out: Path) -> Path:
    """Write everything in a data folder to the new folder `out`; a daemon may go on meanwhile.

    Raises:
        StoreTrouble: `out` is there already, or cannot be written; nothing is left behind.
    """
    if out.exists():
        raise StoreTrouble(say("store.export-there", path=out))
    draft = out.with_name(f".{out.name}.{secrets.token_hex(4)}")
    try:
        draft.mkdir(parents=True)
        _write_all(data, draft)
        os.sync()  # once for all of its many files
        draft.rename(out)
        settle(out.parent)
    except OSError as problem:
        raise StoreTrouble(say("store.no-export", path=out, detail=problem.strerror)) from problem
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return out


# ---- writing


def _write_all(data: DataFolder, folder: Path) -> None:
    # The journal first: the recipes that its rows speak of are then on the shelf.
    rows: tuple[Row, ...] = ()
    if data.journal.exists():
        with Reader(read_store(data.journal, JOURNAL), data.journal, None) as reader:
            rows = reader.rows()
    kept: tuple[Kept, ...] = ()
    away: tuple[Away, ...] = ()
    if data.shelf.exists():
        with Shelf.look(data.shelf) as shelf:
            kept, away = shelf.everything()
    newest = {one.id: one.version for one in kept}
    listed = []
    for one in kept:
        file = _file_of(one, newest=newest[one.id] == one.version)
        _put(folder / file, one.body)
        listed.append(Listed(file=file, **one.model_dump(exclude={"body"})))
    _put(folder / JOURNAL_FILE, "".join(f"{row.model_dump_json()}\n" for row in rows))
    records = fold(rows)
    _put(folder / "sheets.csv", _sheets_csv(records))
    for record in records:
        name = f"{record.number:04}-{_slug(record.id)}.{record.opened.row}.json"
        _put(folder / "sheets" / name, record.model_dump_json(indent=1) + "\n")
    index = Index(shelf=tuple(listed), away=away, rows=len(rows))
    _put(folder / INDEX, index.model_dump_json(indent=1) + "\n")


def _put(place: Path, text: str) -> None:
    place.parent.mkdir(exist_ok=True)
    place.write_bytes(text.encode())


def _file_of(kept: Kept, *, newest: bool) -> str:
    if kept.kind == "settings":
        return "settings.json" if newest else f"settings/settings.v{kept.version}.json"
    return f"{FOLDERS[kept.kind]}/{_slug(kept.title)}.{kept.id}.v{kept.version}.json"


def _slug(text: str) -> str:
    """Return a piece of a file's name that every file system takes."""
    return re.sub("[^0-9a-z]+", "-", text.lower())[:LONGEST_SLUG].strip("-") or "untitled"


def _sheets_csv(records: Iterable[SheetRecord]) -> str:
    out = io.StringIO(newline="")
    table = csv.writer(out)
    table.writerow(
        [
            *("number", "sheet", "kind", "title", "outcome", "opened", "clock_set", "step", "name", "filter"),
            *("planned_seconds", "given_least_seconds", "given_most_seconds", "lit_seconds"),
            *("called_given", "left_out", "added"),
        ]
    )
    for record in records:
        for line in record.steps:
            step = line.step
            table.writerow(
                [
                    *(record.number, record.id, record.plan.kind, record.plan.title, record.outcome),
                    *(record.opened_wall, _yes(record.opened.synchronised), step.number, step.name, step.filter),
                    *(step.planned_ms / 1000, line.given_least_ms / 1000, line.given_most_ms / 1000),
                    *(line.lit_ms / 1000, _yes(line.called_given), _yes(line.left_out), _yes(line.added)),
                ]
            )
    return out.getvalue()


def _yes(said: bool) -> str:
    return "yes" if said else "no"
