"""The laws of two lamp lines, of the room light and of the LED, over random evenings; and what breaks each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from tools.evenings import play
from tools.laws import (
    broken,
    each_filter_has_its_lamp,
    room_light_and_paper_are_kept_apart,
    the_led_is_dark_beside_paper,
)

from controller.daemon.runner import Runner
from controller.foot import sheet_changes as sheet_moves
from controller.foot import table as pedal
from controller.foot.state import Habits, State
from controller.foot.turn import Turn
from controller.store.entries import Intent, LightCame, RoomLit
from hardware.keeper.outlets import Outlets

EVENINGS = 90
EACH = 300
Patch = pytest.MonkeyPatch


def test_the_laws_hold_with_two_lamps_and_a_room_light() -> None:
    """Whatever is pressed, asked, opened or lost, no law is broken, and everything that the laws are about happens."""
    seen: Counter[str] = Counter()
    for seed in range(1, EVENINGS):
        history = play(seed, EACH, lines=True)
        assert not broken(history)
        assert history.journal is not None
        intents = {entry.light: entry for entry in history.journal.of(Intent)}
        for came in history.journal.of(LightCame):
            seen[f"{intents[came.light].light_kind} {intents[came.light].filter}"] += 1
        for room in history.journal.of(RoomLit):
            seen[f"room {'on' if room.on else room.why}"] += 1
        seen["led"] += len(history.led)
        seen["filter"] += sum(row.entry.kind == "filter" and row.entry.filter != "" for row in history.journal.rows)
    for what in ("step soft", "step hard", "focus ", "room on", "room foot", "room asked", "room lid", "led"):
        assert seen[what], f"{what} never happened in {seen}"
    assert not seen["filter"], "a filter was asked for"


def test_the_record_of_the_room_light_is_its_line_s() -> None:
    """Every switching of the room light is on file at the moment of its edge, but for what a lost keeper let go of."""
    for seed in range(1, 30):
        history = play(seed, EACH, lines=True)
        assert history.journal is not None
        filed = [(row.at_ns, row.on) for row in history.journal.of(RoomLit) if row.why != "keeper"]
        assert set(filed) <= set(history.room)
        assert [at for at, on in history.room if on] == [at for at, on in filed if on]


def always_the_soft_lamp(patch: Patch) -> None:
    patch.setattr(Habits, "lamp_of", lambda self, name: "soft")


def a_press_is_never_the_room_light_s(patch: Patch) -> None:
    patch.setattr(State, "in_room_light", lambda self, first_ns: False)
    patch.setattr(Turn, "wait_until", lambda self, at_ns: None)  # the second wall behind it


def an_open_sheet_is_not_told(patch: Patch) -> None:
    patch.setattr(Runner, "_tell_sheet", lambda self: None)
    real = Outlets.light

    def light(self: Outlets, *args: Any, **more: Any) -> None:
        real(self, *args, **more)
        self._sheet_open = False

    patch.setattr(Outlets, "light", light)
    start = Outlets.__init__

    def begin(self: Outlets, *args: Any, **more: Any) -> None:
        start(self, *args, **more)
        self._sheet_open = False

    patch.setattr(Outlets, "__init__", begin)


def no_wait_after_a_close(patch: Patch) -> None:
    real = sheet_moves.close_sheet

    def close(turn: Any, by: Any, at_ns: int) -> None:
        real(turn, by, at_ns)
        turn.state = replace(turn.state, room_from_ns=0)

    patch.setattr(pedal.move, "close_sheet", close)
    patch.setattr(pedal.page_acts, "close_sheet", close)


@pytest.mark.parametrize(
    ("change", "law"),
    [
        (always_the_soft_lamp, each_filter_has_its_lamp),
        (a_press_is_never_the_room_light_s, room_light_and_paper_are_kept_apart),
        (no_wait_after_a_close, room_light_and_paper_are_kept_apart),
        (an_open_sheet_is_not_told, the_led_is_dark_beside_paper),
    ],
)
def test_a_change_of_the_code_is_caught(
    change: Callable[[Patch], None], law: Callable[[Any], Any], monkeypatch: Patch
) -> None:
    """Each change that would let lamps, white light or LED at the paper breaks its law within an ordinary run."""
    change(monkeypatch)
    assert any(list(law(play(seed, EACH, lines=True))) for seed in range(1, EVENINGS))
