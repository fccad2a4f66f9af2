"""What can be seen in the simulated darkroom."""

from __future__ import annotations

from controller.model import Frozen


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
