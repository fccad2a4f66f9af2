"""Every page with ten years kept: `bench_every_page.py FOLDER [NAME]`; 60,000 sheets with 10,000 negatives unless told.

The data are those of `many_years.py`, built in FOLDER where they are not there yet, and asked on a copy by the real
command. Each address that the page answers is asked, by its own list of them; what is no page is named. A line a page:
first, median and worst of so many looks by the clock, first and median of the processor, and its size as it is sent;
what is over 100 ms by the lesser of both medians, or over 60 kB, or no page but a refusal, is marked. Then what the one
offer costs for the negative in the carrier, by the product's own parts in this process.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Final, cast

from growing import Phone
from machine import table
from many_years import SIZES, build
from serving import Served
from tools.stand_in_desk import StandInDesk

from controller.backup.registered import DERIVED, THINGS
from controller.daemon.enlarger_shelf import EnlargerShelf
from controller.daemon.negative_lists import NegativeLists
from controller.daemon.negative_shelf import NegativeShelf
from controller.daemon.next_desk import NextDesk
from controller.daemon.recipe_shelf import RecipeShelf
from controller.foot.status import Status
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.fields import LONGEST_MS
from controller.store.archive import Archive
from controller.store.database import read_store
from controller.store.entries import SheetPlanned, StoodAtEnlarger
from controller.store.folder import DataFolder
from controller.store.lookups import Lookups
from controller.store.rows import Reader
from controller.store.schemas import JOURNAL
from controller.store.shelf import Shelf
from webui.app import create_app

LOOKS: Final = 12
MOST_MS, MOST_B = 100.0, 60_000
ASKED: Final = (
    "/sheets?q=harbour",
    "/sheets?q=quay+stones",
    "/shelf?q=crane",
    "/shelf?away=1",
    "/shelf?kind=strip",
    "/negatives?q=quay",
    "/negatives?q=film+7",
    "/negatives?q=nowhere",
)
"""Lists that are asked for something, beside their plain pages."""
NO_PAGES: Final = frozenset(
    {"/live", "/status.json", "/health", "/favicon.ico", "/manifest.webmanifest", "/data/out.zip", "/pair"}
)


class Kept:
    """What of a darkroom's data its addresses are filled with."""

    def __init__(self, data: DataFolder, held: ExitStack) -> None:
        self.reader = held.enter_context(Reader(read_store(data.journal, JOURNAL), data.journal, None))
        self.shelf = held.enter_context(closing(Shelf.look(data.shelf)))
        looked_up = Lookups(data.lookups, self.shelf, self.reader, THINGS, DERIVED)
        self.lookups = held.enter_context(closing(looked_up))
        while not self.lookups.follow():  # of an older form they are begun anew, and nothing is kept at hand meanwhile
            pass
        planned = [
            row.entry
            for _, sheet in self.reader.planned(before=1 << 62, limit=40)
            for row in self.reader.rows(sheet=sheet, kinds=("planned",))
        ]
        plans = [entry for entry in planned if isinstance(entry, SheetPlanned)]
        self.sheet = next(entry.sheet for entry in plans if entry.plan.kind == "recipe")
        self.strip = next(entry.sheet for entry in plans if entry.plan.kind == "strip")
        (stood,) = (row.entry for row in self.reader.rows(kinds=("at the enlarger",))[-1:])
        assert isinstance(stood, StoodAtEnlarger)
        self.bench: AtEnlarger = stood.bench

    def first(self, kind: str) -> str:
        return self.shelf.latest(kind, limit=1)[0].id

    def addresses(self) -> Iterator[tuple[str, str]]:
        """Give each page's own address as the page lists it, and one that can be asked; or that it is left out."""
        app = create_app(StandInDesk(practice=True), hosts=["127.0.0.1"])  # type: ignore[arg-type]
        set_id, frame = self.bench.negative.rsplit(":", 1)
        by_room = {"shelf": "recipe", "papers": "paper", "enlargers": "enlarger", "carry": "recipe"}
        for rule in sorted({rule.rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ())}):
            room, words = rule.split("/")[1], rule
            if room == "negatives":
                words = words.replace("<source>", set_id).replace("<frame>", frame)
            elif "<source>" in words and room in by_room:
                words = words.replace("<source>", self.first(by_room[room]))
            words = words.replace("<kind>", "recipe").replace("<sheet>", self.strip if room == "pick" else self.sheet)
            words = words.replace("<support>", "FB")
            left_out = rule in NO_PAGES or "<" in words or words.endswith((".png", ".csv", ".jpg"))
            yield rule, "" if left_out else words
        yield from ((one, one) for one in ASKED)


def worked_ms(pid: int) -> float:
    """Return how long all threads of a process have had a processor, in ms: what other work there is is not in it."""
    return sum(int(one.read_text("ascii").split()[0]) for one in Path(f"/proc/{pid}/task").glob("*/schedstat")) / 1e6


def page(phone: Phone, pid: int, address: str) -> tuple[str, ...]:
    """Return what a page costs by the clock and of the daemon's processor, and its bytes."""
    took, worked, status, sent = [], [], 0, b""
    for _ in range(LOOKS):
        began, had = time.perf_counter(), worked_ms(pid)
        status, sent = phone.get(address, **{"Accept-Encoding": "gzip"})
        took.append(1000 * (time.perf_counter() - began))
        worked.append(worked_ms(pid) - had)
    later = took[1:]
    processor = statistics.median(worked[1:])
    over = "" if min(statistics.median(later), processor) <= MOST_MS and len(sent) <= MOST_B else "  OVER"
    said = "" if status == 200 else f"  NOT SEEN: status {status}"
    times = f"first {took[0]:5.0f}  median {statistics.median(later):5.1f}  worst {max(later):5.0f} ms"
    return (f"{times}  processor {worked[0]:4.0f} {processor:5.1f} ms  {len(sent) / 1000:5.1f} kB{over}{said}",)


def offer(kept: Kept) -> Iterator[tuple[str, ...]]:
    """Give what the one offer costs: asked for the first time, with nothing new, and after each new row."""
    negatives = cast("NegativeShelf", NegativeLists(kept.shelf, kept.lookups))
    recipes = RecipeShelf(kept.shelf, lambda: LONGEST_MS)
    status = cast("Status", SimpleNamespace(bench=kept.bench, can=("load",), plan=None, number=1))
    archive = Archive(kept.reader, kept.lookups)

    def nothing(*_: Any) -> Status:
        return status

    desk = NextDesk(
        archive, recipes, negatives, EnlargerShelf(kept.shelf, kept.reader), status=lambda: status, do=nothing
    )
    sheets = len(negatives.life(kept.bench.negative).sheets)
    other = cast("Status", SimpleNamespace(**{**vars(status), "bench": replace_paper(kept.bench)}))
    for name, asked in (
        ("for the first time", (status,)),
        ("again, nothing new", (status,) * 40),
        ("after something else was new", (other, status) * 20),
    ):
        took = []
        for one in asked:
            began = time.thread_time()
            found = desk.offer(one)
            took.append(1000 * (time.thread_time() - began))
        kind = found.offer.kind if found else "nothing"
        yield f"offer, {name}", f"processor: median {statistics.median(took):.2f}, worst {max(took):.2f} ms", kind
    yield "of a negative with so many sheets", str(sheets)


def replace_paper(bench: AtEnlarger) -> AtEnlarger:
    """Return how it stands with its enlarger called otherwise: nothing that an offer goes by."""
    return bench.model_copy(update={"enlarger_title": "called otherwise"})


def main() -> None:
    """Build what is not there, measure a copy, and print."""
    where, name = Path(sys.argv[1]).resolve(), (*sys.argv[2:], "d3")[0]
    data, work = build(name, where / name), where / f"work-pages-{name}"
    shutil.rmtree(work, ignore_errors=True)
    shutil.copytree(data.path, work)
    try:
        with ExitStack() as held:
            kept = Kept(DataFolder(work), held)
            addresses, offers = list(kept.addresses()), list(offer(kept))
        with Served(work) as served:
            phone = Phone(served)
            phone.act("no-paper-in-the-trays")  # the last sheet of ten years counts as undeveloped
            assert phone.act("paper-away") in (200, 303), "day pages are not shown"
            rows = [(rule, *page(phone, served.process.pid, address)) for rule, address in addresses if address]
        size = SIZES[name]
        table(f"{name}: {size.sheets} sheets, {size.sets} sets of negatives", [*rows, *offers])
        sys.stdout.write(f"  no page, left out: {', '.join(rule for rule, address in addresses if not address)}\n")
    finally:
        shutil.rmtree(work, ignore_errors=True)


if __name__ == "__main__":
    main()
