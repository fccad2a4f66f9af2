"""The wall's clock: only a label, and whether it has been set. A Pi has no battery clock."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from datetime import UTC, datetime
from functools import lru_cache
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
    adjtimex = _adjtimex()
    # All zeros asks and changes nothing.
    state = _TIME_ERROR if adjtimex is None else adjtimex(ctypes.create_string_buffer(_ROOM_FOR_TIMEX))
    return 0 <= state < _TIME_ERROR or _SYNCHRONISED_FILE.exists()


@lru_cache(maxsize=1)
def _adjtimex() -> Callable[[object], int] | None:
    """Return the C library's own; looked for once, since each look makes a class, and each row of the journal asks."""
    try:
        found: Callable[[object], int] = ctypes.CDLL(None, use_errno=True).adjtimex
    except (OSError, AttributeError):
        return None
    return found


def label(moment: datetime) -> str:
    """Return a moment as ISO 8601 in UTC, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def moment(label_: str) -> datetime:
    """Return the moment a label names; undoes `label`."""
    return datetime.fromisoformat(label_)
