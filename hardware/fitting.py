"""What a darkroom is fitted with: its lines, and the folder of slate and practice lines. Imports nothing heavy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from hardware.errors import LineError
from hardware.timing import Timing


@dataclass(frozen=True, slots=True)
class Fitting:
    """The keeper's lines as `hardware.opening` reads them, and the runtime folder.

    `timing` is for tests with practice lines only: spans scaled short.
    """

    lines: Mapping[str, object]
    runtime: Path
    practice: bool
    timing: Timing | None = None


def default_data(environment: Mapping[str, str], *, practice: bool) -> Path:
    """Return the folder of a printer's data where none is named; practice sheets have one of their own.

    A service's own state folder first, then the XDG data home. The XDG rules say that a relative path is to be
    taken as if it were not set.
    """
    named = environment.get("STATE_DIRECTORY") or environment.get("XDG_DATA_HOME", "")
    home = Path(environment.get("HOME") or "~").expanduser()
    base = Path(named) if named.startswith("/") else home / ".local" / "share"
    return base / ("treadle-practice" if practice else "treadle")


def runtime_of(data: Path, environment: Mapping[str, str]) -> Path:
    """Return the folder of slate, door and practice lines: the service's own, or one in the data folder."""
    named = environment.get("RUNTIME_DIRECTORY")
    return Path(named) if named else data / "run"


def read_fitting(data: Path, environment: Mapping[str, str], *, practice: bool) -> Fitting:
    """Return what the darkroom of a data folder is fitted with.

    Raises:
        LineError: real lines are wanted, which this version cannot drive; nothing falls back to practice lines.
    """
    runtime = runtime_of(data, environment)
    runtime.mkdir(mode=0o700, parents=True, exist_ok=True)
    if practice:
        return Fitting({"kind": "practice", "runtime": str(runtime)}, runtime, practice=True)
    raise LineError(
        "real lines are not finished in this version, so no lamp is driven; nothing falls back to practice lines. "
        "Try everything without hardware: treadle serve --simulate"
    )
