"""Lateness of the dark edge while prints are rendered in the process that serves the page.

`python tests/benchmarks/bench_render_lateness.py [LIGHTS]`: lights of a quarter of a second through a keeper process,
first with nothing else going on here, then with a thread that develops 1-megapixel sheets one after the other, and with
previews rendered one after the other by their own process. The design's bound beside previews is 0.3 ms (p99) with
real-time priority, which the figures name where it was had.
"""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import cast

from machine import share, table  # puts the tests on the path

# isort: split
from bench_preview import grid
from tools.picture_darkroom import example
from tools.preview_scans import file_of, light_through

from controller.commands.timing.lights import KeeperLights
from controller.commands.timing.measure import practice_fitting
from controller.daemon.preview_renderer import PreviewRenderer
from controller.picture.develop import develop_light
from controller.picture.doses import Dose, SheetExposure, Way
from controller.picture.evidence import SheetLights
from controller.picture.light import BlueGreen
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import negatives_named, scene_for

LIT_MS = 250


def render(ended: threading.Event, seconds: list[float]) -> None:
    """Develop sheets and write their pictures until the end."""
    scene = scene_for(example("crane.recipe.json"), negatives_named("crane"))
    light = SheetExposure((Dose(Way(), BlueGreen(blue=5.0, green=12.0)),), BlueGreen(blue=0.0, green=0.0))
    # once its light is known, developing asks of a record only whether it is a strip's
    record = cast("SheetLights", SimpleNamespace(plan=SimpleNamespace(strip=None)))
    while not ended.is_set():
        began = time.perf_counter()
        develop_light(light, record, scene, practice_paper("one")).png()
        seconds.append(time.perf_counter() - began)


def preview(ended: threading.Event, seconds: list[float]) -> None:
    """Render grids of 25 previews by their own process until the end, each of another pair."""
    renderer = PreviewRenderer(lambda: False)
    with tempfile.TemporaryDirectory() as folder:
        picture = Path(folder) / "crane.jpg"
        picture.write_bytes(file_of(light_through("crane", 800, 1000), "JPEG 8"))
        while not ended.is_set():
            began = time.perf_counter()
            renderer.render(grid(8.0 + len(seconds) / 100), picture)
            seconds.append(time.perf_counter() - began)
    renderer.close()


def measure(
    lights: int, work: Callable[[threading.Event, list[float]], None] | None
) -> tuple[list[float], list[float], str]:
    """Return the lateness of each dark edge in ms, the seconds of each rendering, and how the keeper was scheduled."""
    ended, seconds = threading.Event(), list[float]()
    thread = threading.Thread(target=work or (lambda *_: None), args=(ended, seconds))
    with tempfile.TemporaryDirectory() as name:
        lines = Path(name) / "lines"
        lines.mkdir()
        with KeeperLights(practice_fitting(lines)) as keeper:
            thread.start()
            try:
                late_ns = keeper.give(lights, LIT_MS)
            finally:
                ended.set()
                thread.join()
            scheduling = keeper.greeting.scheduling
    return [late / 1e6 for late in late_ns], seconds, scheduling


def main(lights: int) -> None:
    """Measure and print."""
    rows: list[tuple[object, ...]] = [("", "p50", "p99", "max", "lights", "scheduling")]
    for name, work in (("idle", None), ("developing", render), ("previews", preview)):
        late, seconds, scheduling = measure(lights, work)
        figures = (f"{share(late, 50):.3f}", f"{share(late, 99):.3f}", f"{max(late):.3f}")
        rows.append((f"{name}, {len(seconds)} rendered", *figures, len(late), scheduling))
    table("Lateness of the dark edge, ms", rows)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
