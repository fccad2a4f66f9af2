"""What a lamp line, a contact line and a sounder line must be able to do.

Each output names three states: at rest, in doubt, and without a daemon. For the lamp all three are dark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from hardware.sounds import Note


class Lamp(Protocol):
    """A line that lights a lamp. At rest, in doubt and without a daemon: dark."""

    def set(self, lit: bool) -> None:
        """Drive the line, at once; setting what is already set does nothing."""

    def close(self) -> None:
        """Drive the line dark and let it go; closing twice does nothing."""


class Contact(Protocol):
    """A contact that opens and closes, with the time of each edge."""

    def fileno(self) -> int | None:
        """Return a descriptor that can be read when edges wait, or None where there is none."""

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges since the last call, oldest first: (monotonic ns, closed)."""

    def closed(self) -> bool:
        """Return the level now: the second path beside the edges."""

    def close(self) -> None:
        """Let the line go; closing twice does nothing."""


class Sounder(Protocol):
    """A line that sounds notes. It never makes its caller wait. At rest and in doubt: silent."""

    def play(self, notes: Sequence[Note]) -> None:
        """Sound these notes now, instead of whatever is sounding."""

    def close(self) -> None:
        """Fall silent and let the line go; closing twice does nothing."""


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines of one darkroom; only the keeper holds them."""

    practice: bool
    lamps: dict[str, Lamp]
    foot: Contact
    sounder: Sounder | None = None
    lid: Contact | None = None
    features: tuple[str, ...] = field(default=())

    def dark(self) -> None:
        """Drive every lamp line dark, whatever any of them says."""
        problems: list[Exception] = []
        for lamp in self.lamps.values():
            try:
                lamp.set(False)
            except Exception as problem:  # noqa: BLE001 - one line's trouble must not keep another lit
                problems.append(problem)
        if problems:
            raise ExceptionGroup("a lamp line did not go dark", problems)

    def close(self) -> None:
        """Dark, then let every line go."""
        self.dark()
        for line in (*self.lamps.values(), self.foot, self.sounder, self.lid):
            if line is not None:
                line.close()
