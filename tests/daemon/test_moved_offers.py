"""A new box of paper, or a lamp that has moved, is offered for each recipe at its next use: seen, taken, refused."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from tools.known_papers import known
from tools.virtual_darkroom import VirtualDarkroom, virtual_darkroom

from controller.daemon.offers import Next
from controller.errors import WrongMoment
from controller.foot import acts
from controller.paper.boxes import changed_speed
from controller.paper.paper import Box, Reciprocity
from controller.recipe.recipe import Recipe
from controller.store.entries import LampChecked
from controller.store.versions import Kept


@pytest.fixture
def room(tmp_path: Path) -> Iterator[VirtualDarkroom]:
    with virtual_darkroom(tmp_path / "one") as made:
        paper = made.desk.papers().keep(
            known().model_copy(update={"name": "paper one", "box": Box(label="A", dated=date(2026, 3, 1))})
        )
        change(made, paper=paper.id, paper_title="paper one", box="A")
        yield made


def change(room: VirtualDarkroom, **changes: object) -> None:
    room.desk.at_enlarger().change(room.status().number, **changes)


def crane(room: VirtualDarkroom) -> Kept:
    (kept,) = [kept for kept in room.desk.recipes().kept("recipe") if "crane" in kept.title.lower()]
    return kept


def load(room: VirtualDarkroom) -> None:
    kept = crane(room)
    room.desk.do(acts.Load(source=kept.id, version=kept.version), room.status().number)


def printed(room: VirtualDarkroom) -> None:
    load(room)
    for _ in range(60):
        if room.status().place == "finished":
            break
        room.press()
        room.run(40_000)
    room.press(1000)
    room.run(400_000)
    assert not room.status().open


def faster(room: VirtualDarkroom, box: str, soft: float, hard: float) -> None:
    """Read a new box: so many stops faster."""
    source = room.status().bench.paper
    papers = room.desk.papers()
    made = changed_speed(papers.fetch(source), Box(label=box, dated=date(2026, 11, 1)), soft, hard)
    papers.keep(made, source)


def offer(room: VirtualDarkroom) -> Next | None:
    found = room.desk.next().offer(room.status())
    return found if found is not None and found.offer.kind == "moved" else None


def lights(room: VirtualDarkroom) -> list[float]:
    recipe = room.desk.recipes().recipe(crane(room).id)
    assert isinstance(recipe, Recipe)
    return [float(light.seconds) for light in recipe.light]


def test_a_new_box_is_offered_at_the_next_use_and_taken(room: VirtualDarkroom) -> None:
    """Not before a sheet of the old box, not of itself; taken, the times follow and the check strip is loaded."""
    load(room)
    assert offer(room) is None
    printed(room)
    assert room.desk.record(room.status().closed_sheet).plan.bench.paper_version == 1  # type: ignore[union-attr]
    assert offer(room) is None
    faster(room, "B", 1 / 6, 1 / 6)
    change(room, box="B")
    assert lights(room) == [10.1, 8.0], "nothing changes by itself"
    found = offer(room)
    assert found is not None
    assert [(each.filter, each.after) for each in found.offer.changes] == [("soft", 9.0), ("hard", 7.1)]
    assert room.desk.next().of_recipe(crane(room).id, crane(room).version) == found
    room.desk.do(acts.TakeOffer(offer=found.key), room.status().number)
    assert lights(room) == [9.0, 7.1]
    plan = room.status().plan
    assert plan is not None
    assert plan.strip is not None
    assert plan.strip.filter == "soft"
    load(room)
    assert offer(room) is None, "it was carried over already"
    recipe = room.desk.recipes().recipe(crane(room).id)
    assert recipe.paper is not None
    assert recipe.paper.name == "paper one"


def test_on_a_paper_that_fails_in_long_light_the_times_that_are_shown_are_those_that_are_kept(
    room: VirtualDarkroom,
) -> None:
    """Half a stop slower at an exponent of 0.9 is 2^(0.5/0.9) of the time: 10.1 s are 14.8, and not 14.3."""
    papers, source = room.desk.papers(), room.status().bench.paper
    papers.set_reciprocity(source, Reciprocity(exponent=0.9, date=date(2026, 11, 30)))
    printed(room)
    faster(room, "B", -1 / 2, -1 / 2)
    change(room, box="B")
    found = offer(room)
    assert found is not None
    assert [(each.filter, each.after) for each in found.offer.changes] == [("soft", 14.8), ("hard", 11.8)]
    room.desk.do(acts.TakeOffer(offer=found.key), room.status().number)
    assert lights(room) == pytest.approx([14.8, 11.8], abs=0.05)


def test_it_may_be_refused_and_comes_back_with_another_box(room: VirtualDarkroom) -> None:
    """Refused, nothing changes and nothing is asked again; another box is another matter."""
    printed(room)
    faster(room, "B", 1 / 6, 1 / 6)
    change(room, box="B")
    found = offer(room)
    assert found is not None
    room.desk.do(acts.RefuseOffer(offer=found.key), room.status().number)
    assert offer(room) is None
    assert lights(room) == [10.1, 8.0]
    with pytest.raises(WrongMoment):
        room.desk.do(acts.TakeOffer(offer=found.key), room.status().number)
    change(room, box="C")
    unread = offer(room)
    assert unread is not None
    assert unread.moved is not None
    assert not unread.moved.box_known
    assert unread.offer.changes == ()
    printed(room)
    assert offer(room) is None, "a sheet was printed on it since"


def test_a_lamp_that_moved_is_offered(room: VirtualDarkroom) -> None:
    """A lamp check a sixth of a stop weaker than at the last sheet: a sixth more, taken from the recipe's review."""
    room.desk._answers.note(LampChecked(level=1000.0, sensor="s"))
    printed(room)
    room.desk._answers.note(LampChecked(level=990.0, sensor="s"))
    assert offer(room) is None
    room.desk._answers.note(LampChecked(level=1000.0 * 2 ** (-1 / 6), sensor="s"))
    found = room.desk.next().of_recipe(crane(room).id, crane(room).version)
    assert found is not None
    assert found.moved is not None
    assert {each.filter: each.stops for each in found.moved.stops} == {"soft": 1 / 6, "hard": 1 / 6}
    with pytest.raises(WrongMoment):
        room.desk.next().take_moved(crane(room).id, crane(room).version, "another", room.status().number)
    room.desk.next().take_moved(crane(room).id, crane(room).version, found.key, room.status().number)
    assert lights(room) == [11.3, 9.0]
    assert room.desk.next().of_recipe(crane(room).id, crane(room).version) is None


def test_while_a_sheet_is_open_nothing_is_offered(room: VirtualDarkroom) -> None:
    """An open sheet goes on as it was begun."""
    printed(room)
    change(room, box="B")
    assert offer(room) is not None
    for _ in range(6):
        if room.status().open:
            break
        room.press()
        room.run(4000)
    assert room.status().open
    assert room.desk.next().offer(room.status()) is None
    with pytest.raises(WrongMoment):
        room.desk.next().take_moved(crane(room).id, crane(room).version, "x", room.status().number)
