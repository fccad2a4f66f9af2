"""Real processes for tests: a darkroom with its keeper, a foot, a meter, and evenings played in real time."""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from controller.daemon.darkroom import Darkroom
from controller.daemon.desk import Desk
from controller.errors import ControllerError
from controller.foot import acts
from controller.foot.state import Habits
from controller.foot.status import PlaceName, Status
from controller.lamp.check_plans import warm_plan
from controller.practice.practice_scene import TraysPace, keep_scene, read_scene
from controller.recipe.plan import Plan
from controller.store.entries import LightCame
from controller.store.folder import DataFolder
from controller.store.records import SheetRecord
from controller.store.rows import Row
from hardware.fitting import WIRING_NAME, Fitting, read_fitting
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.timing import Timing
from tools.feet import MS
from tools.foot_bench import BenchJournal
from tools.laws import History
from tools.short_spans import scaled

T = TypeVar("T")
_TRIES = 5
"""A busy machine may make a press so long that it is a hold, which takes back what it said."""
_BETWEEN_S = 0.07
_LIT_S = 0.6
SHORT = replace(
    scaled(0.05),
    lead_in_ms=180,
    hold_ms=100,
    double_ms=30,
    after_contact_ms=80,
    lease_ms=400,
    focus_limit_ms=1500,
    focus_last_ms=500,
    stuck_ms=700,
    after_close_ms=150,
    farthest_start_ms=6000,
    longest_light_ms=30_000,
)
"""Every span but the contact's own scaled short; those that a busy machine would break are a little longer."""


class Bench:
    """A darkroom on practice lines in a folder of its own."""

    def __init__(
        self,
        folder: Path,
        *,
        timing: Timing | None = SHORT,
        wiring: str = "",
        pace: TraysPace | None = "once",
        **settings: object,
    ) -> None:
        """`pace` is how fast the trays go; None: as the folder has it."""
        self.timing = timing or Timing()
        fitting = fit(folder, timing, wiring)
        if pace is not None:
            hurry_trays(folder / "data", pace)
        self.runtime = fitting.runtime
        self.darkroom = Darkroom(DataFolder(folder / "data"), fitting)
        self.room = PracticeDarkroom(self.runtime, lamps=tuple(fitting.wiring.lamps))
        try:
            self.darkroom.open()
        except BaseException:
            self.room.close()
            raise
        if settings:
            self.desk.change_settings(settings)

    @property
    def desk(self) -> Desk:
        """What a page would ask."""
        return self.darkroom.desk

    def close(self) -> None:
        self.darkroom.close()
        self.room.close()

    # ---- acts

    def load(self, *seconds: float, kind: str = "recipe", filters: tuple[str, ...] = ("soft",)) -> str:
        """Load a recipe of a base and burns of these lengths, or a rhythm strip of so many bands; return its id."""
        if kind == "recipe":
            first, *rest = seconds
            burn = {"area": "A", "act": "burn", "filter": filters[0]}
            tree: dict[str, Any] = {
                "format": "treadle/recipe/1",
                "title": "Bench",
                "light": [{"filter": f, "seconds": first} for f in filters],
                "local": [{**burn, "seconds": s} for s in rest],
            }
        else:
            tree = {
                "format": "treadle/strip/1",
                "title": "Bench strip",
                "filter": filters[0],
                "times": {"kind": "seconds", "step": seconds[0], "bands": len(seconds)},
                "card": "cover",
                "pace": {"kind": "rhythm", "gap_seconds": 1.5},
            }
        kept = self.desk.recipes().save(json.dumps(tree))
        self.do(acts.Load(source=kept.id))
        return kept.id

    def do(self, act: acts.Act) -> Status:
        """Carry an act out on the present snapshot."""
        return self.desk.do(act, self.desk.status().number)

    def try_to(self, act: acts.Act) -> bool:
        """Carry an act out; False where it is refused."""
        try:
            self.do(act)
        except ControllerError:
            return False
        return True

    # ---- foot and eye

    def press(self, ms: float = 35) -> int:
        """Press the foot switch for so long; return the moment of its first contact."""
        return self.room.press(ms)

    def hold(self) -> int:
        return self.press(self.timing.hold_ms + 30)

    def place(self) -> PlaceName:
        return self.desk.status().place

    def wait_for(self, *places: PlaceName, seconds: float = 20.0) -> Status:
        """Wait until things stand at one of these places."""
        return until(lambda: s if (s := self.desk.status()).place in places else None, seconds, self.place)

    def wait_lit(self, lit: bool = True, seconds: float = 20.0) -> None:
        until(lambda: self.room.driven() is lit or None, seconds, self.place)

    def rest(self, ms: float | None = None) -> None:
        """Wait until a press counts again."""
        time.sleep((self.timing.wait_after_stop_ms + 70 if ms is None else ms) / 1000)

    def washed(self, sheet: str) -> SheetRecord:
        """Wait until a closed sheet is out of its last tray, and return its record, which nothing changes any more."""
        return until(lambda: found if (found := self.desk.record(sheet)).trays[-1:] and found.trays[-1].ended else None)

    def get_ready(self) -> None:
        """Say that all is set up and the filter is in, and wait until everything is ready."""
        for _ in range(2 * _TRIES):
            if self.wait_for("set-up asked", "change filter", "ready", "held").place in ("ready", "held"):
                return
            self.rest()
            self.press()
            time.sleep((self.timing.settle_ms + 60) / 1000)
        self.wait_for("ready", "held")

    def begin_light(self) -> int:
        """Press until the present step's light is on; return its first contact."""
        for _ in range(_TRIES):
            self.get_ready()
            self.rest()
            first = self.press()
            with suppress(AssertionError):
                self.wait_for("light", seconds=self.timing.lead_in_ms / 1000 + 1.5)
                return first
        raise AssertionError(f"no press brought light: {self.place()}")

    def rows(self, after: int = 0) -> tuple[Row, ...]:
        with self.darkroom._journal.reader() as reader:
            return reader.rows(after=after)

    def lights(self, since_ns: int = 0) -> list[tuple[int, int]]:
        """Return the lamp line's lights since then, (on, off)."""
        edges = [edge.at_ns for edge in self.room.edges() if edge.at_ns >= since_ns]
        return list(zip(edges[::2], edges[1::2], strict=True))


def fit(folder: Path, timing: Timing | None, wiring: str = "") -> Fitting:
    """Return practice lines in `folder`, those that a wiring file of this text names where there is one."""
    data = folder / "data"
    data.mkdir(parents=True, exist_ok=True)
    if wiring:
        (data / WIRING_NAME).write_text(wiring, encoding="utf-8")
    found = read_fitting(data, {"RUNTIME_DIRECTORY": str(folder / "run")}, practice=True)
    return replace(found, timing=timing)


def hurry_trays(data: Path, pace: TraysPace) -> None:
    """Have the trays of the practice darkroom in this data folder go so fast."""
    keep_scene(data / "practice", read_scene(data / "practice").model_copy(update={"trays": pace}))


@contextmanager
def bench(
    folder: Path,
    *,
    timing: Timing | None = SHORT,
    wiring: str = "",
    pace: TraysPace | None = "once",
    **settings: object,
) -> Iterator[Bench]:
    """Give a darkroom, and close it in the end."""
    opened = Bench(folder, timing=timing, wiring=wiring, pace=pace, **settings)
    try:
        yield opened
    finally:
        opened.close()


def until(
    found: Callable[[], T | None],
    seconds: float = 20.0,
    told: Callable[[], object] = lambda: "nothing more is known",
    *,
    pause: float = 0.002,
) -> T:
    """Wait until something is there, and return it; look for it after each `pause`, in seconds."""
    end = time.monotonic() + seconds
    while (it := found()) is None:
        assert time.monotonic() < end, f"waited {seconds} s in vain: {told()}"
        time.sleep(pause)
    return it


def tread_until_lit(room: PracticeDarkroom, *presses_ms: float) -> None:
    """Tread so, and so again while it brings no light: a busy machine makes a press into a hold, and takes longer."""
    for _ in range(_TRIES):
        for ms in presses_ms:
            if not room.driven():
                room.press(ms)
                time.sleep(_BETWEEN_S)
        with suppress(AssertionError):
            until(lambda: room.driven() or None, _LIT_S)
            return
    raise AssertionError("no tread brought light")


# ---- random evenings in real time


class Evening:
    """A random history on a darkroom that is there already: feet, stops, acts of a page; then the judge's history."""

    def __init__(self, bench: Bench, seed: int, late_ns: int) -> None:
        self.bench, self.dice, self.seed, self.late_ns = bench, random.Random(seed), seed, late_ns
        self.raw: list[tuple[int, bool]] = []
        self.stops: list[int] = []
        self.starts: list[int] = []
        self.asks: list[int] = []
        self.checks: list[tuple[int, Plan]] = []
        self.put_down: list[int] = []

    def play(self, gestures: int) -> History:
        bench, dice = self.bench, self.dice
        after = bench.rows()[-1].number
        begun = time.monotonic_ns()
        lengths = [dice.choice([0.1, 0.15, 0.2, 0.3, 0.45]) for _ in range(dice.randint(1, 3))]
        bench.load(*lengths, filters=dice.choice([("soft",), ("soft",), ("soft", "hard")]))
        if dice.random() < 0.3:
            self._check()
        for _ in range(gestures):
            roll = dice.random()
            if roll < 0.45:
                self._print()
                continue
            self._sleep(dice.choice([5, 20, 66, 90, 140, 150, 180]) * (0.7 + 0.6 * dice.random()))
            if roll < 0.85:
                self._gesture()
            else:
                self._page()
        self._end()
        return self._history(begun, after)

    def _sleep(self, ms: float) -> None:
        time.sleep(ms / 1000)

    def _move(self, closed: bool) -> None:
        if self.bench.room.pressed() != closed:
            self.raw.append((self.bench.room.contact(closed), closed))

    def _foot(self, ms: float, bounces: int = 1) -> None:
        for level in (True, False):
            self._move(level)
            for _ in range(bounces if self.dice.random() < 0.3 else 0):
                for other in (not level, level):
                    self._sleep(1)
                    self._move(other)
            if level:
                self._sleep(ms)

    def _print(self) -> None:
        """Do what a printer would: what is asked for now; in a light, sometimes, stop it."""
        dice, timing = self.dice, self.bench.timing
        match self.bench.place():
            case "ready" | "held" | "change filter":
                self._sleep(timing.wait_after_stop_ms + 60)
                self._foot(32)
                self._sleep(dice.choice([70, timing.lead_in_ms - 30, timing.lead_in_ms + 60]))
            case "light" | "focus light":
                self._sleep(dice.choice([1, 30, 120]))
                self._foot(dice.choice([30, 35, timing.hold_ms + 15]))
            case "finished" | "close this sheet?" | "call it given?" | "white light?":
                self._foot(dice.choice([32, timing.hold_ms + 15, timing.hold_ms + 15]))
            case _:
                self._sleep(60)

    def _gesture(self) -> None:
        dice, hold = self.dice, self.bench.timing.hold_ms
        kind = dice.choices(["press", "hold", "two holds", "double", "chatter", "long"], [12, 3, 4, 2, 2, 1])[0]
        match kind:
            case "press":
                self._foot(dice.choice([28, 32, 40]))
            case "hold":
                self._foot(hold + 15)
            case "two holds":
                self._foot(hold + 15)
                self._sleep(dice.choice([70, 120, 200]))
                self._foot(hold + 15)
                self._sleep(dice.choice([20, 150, 400]))
            case "double":
                self._foot(28)
                self._sleep(dice.choice([20, 62, 90]))
                self._foot(28)
            case "chatter":
                for _ in range(dice.randint(3, 20)):
                    self._foot(dice.choice([1, 3, 8]), bounces=0)
                    self._sleep(dice.choice([1, 2, 10]))
            case "long":
                self._foot(dice.choice([200, 400, 800]))

    def _page(self) -> None:
        bench, dice, now = self.bench, self.dice, time.monotonic_ns()
        ways = ["stop", "start", "white", "given", "more", "no light", "close", "check"]
        match dice.choices(ways, [6, 4, 2, 1, 1, 1, 2, 3])[0]:
            case "stop":
                bench.desk.stop()
                self.stops.append(time.monotonic_ns())
            case "start":
                if bench.try_to(acts.StartStep()):
                    self.starts += [now, time.monotonic_ns()]
            case "white":
                if bench.try_to(acts.PaperAway()) and bench.try_to(acts.AskFocus()):
                    self.asks.append(time.monotonic_ns())
            case "given":
                bench.try_to(acts.CallGiven())
            case "more":
                bench.try_to(acts.MoreBurn(filter="soft", seconds=0.1, area="B"))
            case "no light":
                bench.try_to(acts.NoLight())
            case "close":
                self.put_down.append(now)
                bench.try_to(acts.CloseSheet())
            case "check":
                self._check()

    def _check(self) -> None:
        """Load a light that warms the lamp, and, sometimes, give it."""
        bench, dice, now = self.bench, self.dice, time.monotonic_ns()
        if not bench.try_to(acts.PaperAway()):
            return
        self.put_down.append(now)
        self.checks.append((now, warm_plan(bench.desk.settings().warm_up_seconds)))
        with suppress(ControllerError):
            bench.desk.lamp().begin_warm_up(bench.desk.status().number)
            if dice.random() < 0.7:
                self._print()
                self._sleep(dice.choice([30, 350]))

    def _end(self) -> None:
        """Lift the foot, make dark, and close what is open, so that the next evening begins with nothing."""
        bench = self.bench
        self._move(False)
        self._sleep(150)
        bench.desk.stop()
        self.stops.append(time.monotonic_ns())
        end = time.monotonic() + 10
        while (status := bench.desk.status()).open or status.question or status.stop_possible:
            assert time.monotonic() < end, status.place
            with suppress(ControllerError):
                bench.do(acts.CloseSheet())
            self._sleep(20)
        self._sleep(bench.timing.after_close_ms)

    def _history(self, begun: int, after: int) -> History:
        bench = self.bench
        table = bench.desk.settings()
        habits = Habits(
            timing=bench.timing,
            lag_ms=round(table.lamp_lag_seconds * 1000),
            start_from_phone=table.start_from_phone,
        )
        h = History(self.seed, habits, slow=True, late=self.late_ns, keepers=[begun])
        h.raw, h.stops, h.starts, h.asks = self.raw, self.stops, self.starts, self.asks
        h.checks, h.put_down = self.checks, self.put_down
        h.journal = BenchJournal(time.monotonic_ns, rows=list(bench.rows(after)))
        h.until = time.monotonic_ns()
        lights = bench.lights(begun)
        facts = sorted((c for c in h.journal.of(LightCame) if c.most_ns > 0), key=lambda came: came.on_ns)
        self.problems = _meter_and_record(h, lights, facts)
        h.lamp = [edge for came in facts for edge in ((came.on_ns, True), (came.on_ns + came.most_ns, False))]
        return h


def _meter_and_record(h: History, lights: list[tuple[int, int]], facts: list[LightCame]) -> list[str]:
    """Return where the light that an ideal lamp gave differs by 1 ms from what is on record."""
    if len(lights) != len(facts):
        return [f"seed {h.seed}: the lamp was lit {len(lights)} times, {len(facts)} are on record"]
    return [
        f"seed {h.seed}: lit {(off - on) / MS} ms, on record {came.most_ns / MS} ms"
        for (on, off), came in zip(lights, facts, strict=True)
        if abs((off - on) - came.most_ns) > MS or abs(on - came.on_ns) > MS or came.least_ns != came.most_ns
    ]
