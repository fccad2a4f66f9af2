"""Foot traces for recipes and strips, and the command lines that replay them: what the golden replays are made from.

A double press while a light is on, or while a step is held, is in none of them: its cue is free to change.
"""

from __future__ import annotations

import json
from pathlib import Path
from random import Random
from typing import Any

from golden.front import EXAMPLES

Edges = list[list[Any]]
Tree = dict[str, Any]


def taps(*at_ms: int, ms: int = 150) -> Edges:
    """Return presses of one length."""
    return [edge for at in at_ms for edge in ([at, "down"], [at + ms, "up"])]


def hold(*at_ms: int) -> Edges:
    """Return holds."""
    return taps(*at_ms, ms=900)


def double(at_ms: int) -> Edges:
    """Return a double press."""
    return taps(at_ms, at_ms + 260)


def bounced(at_ms: int) -> Edges:
    """Return a press whose contact chatters as it closes and as it opens."""
    moves = [0, 3, 5, 9, 12, 150, 152, 156]
    return [[at_ms + move, "up" if number % 2 else "down"] for number, move in enumerate(moves)]


def _recipe(title: str, *light: tuple[str, float], local: list[Tree] | None = None, **more: object) -> Tree:
    bases = [{"filter": name, "seconds": seconds} for name, seconds in light]
    return {"format": "treadle/recipe/1", "title": title, "light": bases, "local": local or [], **more}


def _strip(title: str, times: Tree, pace: object = "press", card: str = "cover", **more: object) -> Tree:
    known = {"format": "treadle/strip/1", "title": title, "filter": "soft", "times": times, "card": card, "pace": pace}
    return {**known, **more}


ONE = _recipe("One", ("soft", 4.0))
BURN = {"area": "A", "what": "sky", "act": "burn", "filter": "soft", "stops": "1/2"}
TWO = _recipe("Two", ("soft", 4.0), ("hard", 3.0), local=[BURN])
SHEET = _recipe(
    "Three parts",
    ("soft", 8.0),
    local=[
        {"area": "A", "act": "dodge", "filter": "soft", "stops": "1/2"},
        {"area": "B", "act": "edge burn", "filter": "soft", "stops": "1/3", "edges": ["top", "left"]},
    ],
)
RUNNING = _recipe(
    "Running", ("soft", 9.0), local=[{"area": "A", "act": "dodge", "filter": "soft", "seconds": 3, "how": "running"}]
)
FLASH = _recipe("Flashed", ("soft", 4.0), flash={"seconds": 1.4, "filter": "soft", "way": "no negative"})
OPAL = _recipe("Opal", ("hard", 3.0), flash={"seconds": 1.0, "filter": "2", "way": "opal under the lens"})
DRY = _recipe("Dried down", ("2", 10.0), local=[{**BURN, "filter": "2"}], dry_down_percent=8)
LONG_ONE = _recipe("Long", ("2", 40.0))
LONG_TWO = _recipe("Long, and another", ("soft", 40.0), ("hard", 3.0))
EVEN = {"kind": "seconds", "step": 2.0, "bands": 4}
STOPS = {"kind": "stops", "centre": 6.0, "step": "1/2", "bands": 5}
BURNS = {"kind": "burn", "base": 5.0, "step": "1/3", "bands": 4}
RHYTHM = {"kind": "rhythm", "gap_seconds": 2.5}
STRIP = _strip("Four bands", EVEN)
RHYTHM_STRIP = _strip("In rhythm", EVEN, RHYTHM)
LONG_STRIP = _strip("One long light", STOPS, "long", "uncover")
LONG_COVER = _strip("One long light, covered", EVEN, "long")
UNDER = _strip(
    "Between two bases",
    BURNS,
    under=[{"filter": "soft", "seconds": 5.0}],
    after=[{"filter": "hard", "seconds": 3.0}],
)
WINDOW = _strip("Through a window", STOPS, RHYTHM, "window")


def _restless(seed: int, presses: int) -> Edges:
    """Return presses and holds at any moment, some of which chatter; never two so close that they are a double."""
    dice, at, edges = Random(seed), 0, []
    for _ in range(presses):
        length = (30, 60, 120, 150, 300, 700, 780, 820, 900, 1500)[int(dice.random() * 10)]
        bounce = int(dice.random() * 3)
        for _ in range(bounce):
            edges += [[at, "down"], [at + 2, "up"]]
            at += 4
        edges += [[at, "down"], [at + length, "up"]]
        at += length + 420 + int(dice.random() ** 3 * 9000)
    return edges


def _scenes() -> dict[str, tuple[Tree, Tree]]:
    """Return each scene's recipe or strip, and its feet."""
    sheet = [*taps(0), *hold(8000)]
    again = [[at + 20_000, level] for at, level in sheet]
    third = [[at + 40_000, level] for at, level in sheet]
    two = [*taps(0), *taps(10_000), *taps(18_000), *taps(24_000)]
    return {
        "nothing": (ONE, {"edges": []}),
        "whole sheet": (TWO, {"edges": [*two, *hold(34_000)]}),
        "stop by foot, and the remainder": (ONE, {"edges": [*taps(0, 4000, 8000, 15_000), *hold(25_000)]}),
        "stopped three times": (LONG_ONE, {"edges": taps(0, 12_000, 18_000, 26_000, 34_000, 45_000, 50_000)}),
        "remainder too short": (ONE, {"edges": [*taps(0, 5890), *taps(9000), *hold(16_000)]}),
        "called given by foot": (LONG_TWO, {"edges": [*taps(0, 40_500), *hold(46_000, 47_800), *taps(56_000)]}),
        "called given by foot, not said": (LONG_TWO, {"edges": [*taps(0, 40_500), *hold(46_000), *taps(54_000)]}),
        "called given by foot, a press": (
            LONG_TWO,
            {"edges": [*taps(0, 40_500), *hold(46_000), *taps(48_000, 52_000)]},
        ),
        "closed while stopped": (TWO, {"edges": [*taps(0, 4000), *hold(8000, 10_000), *taps(16_000)]}),
        "closing asked while stopped, a press": (TWO, {"edges": [*taps(0, 4000), *hold(8000), *taps(10_000, 16_000)]}),
        "closing asked while stopped, not said": (TWO, {"edges": [*taps(0, 4000), *hold(8000), *taps(20_000)]}),
        "held, and pressed on": (TWO, {"edges": [*taps(0), *hold(4000), *taps(9000), *taps(20_000)]}),
        "hold in light": (ONE, {"edges": [*taps(0), *hold(3000), *hold(9000), *taps(11_000), *hold(20_000)]}),
        "closed early": (TWO, {"edges": [*taps(0), *hold(8000), *hold(10_000), *taps(30_000)]}),
        "closing asked, not said": (TWO, {"edges": [*taps(0), *hold(8000), *taps(20_000), *hold(28_000)]}),
        "closed early by a press": (TWO, {"edges": [*taps(0), *hold(8000), *taps(10_000), *taps(30_000)]}),
        "closed early while stopped": (ONE, {"edges": [*taps(0, 4000), *hold(8000, 9600, 11_400, 13_500)]}),
        "double when ready": (ONE, {"edges": [*double(0), *taps(6000)]}),
        "double in a lead-in": (ONE, {"edges": [*taps(0), *double(800), *taps(8000)]}),
        "press in a lead-in": (ONE, {"edges": [*taps(0), *taps(1000), *taps(4000)]}),
        "hold in a lead-in": (ONE, {"edges": [*taps(0), *hold(700), *taps(4000)]}),
        "double between steps": (TWO, {"edges": [*taps(0), *double(9000), *taps(16_000)]}),
        "double at a change of filter": (TWO, {"edges": [*taps(0, 10_000), *double(18_000), *taps(30_000)]}),
        "double while settling": (TWO, {"edges": [*taps(0, 10_000, 18_000), *double(19_000), *taps(30_000)]}),
        "double when finished": (ONE, {"edges": [*taps(0), *double(9000), *hold(14_000)]}),
        "double at the question of closing": (TWO, {"edges": [*taps(0), *hold(8000), *double(10_000)]}),
        "double at the question of given": (LONG_TWO, {"edges": [*taps(0, 40_500), *hold(46_000), *double(48_000)]}),
        "double at the question of white light": (ONE, {"edges": [*hold(0), *double(2000)]}),
        "double in the warning": (ONE, {"edges": [*hold(0, 2000), *double(3600), *taps(9000)]}),
        "double in a gap": (RHYTHM_STRIP, {"edges": [*taps(0), *double(4400), *taps(9000)]}),
        "press in a gap": (RHYTHM_STRIP, {"edges": [*taps(0), *taps(4900), *taps(9000)]}),
        "double with hands asked": (OPAL, {"edges": [*double(0), *taps(6000), *taps(12_000)]}),
        "strip by presses": (STRIP, {"edges": [*taps(0, 6000, 12_000, 18_000), *hold(25_000)]}),
        "strip stopped": (STRIP, {"edges": taps(0, 6000, 8700, 13_000, 19_000, 25_000)}),
        "rhythm strip": (RHYTHM_STRIP, {"edges": [*taps(0), *hold(30_000)]}),
        "rhythm strip stopped": (RHYTHM_STRIP, {"edges": [*taps(0), *taps(7500), *taps(12_000), *hold(40_000)]}),
        "rhythm through a window": (WINDOW, {"edges": [*taps(0), *hold(80_000)]}),
        "long strip": (LONG_STRIP, {"edges": [*taps(0), *hold(30_000)]}),
        "long strip stopped": (LONG_STRIP, {"edges": [*taps(0), *taps(7000), *taps(14_000), *hold(40_000)]}),
        "long strip covered": (LONG_COVER, {"edges": [*taps(0), *hold(20_000)]}),
        "burns between two bases": (UNDER, {"edges": taps(*range(0, 90_000, 9000))}),
        "dodge in parts, edges": (SHEET, {"edges": [*taps(*range(0, 60_000, 12_000)), *hold(70_000)]}),
        "running dodge": (RUNNING, {"edges": [*taps(0), *taps(6000), *taps(12_000), *hold(30_000)]}),
        "running dodge whole": (RUNNING, {"edges": [*taps(0), *hold(30_000)]}),
        "flash": (FLASH, {"edges": [*taps(0, 6000, 12_000, 18_000, 24_000), *hold(34_000)]}),
        "flash through the opal": (OPAL, {"edges": taps(0, 6000, 12_000, 18_000, 24_000, 30_000)}),
        "dry-down": (DRY, {"edges": [*taps(0, 18_000), *hold(30_000)]}),
        "filter not known": (TWO, {"edges": taps(0, 4000, 12_000, 22_000, 30_000), "filter_in": None}),
        "another filter in": (TWO, {"edges": taps(0, 4000, 12_000, 22_000, 30_000), "filter_in": "hard"}),
        "soft filter in": (TWO, {"edges": taps(0, 10_000, 18_000, 26_000), "filter_in": "soft"}),
        "page's stop in light": (ONE, {"edges": [*taps(0, 9000)], "acts": [[3500, "stop"]]}),
        "page's stop in a lead-in": (ONE, {"edges": taps(0, 6000), "acts": [[900, "stop"]]}),
        "page's stop in a gap": (RHYTHM_STRIP, {"edges": taps(0, 12_000), "acts": [[5000, "stop"]]}),
        "page's stops in the dark": (ONE, {"edges": taps(2000), "acts": [[500, "stop"], [20_000, "stop"]]}),
        "page's stop in focus light": (ONE, {"edges": hold(0, 2000), "acts": [[8000, "stop"]]}),
        "lid open": (ONE, {"edges": taps(2000, 12_000), "lid": [[1000, "open"], [9000, "shut"]]}),
        "lid opened in light": (ONE, {"edges": taps(0, 14_000), "lid": [[3000, "open"], [9000, "shut"]]}),
        "lid opened in a lead-in": (ONE, {"edges": taps(0, 14_000), "lid": [[1000, "open"], [9000, "shut"]]}),
        "lid opened in a gap": (RHYTHM_STRIP, {"edges": taps(0, 14_000), "lid": [[4700, "open"], [9000, "shut"]]}),
        "lid opened in focus light": (ONE, {"edges": hold(0, 2000), "lid": [[6000, "open"]]}),
        "focus light by two holds": (ONE, {"edges": [*hold(0, 2000), *taps(20_000), *taps(30_000)]}),
        "focus light to its limit": (ONE, {"edges": hold(0, 2000)}),
        "focus light not said twice": (ONE, {"edges": [*hold(0), *taps(8000)]}),
        "white light refused with a sheet open": (TWO, {"edges": [*taps(0), *hold(9000, 10_200, 16_000, 18_000)]}),
        "three sheets": (ONE, {"edges": [*sheet, *again, *third]}),
        "second sheet spoiled": (TWO, {"edges": [*two, *hold(34_000), *taps(50_000, 56_000), *hold(64_000, 66_000)]}),
        "pressed too soon after a sheet": (ONE, {"edges": [*sheet, *taps(9900, 11_000, 14_000), *again]}),
        "presses in the waits": (ONE, {"edges": taps(0, 4000, 4600, 5200, 9000, 12_500, 13_100)}),
        "chattering contact": (TWO, {"edges": [*bounced(0), *bounced(4000), *bounced(9000), *bounced(18_000)]}),
        "too short to be a press": (ONE, {"edges": [*taps(0, ms=20), *taps(3000, ms=24), *taps(6000, ms=26)]}),
        "a foot that stays": (ONE, {"edges": [*taps(0, ms=14_000), *taps(20_000)]}),
        "down at the end": (ONE, {"edges": [*taps(0), [10_000, "down"]]}),
        "foot on the contact as it is due": (ONE, {"edges": [*taps(0), [1990, "down"], [2000, "up"]]}),
        **{f"restless {seed}": (TWO, {"edges": _restless(seed, 40)}) for seed in (1, 2, 3)},
        "restless on a strip": (STRIP, {"edges": _restless(4, 40)}),
        "restless in rhythm": (WINDOW, {"edges": _restless(5, 40)}),
        "restless with flash": (FLASH, {"edges": _restless(6, 40), "filter_in": None}),
        "restless with a page": (
            SHEET,
            {"edges": _restless(7, 40), "acts": [[at, "stop"] for at in range(5000, 120_000, 7300)]},
        ),
        "restless with a lid": (
            UNDER,
            {
                "edges": _restless(8, 40),
                "lid": [[at, "shut" if n % 2 else "open"] for n, at in enumerate(range(9000, 150_000, 6100))],
            },
        ),
    }


WAYS: dict[str, tuple[str, ...]] = {
    "as it is": (),
    "lag 0.12": ("--lag", "0.12"),
    "lead-in 1.2": ("--lead-in", "1.2"),
    "lead-in 3.5, lag 0.07": ("--lead-in", "3.5", "--lag", "0.07"),
}
OTHER_WAYS = frozenset(
    {
        *("whole sheet", "stop by foot, and the remainder", "stopped three times", "remainder too short"),
        *("called given by foot", "closed early", "press in a lead-in", "hold in a lead-in", "press in a gap"),
        *("rhythm strip stopped", "rhythm through a window", "long strip stopped", "burns between two bases"),
        *("running dodge", "flash through the opal", "dry-down", "filter not known", "page's stop in light"),
        *("lid opened in a lead-in", "focus light by two holds", "foot on the contact as it is due"),
    }
)
"""The scenes that are played in the other ways too; so is every example."""
EXAMPLE_FEET = {
    "crane.recipe.json": "crane.feet.json",
    "everything.recipe.json": "everything.feet.json",
    "everything.strip.json": "everything.feet.json",
    "proof.recipe.json": "proof.feet.json",
    "proof.strip.json": "proof-strip.feet.json",
    "hard.strip.json": "proof-strip.feet.json",
    "sky.strip.json": "proof-strip.feet.json",
    "thirds.strip.json": "proof-strip.feet.json",
}
"""Which trace each example is played against."""


def replays(folder: Path) -> dict[str, list[str]]:
    """Write every scene's files into `folder`; return the command of each replay by its name."""
    commands: dict[str, list[str]] = {}
    for number, (name, (tree, feet)) in enumerate(_scenes().items(), 1):
        played, trace = folder / f"{number}.{tree['format'].split('/')[1]}.json", folder / f"{number}.feet.json"
        played.write_text(json.dumps(tree), encoding="utf-8")
        trace.write_text(json.dumps({"format": "treadle/feet/1", **feet}), encoding="utf-8")
        for way, flags in WAYS.items():
            if not flags or name in OTHER_WAYS:
                commands[f"{name}: {way}"] = ["replay", str(played), "--feet", str(trace), *flags, "--json"]
    for example, trace_name in EXAMPLE_FEET.items():
        for way, flags in WAYS.items():
            files = [str(EXAMPLES / example), "--feet", str(EXAMPLES / trace_name)]
            commands[f"{example}: {way}"] = ["replay", *files, *flags, "--json"]
        commands[f"{example}: in words"] = ["replay", *files]
    return commands
