"""Inside the emulated machine: a sheet printed by foot, with `treadle serve` on the lines of its wiring file."""

from __future__ import annotations

import signal
import time
from contextlib import suppress
from pathlib import Path
from typing import Final

from kernel.guest.bench import LAMP, Bench
from kernel.guest.drowsy import watched
from kernel.guest.served import served
from kernel.guest.sim import until
from kernel.sheet import LIGHTS, give_out, take_in

from hardware.timing import Timing

_OUT: Final = Path("/run/out")
_FILTER_S: Final = 3.0
"""Emulated, a press is taken in long before."""
_PRESSES: Final = 3
_LIGHT_S: Final = 8.0
"""A press in a lead-in would end it: each is waited for well beyond one."""


def print_sheet(bench: Bench) -> None:
    """Give both lights by foot, end the service, and hand out what it kept."""
    bench.note(lights=LIGHTS, lead_in_ms=Timing().lead_in_ms)
    data = bench.folder / "data"
    take_in(_OUT, data)
    with served(bench, data) as service:
        with watched(bench):
            for number in range(1, len(LIGHTS) + 1):
                bench.press()  # the filter is in
                time.sleep(_FILTER_S)
                _press_for_light(bench, number)
                time.sleep(_FILTER_S)
        service.send_signal(signal.SIGTERM)
        bench.note(status=service.wait(30), level=bench.header.level(LAMP))
    give_out(data, _OUT)


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
