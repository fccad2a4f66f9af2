"""What a lamp line, an outlet, a contact line and a sounder line must be able to do.

Each output names three states: at rest, in doubt, and without a daemon. For the lamp all three are dark; for an outlet
all three are inactive, and `hardware.keeper.outlets` says what that is for each.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Protocol, Self, TypeVar

from hardware.sounds import Note

T = TypeVar("T")
C = TypeVar("C", bound="Closing")


class Closing(Protocol):
    """What can be let go."""

    def close(self) -> None:
        """Let the line go; closing twice does nothing."""


class Lamp(Protocol):
    """A line that lights a lamp. At rest, in doubt and without a daemon: dark."""

    def set(self, lit: bool) -> None:
        """Drive the line, at once; setting what is already set does nothing."""

    def close(self) -> None:
        """Drive the line dark and let it go; closing twice does nothing."""


class Outlet(Protocol):
    """A line that switches something beside the lamp. At rest, in doubt and without a daemon: inactive."""

    def set(self, active: bool) -> None:
        """Drive the line, at once; setting what is already set does nothing."""

    def close(self) -> None:
        """Drive the line inactive and let it go; closing twice does nothing."""


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


class FootWires(Protocol):
    """The two wires of a changeover foot switch, judged by whether exactly one of its contacts is closed."""

    broken: bool
    """A wire is broken, or the two touch."""

    @property
    def since_ns(self) -> int:
        """When the lines came to be as they are."""

    def look(self, now_ns: int) -> None:
        """Take both levels as they are now: the second path beside the edges."""

    def settled(self) -> bool:
        """Return whether exactly one line is closed: no transit, no fault to be seen."""

    def advance(self, now_ns: int) -> bool:
        """Judge up to `now_ns`; return whether `broken` has changed, once or more often."""

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` has something to judge if no edge comes."""


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
    changeover: FootWires | None = None
    """The wired foot switch within `foot`, where it is on two lines."""
    pedals: bool = False
    """There are pedals within `foot`."""
    outlets: Mapping[str, Outlet] = field(default_factory=dict)
    """By name, of `hardware.wiring_tables.OUTLETS`."""

    @property
    def features(self) -> tuple[str, ...]:
        """What is fitted beside lamps and foot, in the words of `wire.Greeting`."""
        fitted = {
            "sounder": self.sounder is not None,
            "lid": self.lid is not None,
            "changeover": self.changeover is not None,
            "pedals": self.pedals,
        }
        return (*(name for name, there in fitted.items() if there), *self.outlets)

    def dark(self) -> None:
        """Drive every lamp line dark, whatever any of them says."""
        each(self.lamps.values(), lambda lamp: lamp.set(False), "a lamp line did not go dark")

    def close(self) -> None:
        """Dark, then let every line go, whatever any of them says."""
        contacts = (line for line in (self.foot, self.sounder, self.lid) if line is not None)
        steps: tuple[Callable[[], None], ...] = (
            self.dark,
            *(line.close for line in (*self.lamps.values(), *self.outlets.values(), *contacts)),
        )
        each(steps, lambda step: step(), "a line did not close as it should")


def each(lines: Iterable[T], act: Callable[[T], None], what: str) -> None:
    """Do something to every line, and only then raise what went wrong, as a group named `what`."""
    problems: list[Exception] = []
    for line in lines:
        try:
            act(line)
        except Exception as problem:  # noqa: BLE001 - one line's trouble must not keep another lit
            problems += problem.exceptions if isinstance(problem, ExceptionGroup) else [problem]
    if problems:
        raise ExceptionGroup(what, problems)


class Opened:
    """Lines that are being opened, each let go again, the last one first, where one after it cannot be had."""

    def __init__(self) -> None:
        self._stack = ExitStack()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    def add(self, line: C) -> C:
        """Take charge of a line."""
        self._stack.callback(line.close)
        return line

    def keep(self) -> None:
        """Leave all of them open: they are somebody else's now."""
        self._stack.pop_all()
