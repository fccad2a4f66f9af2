"""How fast a half-hour session replays: `python tests/benchmarks/bench_replay.py`."""

from __future__ import annotations

import time

from machine import table

from controller.commands.replay import play_recipe
from controller.recipe.files import read_tree
from controller.recipe.foot_trace import FeetTrace

HALF_HOUR_MS = 1_800_000


def main() -> None:
    """Measure and print."""
    work = [{"area": "A", "act": "burn", "filter": "2", "seconds": 14.0} for _ in range(59)]
    tree = {
        "format": "treadle/recipe/1",
        "title": "Half an hour",
        "light": [{"filter": "2", "seconds": 14.0}],
        "local": work,
    }
    recipe = read_tree(tree, "half an hour")
    whole = [edge for at in range(0, HALF_HOUR_MS, 30_000) for edge in ((at, "down"), (at + 150, "up"))]
    restless = [edge for at in range(0, HALF_HOUR_MS, 1_500) for edge in ((at, "down"), (at + 150, "up"))]
    rows = []
    for name, edges in (("a press every 30 s", whole), ("a press every 1.5 s", restless)):
        feet = FeetTrace.model_validate({"edges": edges})
        begun = time.perf_counter()
        made = play_recipe(recipe, feet, name="half an hour").told
        rows.append((name, f"{time.perf_counter() - begun:.3f} s", f"{len(made.lights)} lights, {len(made.cues)} cues"))
    table("Half an hour replayed", rows)


if __name__ == "__main__":
    main()
