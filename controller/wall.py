"""The wall's clock: only a label, and whether it has been set. A Pi has no battery clock."""

from __future__ import annotations

import ctypes
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

_TIME_ERROR: Final = 5
"""What adjtimex answers while the kernel's clock is not synchronised (adjtimex(2))."""
_ROOM_FOR_TIMEX: Final = 512
"""Bytes; struct timex has 208 at the most."""
_SYNCHRONISED_FILE: Final = Path("/run/systemd/timesync/synchronized")


def now() -> datetime:
    """Return the wall's time, in UTC."""
    return datetime.now(UTC)


def synchronised() -> bool:
    """Tell whether something from outside has set the wall's clock since the machine started."""
    try:
        adjtimex = ctypes.CDLL(None, use_errno=True).adjtimex
    except (OSError, AttributeError):
        return _SYNCHRONISED_FILE.exists()
    # All zeros asks and changes nothing.
    state = adjtimex(ctypes.create_string_buffer(_ROOM_FOR_TIMEX))
    return 0 <= state < _TIME_ERROR or _SYNCHRONISED_FILE.exists()


def label(moment: datetime) -> str:
    """Return a moment as ISO 8601 in UTC, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def moment(label_: str) -> datetime:
    """Return the moment a label names; undoes `label`."""
    return datetime.fromisoformat(label_)
