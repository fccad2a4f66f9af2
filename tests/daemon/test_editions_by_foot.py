"""An edition of five, printed by foot: a whole darkroom in virtual time, numbers after looking, and a sixth print."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.virtual_darkroom import VirtualDarkroom, virtual_darkroom

from controller.editions.ledger import told
from controller.errors import Impossible, WrongMoment
from controller.foot import acts


@pytest.fixture
def room(tmp_path: Path) -> Iterator[VirtualDarkroom]:
    with virtual_darkroom(tmp_path / "one") as made:
        made.desk.at_enlarger().change(made.status().number, paper="", paper_title="paper one", box="A12")
        yield made


def printed(room: VirtualDarkroom, *, held_ms: int = 0) -> str:
    """Give every light of what is loaded, the first one held for so long where told, and close the sheet."""
    if held_ms:
        hold(room, held_ms)
    for _ in range(60):
        if room.status().place == "finished":
            break
        room.press()
        room.run(40_000)
    room.press(1000)
    room.run(12_000)
    assert not room.status().open
    return room.status().closed_sheet


def hold(room: VirtualDarkroom, after_ms: int) -> None:
    """Put the filter in, begin the first light, and stop it by foot after about so long."""
    for _ in range(4):
        if room.status().lit is not None:
            break
        room.press()
        room.run(5_000)
    assert room.status().lit is not None
    room.run(after_ms)
    room.press()
    room.run(3_000)
    assert room.status().place == "held"


def test_five_by_foot_are_one_to_five(room: VirtualDarkroom) -> None:
    """Five prints by foot, one of them held and finished, are each 0.000 off; the sixth is refused a number."""
    (crane,) = [kept for kept in room.desk.recipes().kept("recipe") if "crane" in kept.title.lower()]
    room.desk.do(acts.Load(source=crane.id, version=crane.version), room.status().number)
    sheets = [printed(room, held_ms=1_000 if number == 2 else 0) for number in range(6)]
    assert len(set(sheets)) == 6
    editions = room.desk.editions()
    with pytest.raises(WrongMoment, match="by day"):
        editions.begin(sheets[0], 5, 1)
    room.desk.do(acts.PaperAway(), room.status().number)
    edition = editions.begin(sheets[0], 5, 1)
    board = editions.board(edition)
    assert board.ready[0].sheet == sheets[-1]
    assert {each.alike.spread_stops for each in board.ready} == {0.0}
    given = [editions.give(edition, sheet, "keep", number) for number, sheet in enumerate(sheets[:5], 1)]
    assert [told(board.ledger.edition, one) for one in given] == ["1/5", "2/5", "3/5", "4/5", "5/5"]
    with pytest.raises(Impossible, match="All 5 numbers"):
        editions.give(edition, sheets[5], "keep", 6)
    assert told(board.ledger.edition, editions.give(edition, sheets[5], "proof", 1)) == "proof I"
    assert room.desk.record(sheets[2]).numbered is not None
    stock = editions.stock()
    assert [(box.box, box.closed, box.left) for box in stock.boxes()] == [("A12", 6, None)]
    cost = editions.cost(edition)
    assert (cost.sheets, cost.kept, cost.a_print) == (6, 6, None)
    room.desk.do(acts.PaperOut(), room.status().number)
    with pytest.raises(WrongMoment):
        editions.give(edition, sheets[5], "reject")


def test_five_by_foot_change_the_filter_five_times(room: VirtualDarkroom) -> None:
    """With the first filter in, five prints of two filters each change it once: the next begins with what is in.

    Worked by hand: soft, hard | hard, soft | soft, hard | hard, soft | soft, hard is five changes; always soft first
    would be nine.
    """
    (crane,) = [kept for kept in room.desk.recipes().kept("recipe") if "crane" in kept.title.lower()]
    room.desk.do(acts.Load(source=crane.id, version=crane.version), room.status().number)
    asked: list[str] = []
    lights: list[list[tuple[int, str]]] = []
    sheets: list[str] = []
    for _ in range(5):
        order: list[tuple[int, str]] = []
        for _ in range(60):
            if (status := room.status()).place == "finished":
                break
            if status.place == "change filter":
                asked.append(status.filter_wanted)
            elif status.place == "ready":
                assert status.next is not None
                order.append((status.next.number, status.next.filter))
            room.press()
            room.run(40_000)
        lights.append(order)
        room.press(1000)
        room.run(12_000)
        assert not room.status().open
        sheets.append(room.status().closed_sheet)
    assert asked == ["soft", "hard", "soft", "hard", "soft", "hard"]  # the first says what is in
    assert [[number for number, _ in order] for order in lights] == [
        [1, 2, 3, 4, 5],
        [3, 4, 5, 1, 2],
        [1, 2, 3, 4, 5],
        [3, 4, 5, 1, 2],
        [1, 2, 3, 4, 5],
    ]
    sums = {tuple((step.step.number, step.given_most_ms) for step in room.desk.record(sheet).steps) for sheet in sheets}
    assert len(sums) == 1  # in the recipe's order, the same light in each


def test_focus_light_has_the_next_sheet_begin_as_its_recipe(room: VirtualDarkroom) -> None:
    """After a sheet the hard filter is in, and the next begins with it; not once focus light has been made."""
    (crane,) = [kept for kept in room.desk.recipes().kept("recipe") if "crane" in kept.title.lower()]
    room.desk.do(acts.Load(source=crane.id, version=crane.version), room.status().number)
    printed(room)
    status = room.status()
    assert status.next is not None
    assert (status.place, status.next.number, status.next.filter) == ("ready", 3, "hard")
    room.run(400_000)
    for ms in (1000, 1000):
        room.press(ms)
        room.run(500)
    room.run(4000)
    assert room.status().place == "focus light"
    room.press()
    room.run(2000)
    status = room.status()
    assert status.next is not None
    assert (status.place, status.next.number, status.filter_wanted) == ("change filter", 1, "soft")


def test_a_burn_that_was_cut_short_is_withheld(room: VirtualDarkroom) -> None:
    """A print whose light was ended early and called given is off by its log2, and has no number without a word."""
    (crane,) = [kept for kept in room.desk.recipes().kept("recipe") if "crane" in kept.title.lower()]
    room.desk.do(acts.Load(source=crane.id, version=crane.version), room.status().number)
    whole = printed(room)
    hold(room, 1_000)
    room.desk.do(acts.CallGiven(), room.status().number)
    short = printed(room)
    room.desk.do(acts.PaperAway(), room.status().number)
    editions = room.desk.editions()
    edition = editions.begin(whole, 5, 0)
    (ready,) = [each for each in editions.board(edition).ready if each.sheet == short]
    assert ready.alike.why == "spread"
    (held,) = [step for step in room.desk.record(short).steps if step.called_given]
    off = math.log2(held.given_most_ms / held.step.planned_ms)
    assert off < -0.5
    assert ready.alike.spread_stops == pytest.approx(off, abs=0.001)
    with pytest.raises(Impossible, match="withheld"):
        editions.give(edition, short, "keep", 1)
