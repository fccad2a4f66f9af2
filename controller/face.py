"""Small frozen models of the desk: what pages are shown beside the status and the records."""

from __future__ import annotations

from typing import Literal

from controller.sheet import Frozen


class SheetLine(Frozen):
    """A sheet in a session's list."""

    id: str
    number: int
    title: str
    kind: Literal["recipe", "strip"]
    outcome: Literal["complete", "spoiled", "open"]
    opened: str
    """Wall time as ISO text, or empty where the clock was not set."""
    given_ms: int
    planned_ms: int
    from_strip: str = ""
    """Id of the strip sheet whose pick made its recipe version."""


class SessionLine(Frozen):
    """An evening's work."""

    began: str
    sheets: tuple[SheetLine, ...]


class Health(Frozen):
    """What `/health` says to anyone."""

    ok: bool
    keeper: Literal["ready", "away", "fault"]
    practice: bool


class PracticeView(Frozen):
    """What can be seen in the simulated darkroom."""

    lit: bool
    contact_closed: bool
    filter_in_drawer: str
    lid_open: bool
    light_s: float
    """Full light received since the sheet was opened, through whatever was in the way."""
    outlets: tuple[tuple[str, bool], ...] = ()
    """What of safelight, room light and status LED is fitted, and whether it gives light."""
    lights: tuple[tuple[int, int], ...] = ()
    """The last lights: (on, dark) in monotonic ns."""
