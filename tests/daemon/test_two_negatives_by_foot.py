"""Two negatives on one sheet, worked by foot from the first ask to the record: a whole darkroom in virtual time."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tools.virtual_darkroom import VirtualDarkroom, virtual_darkroom
from tools.written_files import text_of, tree_of

from controller.commands.replay import play_recipe
from controller.foot import acts
from controller.recipe.files import KEEPS, read_recipe
from controller.recipe.foot_trace import FeetTrace
from webui.pages.record import lines_of
from webui.pages.review import look_at

ASKED = [
    (1, "sky mask in"),
    (1, "carrier A in, check registration"),
    (6, "change to the clouds"),
    (6, "sky mask out, shore mask in"),
    (0, "pencil mark on the rebate"),
    (0, "mask N, shore mask: out"),
]


@pytest.fixture
def room(tmp_path: Path) -> Iterator[VirtualDarkroom]:
    with virtual_darkroom(tmp_path / "one") as made:
        yield made


def worked(room: VirtualDarkroom) -> tuple[str, list[str]]:
    """Press until the sheet is finished, close it, and return it with every sentence that asked for the hands."""
    said = []
    for _ in range(60):
        status = room.status()
        if status.place == "finished":
            break
        if status.place == "hands asked":
            assert status.ask is not None
            said.append(status.headline)
        room.press()
        room.run(40_000)
    room.press(1000)
    room.run(12_000)
    assert not room.status().open
    return room.status().closed_sheet, said


def test_a_composite_from_end_to_end(room: VirtualDarkroom) -> None:
    """Each ask is said as a sentence and answered by a press; the record has the lights and the asks."""
    kept = room.desk.recipes().save(text_of("two-negatives.recipe.json"))
    room.desk.do(acts.Load(source=kept.id, version=kept.version), room.status().number)
    while room.status().place != "hands asked":  # whatever else stands before it
        room.press()
        room.run(5_000)
    assert room.status().headline == "Sky mask in, then press."
    sheet, said = worked(room)
    record = room.desk.record(sheet)
    assert record.outcome == "complete"
    assert [(row.step, row.ask.words) for row in record.hands] == ASKED
    assert said == [f"{words[:1].upper()}{words[1:]}, then press." for _, words in ASKED]
    assert [(step.step.carrier, step.given_most_ms) for step in record.steps] == [
        *(("A", 12_000), ("A", 5_000), ("A", 2_300), ("A", 1_100), ("A", 4_400)),
        ("B", 9_500),
    ]
    again, _ = worked(room)
    assert [step.given_most_ms for step in room.desk.record(again).steps] == [s.given_most_ms for s in record.steps]
    lines = lines_of(record)
    assert "hole over the rocks, turn it slowly" in lines[1].said
    assert "hole C, small hole" in lines[1].said


def test_its_review_says_what_is_asked_where(room: VirtualDarkroom) -> None:
    """The rows of the review are the asks and the steps in the order in which they will come."""
    text = text_of("two-negatives.recipe.json")
    look = look_at(room.desk.recipes().review(text), read_recipe(text, "two"))
    rows = [(row.kind, row.words) for row in look.rows]
    assert rows[:3] == [
        ("ask", "sky mask in · mask M, sky mask: in"),
        ("ask", "carrier A in, check registration"),
        ("ask", "soft goes in first"),
    ]
    assert rows[-2:] == [("ask", "pencil mark on the rebate"), ("ask", "mask N, shore mask: out")]
    assert ("ask", "change to the clouds · carrier B in, check registration") in rows
    burn = next(row for row in look.rows if row.letter == "C")
    assert burn.small == "soft · +1/2 · hole C, small hole · hole over the rocks, turn it slowly"


def test_a_search_finds_a_tool_and_an_ask() -> None:
    """What is written for the hands is looked through as notes are."""
    (recipes,) = [kind for kind in KEEPS.things if kind.kind == "recipe"]
    words = recipes.words(text_of("two-negatives.recipe.json"))
    assert all(each in words for each in ("shore mask", "pencil mark", "turn it slowly"))


# ---- replays


def replayed(edges: list[list[Any]], tree: dict[str, Any]) -> Any:
    feet = FeetTrace.model_validate({"edges": edges})
    return play_recipe(read_recipe(json.dumps(tree), "two"), feet, name="two").told


def taps(*at_ms: int) -> list[list[Any]]:
    return [edge for at in at_ms for edge in ([at, "down"], [at + 150, "up"])]


def test_a_replay_answers_asks_by_presses() -> None:
    """A trace presses for each ask as for each light; without those presses there is no light."""
    tree = tree_of("two-negatives.recipe.json") | {"local": [], "hands": [{"before": 1, "words": "sky mask in"}]}
    tree["light"] = [{"filter": "soft", "seconds": 3, "carrier": "A"}, {"filter": "soft", "seconds": 4, "carrier": "B"}]
    # mask, carrier A, light of 3 s, carrier B, light of 4 s, mask out; then held for a close
    feet = [*taps(0, 4000, 8000, 15_000, 19_000, 27_000), [32_000, "down"], [33_000, "up"]]
    told = replayed(feet, tree)
    assert [(light.on_ms, light.off_ms) for light in told.lights] == [(10_000, 13_000), (21_000, 25_000)]
    assert [(sheet.outcome, sheet.closed_ms) for sheet in told.sheets] == [("complete", 32_800)]
    assert [step.given_ms for step in told.sheets[0].steps] == [3000, 4000]
    # the first was answered before it sounded; the last is the next sheet's first
    assert [cue.cue for cue in told.cues if cue.cue in ("dodger in", "dodger out", "hands")] == [
        *("hands", "hands", "dodger out", "dodger in")
    ]
    none = replayed(taps(0, 4000), tree)
    assert none.lights == ()
    assert none.sheets == ()


def test_a_spread_knows_nothing_of_steps_without_light() -> None:
    """Two sheets with the same asks and lights are alike; a light left short is off by its own log2."""
    tree = tree_of("two-negatives.recipe.json") | {"local": [], "hands": [], "tools": []}
    tree["light"] = [{"filter": "soft", "seconds": 3, "carrier": "A"}]
    one = [*taps(0, 4000), [12_000, "down"], [13_000, "up"]]
    two = [[at + 30_000, level] for at, level in one]
    assert [sheet.spread_stops for sheet in replayed([*one, *two], tree).sheets] == [None, 0.0]
