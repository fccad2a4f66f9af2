"""The practice darkroom's log: filter, card, tools, negative, paper, glows, faults; one JSON line each, only added to.

Together with the lamp's edges it says what light fell where; what paper makes of it is not known here.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

from hardware.errors import LineError
from hardware.practice.faults import Fault


@dataclass(frozen=True, slots=True)
class FilterPlaced:
    """The filter named `name` went into the drawer; empty for none."""

    at_ns: int
    name: str


@dataclass(frozen=True, slots=True)
class CardMoved:
    """The card came to `place`: how many bands lie uncovered, or the band under its window; -1 is off the paper.

    `way` is "cover", "uncover" or "window".
    """

    at_ns: int
    way: str
    place: int


@dataclass(frozen=True, slots=True)
class DodgerMoved:
    """The tool for area `area` went into the light (`inside`) or out of it; `act` is "dodge", "burn" or "edge burn".

    The area of an edge burn is its edge: "top", "right", "bottom" or "left".
    """

    at_ns: int
    area: str
    act: str
    inside: bool


@dataclass(frozen=True, slots=True)
class NegativeMoved:
    """The negative carrier went in or out."""

    at_ns: int
    inside: bool


@dataclass(frozen=True, slots=True)
class OpalMoved:
    """The opal glass under the lens went in or out: with it the light is even, whatever the negative."""

    at_ns: int
    inside: bool


@dataclass(frozen=True, slots=True)
class PaperMoved:
    """A sheet of paper came out onto the easel (`out`), or went away into its box or tray."""

    at_ns: int
    out: bool


@dataclass(frozen=True, slots=True)
class GlowSwitched:
    """A light that is not the enlarger's went on or off; `source` is "safelight", "room light" or "phone"."""

    at_ns: int
    source: str
    on: bool


@dataclass(frozen=True, slots=True)
class FaultSwitched:
    """A fault switch was put on or off."""

    at_ns: int
    fault: Fault
    on: bool


Entry = FilterPlaced | CardMoved | DodgerMoved | NegativeMoved | OpalMoved | PaperMoved | GlowSwitched | FaultSwitched

_KINDS: Final[dict[str, type[Entry]]] = {
    "filter": FilterPlaced,
    "card": CardMoved,
    "dodger": DodgerMoved,
    "negative": NegativeMoved,
    "opal": OpalMoved,
    "paper": PaperMoved,
    "glow": GlowSwitched,
    "fault": FaultSwitched,
}
_NAMES: Final = {cls: name for name, cls in _KINDS.items()}


def append(path: Path, entry: Entry) -> None:
    """Add an entry in one write, so that several processes may add to one log.

    Raises:
        LineError: the file cannot be written.
    """
    line = json.dumps({"kind": _NAMES[type(entry)], **asdict(entry)}, separators=(",", ":")) + "\n"
    try:
        fd = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            os.write(fd, line.encode())
        finally:
            os.close(fd)
    except OSError as problem:
        raise LineError(f"the practice log {path} cannot be written ({problem}): make room for it") from problem


def read(path: Path) -> tuple[Entry, ...]:
    """Return the entries in order of time; a last line still being written is left for the next reading.

    Raises:
        LineError: a line is no entry; the text says which.
    """
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        return ()
    entries: list[Entry] = []
    for number, line in enumerate(text[: text.rfind("\n") + 1].splitlines(), start=1):
        try:
            body = json.loads(line)
            cls = _KINDS[body.pop("kind")]
            if cls is FaultSwitched:
                body["fault"] = Fault(body["fault"])
            entries.append(cls(**body))
        except (ValueError, KeyError, TypeError, AttributeError) as problem:
            raise LineError(f"{path}, line {number} is no entry of the practice log: take the line out") from problem
    return tuple(sorted(entries, key=lambda entry: entry.at_ns))
