"""Evenings of a patient printer of composites: asks answered in time, lights mostly given whole, slips in between."""

from __future__ import annotations

from controller.foot.places import HandsAsked, LeadIn, Light, Settling
from hardware.clock import NS_PER_MS as MS
from tools.evenings import Session
from tools.laws import History


class Composing(Session):
    """A session in which every sheet asks for something, and is often worked to its end."""

    asking = 1.0

    def _gesture(self) -> None:
        if self.hands_dice.random() < 0.2:
            super()._gesture()
            return
        place = self.world.runner.state.place
        match place:
            case Settling():
                self._pass_to(max(self.at + 1, place.until_ns + MS))
            case LeadIn():
                self._pass_to(max(self.at + 1, place.start_ns + MS))
            case Light():
                share = 1.0 if self.hands_dice.random() < 0.7 else self.hands_dice.random()
                self._pass_to(max(self.at + 1, place.on_ns + round(self.world.runner.state.lit_ms * share) * MS + MS))
                self._for(1100)
            case HandsAsked() if self.hands_dice.random() < 0.2:
                self._foot(60, bounces=0)
                self._for(self.hands_dice.choice([50, 200, 400, 1500]))
                self._foot(self.hands_dice.choice([60, self._hold_ms()]), bounces=0)
            case _:
                self._foot(60 if self.hands_dice.random() < 0.9 else self._hold_ms(), bounces=0)


def compose(seed: int, edges: int = 300) -> History:
    """Return the history of one such session."""
    return Composing(seed).play(edges)
