"""What a practice page sees and hears of the simulated darkroom: the lamp, the drawer, the lid, and the cues."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from controller.sounding import notes_of, words_of

if TYPE_CHECKING:
    from controller.desk import Desk, PracticeDesk
    from controller.face import PracticeView
    from controller.status import Heard


class PracticeSight:
    """One page's look into the simulated darkroom; it tells only what is new."""

    def __init__(self, of: Desk, practice: PracticeDesk, heard: int) -> None:
        """Look from cue number `heard` on; below 0, from the present one on (a page does not play old sounds)."""
        self._desk = of
        self._practice = practice
        self._view: PracticeView | None = None
        self._heard = heard if heard >= 0 else max((cue.number for cue in of.heard(-1)), default=0)

    def all(self) -> dict[str, Any]:
        """Return everything that can be seen, and the cues since the last one."""
        self._view = None
        return {"heard_to": self._heard, **self.news()}

    def news(self) -> dict[str, Any]:
        """Return what changed since the last call; empty where nothing did."""
        told: dict[str, Any] = {}
        view = self._practice.view()
        if view != self._view:
            self._view = view
            told["view"] = view.model_dump(exclude={"lights"})
        heard = self._desk.heard(self._heard)
        if heard:
            self._heard = heard[-1].number
            told["heard"] = [_cue(cue) for cue in heard]
            told["heard_to"] = self._heard
        return told


def _cue(cue: Heard) -> dict[str, Any]:
    return {
        "number": cue.number,
        "words": words_of(cue.cue, cue.count),
        "at_ms": cue.at_ns // 1_000_000,
        "notes": notes_of(cue.cue, cue.count),
    }
