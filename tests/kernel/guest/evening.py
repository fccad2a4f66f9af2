"""Inside the emulated machine: a sheet printed by foot, with the whole daemon in a process of its own."""

from __future__ import annotations

import json
import time

from daemon_process import Daemon
from kernel.guest.bench import LAMP, PATIENCE_NS, Bench, lines
from kernel.guest.drowsy import watched
from kernel.guest.sim import until

from controller.data import DataFolder
from controller.entries import LightCame
from controller.journal import Journal, Stamp
from controller.status import Status
from hardware.clock import MonotonicClock
from hardware.timing import Timing

LIGHTS = (("soft", 0.4), ("hard", 0.7))
RECIPE = {
    "format": "treadle/recipe/1",
    "title": "Two lights",
    "local": [],
    "light": [{"filter": name, "seconds": seconds} for name, seconds in LIGHTS],
}


def print_sheet(bench: Bench) -> None:
    """Load the recipe, give both lights by foot, and note what the journal says of them."""
    bench.note(lights=LIGHTS, lead_in_ms=Timing().lead_in_ms)
    daemon = Daemon(bench.folder, lines=lines(sounder=True), timing=None, start_ns=PATIENCE_NS)
    try:
        assert daemon.ask(save=json.dumps(RECIPE)) is not None, daemon.refusal
        with watched(bench):
            for number in range(len(LIGHTS)):
                _get_ready(bench, daemon)
                bench.trace.mark(f"light {number + 1}")
                bench.press()
                bench.trace.wait_set(LAMP, 1, count=number + 1)
                _wait(daemon, "change filter", "finished")
            _wait(daemon, "finished")
    finally:
        daemon.close()
    journal = Journal.open(DataFolder(bench.folder / "data").journal, MonotonicClock(), Stamp.here())
    came = [row.entry for row in journal.rows() if isinstance(row.entry, LightCame)]
    journal.close()
    bench.note(came=[entry.model_dump() for entry in came])


def _get_ready(bench: Bench, daemon: Daemon) -> None:
    """Say by foot that the filter is in, where that is asked, and wait until a press counts."""
    if _wait(daemon, "change filter", "ready").place == "change filter":
        time.sleep(0.6)
        bench.press()
        _wait(daemon, "ready")
    time.sleep(0.6)


def _wait(daemon: Daemon, *places: str) -> Status:
    def there() -> Status | None:
        status = daemon.ask()
        assert status is not None, "the daemon is no more"
        time.sleep(0.05)
        return status if status.place in places else None

    return until(there, f"the daemon to stand at {' or '.join(places)}", 30)
