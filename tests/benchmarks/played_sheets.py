"""Sheets of a darkroom's many years: recipes and strips by a dice, and what is filed when each is played by foot."""

from __future__ import annotations

import json
import random
from dataclasses import dataclass
from typing import Any, Final

from controller.daemon.world import World
from controller.foot.places import Finished, Gap, LeadIn, Light, Ready
from controller.foot.state import Habits, State, Work
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.recipe.plan import Plan
from controller.store.entries import Closed, Entry
from controller.store.rows import Row
from hardware.clock import ManualClock

MS: Final = 1_000_000
LONGEST_MS: Final = 600_000

KINDS: Final = (("split", 2), ("split", 5), ("split", 8), ("split", 12), ("strip", 7), ("strip", 9))
OFTEN: Final = (10, 25, 20, 15, 18, 12)
SHEET_SETUP: Final = {
    "paper": {"name": "paper one", "support": "RC", "size": "8x10 in"},
    "lens": {"focal_mm": 150, "aperture": 8},
    "head_height_mm": 620,
}


def recipe_text(kind: str, many: int, number: int, dice: random.Random) -> str:
    """Return a recipe's or strip's text; the steps of one kind are always the same, so that one played sheet fits."""
    if kind == "strip":
        times = {"kind": "stops", "centre": 12.0, "step": "1/3", "bands": many}
        strip = {
            "title": f"Strip {number:06d}",
            "filter": "2",
            "times": times,
            "card": "cover",
            "pace": "press",
            "template": "first",
        }
        return json.dumps({"format": "treadle/strip/1", **SHEET_SETUP, **strip})
    steps = random.Random(many)
    local = [
        {
            "area": chr(65 + n),
            "act": "burn",
            "filter": steps.choice(["soft", "hard"]),
            "stops": steps.choice(["1/4", "1/3", "1/2", "1"]),
            "what": steps.choice(["sky, card from the top edge", "the quay stones", "left bank, keep it moving"]),
        }
        for n in range(many)
    ]
    place = dice.choice(["harbour", "crane", "quarry", "orchard", "station", "bridge"])
    recipe: dict[str, Any] = {
        "title": f"Print {number:06d} of the {place}",
        "negative": {"name": f"roll {number // 36:04d} frame {number % 36:02d}", "format": "4x5"},
        "magnification": 2.0,
        "filters": {"soft": "00", "hard": "5"},
        "light": [{"filter": "soft", "seconds": 10.1}, {"filter": "hard", "seconds": 8.0}],
        "local": local,
    }
    return json.dumps({"format": "treadle/recipe/1", **SHEET_SETUP, **recipe})


@dataclass(frozen=True)
class Played:
    """A sheet as it was played once: its plan, and what was filed when, in ns after the first."""

    plan: Plan
    filed: tuple[tuple[int, Entry], ...]
    lasts_ns: int


class _Filing:
    """Notes what a world's performer files, and when."""

    def __init__(self, clock: ManualClock, filed: list[tuple[int, Entry]]) -> None:
        self._clock, self._filed = clock, filed

    def append(self, *entries: Entry) -> tuple[Row, ...]:
        """Note entries."""
        self._filed += [(self._clock.now_ns(), entry) for entry in entries]
        return ()


def play(kind: str, many: int, dice: random.Random, *, spoiled: bool = False) -> Played:
    """Play a sheet by foot in virtual time, to its end or until it is given up."""
    model = read_recipe(recipe_text(kind, many, 0, dice), "played", longest_ms=LONGEST_MS)
    plan = compile_any(model, source="played", version=1, longest_ms=LONGEST_MS)
    filed: list[tuple[int, Entry]] = []
    state = State(Ready(), Habits(), Work.fresh(plan), filter_in=plan.steps[0].filter, run="played", stop_down=False)
    world = World(state, lambda clock: _Filing(clock, filed))  # type: ignore[arg-type, return-value]

    def wait(ms: float) -> None:
        world.run_until(world.clock.now_ns() + round(ms * MS))

    def press(ms: float = 150) -> None:
        world.room.foot.feed(world.clock.now_ns(), True)
        wait(ms)
        world.room.foot.feed(world.clock.now_ns(), False)
        wait(61)

    wait(20_000)
    world.runner.ask_again(world.clock.now_ns())
    for turn in range(400):
        place = world.runner.state.place
        if world.keeper.lit or isinstance(place, LeadIn | Light | Gap):
            wait(400)
        elif isinstance(place, Finished) or (spoiled and turn > 40):
            press(900)  # held: close it; where it is asked for again, once more
            wait(1500)
            if not world.runner.state.sheet_open:
                break
        else:
            wait(1300 + dice.random() * 3000)
            press()
            wait(300)
    wait(3000)
    assert any(isinstance(entry, Closed) for _, entry in filed), f"the {kind} of {many} was never closed"
    first, last = filed[0][0], filed[-1][0]
    return Played(plan, tuple((at - first, entry) for at, entry in filed), last - first)
