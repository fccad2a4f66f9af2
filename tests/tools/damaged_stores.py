"""A data folder with an evening in it, and what a worn card or a power cut makes of its files, by a seeded dice."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

from controller.backup.dated import backup
from controller.daemon.desk import Desk
from controller.foot import acts
from controller.store.folder import DataFolder
from tools.virtual_darkroom import virtual_darkroom

PAGE = 4096
STORES = ("journal.db", "shelf.db")
ALL = (
    *STORES,
    *STORES,
    *STORES,
    "journal.db-wal",
    "journal.db-wal",
    "shelf.db-wal",
    "lookups.db",
    "secret.key",
    "phones",
)
TABLES = (("journal.db", "rows"), ("shelf.db", "kept"), ("shelf.db", "away"))
WAYS = (
    *(
        "flip",
        "flip",
        "flips",
        "zero page",
        "odd page",
        "swap pages",
        "cut",
        "cut page",
        "head",
        "no bytes",
        "zero tail",
    ),
    *("longer", "text", "ones", "digit", "other's page"),
)


def evening(folder: Path) -> tuple[DataFolder, Path, Path]:
    """Work three sheets in a folder; return it as it is closed, a copy of it as a power cut leaves it, and a backup."""
    with virtual_darkroom(folder) as room:
        desk = room.desk
        for title, seconds in (("Crane", 2.0), ("Quay", 3.1), ("Stones", 1.6)):
            tree = {"format": "treadle/recipe/1", "title": title, "notes": "as the proof. " * 40}
            light = [{"filter": "soft", "seconds": seconds}, {"filter": "hard", "seconds": 1.0}]
            kept = desk.recipes().save(json.dumps({**tree, "light": light, "local": []}))
            desk.do(acts.Load(source=kept.id), desk.status().number)
            room.run(9000)
            for _ in range(12):
                if desk.status().place == "finished":
                    room.press(900)
                    break
                room.press()
                room.run(8000)
            assert not desk.status().open
            if (emptying := room.darkroom._journal._emptying) is not None:
                emptying.join()  # else how much is where would be another each time
        sheet = desk.sheets().sessions[0].sheets[0].id
        for number in range(25):
            desk.do(acts.WriteRemark(sheet=sheet, text=f"remark {number}: the sky a little darker"), 0)
        cut = folder.parent / f"{folder.name}-cut"
        shutil.copytree(folder / "data", cut / "data", ignore=shutil.ignore_patterns("lock", "run"))
    closed = DataFolder(folder / "data")
    return closed, cut / "data", backup(closed, date(2025, 3, 1))


def damage(place: Path, dice: random.Random) -> str:
    """Damage a file in one way, and return its name and the way."""
    way, data = dice.choice(WAYS), bytearray(place.read_bytes())
    size, pages = len(data), len(data) // PAGE
    at = dice.randrange(size) if size else 0
    page, other = (dice.randrange(pages) * PAGE if pages else 0 for _ in "ab")
    match way:
        case "flip" if size:
            data[at] ^= 1 << dice.randrange(8)
        case "flips" if size:
            for _ in range(dice.choice((2, 8, 64))):
                data[dice.randrange(size)] = dice.randrange(256)
        case "zero page" | "zero tail":
            end = size if way == "zero tail" else min(size, page + PAGE)
            data[page:end] = bytes(end - page)
        case "odd page":
            data[page : page + PAGE] = dice.randbytes(len(data[page : page + PAGE]))
        case "swap pages" | "other's page":
            mine, others = data[page : page + PAGE], data[other : other + PAGE]
            data[page : page + PAGE] = others
            if way == "swap pages":
                data[other : other + PAGE] = mine
        case "cut":
            del data[at:]
        case "cut page":
            del data[page:]
        case "head":
            for _ in range(dice.randint(1, 3) if size else 0):
                data[dice.randrange(min(100, size))] = dice.randrange(256)
        case "no bytes":
            data.clear()
        case "longer":
            data += dice.randbytes(dice.randint(1, 9000))
        case "text":
            data = bytearray(b"this is no database\n" * 200)
        case "ones":
            data[at : at + 512] = b"\xff" * len(data[at : at + 512])
        case "digit":
            _digit(data, dice)
    place.write_bytes(data)
    return f"{place.name}: {way} at {at}, {page}, {other}"


def _digit(data: bytearray, dice: random.Random) -> None:
    """Change one digit within a row's text: nothing of the database is broken by it."""
    places = [n for n in range(200, len(data)) if 48 <= data[n] <= 57 and data[n - 1] in b':". ']
    if places:
        at = dice.choice(places)
        data[at] = 48 + (data[at] - 47) % 10


def rows_in(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of both files, read by plain SQL; none where there is no file."""
    found: dict[str, list[tuple[object, ...]]] = {}
    for name, table in TABLES:
        found[table] = []
        if (folder / name).exists():
            with closing(sqlite3.connect(f"file:{folder / name}?mode=ro", uri=True)) as connection:
                found[table] = connection.execute(f"SELECT * FROM {table} ORDER BY number").fetchall()
    return found


def seals(folder: Path) -> dict[str, str]:
    """Return what each store's file is, byte for byte."""
    return {
        name: hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in STORES if (folder / name).exists()
    }


def look_at_all(desk: Desk) -> None:
    """Look at everything that pages show of what is kept."""
    desk.status()
    desk.settings()
    for session in desk.sheets().sessions:
        for line in session.sheets:
            desk.record(line.id)
    desk.find().sheets("sky")
    for kind in ("recipe", "strip"):
        for one in desk.recipes().kept(kind):
            desk.recipes().fetch(one.id)
            desk.recipes().versions(one.id)
    desk.papers().kept()
