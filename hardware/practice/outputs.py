"""The practice outputs: each records its edges, and keeps its level when its owner dies, as a Pi's line does."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import ClassVar, Final

from hardware.errors import LineError
from hardware.practice.faults import Faults, PracticeFault
from hardware.practice.ring import Ring
from hardware.sounds import Note

_SLOW_SECONDS: Final = 1.5
_NAME: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,31}")


def lamp_path(runtime: Path, name: str) -> Path:
    """Return where a lamp line's edges live.

    Raises:
        LineError: the name will not do for a file.
    """
    if not _NAME.fullmatch(name):
        raise LineError(f"{name!r} names no lamp line: use small letters, digits, - and _, 32 at most")
    return runtime / f"lamp-{name}.ring"


def outlet_path(runtime: Path, name: str) -> Path:
    """Return where an outlet's edges live; true is active."""
    return runtime / f"outlet-{name}.ring"


class PracticeLamp:
    """A lamp line in a file, held by one process at a time."""

    fails: ClassVar = PracticeFault.LAMP_LINE_FAILS
    slow: ClassVar[PracticeFault | None] = PracticeFault.LAMP_LINE_SLOW
    path: ClassVar = staticmethod(lamp_path)

    def __init__(
        self,
        runtime: Path,
        name: str = "lamp",
        *,
        now: Callable[[], int] = time.monotonic_ns,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        """Claim the line at the level it was left at.

        Raises:
            LineBusy: another process holds it.
            LineError: its file cannot be had.
        """
        self._now, self._wait = now, wait
        self._ring = Ring(self.path(runtime, name))
        self._faults: Faults | None = None
        try:
            self._ring.claim()
            self._faults = Faults(runtime)
        except LineError:
            self._ring.close()
            raise
        self._open = True
        self._lit = self._ring.level()
        if self._lit and self._faults.on(PracticeFault.DROPS_WHEN_OWNER_DIES):
            # it fell with its last owner; this is the first anybody can say of it
            self._record(False)

    @property
    def lit(self) -> bool:
        """The level that the line is driven to."""
        return self._lit

    def set(self, lit: bool) -> None:
        """Drive the line, at once; setting what is already set does nothing.

        Raises:
            LineError: the line is closed, or its fault switch is on.
        """
        if not self._open:
            if not lit:
                return  # a line was darkened when it was let go
            raise LineError(f"the practice line {self._ring.path.stem} is closed: open it again")
        assert self._faults is not None
        if self._faults.on(self.fails):
            raise LineError(
                f"the practice line {self._ring.path.stem} does not answer: switch the fault {self.fails} off"
            )
        if lit != self._lit:
            if self.slow is not None and self._faults.on(self.slow):
                self._wait(_SLOW_SECONDS)
            self._record(lit)

    def close(self) -> None:
        """Drive the line dark and let it go; closing twice does nothing."""
        if self._open:
            try:
                self.set(False)
            finally:
                self._open = False
                self._ring.close()
                assert self._faults is not None
                self._faults.close()

    def _record(self, lit: bool) -> None:
        self._ring.append(self._now(), lit)
        self._lit = lit


class PracticeOutlet(PracticeLamp):
    """An outlet beside the lamp in a file, held by one process at a time."""

    fails = PracticeFault.OUTLET_FAILS
    slow = None
    path = staticmethod(outlet_path)


class SilentSounder:
    """A sounder that is always ready; the page sounds the cues that the keeper says it has sounded."""

    def play(self, notes: Sequence[Note]) -> None:
        """Take the notes and make no sound."""

    def close(self) -> None:
        """Do nothing: it is silent already."""
