"""Lateness of the dark edge while pages look, recipes are edited and the processor is busy.

`python tests/benchmarks/bench_lateness.py [LIGHTS]`: a quarter of a second each, through daemon and keeper processes,
on an idle machine; then with twenty event streams, a recipe edit a second, and a busy process a core, and the same
without real-time priority. With the watch over the first half second running the lights are of 0.7 s, so that each
is judged, by the thread that counts readings at the easel as well; once with grids of 25 previews rendered meanwhile,
one after the other; and once so in lights under which a spot is read, which go dark by themselves after the longest
light of the fitting, 2.5 s. The design's bound for that is 0.3 ms (p99) with real-time priority.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from pathlib import Path

from machine import folder, share, table  # puts the tests on the path

# isort: split
from bench_render_lateness import preview
from tools.daemon_process import Daemon, DaemonPhone

from hardware.practice.practice_darkroom import PracticeDarkroom

LIT_MS = 250
WATCHED_MS = 700
READ_MS = 2500
STREAMS = 20
QUICK = {"lead_in_ms": 130, "hold_ms": 60, "double_ms": 20, "after_contact_ms": 60, "after_close_ms": 1}
QUICK |= {"wait_after_plan_ms": 20, "wait_after_stop_ms": 20, "wait_after_cancel_ms": 20, "settle_ms": 50}


def sheet(seconds: float, title: str) -> str:
    work = [{"area": "A", "act": "burn", "filter": "soft", "seconds": seconds} for _ in range(59)]
    light = [{"filter": "soft", "seconds": seconds}]
    return json.dumps({"format": "treadle/recipe/1", "title": title, "light": light, "local": work})


def measure(
    lights: int,
    *,
    busy: bool = False,
    humble: bool = False,
    watched: bool = False,
    seeing: bool = False,
    reading: bool = False,
) -> tuple[list[float], bool, int]:
    """Return the lateness of each dark edge in ms, whether the keeper had real-time priority, and grids rendered."""
    lit_ms = READ_MS if reading else WATCHED_MS if watched else LIT_MS
    timing = QUICK | {"longest_light_ms": READ_MS} if reading else QUICK
    with folder() as name:
        path = Path(name)
        (path / "run").mkdir()
        room = PracticeDarkroom(path / "run")
        daemon = Daemon(path, humble=humble, web=True, timing=timing)
        phone = DaemonPhone(daemon)
        loads = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(_cores() if busy else 0)]
        ended = threading.Event()
        editor = threading.Thread(target=_edit, args=(daemon, ended))
        rendered = list[float]()
        painter = threading.Thread(target=preview, args=(ended, rendered))
        try:
            if watched:
                daemon.ask(settings={"light_sensor": "tsl2591"})
            if reading:
                daemon.ask(act={"verb": "paper away"})
                while (begun := daemon.ask(reference=True)) is None:  # until the sensor answers
                    time.sleep(0.2)
                assert begun.plan is not None
                assert begun.plan.kind == "readings"
            else:
                daemon.ask(save=sheet(lit_ms / 1000, "Lateness"))
            if busy:
                phone.look(STREAMS)
                editor.start()
            if seeing:
                painter.start()
            status = daemon.ask()
            assert status is not None
            while len(room.edges()) < 2 * lights:
                _press_on(daemon, room)
            edges = [edge.at_ns for edge in room.edges()]
            spans = zip(edges[::2], edges[1::2], strict=False)
            return [(off - on) / 1e6 - lit_ms for on, off in spans], status.realtime, len(rendered)
        finally:
            ended.set()
            for thread in (editor, painter):
                if thread.is_alive():
                    thread.join()
            for load in loads:
                load.kill()
                load.wait()
            phone.close()
            daemon.close()
            room.close()


def _press_on(daemon: Daemon, room: PracticeDarkroom) -> None:
    status = daemon.ask()
    assert status is not None
    match status.place:
        case "ready" | "held" | "change filter":
            time.sleep(0.09)
            room.press(30)
        case "finished":
            daemon.ask(act={"verb": "close"})
        case "close this sheet?" | "white light?" | "call it given?":
            room.press(30)
    time.sleep(0.05)


def _edit(daemon: Daemon, ended: threading.Event) -> None:
    number = 0
    while not ended.wait(1.0):
        number += 1
        daemon.ask(keep=sheet(0.3, f"Edited {number}"))


def _cores() -> int:
    import os

    return len(os.sched_getaffinity(0))


def main(lights: int) -> None:
    """Measure and print."""
    rows: list[tuple[object, ...]] = [("", "p50", "p99", "max", "lights")]
    busy = "20 streams, edits, busy cores"
    for name, how in (
        ("idle", {}),
        ("idle, watched", {"watched": True}),
        ("watched, previews rendered", {"watched": True, "seeing": True}),
        ("watched, a spot read, previews rendered", {"watched": True, "seeing": True, "reading": True}),
        (busy, {"busy": True}),
        (f"{busy}, watched", {"busy": True, "watched": True}),
        (busy, {"busy": True, "humble": True}),
    ):
        late, realtime, grids = measure(lights, **how)
        name += f" ({grids} grids)" if grids else ""
        figures = (f"{share(late, 50):.3f}", f"{share(late, 99):.3f}", f"{max(late):.3f}")
        rows.append((f"{name}, {'real-time' if realtime else 'ordinary'}", *figures, len(late)))
    table("Lateness of the dark edge, ms", rows)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
