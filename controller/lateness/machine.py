"""What a figure depends on beside the program: time that a host machine took away."""

from __future__ import annotations

from pathlib import Path
from typing import Final

_STEAL: Final = 7
"""user, nice, system, idle, iowait, irq, softirq, steal; guest times are counted in user and nice already.
Source: proc(5), /proc/stat."""


class Machine:
    """The machine's processor time from now on."""

    def __init__(self, stat: Path = Path("/proc/stat")) -> None:
        self._stat = stat
        self._before = self._times()

    def _times(self) -> tuple[int, ...] | None:
        try:
            first = self._stat.read_text("ascii").splitlines()[0].split()
            times = tuple(int(each) for each in first[1 : _STEAL + 2])
        except (OSError, ValueError, IndexError):
            return None
        return times if first[0] == "cpu" and len(times) == _STEAL + 1 else None

    def steal_percent(self) -> float | None:
        """Return how much of all processor time a host gave to other guests; None where the kernel does not tell."""
        after = self._times()
        if self._before is None or after is None:
            return None
        spent = [now - then for now, then in zip(after, self._before, strict=True)]
        return round(100 * spent[_STEAL] / sum(spent), 3) if sum(spent) else 0.0
