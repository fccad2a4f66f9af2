"""What a figure depends on beside the program: time that a host machine took away."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Final

from controller.errors import Unreadable
from controller.model import Frozen
from controller.words import say

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


MOST_BUSY: Final = 64
MOST_PAGES: Final = 20
"""The page's server gives 24 streams; some stay free for a printer's own phone."""
LOOKER_MODULE: Final = "controller.commands.timing.looker"
_ROOT: Final = Path(__file__).resolve().parents[3]


class Load(Frozen):
    """So many busy processes, and so many phones with the live page open, each turning a page a second."""

    cpu: int = 0
    pages: int = 0

    def text(self) -> str:
        """Return it as it is typed; empty where there is none."""
        return ",".join(f"{name}={count}" for name, count in (("cpu", self.cpu), ("pages", self.pages)) if count)


def read_load(text: str) -> Load:
    """Return the load of a text such as "cpu=2,pages=20".

    Raises:
        Unreadable: it is something else; the sentence says what would do.
    """
    counts: dict[str, int] = {}
    for part in text.split(",") if text.strip() else []:
        found = re.fullmatch(r"\s*(cpu|pages)\s*=\s*([0-9]{1,4})\s*", part)
        if found is None or found[1] in counts:
            raise Unreadable(say("timing.load", found=part[:40], cpu=MOST_BUSY, pages=MOST_PAGES))
        counts[found[1]] = int(found[2])
    if counts.get("cpu", 0) > MOST_BUSY or counts.get("pages", 0) > MOST_PAGES:
        raise Unreadable(say("timing.load", found=text[:40], cpu=MOST_BUSY, pages=MOST_PAGES))
    return Load(**counts)


class Burden:
    """A load that is on: processes that end with the block."""

    def __init__(self, load: Load, port: int, code: str) -> None:
        self._load, self._port, self._code = load, port, code
        self._processes: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> Burden:
        busy = [sys.executable, "-P", "-c", "while True: pass"]
        try:
            for _ in range(self._load.cpu):
                self._processes.append(subprocess.Popen(busy, stdin=subprocess.DEVNULL))
            if self._load.pages:
                self._look()
        except BaseException:
            self.__exit__()
            raise
        return self

    def _look(self) -> None:
        words = [sys.executable, "-P", "-m", LOOKER_MODULE, str(self._port), self._code, str(self._load.pages)]
        looker = subprocess.Popen(
            words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, env={"PYTHONPATH": str(_ROOT)}
        )
        self._processes.append(looker)
        assert looker.stdout is not None
        if looker.stdout.readline().strip() != b"looking":
            raise Unreadable(say("timing.looker"))

    def __exit__(self, *_: object) -> None:
        for process in self._processes:
            process.kill()
            process.wait()
            if process.stdout is not None:
                process.stdout.close()
        self._processes.clear()

    @property
    def there(self) -> bool:
        """Whether every process of it still runs."""
        return all(process.poll() is None for process in self._processes)
