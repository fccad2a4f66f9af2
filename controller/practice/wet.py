"""What is seen of the prints in the practice darkroom's trays: where each lies, and how far its image has come up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from controller.model import Frozen
from controller.picture.in_the_trays import APPEARS, GROWTH, appears_s, bath_of, development_of, share_at
from controller.picture.practice_papers import practice_paper
from controller.trays.process import USUAL
from hardware.clock import NS_PER_MS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from controller.foot.status import PrintNow
    from controller.picture.evidence import InTray
    from controller.practice.practice_scene import PracticeScene
    from controller.trays.process import TrayName

Where = Literal["develops", "stops", "fixes"]
_WHERE: Final[dict[TrayName, Where]] = {
    "developer": "develops",
    "drain": "develops",
    "stop": "stops",
    "fix": "fixes",
    "fix 1": "fixes",
    "fix 2": "fixes",
}


class Grows(Frozen):
    """How an image comes up: 1 − e^(−`growth`·(t − `shows_ms`)/`usual_ms`), t from `from_ms` of the daemon's clock.

    That, over what it is at t = `usual_ms`, times `reaches`, and no more than `reaches`, is its share.
    """

    from_ms: int
    shows_ms: float
    usual_ms: float
    growth: float = GROWTH
    appears: float = APPEARS
    reaches: float = 1.0


class Wet(Frozen):
    """A print in one of the three trays that are seen."""

    sheet: str
    where: Where
    share: float
    """Of its density, as it is seen now."""
    grows: Grows | None = None
    """In the developer alone."""


def wet_print(
    sheet: str, lies: PrintNow, trays: Sequence[InTray], scene: PracticeScene, hurry: int, now_ns: int
) -> Wet | None:
    """Return how a sheet's print is seen, which has come through `trays` so far; None in a tray that is not seen."""
    where = _WHERE.get(lies.tray)
    if where is None:
        return None
    support = practice_paper(scene.paper).support
    if lies.tray != "developer":
        return Wet(sheet=sheet, where=where, share=development_of(trays, support, scene.developer).share)
    celsius = next((each.celsius for each in reversed(trays) if each.tray == "developer"), None)
    bath = bath_of(scene.developer, celsius)
    within_s = max(0, now_ns - lies.entered_ns) / NS_PER_MS / 1000 * hurry
    return Wet(
        sheet=sheet,
        where=where,
        share=share_at(within_s, support, bath),
        grows=Grows(
            from_ms=lies.entered_ns // NS_PER_MS,
            shows_ms=1000 * appears_s(support, bath) / hurry,
            usual_ms=1000 * USUAL[support].developer_seconds / bath.rate / hurry,
            reaches=bath.reaches,
        ),
    )
