"""How long the paper reckoning takes, and what it costs a daemon that does not use it; prints a table.

Run by hand: PYTHONPATH=.:tests .venv/bin/python tests/benchmarks/bench_paper.py. Each figure is the best of several,
since other work on the machine only ever adds; it ends with 1 where one is over its limit. tests/paper runs the
same measurements.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from tools.hidden_papers import BOX, outside, paper_one, readings

from controller.paper.emulsions import densities, mixture
from controller.paper.fit import fit
from controller.paper.solver import Tone, soft_hard

ROOT = Path(__file__).resolve().parents[2]
LIGHT = (
    *(f"controller.paper.{name}" for name in ("paper", "readings", "faults", "eye", "iso", "ladder", "negative")),
    *(
        "controller.carry.changes",
        "controller.carry.carry",
        "controller.carry.check_strips",
        "controller.commands.paper",
    ),
)
"""What a page or the command line may load before a printer uses anything of it."""
PAGES = ("controller.daemon.paper_shelf", "controller.contrast.split_grade", "controller.carry.carry_over")
PAGES += ("webui.pages.papers", "webui.pages.contrast", "webui.pages.carry")
"""What `serve` loads for papers, used or not."""


@dataclass(frozen=True)
class Figure:
    """One measured figure against its limit."""

    name: str
    value: float
    limit: float
    unit: str

    @property
    def holds(self) -> bool:
        """Whether it keeps its limit."""
        return self.value <= self.limit


def _best(act: Callable[[], object], turns: int) -> float:
    act()
    times = []
    for _ in range(turns):
        start = time.perf_counter()
        act()
        times.append(time.perf_counter() - start)
    return 1000.0 * min(times)


def fit_ms(turns: int = 5) -> Figure:
    """A fit of soft and hard readings with noise, the slowest of three papers."""
    rng = np.random.default_rng(1)
    every = [readings(paper, rng=rng) for paper in (paper_one(), outside(rng), outside(rng))]
    return Figure("fit", max(_best(lambda each=each: fit(each, BOX), turns) for each in every), 1000.0, "ms")


def soft_hard_ms(turns: int = 20) -> Figure:
    """A split for two tones, had and out of reach, the slower of the two."""
    paper = fit(readings(paper_one()), BOX)
    aims = [(Tone(1.25, 0.16), Tone(0.22, 1.95)), (Tone(1.25, 0.3), Tone(0.22, 1.0))]
    return Figure("soft-hard", max(_best(lambda aim=aim: soft_hard(paper, *aim), turns) for aim in aims), 50.0, "ms")


def predict_ms(turns: int = 20) -> Figure:
    """Print densities of a thousand tones, from the kept paper on."""
    paper = fit(readings(paper_one()), BOX)
    tones = np.linspace(0.0, 2.5, 1000)
    return Figure("predict 1,000 tones", _best(lambda: densities(mixture(paper), 10.1, 8.0, tones), turns), 20.0, "ms")


def idle_mb() -> Figure:
    """What the light modules of the paper reckoning add to a process that has what the daemon has anyhow."""
    code = (
        "import importlib, re, pathlib\n"
        "import controller.daemon.recipe_shelf, controller.exposure.reckon, webui.app, webui.server\n"
        "import webui.pages.shelf, webui.pages.reckon\n"
        "def rss(): return int(re.search(r'VmRSS:\\s+(\\d+)', pathlib.Path('/proc/self/status').read_text())[1])\n"
        "before = rss()\n"
        f"for name in {(*LIGHT, *PAGES)!r}: importlib.import_module(name)\n"
        "print((rss() - before) / 1024)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return Figure("idle memory added", float(done.stdout), 5.0, "MB")


def main() -> int:
    """Measure everything, print a table, and return 1 where a limit is broken."""
    figures = [fit_ms(), soft_hard_ms(), predict_ms(), idle_mb()]
    for each in figures:
        sys.stdout.write(
            f"{each.name:22} {each.value:8.2f} {each.unit:2}  limit {each.limit:6.0f} {each.unit}"
            f"  {'holds' if each.holds else 'BROKEN'}\n"
        )
    return 0 if all(each.holds for each in figures) else 1


if __name__ == "__main__":
    raise SystemExit(main())
