"""How long a sheet takes in the tray, and how late the keeper's dark edges are meanwhile; prints a table.

Run by hand: PYTHONPATH=.:tests .venv/bin/python tests/benchmarks/bench_picture.py. Each figure is the best of several,
since other work on the machine only ever adds; it ends with 1 where one is over its limit. tests/picture runs the
same measurements.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from tools.picture_darkroom import example, example_feet, worked

from controller.commands.timing.load import Load
from controller.commands.timing.measure import measure
from controller.daemon.desk import Desk
from controller.picture.develop import Developed, develop_sheet
from controller.picture.masks import soft_mask
from controller.picture.practice_papers import practice_paper
from controller.picture.raster import raster
from controller.picture.scene import PIXELS, negatives_named, scene_for

SHEETS = {
    "split-grade sheet": ("crane.recipe.json", "crane.feet.json", "crane", "one"),
    "the same, wet and dry": ("crane.recipe.json", "crane.feet.json", "crane", "two"),
    "contact strip": ("proof.strip.json", "proof-strip.feet.json", "proof", "one"),
    "a frame of film": ("crane.recipe.json", "crane.feet.json", "fronts", "one"),
    "contact strip of a film": ("proof.strip.json", "proof-strip.feet.json", "film", "one"),
}
LIMIT_MS = 500.0


@dataclass(frozen=True)
class Figure:
    """One measured figure against its limit; None where it has none."""

    name: str
    ms: float
    limit_ms: float | None

    @property
    def holds(self) -> bool:
        """Whether it keeps its limit."""
        return self.limit_ms is None or self.ms <= self.limit_ms


def _best(act: Callable[[], object], turns: int, clock: Callable[[], float]) -> float:
    times = []
    for _ in range(turns):
        start = clock()
        act()
        times.append(clock() - start)
    return 1000.0 * min(times)


def figures(turns: int = 5, pixels: int = PIXELS, clock: Callable[[], float] = time.perf_counter) -> list[Figure]:
    """Measure each sheet: developed and written, with its negative at hand, and from nothing on."""
    found = []
    for name, (form, feet, negative, paper) in SHEETS.items():
        model = example(form)
        record = worked(model, example_feet(feet)).records[0]
        scene = scene_for(model, negatives_named(negative), pixels=pixels)

        def render(record=record, scene=scene, paper=paper) -> Developed:
            return develop_sheet(record, (), scene, practice_paper(paper))

        def afresh(render: Callable[[], Developed] = render) -> None:
            raster.cache_clear()
            soft_mask.cache_clear()
            render()

        made = render()
        assert abs(made.dry.size - pixels) < 2000
        found += [
            Figure(f"{name}, developed", _best(render, turns, clock), LIMIT_MS),
            Figure(f"{name}, negative drawn first", _best(afresh, turns, clock), LIMIT_MS),
            Figure(f"{name}, written as PNG", _best(made.png, turns, clock), None),
        ]
    return found


@dataclass
class Renderer:
    """Stands in the page's place in the daemon's process, and develops one sheet after another until it is closed."""

    port: int = 0
    sheets: int = 0
    _ended: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def begin(self) -> Renderer:
        model = example("crane.recipe.json")
        record = worked(model, example_feet("crane.feet.json")).records[0]
        scene = scene_for(model, negatives_named("crane"))

        def render() -> None:
            while not self._ended.is_set():
                develop_sheet(record, (), scene, practice_paper("two")).png()
                self.sheets += 1

        self._thread = threading.Thread(target=render, name="tray")
        self._thread.start()
        return self

    def close(self) -> None:
        """Develop no more."""
        self._ended.set()
        if self._thread is not None:
            self._thread.join()


def lateness(lights: int, *, render: bool, lit_ms: int = 250) -> tuple[list[float], int]:
    """Return how late each dark edge was, in ms, and how many sheets were developed meanwhile in the daemon."""
    tray = Renderer()

    def open_tray(desk: Desk, names: Sequence[str], host: str, port: int) -> Renderer:
        return tray.begin() if render else tray

    found = measure(None, lights=lights, lit_ms=lit_ms, load=Load(), compare=False, open_page=open_tray)
    return [late / 1e6 for late in found.late_ns], tray.sheets


def main() -> int:
    """Measure everything, print a table, and return 1 where a limit is broken."""
    every = figures()
    for each in every:
        limit = (
            "" if each.limit_ms is None else f"  limit {each.limit_ms:4.0f} ms  {'holds' if each.holds else 'BROKEN'}"
        )
        sys.stdout.write(f"{each.name:46} {each.ms:7.1f} ms{limit}\n")
    for render in (False, True):
        late, sheets = lateness(60, render=render)
        told = f"{sheets} sheets developed meanwhile" if render else "nothing developed"
        sys.stdout.write(f"late over {len(late)} lights, {told}: p50 {np.median(late):.3f}, max {max(late):.3f} ms\n")
    return 0 if all(each.holds for each in every) else 1


if __name__ == "__main__":
    raise SystemExit(main())
