"""Random evenings whose sheets go through trays: of any process, by clocks or by time, hurried or not.

The darkroom and its restless foot are those of `evenings`; here it minds the trays as well, at the worst moments.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from controller.foot import acts
from controller.foot.effects import Effect
from controller.foot.places import LeadIn, Light, is_dark
from controller.foot.state import Habits, State
from controller.recipe.at_enlarger import AtEnlarger
from controller.trays.journey import WAITS_NS
from controller.trays.process import Process, Support
from tools.evenings import Session
from tools.feet import MS
from tools.laws import History


class WetSession(Session):
    """A session with trays."""

    def __init__(self, seed: int, *, lines: bool = False) -> None:
        self.wet_dice = random.Random(-(10**7) - seed)
        super().__init__(seed, lines=lines)
        self.world.runner.watchers.changed = self._note_day

    def with_trays(self, habits: Habits) -> Habits:
        """Return the habits with random processes, or with five minutes (or fewer) in place of clocks."""
        dice = self.wet_dice
        return replace(
            habits,
            trays=dice.random() < 0.8,
            guard_without_trays=True,
            processes={"RC": _process("RC", dice), "FB": _process("FB", dice)},
            hurry=dice.choice([1, 1, 1, 4, 20]),
            room_after_close_ms=dice.choice([2000, 30_000, 60_000]),
        )

    def _note_day(self, before: State, after: State, _wanted: Sequence[Effect]) -> None:
        shown = [state.day_until_ns is not None for state in (before, after)]
        if shown[0] != shown[1]:
            self.history.day.append((self.world.clock.now_ns(), shown[1]))

    def _restart(self) -> None:
        """End the daemon and begin another: that one shows no day face, and nobody tells that it is gone."""
        super()._restart()
        if self.world.runner.state.day_until_ns is None and self.history.day and self.history.day[-1][1]:
            self.history.day.append((self.world.clock.now_ns(), False))

    def _misfortune(self) -> None:
        begun = self.at
        super()._misfortune()
        self.history.misfortunes.append((begun, self.at))

    def _change_at_enlarger(self) -> None:
        dice, now = self.enlarger_dice, self._arrive()
        support = dice.choice(["RC", "RC", "FB", ""])
        bench = AtEnlarger.model_validate({"negative_title": dice.choice(["", "crane"]), "support": support})
        before = self.world.runner.state.bench
        self.tell(acts.StandAtEnlarger(bench=bench))
        if self.world.runner.state.bench != before:
            self.stood.append((now, bench))

    def _gesture(self) -> None:
        if self.wet_dice.random() < 0.4:
            self._wet()
        else:
            super()._gesture()

    def _wet(self) -> None:
        """Do what belongs to the trays, or what must not be beside them."""
        dice, state = self.wet_dice, self.world.runner.state
        kinds = ["sheet", "press", "hold", "double", "white", "day", "tray", "light", "no paper"]
        match dice.choices(kinds, [6, 4, 3, 1, 4, 2, 2, 2, 0.5])[0]:
            case "sheet":
                self._whole_sheet()
            case "press":
                self._for(dice.choice([100, 2000, 2600, 6000]))
                self._foot(60, bounces=0)
            case "hold":
                self._for(dice.choice([1000, 10_000, 10_100, 11_000]))
                self._foot(self._hold_ms())
            case "double":
                self._foot(60, bounces=0)
                self._for(100)
                self._foot(60, bounces=0)
            case "white":
                self._want_white(state)
            case "day":
                self._arrive()
                self.tell(acts.PaperAway())
                if dice.random() < 0.5:
                    self.history.asks.append(self._arrive())
                    self.tell(acts.AskFocus())
                if self.lines:
                    self.history.room_asks.append(self._arrive())
                    self.tell(acts.RoomLightOn())
                self._for(dice.choice([100, 2500]))
            case "tray":
                dues = [until for print_ in state.prints if (until := print_.until_ns) is not None]
                if dues and min(dues) - self.at < 60_000 * MS:
                    self._pass_to(max(self.at + 1, min(dues) + dice.choice([-26, -25, -1, 0, 1]) * MS))
                self._foot(dice.choice([60, self._hold_ms()]), bounces=0)
            case "light":
                self.history.starts.append(self._arrive())
                self.tell(acts.StartStep())
                self._foot(60, bounces=0)
                self._for(dice.choice([2600, 5500]))
            case "no paper":
                self.history.no_paper.append(self._arrive())
                self.tell(acts.NoPaperInTrays())

    def _want_white(self, state: State) -> None:
        """Hold twice, so that the first hold falls about the moment from which white light may be had."""
        dice = self.wet_dice
        if self.at < state.white_from_ns < WAITS_NS and state.white_from_ns - self.at < 100_000 * MS:
            early = dice.choice([0, 0, 1, 400, 800, 801, 1600, 3000])
            self._pass_to(max(self.at + 1, state.white_from_ns - early * MS))
        hold = self.history.habits.timing.hold_ms
        for _ in range(2):
            self._foot(hold + 60, bounces=0)
            self._for(200)
        self._for(dice.choice([100, 3000]))

    def _whole_sheet(self) -> None:
        """Give what is loaded, whatever it is, and close it."""
        for _ in range(6):
            state = self.world.runner.state
            if not is_dark(state.place) or self.closed:
                break
            self._foot(60, bounces=0)
            self._for(1100)
            if isinstance(place := self.world.runner.state.place, LeadIn):
                self._pass_to(max(self.at + 1, place.start_ns + MS))
            if isinstance(self.world.runner.state.place, Light):
                self._for(self.world.runner.state.lit_ms + 600)
        self._for(600)
        for _ in range(2):
            self._foot(self.history.habits.timing.hold_ms + 60, bounces=0)
            self._for(150)


def _process(support: Support, dice: random.Random) -> Process:
    two = support == "FB" and dice.random() < 0.7
    return Process(
        support=support,
        developer_seconds=dice.choice([10.0, 14.0, 30.0]),
        factor=dice.choice([None, None, 2.5, 5.0]),
        drain_seconds=dice.choice([0.0, 3.0]),
        stop_seconds=dice.choice([0.0, 2.0]),
        fix_seconds=dice.choice([10.0, 16.0]),
        fix_2_seconds=8.0 if two else 0.0,
        rinse_seconds=dice.choice([0.0, 5.0]),
        wash_seconds=dice.choice([0.0, 20.0, 60.0]),
        aid_seconds=dice.choice([0.0, 4.0]),
        wash_2_seconds=dice.choice([0.0, 6.0]),
        least_fix_seconds=10.0,
        agitation_seconds=dice.choice([0.0, 1.0, 5.0]),
    )


def play_wet(seed: int, edges: int = 300, *, lines: bool = False) -> History:
    """Return the history of one session with trays."""
    return WetSession(seed, lines=lines).play(edges)
