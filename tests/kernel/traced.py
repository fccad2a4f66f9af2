"""What the kernel saw of the lines, as its own trace tells it: the witness that no program of ours can be wrong for."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal, Self

Did = Literal["set", "read", "in", "out", "mark"]

_ROW: Final = re.compile(r"-(?P<pid>\d+)\s+\[\d+\]\s+\S+\s+(?P<s>\d+)\.(?P<us>\d{6}): (?P<event>\w+): (?P<text>.*)$")
_VALUE: Final = re.compile(r"(?P<line>\d+) (?P<did>set|get) (?P<level>[01])")
_WAY: Final = re.compile(r"(?P<line>\d+)\s+(?P<way>in|out) \(0\)")


@dataclass(frozen=True, slots=True)
class Traced:
    """One event of the trace: a line was set or read, was made an input or an output; or a mark that a scene made."""

    at_ns: int
    """Of the monotonic clock, to the microsecond."""
    pid: int
    did: Did
    line: int = -1
    level: int = -1
    text: str = ""

    def plain(self) -> dict[str, Any]:
        """Return it as JSON has it."""
        return asdict(self)

    @classmethod
    def of(cls, row: str, first_line: int) -> Self | None:
        """Return the event of one row of the trace, or None; `first_line` is the kernel's number of line 0."""
        found = _ROW.search(row)
        if found is None:
            return None
        at_ns, pid = (int(found["s"]) * 1_000_000 + int(found["us"])) * 1000, int(found["pid"])
        match found["event"]:
            case "gpio_value" if value := _VALUE.match(found["text"]):
                did: Did = "set" if value["did"] == "set" else "read"
                return cls(at_ns, pid, did, int(value["line"]) - first_line, int(value["level"]))
            case "gpio_direction" if way := _WAY.match(found["text"]):
                return cls(at_ns, pid, "in" if way["way"] == "in" else "out", int(way["line"]) - first_line)
            case "tracing_mark_write":
                return cls(at_ns, pid, "mark", text=found["text"].strip())
        return None


def sets(events: Iterable[Traced], line: int) -> list[Traced]:
    """Return what a line was set to, in order."""
    return [event for event in events if event.did == "set" and event.line == line]


def changes(events: Iterable[Traced], line: int, rest: int = 0) -> list[Traced]:
    """Return the sets that changed a line's level, the first against its level at rest."""
    found: list[Traced] = []
    level = rest
    for event in sets(events, line):
        if event.level != level:
            found.append(event)
        level = event.level
    return found


def marks(events: Iterable[Traced], text: str) -> list[int]:
    """Return the moments of the marks of that text, in ns."""
    return [event.at_ns for event in events if event.did == "mark" and event.text == text]
