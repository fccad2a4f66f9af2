"""What many negatives cost a page: `bench_negatives.py [SETS]`, 700 sets of 14 unless told; and one large photograph.

By the product's own code, asked in this process: sets saved on a shelf, each with marks and titles, and the app before
them. Prints a table: how long a page takes by the clock and of the processor, and its bytes; nothing is judged.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from pathlib import Path

from machine import folder, table

from tools.negatives import fill, heavy_photograph, photograph, tree  # isort: skip
from tools.shelf_phone import Phone  # isort: skip
from tools.stand_in_desk import StandInDesk  # isort: skip

from controller.daemon.negative_shelf import NegativeShelf  # isort: skip
from controller.daemon.photographs import Photographs  # isort: skip
from controller.store.pictures import Pictures  # isort: skip
from controller.unpack.unpacker import Unpacker  # isort: skip

SETS = 700
TIMES = 15


def pages(phone: Phone, desk: StandInDesk, here: str) -> list[tuple[str, ...]]:
    """Return a line a page."""
    below = desk.negatives().page().more
    rows = []
    for address in (
        *(
            "/negatives",
            f"/negatives?below={below}",
            "/negatives?q=quay",
            "/negatives?q=film+7",
            "/negatives?q=nowhere",
        ),
        *("/negatives/new", here, f"{here}?pencil=mark+print", f"{here}/frame/5", f"{here}/proof", f"{here}/edit"),
    ):
        clock, processor, size = [], [], 0
        for _ in range(TIMES):
            began, had = time.perf_counter(), time.process_time()
            answer = phone.client.get(address)
            clock.append(1000 * (time.perf_counter() - began))
            processor.append(1000 * (time.process_time() - had))
            assert answer.status_code == 200, address
            size = len(answer.data)
        name = address.replace(here, "/negatives/SET").replace(below, "DAY")
        rows.append((name, f"{statistics.median(processor):.0f} ms", f"{statistics.median(clock):.0f} ms", f"{size} B"))
    return rows


def a_tap(phone: Phone, here: str) -> tuple[str, str, str]:
    """Return what a tap with a pencil costs."""
    took = []
    for number in range(1, TIMES + 1):
        page = phone.look(f"{here}?pencil=look+1%2F3")
        began = time.perf_counter()
        answer = phone.send(f"{here}/mark", page.typed(), frame=str(number))
        took.append(1000 * (time.perf_counter() - began))
        assert answer.status_code == 303
    return "a tap with a pencil", "", f"{statistics.median(took):.0f} ms"


def large(desk: StandInDesk, at: Path) -> tuple[str, str, str]:
    """Return how long a photograph of nearly 24 MB takes until it is kept, by the process of its own."""
    kept = Pictures(at / "large")
    photographs = Photographs(kept, Unpacker(lambda: False), lambda _row: None, at)
    shelf = NegativeShelf(desk.kept_things, desk.lookups, photographs)
    made, content = shelf.make(tree(9001)), heavy_photograph()
    took, had = [], resource.getrusage(resource.RUSAGE_CHILDREN)
    with (at / "heavy.jpg").open("w+b") as file:
        file.write(content)
        for _ in range(3):
            began = time.perf_counter()
            shelf.photograph(made.id, file, "heavy.jpg")
            took.append(time.perf_counter() - began)
    has = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = (has.ru_utime + has.ru_stime - had.ru_utime - had.ru_stime) / len(took)
    size = f"{len(content) / 1e6:.1f} MB to {kept.total_bytes() / 1000:.0f} kB"
    return f"a photograph is kept, {size}", f"{processor:.2f} s", f"{min(took):.2f} to {max(took):.2f} s"


def main() -> None:
    """Fill a shelf, and measure."""
    with folder() as place:
        at, desk = Path(place), StandInDesk()
        desk.say_day(1e6)
        desk.keep_pictures_in(at / "pictures")
        sets = int(sys.argv[1]) if len(sys.argv) > 1 else SETS
        began = time.perf_counter()
        negatives = fill(desk.kept_things, sets)
        filled = time.perf_counter()
        while not desk.lookups.follow():
            pass
        followed = time.perf_counter()
        one = desk.negatives().make(tree(9000, "24x36"))
        with (at / "proof.jpg").open("w+b") as file:
            file.write(photograph(1800, 1200, 6, 6))
            desk.negatives().photograph(one.id, file, "proof.jpg")
        phone, here = Phone(desk), f"/negatives/{one.id}"
        rows = [
            (f"{sets} sets of {negatives} negatives, kept", "", f"{filled - began:.1f} s"),
            ("followed for lists and searches", "", f"{followed - filled:.1f} s"),
            *pages(phone, desk, here),
            a_tap(phone, here),
            large(desk, at),
        ]
        table("Negatives: processor, clock, bytes before they are compressed", rows)


if __name__ == "__main__":
    main()
