"""Every time span that a foot, a lamp or a question is held to, in one frozen table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from hardware.errors import TimingError

SILENT_LEAD_IN_MS: Final = 4000
"""The lead-in where no sounder works."""


@dataclass(frozen=True, slots=True)
class Timing:
    """The spans, in milliseconds.

    The keeper takes the table when it starts and no message changes it. Spans count from the first
    contact of a press and from the opening edge of a release unless a field says otherwise.
    """

    down_closed_ms: int = 25
    """Closed for this long within `down_window_ms` is a foot-down."""
    down_window_ms: int = 60
    up_open_ms: int = 60
    """Open for this long on end is a foot-up; the contact is then at rest."""
    rest_wait_ms: int = 100
    """How long a light that is due waits for the contact to come to rest before it is cancelled."""
    hold_ms: int = 800
    double_ms: int = 350
    """The next first contact within this of a short press's release makes a double."""
    lead_in_ms: int = 2000
    after_contact_ms: int = 1200
    """No light comes on sooner than this after any first contact."""
    wait_after_plan_ms: int = 500
    """Presses start nothing for this long after a light that ended by plan."""
    wait_after_stop_ms: int = 1000
    """Presses start nothing for this long after a light that ended any other way."""
    wait_after_cancel_ms: int = 400
    settle_ms: int = 3000
    question_ms: int = 5000
    reminder_ms: int = 20000
    warning_ms: int = 2000
    beat_ms: int = 5000
    focus_limit_ms: int = 300_000
    focus_last_ms: int = 10_000
    lease_ms: int = 2000
    """Open light goes dark when nobody has renewed it for this long."""
    longest_light_ms: int = 600_000
    gap_floor_ms: int = 1500
    stuck_ms: int = 10_000
    after_close_ms: int = 10_000
    farthest_start_ms: int = 6000
    """An order may not ask for light further ahead than this."""

    def announced_ms(self, *, sounder: bool) -> int:
        """Return the span from a press to its light: longer where no sounder works, since there is only the clock."""
        return self.lead_in_ms if sounder else max(self.lead_in_ms, SILENT_LEAD_IN_MS)

    def checked(self, *, practice: bool) -> Timing:
        """Return the table itself where every span keeps its floor and ceiling.

        With practice lines the gestures may be scaled short for tests; the contact's own spans never.

        Raises:
            TimingError: names the span and its limits.
        """
        for name, (least, most) in _LIMITS.items():
            value = getattr(self, name)
            floor = 1 if practice and name not in CONTACT else least
            if not floor <= value <= most:
                raise TimingError(f"{name} is {value}, and must lie between {floor} and {most}")
        if self.lead_in_ms < self.hold_ms + self.double_ms + 50:
            raise TimingError(
                f"lead_in_ms is {self.lead_in_ms}: a lead-in must outlast hold, double and 50 ms, "
                f"{self.hold_ms + self.double_ms + 50} ms in all"
            )
        return self


CONTACT = frozenset({"down_closed_ms", "down_window_ms", "up_open_ms", "rest_wait_ms"})
"""The contact's own spans, which are the same with practice lines."""

MOST_LIGHT_MS: Final = 900_000
"""No longer exposure can be set as the longest."""
_LIMITS: dict[str, tuple[int, int]] = {
    "down_closed_ms": (25, 25),
    "down_window_ms": (60, 60),
    "up_open_ms": (60, 60),
    "rest_wait_ms": (100, 100),
    "hold_ms": (800, 1500),
    "double_ms": (350, 350),
    "lead_in_ms": (1200, 5000),
    "after_contact_ms": (1200, 1200),
    "wait_after_plan_ms": (500, 5000),
    "wait_after_stop_ms": (1000, 5000),
    "wait_after_cancel_ms": (400, 5000),
    "settle_ms": (1000, 10_000),
    "question_ms": (5000, 5000),
    "reminder_ms": (20_000, 60_000),
    "warning_ms": (2000, 5000),
    "beat_ms": (3000, 10_000),
    "focus_limit_ms": (60_000, 600_000),
    "focus_last_ms": (10_000, 10_000),
    "lease_ms": (2000, 2000),
    "longest_light_ms": (10_000, MOST_LIGHT_MS),
    "gap_floor_ms": (1500, 1500),
    "stuck_ms": (10_000, 10_000),
    "after_close_ms": (10_000, 10_000),
    "farthest_start_ms": (6000, 6000),
}
