"""Keepers, and keepers with their parent, killed at random moments of lights, on lines that keep their level.

A practice line keeps its level when its owner dies, as a Pi's does, so every light here goes on until somebody comes.
"""

from __future__ import annotations

import os
import random
import signal
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from tools.hands import Hand, work_together
from tools.tether_bench import MS, Ear, hold_still, lit_parent, order, until
from tools.witness import Witness

from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.slate import Interrupted, interrupted
from hardware.tether.child import KeeperConfig, darken_apart
from hardware.tether.events import KeeperBack
from hardware.tether.tether import Tether
from hardware.wire import Lit

PARENTS_ORDER = "far"
"""The id of the order that `lit_parent` sends."""
LIT_MS = 100, 400
"""How long a light is ordered to be; dead in it, nobody ends it but who comes."""
RESCUE_MS = 1000
BRACKET_MS = 500


@dataclass
class Tally:
    """What many deaths came to."""

    rescue_ms: list[float] = field(default_factory=list)
    """From the kill to the dark edge, where a light was on; what the machine stood still is taken off, as below."""
    bracket_ms: list[float] = field(default_factory=list)
    """Most less least."""
    deaths: int = 0


class Undertaker(Hand):
    """Lets keepers die at random moments, by themselves or with their parent, and looks at what is left."""

    def __init__(self, folder: Path, seed: int, deaths: int, witness: Witness) -> None:
        super().__init__(f"undertaker {seed}")
        self.folder, self.dice, self.deaths, self.witness = folder, random.Random(seed), deaths, witness
        self.tally = Tally()

    def work(self) -> None:
        for number in range(self.deaths):
            runtime = self.folder / str(number)
            runtime.mkdir(parents=True)
            with PracticeDarkroom(runtime) as room:
                config = KeeperConfig({"kind": "practice", "runtime": str(runtime)}, runtime)
                (self._both if self.dice.random() < 0.5 else self._keeper)(config, room)
            self.tally.deaths += 1

    def _keeper(self, config: KeeperConfig, room: PracticeDarkroom) -> None:
        """A keeper dies; its tether lives and brings another, whose first act is dark."""
        ear = Ear()
        lit_ms = self.dice.randint(*LIT_MS)
        with Tether(config, ear) as tether:
            pid = tether.greeting.pid
            tether.send(order(lit_ms))
            if self.dice.random() < 0.9:
                ear.wait(Lit)
            time.sleep(self.dice.random() * (lit_ms / 1000 + 0.02))
            killed = self._kill(pid)
            back = ear.wait(KeeperBack)
            light = back.interrupted
            self._look(room, killed, lit_ms, light, back)
            if tether.greeting.pid == pid:
                self.wrong.append("the dead keeper is still the present one")

    def _both(self, config: KeeperConfig, room: PracticeDarkroom) -> None:
        """Both die at once; what the service manager runs afterwards darkens, and the next tether reads the slate."""
        lit_ms = self.dice.randint(*LIT_MS)
        with lit_parent(config, lit_ms) as (parent, pid):
            time.sleep(self.dice.random() * (lit_ms / 1000 + 0.02))
            hold_still(parent.pid)  # else it could bring the keeper back in between
            killed = self._kill(pid)
            parent.kill()
            parent.wait()
            if not darken_apart(config):
                self.wrong.append("the line is not known dark after both died")
        heard = Ear()
        with Tether(config, heard) as tether:
            # a keeper that was woken in between has begun the slate anew; the page then lies beside it
            found = next((page for page in tether.found if page.id == PARENTS_ORDER), None)
            light = interrupted(found, tether.greeting.at_ns, tether.greeting.boot) if found is not None else None
            # a hand that darkened has noted when, so that nothing but the page itself is needed
            if light is None and found is not None and found.dark_ns and found.why == "keeper":
                least_ns = max(0, found.last_pass_ns - found.on_ns)
                light = Interrupted(found.id, found.on_ns, least_ns, found.dark_ns - found.on_ns)
            self._look(room, killed, lit_ms, light, found)

    @staticmethod
    def _kill(pid: int) -> int:
        at = time.monotonic_ns()
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
        return at

    def _look(
        self, room: PracticeDarkroom, killed: int, lit_ms: int, light: Interrupted | None, page: object = None
    ) -> None:
        """Hold what the line did to what the slate told."""
        wrong = self.wrong
        if room.lit():
            wrong.append("the lamp is lit after the rescue")
            return
        lights = room.lights()
        if len(lights) > 1:
            wrong.append(f"{len(lights)} lights for one order")
        if not lights:
            if light is not None and light.least_ns > 0:
                wrong.append(f"no light, and the slate tells of at least {light.least_ns} ns")
            return
        (truth,) = lights
        assert truth.dark_ns is not None
        given_ns = truth.dark_ns - truth.on_ns
        off_plan = self.witness.late_ms(truth.on_ns + lit_ms * MS, truth.dark_ns)
        if truth.dark_ns < killed:
            # it ended by its plan before the death
            if abs(off_plan) > 20:
                wrong.append(f"ended before the death after {given_ns / MS} of {lit_ms} ms")
            return
        self.tally.rescue_ms.append(self.witness.late_ms(killed, truth.dark_ns))
        if light is None:
            if abs(off_plan) > 20:
                wrong.append(
                    f"lit {given_ns / MS} of {lit_ms} ms across the death, and the slate tells of none: {page}"
                )
            return
        # the line notes its own edge some microseconds after the keeper's moment
        if not light.least_ns - MS <= given_ns <= light.most_ns + MS:
            wrong.append(f"lit {given_ns / MS} ms, least {light.least_ns / MS}, most {light.most_ns / MS}")
        held_ms = self.witness.held_ms(truth.on_ns, truth.dark_ns)
        self.tally.bracket_ms.append((light.most_ns - light.least_ns) / MS - held_ms)


def die_many(folder: Path, deaths: int, witness: Witness, rooms: int = 2) -> Tally:
    """Let so many die, two at a time; nothing may be wrong, and most must have died in a light."""
    hands = [Undertaker(folder / str(room), 40 + room, -(-deaths // rooms), witness) for room in range(rooms)]
    work_together(hands)
    whole = Tally()
    for hand in hands:
        whole.rescue_ms += hand.tally.rescue_ms
        whole.bracket_ms += hand.tally.bracket_ms
        whole.deaths += hand.tally.deaths
    assert whole.deaths >= deaths
    assert len(whole.rescue_ms) >= deaths // 2, "too few died in a light"
    whole.rescue_ms.sort()
    whole.bracket_ms.sort()
    print(
        f"{whole.deaths} deaths, {len(whole.rescue_ms)} in a light: dark after "
        f"{whole.rescue_ms[len(whole.rescue_ms) // 2]:.0f} ms in the middle, {whole.rescue_ms[-1]:.0f} ms at most; "
        f"most less least {whole.bracket_ms[-1]:.0f} ms at most"
    )
    assert whole.rescue_ms[-1] <= RESCUE_MS
    assert whole.bracket_ms[-1] <= BRACKET_MS
    return whole


def test_three_hundred_deaths_at_random_moments(tmp_path: Path, witness: Witness) -> None:
    """Whoever dies whenever: dark within 1 s, one light for one order, least and most hold the truth within 0.5 s."""
    die_many(tmp_path, 300, witness)


@pytest.mark.long
def test_five_thousand_deaths_at_random_moments(tmp_path: Path, witness: Witness) -> None:
    """The same five thousand times."""
    die_many(tmp_path, 5000, witness)


def test_the_bench_sees_a_line_that_stays_lit(tmp_path: Path) -> None:
    """A keeper that dies with nobody to come leaves the lamp lit: what the rescue is for is really there."""
    with PracticeDarkroom(tmp_path) as room:
        config = KeeperConfig({"kind": "practice", "runtime": str(tmp_path)}, tmp_path)
        with lit_parent(config) as (parent, pid):
            hold_still(parent.pid)
            os.kill(pid, signal.SIGKILL)
            parent.kill()
            parent.wait()
        until(lambda: not room.owned())
        time.sleep(0.3)
        assert room.lit()
        assert darken_apart(config)
        assert not room.lit()
