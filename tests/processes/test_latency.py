"""How soon it is dark: after STOP on a paired phone, with twenty event streams open, and after a foot."""

from __future__ import annotations

import json
import random
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT, until
from tools.daemon_bench import bench as darkroom_bench
from tools.daemon_process import Daemon, DaemonPhone
from tools.feet import MS
from tools.hands import Hand, work_together
from tools.witness import Witness

from controller.store.entries import Intent, LightCame
from hardware.practice.practice_darkroom import PracticeDarkroom

QUICK = {
    "lead_in_ms": 130,
    "hold_ms": 60,
    "double_ms": 20,
    "after_contact_ms": 60,
    "wait_after_plan_ms": 20,
    "wait_after_stop_ms": 20,
    "wait_after_cancel_ms": 20,
    "settle_ms": 50,
}
SHEET = json.dumps(
    {
        "format": "treadle/recipe/1",
        "title": "Stopped often",
        "light": [{"filter": "soft", "seconds": 29.0}],
        "local": [{"area": "A", "act": "burn", "filter": "soft", "seconds": 29.0}],
    }
)
STREAMS = 20


class Bench:
    """A daemon with pages, a phone that looks through twenty streams, and a foot."""

    def __init__(self, folder: Path, witness: Witness) -> None:
        self.witness = witness
        (folder / "run").mkdir(parents=True)
        self.room = PracticeDarkroom(folder / "run")
        self.daemon = Daemon(folder, web=True, timing=QUICK)
        self.daemon.ask(save=SHEET)
        self.phone = DaemonPhone(self.daemon)
        self.phone.look(STREAMS)
        self.dice = random.Random(4)

    def close(self) -> None:
        self.phone.close()
        self.daemon.close()
        self.room.close()

    def light(self) -> None:
        """Press as often as it takes, and return somewhere in a light."""
        time.sleep(0.09)  # the foot's last release must be known, and the waiting over
        for _ in range(50):
            if self.room.driven():
                break
            self.room.press(30)
            end = time.monotonic() + 0.25
            while not self.room.driven() and time.monotonic() < end:
                time.sleep(0.001)
        else:
            raise AssertionError(f"no light in fifty presses: {self.daemon.ask()}")
        time.sleep(0.003 + 0.03 * self.dice.random())

    def dark_after(self, at_ns: int) -> float:
        """Return how many ms after a moment the lamp line was driven dark, what the machine stood still taken off."""
        until(lambda: None if self.room.driven() else True, 5)
        edge = self.room.edges()[-1]
        assert not edge.lit
        return self.witness.late_ms(at_ns, edge.at_ns)

    def stopped_ms(self) -> float:
        self.light()
        return self.dark_after(self.phone.stop())

    def pressed_ms(self) -> float:
        self.light()
        return self.dark_after(self.room.press(30))


@pytest.fixture
def bench(tmp_path: Path, witness: Witness) -> Iterator[Bench]:
    opened = Bench(tmp_path, witness)
    yield opened
    opened.close()


def p99(figures: list[float]) -> float:
    return sorted(figures)[-(-99 * len(figures) // 100) - 1]


def hold_to(bench: Bench, count: int) -> tuple[list[float], list[float]]:
    """End so many lights by STOP and as many by foot; hold both to their figures."""
    stopped, pressed = [], []
    for _ in range(count):
        stopped.append(bench.stopped_ms())
        pressed.append(bench.pressed_ms())
    assert bench.phone.heard > STREAMS, "the event streams were silent"
    assert p99(stopped) < 100, sorted(stopped)[-5:]
    assert p99(pressed) <= 45, sorted(pressed)[-5:]
    return stopped, pressed


def test_dark_after_a_stop_and_after_a_foot(bench: Bench) -> None:
    """With twenty streams open: send to dark under 100 ms for STOP, contact to dark in 45 ms for a foot, at p99."""
    hold_to(bench, 70)


@pytest.mark.long
def test_dark_after_three_hundred_stops_and_three_hundred_feet(bench: Bench) -> None:
    """The same three hundred times."""
    stopped, pressed = hold_to(bench, 300)
    for name, figures in (("STOP", stopped), ("foot", pressed)):
        middle = sorted(figures)[len(figures) // 2]
        print(f"{name}: {middle:.1f} ms in the middle, {p99(figures):.1f} ms at p99, {max(figures):.1f} ms at most")


def test_stop_at_rest_is_harmless(bench: Bench) -> None:
    """STOP where nothing is lit or announced does nothing."""
    before = bench.daemon.ask()
    assert before is not None
    for _ in range(5):
        bench.phone.stop()
    after = bench.daemon.ask()
    assert after is not None
    assert after.place == before.place
    assert not bench.room.edges()


def test_short_is_short() -> None:
    """The bench's spans still outlast the contact's own."""
    assert SHORT.hold_ms > SHORT.down_closed_ms


# ---- planned ends


class Steps(Hand):
    """Gives the steps of sheets one after another in a darkroom of its own."""

    def __init__(self, folder: Path, count: int, witness: Witness, *, watched: bool) -> None:
        super().__init__(f"steps {folder.name}")
        self.folder, self.count, self.witness, self.watched = folder, count, witness, watched
        self.over_ms: list[float] = []
        self.realtime = False

    def work(self) -> None:
        with darkroom_bench(self.folder) as opened:
            self.realtime = opened.desk.status().realtime
            if self.watched:
                opened.desk.change_settings({"light_sensor": "tsl2591"})
            opened.load(*([0.1, 0.15, 0.7 if self.watched else 0.2] * 15))
            for _ in range(self.count):
                opened.begin_light()
                opened.wait_for("ready", "finished")
            rows = [row.entry for row in opened.rows()]
            ordered = {entry.light: entry.lit_ms for entry in rows if isinstance(entry, Intent)}
            facts = [entry for entry in rows if isinstance(entry, LightCame)]
            for fact, (on, off) in zip(facts, opened.lights(), strict=True):
                self.over_ms.append(self.witness.late_ms(on + ordered[fact.light] * MS, off))


@pytest.mark.parametrize("watched", [False, True])
def test_steps_get_what_was_planned(tmp_path: Path, witness: Witness, watched: bool) -> None:
    """With real-time priority light received is light planned within 2 ms in 99 of 100 steps, and 20 ms in all.

    So it is with the watch over the first half second running, which judges a third of them; half of them are within
    0.3 ms then.
    """
    rooms = [Steps(tmp_path / str(room), 34, witness, watched=watched) for room in range(3)]
    work_together(rooms)
    over = [ms for room in rooms for ms in room.over_ms]
    assert len(over) >= 100
    if all(room.realtime for room in rooms):
        assert p99([abs(ms) for ms in over]) <= 2, sorted(over)[-5:]
        assert max(abs(ms) for ms in over) <= 20, sorted(over)[-5:]
        assert sorted(abs(ms) for ms in over)[len(over) // 2] <= 0.3, sorted(over)
    else:  # no promise is made without it, but light never ends early
        assert min(over) > -1
