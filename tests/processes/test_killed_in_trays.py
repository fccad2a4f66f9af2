"""kill -9 of the daemon with a print in each tray: it counts as undeveloped, and white light waits for that."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT, hurry_trays, until
from tools.daemon_process import Daemon

from controller.foot.status import Status
from controller.store.entries import Closed
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.tray_rows import TrayEntered
from controller.trays.process import USUAL
from hardware.clock import MonotonicClock
from hardware.practice.practice_darkroom import PracticeDarkroom

HURRY = 20
"""How many times faster than real the trays go here."""
BY_TIME_NS = 300 * 1_000_000_000 // HURRY
LATE_NS = 1_000_000_000
"""How much later than it was a close may be on file."""
SHEET = json.dumps(
    {"format": "treadle/recipe/1", "title": "Wet", "light": [{"filter": "soft", "seconds": 0.4}], "local": []}
)


class Printer:
    """Works sheets by foot on whichever daemon is alive."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "run").mkdir(parents=True)
        hurry_trays(folder / "data", "hurried")
        self.room = PracticeDarkroom(folder / "run")
        self.daemon = Daemon(folder)
        self.daemon.ask(act={"verb": "at the enlarger", "bench": {"support": "RC"}})
        self.daemon.ask(save=SHEET)

    def status(self) -> Status:
        status = self.daemon.ask()
        assert status is not None
        return status

    def press(self, ms: float = 40) -> None:
        self.room.contact(True)
        time.sleep(ms / 1000)
        self.room.contact(False)
        time.sleep(0.12)

    def print_one(self) -> int:
        """Give a sheet its light and close it; return its number."""
        number = None
        for _ in range(60):
            status = self.status()
            number = status.sheet_number or number
            match status.place:
                case "ready" | "change filter" | "held":
                    if number is not None and not status.open:
                        return number
                    time.sleep(SHORT.wait_after_stop_ms / 1000)
                    self.press()
                case "finished":
                    self.press(SHORT.hold_ms + 60)
                case _:
                    time.sleep(0.05)
        raise AssertionError(f"no sheet is closed: {self.status()}")

    def kill_and_begin(self) -> Status:
        self.daemon.kill()
        self.daemon.close()
        self.daemon = Daemon(self.folder)
        assert self.daemon.first is not None
        return self.daemon.first

    def rows(self) -> list[tuple[int, object]]:
        journal = Journal.open(DataFolder(self.folder / "data").journal, MonotonicClock(), Stamp.here(), whole=False)
        try:
            return [(row.at_ns, row.entry) for row in journal.rows()]
        finally:
            journal.close()

    def close(self) -> None:
        self.daemon.close()
        self.room.close()


@pytest.fixture
def printer(tmp_path: Path, by_real_time: None) -> Iterator[Printer]:
    made = Printer(tmp_path)
    yield made
    made.close()


@pytest.mark.parametrize("tray", [tray.name for tray in USUAL["RC"].trays])
def test_a_daemon_killed_with_a_print_in_a_tray_keeps_white_light_away(printer: Printer, tray: str) -> None:
    """In whichever tray it was: nobody follows it any more, and white light waits as after a close by time.

    What was on file of it is there still, up to the tray that it was in; the page's word ends the guard for good.
    """
    number = printer.print_one()
    until(lambda: [one for one in printer.status().prints if one.tray == tray] or None, 20)
    found = printer.kill_and_begin()
    rows = printer.rows()
    closed_ns = next(at for at, entry in rows if isinstance(entry, Closed))
    entered = [entry.tray for _, entry in rows if isinstance(entry, TrayEntered) and entry.number == number]
    assert entered[-1] == tray
    assert entered == [one.name for one in USUAL["RC"].trays][: len(entered)]
    assert found.prints == ()
    assert found.white_from_ns is not None
    assert abs(found.white_from_ns - closed_ns - BY_TIME_NS) < LATE_NS
    assert found.white_refused
    for verb in ("paper away", "ask focus"):
        assert printer.daemon.ask(act={"verb": verb}) is None
        assert printer.daemon.refusal
    told = printer.daemon.ask(act={"verb": "no paper in the trays"})
    assert told is not None
    assert told.white_from_ns is None
    told = printer.daemon.ask(act={"verb": "paper away"})
    assert told is not None
    assert told.day_until_ns is not None
    again = printer.kill_and_begin()
    assert again.white_from_ns is None
