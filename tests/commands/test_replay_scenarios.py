"""Three sheets of one evening, replayed: a contact strip, an interrupted proof, and a split-grade sheet.

Source of the lamp tables: the project's acceptance scenarios (invented demo data, worked by hand). An edge that a
foot ended, and the end of its remainder, may lie 50 ms from the table, every other edge 5 ms.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from controller.commands.replay import Replay, play_recipe
from controller.recipe.files import read_feet, read_recipe

ROOT = Path(__file__).parents[2]
EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


@dataclass(frozen=True)
class Scenario:
    """A sheet: its files, the lamp's lights in seconds, which of their ends hang on a foot, and its closing."""

    recipe: str
    feet: str
    lamp: tuple[tuple[float, float], ...]
    by_foot: frozenset[int]
    closed_s: float
    planned_s: tuple[float, ...]


PROOF_STRIP = Scenario(
    "proof.strip.json",
    "proof-strip.feet.json",
    tuple((2.0 + 8 * band, 5.0 + 8 * band) for band in range(7)),
    frozenset(),
    56.8,
    (3.0,) * 7,
)
PROOF = Scenario("proof.recipe.json", "proof.feet.json", ((2.0, 9.4), (29.4, 34.0)), frozenset({0, 1}), 38.8, (12.0,))
CRANE = Scenario(
    "crane.recipe.json",
    "crane.feet.json",
    ((2.0, 12.1), (22.0, 32.1), (54.0, 55.7), (64.0, 70.3), (80.0, 82.0), (102.0, 104.7)),
    frozenset({4, 5}),
    110.8,
    (10.1, 10.1, 1.7, 6.3, 4.7),
)
SCENARIOS = {"contact strip": PROOF_STRIP, "interrupted proof": PROOF, "split-grade sheet": CRANE}


def told(scenario: Scenario) -> Replay:
    recipe = read_recipe((EXAMPLES / scenario.recipe).read_bytes(), scenario.recipe)
    feet = read_feet((EXAMPLES / scenario.feet).read_bytes(), scenario.feet)
    return play_recipe(recipe, feet, name=scenario.recipe).told


@pytest.mark.parametrize("scenario", SCENARIOS.values(), ids=SCENARIOS)
class TestScenarios:
    def test_the_lights_are_those_of_the_table(self, scenario: Scenario) -> None:
        """Every light is where the table has it: 5 ms at clean edges, 50 ms where a foot ended it."""
        lights = told(scenario).lights
        assert len(lights) == len(scenario.lamp)
        for number, (light, (on, off)) in enumerate(zip(lights, scenario.lamp, strict=True)):
            assert light.kind == "step"
            assert abs(light.on_ms - on * 1000) <= 5
            assert abs(light.off_ms - off * 1000) <= (50 if number in scenario.by_foot else 5)

    def test_the_parts_sum_to_the_plan(self, scenario: Scenario) -> None:
        """Each step's parts add up to its plan within 2 ms, as the lamp had it and as the record says."""
        made = told(scenario)
        (sheet,) = made.sheets
        assert [step.planned_ms for step in sheet.steps] == [round(s * 1000) for s in scenario.planned_s]
        for step in sheet.steps:
            lit = sum(light.off_ms - light.on_ms for light in made.lights if light.step == step.step)
            assert abs(lit - step.planned_ms) <= 2
            assert (step.given_ms, step.lit_ms) == (step.planned_ms, lit)

    def test_the_sheet_is_closed_by_its_hold(self, scenario: Scenario) -> None:
        """The sheet is complete and closed 0.8 s after the first contact of the closing hold."""
        (sheet,) = told(scenario).sheets
        assert (sheet.number, sheet.outcome, sheet.closed_ms) == (1, "complete", round(scenario.closed_s * 1000))


def test_the_early_press_waits() -> None:
    """The press one second after “the filter is in” says “wait” and starts nothing."""
    made = told(CRANE)
    assert [cue.at_ms for cue in made.cues if cue.cue == "wait"] == [49_025]
    assert not [light for light in made.lights if 49_000 <= light.on_ms < 54_000]


def test_the_stop_in_the_last_burn_is_a_foot_s_and_its_remainder_complete() -> None:
    """The last burn is stopped by foot 25 ms after the first contact, and completed afterwards: 2.025 + 2.675 s."""
    stopped, rest = told(CRANE).lights[-2:]
    assert (stopped.off_ms, stopped.why) == (82_025, "foot")
    assert (rest.off_ms - rest.on_ms, rest.why) == (2675, "complete")


def test_the_filter_is_asked_for_once_and_again_for_the_next_sheet() -> None:
    """One filter change in the sheet, two beats of low for hard; after it the soft one is asked for again."""
    cues = [(cue.cue, cue.at_ms) for cue in told(CRANE).cues if cue.cue.startswith("filter")]
    assert cues == [("filter hard", 32_800), ("filter soft", 111_500)]


def test_the_command_tells_the_same() -> None:
    """`treadle replay --json` prints the form `treadle/replay/1` with the same lights."""
    done = subprocess.run(
        [
            *(sys.executable, "treadle.py", "replay", str(EXAMPLES / CRANE.recipe)),
            *("--feet", str(EXAMPLES / CRANE.feet), "--json"),
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    body: dict[str, Any] = json.loads(done.stdout)
    assert set(body) == {"format", "lights", "cues", "sheets"}
    assert body["format"] == "treadle/replay/1"
    assert set(body["lights"][0]) == {"on_ms", "off_ms", "kind", "sheet", "step", "why"}
    assert body["lights"] == [light.model_dump() for light in told(CRANE).lights]
    assert {"at_ms", "cue"} <= set(body["cues"][0])
    assert body["sheets"][0]["closed_ms"] == 110_800
    assert set(body["sheets"][0]["steps"][0]) == {"step", "name", "filter", "planned_ms", "given_ms", "lit_ms"}
