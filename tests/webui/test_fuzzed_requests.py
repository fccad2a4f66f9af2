"""Thousands of hostile requests to every route there is, while sheets are worked by the practice foot."""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from tools.asked_pages import Asked, Stores
from tools.foot_bench import BenchJournal
from tools.hostile import pictures, seed_of
from tools.hostile_requests import Requests
from tools.laws import History, broken
from tools.virtual_darkroom import MS, OF_A_PROCESS, START_NS, VirtualDarkroom, virtual_darkroom

from controller.errors import ControllerError
from controller.foot import acts
from controller.store.entries import Intent, LightCame
from hardware.practice.faults import PracticeFault
from webui.app import create_app

pytestmark = [
    pytest.mark.filterwarnings("default::UserWarning:PIL"),  # of damaged pictures: as it is in the daemon
    pytest.mark.filterwarnings("ignore:Unclosed file <tempfile.Spooled:ResourceWarning"),  # a form that breaks off
]
PASS_MS = (0, 1, 20, 60, 150, 150, 400, 900)
"""Between two requests: phones ask at once, and a light lasts for many of them."""
TURN_MS = 0.001
"""Before each request and each tread: a contact that is moved after a light that just came is dated after it."""
PHONES = 8
FEET = {PracticeFault.CONTACT_CHATTERS, PracticeFault.CONTACT_STUCK}
OFTEN_DONE = 0.06
DISTURBING = {f"/act/{kind}" for kind in ("close", "put-down", "call-given", "leave-out", "load", "paper-away")}
"""What ends a sheet, or goes on to the next: asked for seldom, or no light would ever come."""


class Fuzz:
    """A darkroom in virtual time, the app before it, its phones, and a printer's foot."""

    def __init__(self, room: VirtualDarkroom, seed: int) -> None:
        self.seed, self.dice = seed, random.Random(seed)
        self.room = room
        app = create_app(self.room.desk, hosts=["localhost", "127.0.0.1"])
        self.stores = Stores(room.data.path)
        self.ask = Requests(app, self.room.desk.key(), self.stores, self.dice)
        self.stops: list[int] = []
        self.asks: list[int] = []
        self.put_down: list[int] = []
        self.checks: list[tuple[int, object]] = []
        self.quiet = False
        self.ask.leave_out = self._left_out

    def begin(self) -> None:
        """Have phones paired, and every page known."""
        self._pair()
        self.ask.bring(*pictures())
        self._let_day_in()
        self.ask.all_routes()
        self.ask.learning = 0.3

    def close(self) -> None:
        self.ask.close()
        self.stores.close()

    def play(self, count: int) -> None:
        """Send so many requests, and tread in between where a foot is to tread."""
        for number in range(count):
            if number % 250 == 249:
                self._pair()
            self.room.run(TURN_MS)
            asked, status = self.ask.one()
            self.room.run(0)  # a contact that was moved is heard at once
            self._note(asked, status)
            self.room.run(self.dice.choice(PASS_MS) + TURN_MS)
            if not self.quiet and self.dice.random() < 0.3:
                self._tread()
            if number % 40 == 39 and not self.room.status().open:
                self._let_day_in()
            if len(self.ask.broken) > 20:
                return

    def _let_day_in(self) -> None:
        """Say that all paper is away: most pages are for the lit room."""
        self.ask.look("/now")
        self.ask.press("/act/paper-away")
        self.put_down.append(self.room.now_ns)

    def _left_out(self, path: str, fields: list[tuple[str, str]]) -> bool:
        """Tell what is not asked for: in the quiet what would be a foot, else what would change whose foot it is."""
        values = {value for _, value in fields}
        if path in DISTURBING or path == "/settings/phones/out":
            return not self.quiet and self.dice.random() > OFTEN_DONE
        if not self.quiet:
            return path in ("/settings", "/practice/fault") or path.startswith("/lamp/")
        if path in ("/practice/contact", "/act/start"):
            return True
        return path == "/practice/fault" and bool(values & (FEET | OF_A_PROCESS))

    def _pair(self) -> None:
        """Have enough phones: some may have been put out."""
        ask, desk = self.ask, self.room.desk
        ask.phones = [phone for phone in ask.phones if ask.look_as(phone, "/now").status == 200]
        while len(ask.phones) < PHONES:
            self.room.run(15_000)  # so many codes a minute may be tried
            ask.pair(desk.pairing().new_code())

    # ---- the foot

    def _tread(self) -> None:
        """Do what a printer would, and at times what one would not."""
        room, dice = self.room, self.dice
        hold_ms = room.darkroom._runner.state.habits.timing.hold_ms + 40
        match room.status().place:
            case "nothing chosen":
                if dice.random() < 0.2:
                    room.press(hold_ms)
                else:
                    self._load()
            case "light" | "focus light":
                if dice.random() < 0.1:
                    room.press(dice.choice((30, 35, hold_ms)))
            case "finished" | "close this sheet?" | "call it given?" | "white light?":
                room.press(dice.choice((35, hold_ms, hold_ms)))
            case "change filter" | "ready" | "held":
                room.press(dice.choice((30, 35, 35, 35, hold_ms)))
            case _:
                room.run(300)

    def _load(self) -> None:
        dice, desk = self.dice, self.room.desk
        lengths = [dice.choice((0.3, 0.7, 1.5, 4.0)) for _ in range(dice.randint(1, 3))]
        burns = [{"area": "A", "act": "burn", "filter": "soft", "seconds": each} for each in lengths[1:]]
        tree = {"light": [{"filter": "soft", "seconds": lengths[0]}], "local": burns, "title": "Fuzz"}
        times, pace = {"kind": "seconds", "step": lengths[0], "bands": 4}, {"kind": "rhythm", "gap_seconds": 1.5}
        rhythm = {"title": "Fuzz", "filter": "soft", "card": "cover", "times": times, "pace": pace}
        form = dice.choice(({"format": "treadle/recipe/1", **tree}, {"format": "treadle/strip/1", **rhythm}))
        with suppress(ControllerError):
            kept = desk.recipes().save(json.dumps(form))
            desk.do(acts.Load(source=kept.id), desk.status().number)
            self.put_down.append(self.room.now_ns)

    # ---- what the judge must know

    def _note(self, asked: Asked, status: int) -> None:
        now_ns, done = self.room.now_ns, status in (200, 303)
        path = asked.path.split("?")[0]
        if asked.method == "POST" and done:
            if path == "/stop":
                self.stops.append(now_ns)
            if path == "/act/ask-focus":
                self.asks.append(now_ns)
            if path.startswith(("/act/", "/lamp/")):
                self.put_down.append(now_ns)
        work = self.room.darkroom._runner.state.work
        if work is not None and work.check and (not self.checks or self.checks[-1][1] is not work.plan):
            self.checks.append((now_ns, work.plan))

    def end(self) -> None:
        """Make dark, and close what is open."""
        room = self.room
        room.room.contact(False)
        room.run(0)
        room.run(200)
        room.desk.stop()
        self.stops.append(room.now_ns)
        for _ in range(20):
            room.run(1000)
            if not (room.status().open or room.status().stop_possible):
                break
            with suppress(ControllerError):
                room.desk.do(acts.CloseSheet(), room.status().number)
        assert not room.status().open, room.status().place

    def history(self) -> History:
        """Return all that the judge of light may know."""
        room = self.room
        h = History(self.seed, room.darkroom._runner.state.habits, slow=False, keepers=[START_NS])
        h.raw, h.stops, h.asks, h.checks, h.put_down = (
            room.foot_edges(),
            self.stops,
            self.asks,
            self.checks,
            self.put_down,
        )
        h.lamps = list(room.room.edges())
        h.lamp = [(edge.at_ns, edge.lit) for edge in h.lamps]
        h.cues = room.cues
        h.journal = BenchJournal(lambda: 0, rows=list(self.rows()))
        h.until = room.now_ns
        return h

    def rows(self):
        with self.room.darkroom._journal.reader() as reader:
            return reader.rows()


@contextmanager
def fuzz(folder: Path, seed: int) -> Iterator[Fuzz]:
    """Give a fuzz in a folder of its own, and close it in the end."""
    with virtual_darkroom(folder) as room:
        made = Fuzz(room, seed)
        try:
            made.begin()
            yield made
        finally:
            made.close()


def dark_edges_off_plan(h: History) -> list[str]:
    """Return the lights that went by their plan to the end, and whose dark edge is 1 ms or more from it."""
    assert h.journal is not None
    intents = {intent.light: intent for intent in h.journal.of(Intent)}
    off = dict(h.lights)
    return [
        f"light at {came.on_ns}: dark {off[came.on_ns] - came.on_ns} ns after, {intents[came.light].lit_ms} ms planned"
        for came in h.journal.of(LightCame)
        if came.why == "complete" and abs(off[came.on_ns] - came.on_ns - intents[came.light].lit_ms * MS) >= MS
    ]


def held_to_the_laws(folder: Path, seed: int, count: int) -> set[str]:
    """Send half of them while sheets are worked by foot, half with no foot at all, and hold everything to its law.

    Return the routes that were never asked.
    """
    with fuzz(folder, seed) as it:
        it.play(count // 2)
        it.end()
        h = it.history()
        wrong = [*it.ask.broken, *broken(h), *dark_edges_off_plan(h)]
        lights = len(h.lights)
        it.quiet = True
        it.play(count - count // 2)
        intents = sum(isinstance(row.entry, Intent) for row in it.rows())
        wrong += it.ask.broken
        if len(it.room.room.edges()) != len(h.lamp) or intents != len(h.journal.of(Intent)):
            wrong.append("a light that no foot began")
        it.ask.broken = []
        for page in ("/", "/now", "/shelf", "/papers", "/sheets", "/settings", "/practice", "/health"):
            told = it.ask.look(page)
            if told.status not in (200, 409):
                wrong.append(f"afterwards {page} is answered {told.status}")
        wrong += it.ask.broken
        print(f"seed {seed}: {lights} lights, by status {dict(sorted(it.ask.statuses.items()))}", file=sys.stderr)
        assert not wrong, f"FUZZ_SEED={seed}, {len(wrong)} laws broken:\n" + "\n\n".join(dict.fromkeys(wrong[:20]))
        assert lights > count // 200, f"{lights} lights: the fuzz hardly met one"
        return {end for end in it.ask.app.view_functions if end not in it.ask.routes}


def test_hostile_requests(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """5,000 hostile requests: no mistake of ours, nothing kept by looking, no light but a foot's, each by its plan."""
    assert held_to_the_laws(tmp_path, seed_of(request, 1), 5000) == set()


@pytest.mark.long
def test_very_many_hostile_requests(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """The same for 100,000 of them."""
    seed = seed_of(request, 1)
    missed = [held_to_the_laws(tmp_path / str(part), seed + part, 5000) for part in range(20)]
    assert set.intersection(*missed) == set()
