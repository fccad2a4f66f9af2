"""The practice darkroom's log: filter, card, tools, negative, paper, glows, faults, a JSON line each.

Lines are only added, until the older half goes. Together with the lamp's edges the log says what light fell where;
what paper makes of it is not known here.
"""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

from hardware.errors import LineError
from hardware.practice.faults import PracticeFault


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
    """The negative carrier went in or out; `which` is A or B, where a sheet is printed from two."""

    at_ns: int
    inside: bool
    which: str = "A"


@dataclass(frozen=True, slots=True)
class OpalMoved:
    """The opal glass under the lens went in or out: with it the light is even, whatever the negative."""

    at_ns: int
    inside: bool


@dataclass(frozen=True, slots=True)
class LensMoved:
    """The lens was stopped down by so many stops from where it stands for the sheet, or opened to there again (0)."""

    at_ns: int
    stops: int


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
class ProbeLaid:
    """The light sensor was laid on the baseboard: where, as shares of its picture from the left and the top.

    Below 0 it is back beside the easel.
    """

    at_ns: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class FaultSwitched:
    """A fault switch was put on or off."""

    at_ns: int
    fault: PracticeFault
    on: bool


Entry = (
    FilterPlaced
    | CardMoved
    | DodgerMoved
    | NegativeMoved
    | OpalMoved
    | LensMoved
    | PaperMoved
    | GlowSwitched
    | ProbeLaid
    | FaultSwitched
)

_KINDS: Final[dict[str, type[Entry]]] = {
    "filter": FilterPlaced,
    "card": CardMoved,
    "dodger": DodgerMoved,
    "negative": NegativeMoved,
    "opal": OpalMoved,
    "lens": LensMoved,
    "paper": PaperMoved,
    "glow": GlowSwitched,
    "probe": ProbeLaid,
    "fault": FaultSwitched,
}
_NAMES: Final = {cls: name for name, cls in _KINDS.items()}


LARGEST: Final = 1_000_000
"""Bytes of a log; above, its older half goes, but for what still stands. An evening writes some ten thousand."""


def append(path: Path, entry: Entry) -> None:
    """Add an entry in one write, so that several processes may add to one log.

    Raises:
        LineError: the file cannot be written.
    """
    try:
        with _held(path) as fd:
            os.write(fd, _line(entry))
            if os.fstat(fd).st_size > LARGEST:
                _shorten(path)
    except OSError as problem:
        raise LineError(f"the practice log {path} cannot be written ({problem}): make room for it") from problem


def read(path: Path) -> tuple[Entry, ...]:
    """Return the entries in order of time; a last line still being written is left for the next reading.

    Raises:
        LineError: a line is no entry; the text says which.
    """
    try:
        text = path.read_bytes()
    except FileNotFoundError:
        return ()
    return tuple(sorted(whole_lines(path, text), key=lambda entry: entry.at_ns))


def whole_lines(path: Path, text: bytes, first: int = 1) -> list[Entry]:
    """Return the entries of part of a log, as far as its lines are whole; `first` is its first line's number.

    Raises:
        LineError: as `read`.
    """
    entries: list[Entry] = []
    for number, line in enumerate(text[: text.rfind(b"\n") + 1].splitlines(), start=first):
        try:
            body = json.loads(line)
            cls = _KINDS[body.pop("kind")]
            if cls is FaultSwitched:
                body["fault"] = PracticeFault(body["fault"])
            entries.append(cls(**body))
        except (ValueError, KeyError, TypeError, AttributeError) as problem:
            raise LineError(f"{path}, line {number} is no entry of the practice log: take the line out") from problem
    return entries


def _line(entry: Entry) -> bytes:
    return (json.dumps({"kind": _NAMES[type(entry)], **asdict(entry)}, separators=(",", ":")) + "\n").encode()


@contextmanager
def _held(path: Path) -> Iterator[int]:
    """Hold the log against other writers, the file that is there now: one may just have been put in its place."""
    while True:
        fd = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(fd, fcntl.LOCK_EX)
            with suppress(FileNotFoundError):
                if path.stat().st_ino == os.fstat(fd).st_ino:
                    yield fd
                    return
        finally:
            os.close(fd)


def _shorten(path: Path) -> None:
    """Put the newer half of the log in its place, after the last word on each thing from the older."""
    entries = read(path)
    old, new = entries[: len(entries) // 2], entries[len(entries) // 2 :]
    standing = {_thing(entry): entry for entry in old}
    fresh = path.with_suffix(".fresh")
    fresh.unlink(missing_ok=True)
    fresh.touch(0o600)
    fresh.write_bytes(b"".join(map(_line, sorted((*standing.values(), *new), key=lambda entry: entry.at_ns))))
    fresh.replace(path)


def _thing(entry: Entry) -> object:
    """Return what an entry speaks of: the filter drawer, an area's tool, a glow, a fault."""
    match entry:
        case DodgerMoved():
            return DodgerMoved, entry.area, entry.act
        case GlowSwitched():
            return GlowSwitched, entry.source
        case FaultSwitched():
            return FaultSwitched, entry.fault
        case _:
            return type(entry)
