"""The keeper's outlets beside the lamp: safelight, room light, status LED and alive line, in virtual time.

An outlet's line is inactive at rest, in doubt and without a daemon, so letting go of everything is always right:

    safelight   inactive is light: a normally-closed contact. Active (dark) only while a lamp is lit, where wanted, and
                while a sheet is worked that is a test of what fogs paper
    room light  active is white light, for a lease of 2 s; never beside a lamp, an open sheet or an open box
    status LED  active is light: the keeper lives, no lamp is lit, and it has been told that no sheet is open
    alive       changes every 50 ms while a lamp is lit, from just before it is, and stands still otherwise
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from typing import Final

from hardware.clock import soonest
from hardware.errors import HardwareError
from hardware.lines.lines import Outlet
from hardware.wire import FromKeeper, RoomSwitched, Trouble, What
from hardware.wiring_tables import ALIVE, ROOM_LIGHT, SAFELIGHT, STATUS_LED

_log = logging.getLogger(__name__)

ALIVE_NS: Final = 50_000_000


class Outlets:
    """What of these is fitted, and how it stands. A line is set before anything is said of it."""

    def __init__(
        self,
        lines: Mapping[str, Outlet],
        lease_ns: int,
        say: Callable[[FromKeeper, int], None],
        *,
        safelight_dark_while_lit: bool,
    ) -> None:
        """Bring every outlet to rest; one that does not answer is told of by `greet`."""
        self._lines, self._lease_ns, self._say = lines, lease_ns, say
        self._safelight_dark = safelight_dark_while_lit
        self._failed: dict[str, bool] = {}
        """Outlets that did not answer, and whether the daemon knows."""
        self._sheet_open = True
        self._wanted_dark = False
        self._lit = False
        self._toggled = False
        self._toggle_ns = 0
        self._armed = self._wanted = False
        """The last word was off; and: on was the last, and nothing has ended it since."""
        self._until_ns = 0
        for name in lines:
            self._drive(name, False)
        self.room_light_on = ROOM_LIGHT in self._failed
        """Whether the room light is on, or may be."""

    def greet(self, now_ns: int) -> None:
        """Show that the keeper lives, and tell of what does not answer."""
        self._show()
        self._report_failure(now_ns)

    # ---- beside a lamp

    def before_light(self, now_ns: int) -> bool:
        """Make the alive line's first change; return whether light may follow: without that line it would not last."""
        self._toggled = False
        self._lit = self._toggle(now_ns)
        return self._lit

    def light(self, *, step: bool, now_ns: int) -> None:
        """Follow a lamp that was lit; a step's light opens a sheet, whoever else says so."""
        self._sheet_open = self._sheet_open or step
        self._show()
        self._report_failure(now_ns)

    def dark(self, now_ns: int) -> None:
        """Follow a lamp that was darkened."""
        self._lit = False
        self._drive(ALIVE, False)
        self._show()
        self._report_failure(now_ns)

    def sheet(self, open_: bool, now_ns: int, *, dark: bool = False) -> None:
        """Note whether a sheet is open, and whether it wants no safelight."""
        self._sheet_open, self._wanted_dark = open_, dark
        if open_:
            self.end_room_light("sheet", now_ns)
        self._show()
        self._report_failure(now_ns)

    # ---- time

    def advance(self, now_ns: int) -> bool:
        """Do what is due; return False where a light must end because its alive line does not answer."""
        if self.room_light_on and self._until_ns <= now_ns:
            self.end_room_light("lease", now_ns)
        return self._toggle(now_ns) if self._lit and ALIVE in self._lines and self._toggle_ns <= now_ns else True

    def due_ns(self) -> int | None:
        """Return when `advance` has something to do."""
        alive_ns = self._toggle_ns if self._lit and ALIVE in self._lines else None
        room_ns = self._until_ns if self.room_light_on else None
        return soonest((alive_ns, room_ns))

    # ---- the room light

    def ask_room_light(self, on: bool, refusal: str, now_ns: int) -> None:
        """Switch the room light as asked, or say why not; `refusal` is empty where there is none."""
        armed, self._armed = self._armed, not on
        if not on:
            self.end_room_light("asked", now_ns)
        elif why := self._refusal(refusal, armed=armed or self._wanted):
            if self._wanted:
                self.end_room_light(why, now_ns)
            else:
                self._say(RoomSwitched(False, now_ns, why), now_ns)
        elif self._wanted:
            self._until_ns = now_ns + self._lease_ns
        else:
            self.room_light_on = self._wanted = True
            self._until_ns = now_ns + self._lease_ns
            if self._drive(ROOM_LIGHT, True):
                self._say(RoomSwitched(True, now_ns, "asked"), now_ns)
            else:
                self.end_room_light("fault", now_ns)
            self._report_failure(now_ns)

    def _refusal(self, refusal: str, *, armed: bool) -> str:
        if ROOM_LIGHT not in self._lines:
            return "none"
        return "sheet" if self._sheet_open else refusal or ("" if armed else "late")

    def end_room_light(self, why: str, now_ns: int) -> None:
        """Switch the room light off, where it is on or may be; it stays off until it is asked for anew."""
        self._armed, self._wanted = self._armed and why == "asked", False
        if not self.room_light_on:
            return
        # one that does not go off keeps every lamp from being lit, and is tried again after another lease
        self.room_light_on, self._until_ns = not self._drive(ROOM_LIGHT, False), now_ns + self._lease_ns
        if not self.room_light_on:
            self._say(RoomSwitched(False, now_ns, why), now_ns)
        self._report_failure(now_ns)

    # ---- driving

    def _show(self) -> None:
        self._drive(SAFELIGHT, self._wanted_dark or (self._lit and self._safelight_dark))
        self._drive(STATUS_LED, not self._lit and not self._sheet_open)

    def _toggle(self, now_ns: int) -> bool:
        self._toggled, self._toggle_ns = not self._toggled, now_ns + ALIVE_NS
        return self._drive(ALIVE, self._toggled)

    def _drive(self, name: str, active: bool) -> bool:
        """Drive an outlet where it is fitted; return whether it answers."""
        if name not in self._lines:
            return True
        try:
            self._lines[name].set(active)
        except (HardwareError, OSError) as problem:
            if name not in self._failed:
                _log.warning("%s", problem)
            self._failed.setdefault(name, False)
            return False
        return True

    def _report_failure(self, now_ns: int) -> None:
        if not all(self._failed.values()):
            self._failed = dict.fromkeys(self._failed, True)
            self._say(Trouble(What.OUTLET, now_ns), now_ns)
