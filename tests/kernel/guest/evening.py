"""Inside the emulated machine: a sheet printed by foot, with `treadle serve` on the lines of its wiring file."""

from __future__ import annotations

import json
import signal
import time
from contextlib import suppress
from typing import Final

from kernel.guest.bench import LAMP, Bench
from kernel.guest.drowsy import watched
from kernel.guest.served import served
from kernel.guest.sim import until

from controller.store.entries import LightCame, Loaded
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.shelf import Shelf
from hardware.clock import MonotonicClock
from hardware.timing import Timing

LIGHTS = (("soft", 0.4), ("hard", 0.7))
RECIPE = {
    "format": "treadle/recipe/1",
    "title": "Two lights",
    "local": [],
    "light": [{"filter": name, "seconds": seconds} for name, seconds in LIGHTS],
}


_FILTER_S: Final = 3.0
"""Emulated, a press is taken in long before."""
_PRESSES: Final = 3
_LIGHT_S: Final = 8.0
"""A press in a lead-in would end it: each is waited for well beyond one."""


def print_sheet(bench: Bench) -> None:
    """Give both lights by foot, end the service, and note what the journal says of them."""
    bench.note(lights=LIGHTS, lead_in_ms=Timing().lead_in_ms)
    data = DataFolder(bench.folder / "data")
    _choose(data)
    with served(bench, data.path) as service:
        with watched(bench):
            for number in range(1, len(LIGHTS) + 1):
                bench.press()  # the filter is in
                time.sleep(_FILTER_S)
                _press_for_light(bench, number)
                time.sleep(_FILTER_S)
        service.send_signal(signal.SIGTERM)
        bench.note(status=service.wait(30), level=bench.header.level(LAMP))
    bench.note(came=_lights_on_file(data))


def _choose(data: DataFolder) -> None:
    """Keep the recipe, and have the journal tell that it was chosen: the next daemon begins with it."""
    shelf = Shelf.open(data.shelf)
    kept = shelf.save("recipe", str(RECIPE["title"]), json.dumps(RECIPE))
    shelf.close()
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    journal.append(Loaded(source=kept.id, version=kept.version, title=kept.title))
    journal.close()


def _press_for_light(bench: Bench, number: int) -> None:
    """Press until the light comes, marked before each press, and see it end; one that came too soon is made again."""
    for _ in range(_PRESSES):
        bench.trace.mark(f"light {number}")
        bench.press()
        with suppress(TimeoutError):
            bench.trace.wait_set(LAMP, 1, _LIGHT_S, count=number)
            until(lambda: None if bench.header.level(LAMP) else True, "the light to end")
            return
    raise TimeoutError(f"{_PRESSES} presses brought no light")


def _lights_on_file(data: DataFolder) -> list[dict[str, object]]:
    """Return the lights that the journal tells of."""
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    came = [row.entry for row in journal.rows() if isinstance(row.entry, LightCame)]
    journal.close()
    return [entry.model_dump() for entry in came]
