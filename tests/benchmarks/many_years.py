"""Builds a darkroom's data as ten years of evenings leave it: `tests/benchmarks/many_years.py d3 FOLDER`.

Everything is made and kept by the product's own code: recipes by the library, papers by their shelf, sheets played by
foot in virtual time and filed as the journal takes in another one's rows. The same name always gives the same data,
but for ids. What is finished already in FOLDER is left as it is; what was broken off is begun anew. Files are not
brought to the disk while they are built, and are afterwards.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "benchmarks")]

from in_the_carrier import Carrier, fill_enlarger, fill_negatives  # noqa: E402
from played_sheets import KINDS, LONGEST_MS, MS, OFTEN, play, recipe_text  # noqa: E402

from controller import wall  # noqa: E402
from controller.backup.registered import DERIVED, THINGS  # noqa: E402
from controller.daemon.paper_shelf import PaperShelf  # noqa: E402
from controller.daemon.recipe_shelf import RecipeShelf  # noqa: E402
from controller.enlarger.standing import InCarrier  # noqa: E402
from controller.model import new_id  # noqa: E402
from controller.recipe.at_enlarger import AtEnlarger  # noqa: E402
from controller.recipe.files import read_recipe, write  # noqa: E402
from controller.store.database import read_store  # noqa: E402
from controller.store.entries import (  # noqa: E402
    Entry,
    FootRow,
    Intent,
    LampWarmed,
    LightCame,
    Loaded,
    SheetPlanned,
    Started,
    StoodAtEnlarger,
)
from controller.store.folder import DataFolder  # noqa: E402
from controller.store.journal import Journal, Stamp  # noqa: E402
from controller.store.lookups import Lookups  # noqa: E402
from controller.store.rows import Reader, Row  # noqa: E402
from controller.store.said_of_sheets import Picked, Remark  # noqa: E402
from controller.store.schemas import JOURNAL  # noqa: E402
from controller.store.settings import Settings, write_settings  # noqa: E402
from controller.store.shelf import Shelf  # noqa: E402
from hardware.clock import ManualClock  # noqa: E402

S: Final = 1_000_000_000
FIRST_EVENING: Final = datetime(2015, 1, 5, 19, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Size:
    """How much is kept; `days` lie between two evenings."""

    evenings: int
    sheets: int
    recipes: int
    versions: int
    papers: int
    days: int = 3
    sets: int = 0
    """Contact sheets, with about 11 negatives each."""


SIZES: Final = {
    "d1": Size(evenings=1, sheets=60, recipes=12, versions=5, papers=3, sets=1),  # an evening
    "d2": Size(evenings=100, sheets=3_000, recipes=300, versions=5, papers=20, sets=70),  # a year
    "d3": Size(
        evenings=1_500, sheets=60_000, recipes=10_000, versions=5, papers=200, days=2, sets=900
    ),  # ten busy years
    "shelf": Size(evenings=1, sheets=60, recipes=100_000, versions=1, papers=3),  # what search is measured on
}


@dataclass(frozen=True)
class Thing:
    """One recipe or strip on the shelf, its newest version."""

    kind: str
    many: int
    id: str
    version: int
    title: str


class Told:
    """Says on one line how far it is."""

    def __init__(self, name: str) -> None:
        self._name, self._begun = name, time.monotonic()

    def __call__(self, what: str) -> None:
        print(f"{self._name}: {what}, {time.monotonic() - self._begun:.0f} s", flush=True)


def fill_shelf(data: DataFolder, size: Size, tell: Told) -> list[Thing]:
    """Keep recipes, strips and papers; one in twenty is put away again."""
    dice, moment = random.Random(3), [FIRST_EVENING]
    shelf = Shelf.open(data.shelf, lambda: moment[0])
    _hurry(shelf)
    library = RecipeShelf(shelf, lambda: LONGEST_MS)
    things: list[Thing] = []
    while len(things) < size.recipes:
        with shelf.together():
            for number in range(len(things), min(size.recipes, len(things) + 500)):
                kind, many = dice.choices(KINDS, OFTEN)[0]
                kept = library.save(recipe_text(kind, many, number, dice))
                model = read_recipe(kept.body, kept.title, longest_ms=LONGEST_MS)
                for version in range(2, size.versions + 1):
                    changed = model.model_copy(update={"title": f"{model.title}, v{version}"})
                    kept = shelf.save(kept.kind, changed.title, write(changed), kept.id)
                things.append(Thing(kind, many, kept.id, kept.version, kept.title))
                moment[0] += timedelta(seconds=17)
        if len(things) % 5_000 == 0:
            tell(f"{len(things)} recipes and strips")
    for thing in things[::20]:
        shelf.put_away(thing.id)
    fill_papers(shelf, size.papers)
    shelf.close()
    return things


def fill_papers(shelf: Shelf, count: int) -> None:
    """Keep papers that are fitted to readings, twelve different ones at most."""
    import numpy as np
    from tools.hidden_papers import BOX, of_the_family, readings

    from controller.paper.written import Written

    keeper, noise = PaperShelf(shelf), np.random.default_rng(1)
    made = []
    for number in range(count):
        if number < 12:
            exposures = readings(of_the_family(noise), rng=noise).exposures
            made.append(keeper.fetch(keeper.save(Written(paper=f"paper {number}", box=BOX, exposures=exposures)).id))
        else:
            keeper.keep(made[number % 12].model_copy(update={"name": f"paper {number}"}))


def evenings(size: Size, things: list[Thing], carrier: Carrier, tell: Told) -> Iterator[Row]:
    """Give the rows of all evenings, one after the other: each begins with a start and ends with the last sheet."""
    dice = random.Random(7)
    played = {
        (kind, many): [
            *(play(kind, many, dice) for _ in range(2)),
            *([play(kind, many, dice, spoiled=True)] if kind == "split" else []),
        ]
        for kind, many in KINDS
    }
    number = sheet_number = lights = 0
    for evening in range(size.evenings):
        boot = f"{evening:08x}-2f0c-4b7a-9d3e-5a1b6c7d8e9f"
        begun = FIRST_EVENING + timedelta(days=evening * size.days)
        run, order, now_ns = new_id(), 0, 30 * S
        loaded: Thing | None = None

        def row(entry: Entry, at_ns: int, sheet: str = "") -> Row:
            nonlocal number
            number += 1
            label = wall.label(begun + timedelta(microseconds=at_ns // 1000))  # noqa: B023 - used in this turn only
            return Row.model_construct(
                number=number, boot=boot, at_ns=at_ns, wall=label, synchronised=True, software="0.1.0",  # noqa: B023
                protocol=1, setup="0123456789abcdef", sheet=sheet, entry=entry,
            )  # fmt: skip

        yield row(Started(practice=True, timing=write_settings(Settings())), now_ns)
        yield row(LampWarmed(lit_ms=60_000), now_ns)
        here = size.sheets * (evening + 1) // size.evenings - size.sheets * evening // size.evenings
        stood: AtEnlarger | None = None
        for bench in carrier.evening(evening, here):
            if bench is not None and bench != stood:
                stood = bench
                yield row(StoodAtEnlarger(bench=bench), now_ns)
            if loaded is None or dice.random() < 0.4:
                loaded = dice.choice(things)
                yield row(Loaded(source=loaded.id, version=loaded.version, title=loaded.title), now_ns)
                now_ns += 20 * S
            sheet_number += 1
            templates = played[loaded.kind, loaded.many]
            template = dice.choices(templates, [10, 10, 1][: len(templates)])[0]
            of = {"source": loaded.id, "version": loaded.version, "title": loaded.title, "bench": bench}
            plan, sheet = template.plan.model_copy(update=of), new_id()
            names: dict[str, str] = {}
            for since_ns, entry in template.filed:
                at_ns = now_ns + since_ns
                new: dict[str, Any] = {}
                if getattr(entry, "sheet", ""):
                    new["sheet"] = sheet
                if (light := getattr(entry, "light", None)) is not None:
                    if light not in names:
                        order += 1
                        names[light] = f"{run}-{order}"
                    new["light"] = names[light]
                match entry:
                    case SheetPlanned():
                        new |= {"number": sheet_number, "plan": plan}
                    case Intent():
                        new["start_ns"] = at_ns + 2 * S
                    case LightCame():
                        new["on_ns"] = at_ns - entry.most_ns - MS
                        lights += 1
                    case FootRow():
                        new["at_ns"] = at_ns - 300 * MS
                mine = sheet if "sheet" in new or "light" in new else ""
                yield row(entry.model_copy(update=new), at_ns, mine)
            now_ns += template.lasts_ns
            if loaded.kind == "strip" and dice.random() < 0.5:
                into = dice.choice(things)
                picked = Picked(
                    sheet=sheet, band=4, filter="2", seconds=12.0, recipe=into.id, recipe_version=into.version
                )
                yield row(picked, now_ns, sheet)
            if dice.random() < 0.1:
                text = "a little more in the sky next time; the quay can stay"
                yield row(Remark(sheet=sheet, text=text), now_ns, sheet)
            now_ns += round((20 + 40 * dice.random()) * S)
        if evening % 100 == 0:
            tell(f"evening {evening}, {sheet_number} sheets, {lights} lights, {number} rows")
    tell(f"{sheet_number} sheets, {lights} lights, {number} rows")


def _hurry(store: Journal | Shelf) -> None:
    """Keep a file that is being built from waiting for the disk."""
    store._connection.execute("PRAGMA synchronous = OFF")
    store._connection.execute("PRAGMA cache_size = -200000")


def build(name: str, folder: Path) -> DataFolder:
    """Build what `folder` has not yet of the data called `name`, and return it.

    Raises:
        KeyError: there are no such data.
    """
    size, tell = SIZES[name], Told(name)
    data = DataFolder(folder)
    data.key()
    done = folder / "many-years.json"
    stages: dict[str, Any] = json.loads(done.read_text()) if done.exists() else {}
    if stages.get("name", name) != name:
        raise SystemExit(f"{folder} holds {stages['name']}: name another folder")

    def finish(stage: str, what: object, path: Path) -> None:
        with path.open("rb") as file:
            os.fsync(file.fileno())
        stages.update({"name": name, stage: what})
        done.write_text(json.dumps(stages))
        tell(f"{stage} built, {path.stat().st_size / 1e6:.1f} MB")

    if "shelf" not in stages:
        _remove(data.shelf)
        things = fill_shelf(data, size, tell)
        finish("shelf", [[each.kind, each.many, each.id, each.version, each.title] for each in things], data.shelf)
    if "carrier" not in stages:
        with closing(Shelf.open(data.shelf, lambda: FIRST_EVENING)) as shelf:
            _hurry(shelf)
            stands, sets = fill_enlarger(shelf), fill_negatives(shelf, size.sets)
        kept = [[one.model_dump() for one in of] for of in sets]
        finish("carrier", [stands.model_dump(), kept], data.shelf)
    if "journal" not in stages:
        _remove(data.journal)
        stamp = Stamp("built", "0.1.0", 1, synchronised=lambda: True)
        journal = Journal.open(data.journal, ManualClock(), stamp, free=lambda: 10**12)
        _hurry(journal)
        journal._connection.execute("PRAGMA journal_mode = OFF")
        stands, sets = stages["carrier"]
        negatives = [[InCarrier.model_validate(one) for one in of] for of in sets]
        carrier = Carrier(AtEnlarger.model_validate(stands), negatives, size.evenings)
        journal.take_in(evenings(size, [Thing(*each) for each in stages["shelf"]], carrier, tell))
        journal._connection.execute("PRAGMA journal_mode = WAL")
        rows = journal.last()
        journal.close()
        finish("journal", rows, data.journal)
    if "lookups" not in stages:
        _remove(data.lookups)
        reader = Reader(read_store(data.journal, JOURNAL), data.journal, None)
        with reader, Shelf.look(data.shelf) as shelf:
            with closing(Lookups(data.lookups, shelf, reader, THINGS, DERIVED)) as lookups:
                lookups.rebuild()
            finish("lookups", data.lookups.stat().st_size, data.lookups)
    return data


def _remove(path: Path) -> None:
    for tail in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + tail).unlink(missing_ok=True)


def main() -> None:
    """Build."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("name", choices=SIZES)
    parser.add_argument("folder", type=Path)
    asked = parser.parse_args()
    build(asked.name, asked.folder)


if __name__ == "__main__":
    main()
