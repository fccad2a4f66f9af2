"""kill -9 of the daemon with a print in each tray: it counts as undeveloped, and white light waits for that."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import pytest
from tools.daemon_bench import SHORT, until
from tools.daemon_process import Daemon

from controller.foot.acts import Verb
from controller.foot.status import Status
from controller.practice.practice_scene import TraysPace
from controller.store.entries import Closed
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.tray_rows import TrayEntered
from controller.trays.process import USUAL, Process, TrayName, write_process
from hardware.clock import MonotonicClock
from hardware.practice.practice_darkroom import PracticeDarkroom

BY_TIME_NS = 300 * 1_000_000_000
"""So long white light waits after a close that nobody followed up: the design's five minutes."""
HURRY = 20
"""How many times faster than real the trays go where they are hurried."""
LOOK_S = 0.02
"""How often a print is looked for in a tray: no stay is nearly so short, and each look is a question to the daemon."""
LATE_NS = 500_000_000
"""How much later than it was a close may be on file."""
WIRING = "[lamp]\npin = 17\n[foot]\npin = 27\n[sounder]\npin = 18\n[room_light]\npin = 26\n"
WHITE: tuple[Verb, ...] = ("paper away", "ask focus", "room light on")
SHEET = json.dumps(
    {"format": "treadle/recipe/1", "title": "Wet", "light": [{"filter": "soft", "seconds": 0.4}], "local": []}
)


class Printer:
    """Works sheets by foot on whichever daemon is alive."""

    def __init__(self, folder: Path, process: Process) -> None:
        self.folder, self.process = folder, process
        (folder / "run").mkdir(parents=True)
        self.room = PracticeDarkroom(folder / "run")
        self.daemon = self._begin("hurried")
        self.daemon.ask(process=write_process(process))
        self.daemon.ask(act={"verb": "at the enlarger", "bench": {"support": process.support}})
        self.daemon.ask(save=SHEET)

    def _begin(self, pace: TraysPace) -> Daemon:
        return Daemon(self.folder, pace=pace, wiring=WIRING)

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

    def wait_in(self, way: Sequence[TrayName]) -> None:
        """Wait until a print lies in the last of these trays; a second wash is known by the tray before it."""
        for tray in way[-2:] if way[-1] in way[:-1] else way[-1:]:
            self._wait_in(tray)

    def _wait_in(self, tray: TrayName) -> None:
        def found() -> bool | None:
            return any(one.tray == tray for one in self.status().prints) or None

        until(found, 60, lambda: f"none is in {tray}", pause=LOOK_S)

    def kill_and_begin(self, pace: TraysPace) -> Status:
        """Have the daemon killed, and another one begun; return what it tells first."""
        self.daemon.kill()
        self.daemon.close()
        self.daemon = self._begin(pace)
        assert self.daemon.first is not None
        return self.daemon.first

    def refused(self, verb: Verb) -> str:
        """Return why an act is refused; empty where it is done."""
        self.daemon.ask(act={"verb": verb})
        return self.daemon.refusal

    def rows(self) -> list[tuple[int, object]]:
        journal = Journal.open(DataFolder(self.folder / "data").journal, MonotonicClock(), Stamp.here(), whole=False)
        try:
            return [(row.at_ns, row.entry) for row in journal.rows()]
        finally:
            journal.close()

    def on_file(self, number: int) -> tuple[int, list[str]]:
        """Return when the last sheet was closed, and which trays it came into, by the journal."""
        rows = self.rows()
        closed_ns = next(at for at, entry in reversed(rows) if isinstance(entry, Closed))
        return closed_ns, [entry.tray for _, entry in rows if isinstance(entry, TrayEntered) and entry.number == number]

    def close(self) -> None:
        self.daemon.close()
        self.room.close()


WASHED_SHORT = USUAL["FB"].model_copy(update={"wash_seconds": 60.0, "aid_seconds": 60.0, "wash_2_seconds": 60.0})
"""Two fixes, aid and two washes: usual figures but after the fix, where nothing hangs on them, so as to wait less."""
ALIKE: Final = 4
"""So many trays come first on either support, from the way there to the stop: they are tried on RC."""


@pytest.fixture
def process() -> Process:
    return USUAL["RC"]


@pytest.fixture
def printer(tmp_path: Path, by_real_time: None, process: Process) -> Iterator[Printer]:
    made = Printer(tmp_path, process)
    yield made
    made.close()


@pytest.mark.parametrize("process", [USUAL["RC"], pytest.param(WASHED_SHORT, marks=pytest.mark.long)], ids=["RC", "FB"])
def test_a_daemon_killed_with_a_print_in_any_tray_keeps_white_light_away(printer: Printer) -> None:
    """In whichever tray it was: nobody follows it any more, and white light waits as after a close by time.

    What was on file of it is there still, up to the tray that it was in; the page's word ends the guard for good.
    The trays are hurried up to the kill, and go as they go after it: no start is so slow that the guard is over.
    """
    way = [tray.name for tray in printer.process.trays]
    for at, tray in list(enumerate(way, 1))[ALIKE if printer.process.support == "FB" else 0 :]:
        number = printer.print_one()
        printer.wait_in(way[:at])
        found = printer.kill_and_begin("real")
        closed_ns, entered = printer.on_file(number)
        assert entered == way[:at]
        assert found.prints == ()
        assert found.white_from_ns is not None, f"killed in {tray}"
        assert abs(found.white_from_ns - closed_ns - BY_TIME_NS) < LATE_NS, f"killed in {tray}"
        assert found.white_refused
        assert found.day_refused
        assert not set(WHITE) & set(found.can)
        for verb in WHITE:
            assert printer.refused(verb), f"{verb}, killed in {tray}"
        printer.press(SHORT.hold_ms + 60)
        assert not printer.status().question, f"a hold asked for white light, killed in {tray}"
        told = printer.daemon.ask(act={"verb": "no paper in the trays"})
        assert told is not None
        assert told.white_from_ns is None
        assert not printer.refused("paper away")
        assert not printer.refused("room light on")
        again = printer.kill_and_begin("hurried")
        assert again.white_from_ns is None
        assert "paper away" in again.can


def test_the_guard_of_a_print_that_nobody_follows_ends_by_itself(printer: Printer) -> None:
    """Without a word of the printer's: white light is had once five minutes, here a quarter of one, have passed."""
    number = printer.print_one()
    printer.wait_in(["on its way"])
    found = printer.kill_and_begin("hurried")
    closed_ns, _ = printer.on_file(number)
    assert found.white_from_ns is not None
    assert abs(found.white_from_ns - closed_ns - BY_TIME_NS // HURRY) < LATE_NS
    while time.monotonic_ns() < found.white_from_ns - LATE_NS:
        assert printer.refused("paper away")
        time.sleep(0.2)
    until(lambda: printer.status().white_from_ns is None or None, 10)
    assert not printer.refused("paper away")
    assert not printer.refused("room light on")
