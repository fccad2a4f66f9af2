"""What a darkroom is fitted with: its lines, and the folder of slate and practice lines. Imports nothing heavy.

The lines stand in `wiring.toml`, in the data folder or else in /etc/treadle; `hardware.wiring` says what it may say.
"""

from __future__ import annotations

import getpass
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from hardware.errors import LineError, WiringError
from hardware.timing import Timing
from hardware.wiring import Wiring, read_outputs, read_wiring
from hardware.wiring_tables import PLAIN

WIRING_NAME: Final = "wiring.toml"
SYSTEM_WIRING: Final = Path("/etc/treadle") / WIRING_NAME
"""Looked at where the data folder has none; never for the practice darkroom."""
LARGEST_WIRING: Final = 16_000
"""Bytes; one that is longer is no wiring file."""
MOST_DOTS: Final = 200
"""In a line that is no remark: a key of thousands of parts takes the reader seconds, and `treadle dark` with it."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """The wiring, the same as the keeper is given it (`hardware.open_lines` reads `lines`), and the runtime folder.

    `place` is the file that says so, where there is one. `timing` is for tests with practice lines only: spans scaled
    short.
    """

    wiring: Wiring
    lines: Mapping[str, object]
    runtime: Path
    practice: bool
    timing: Timing | None = None
    place: Path | None = None


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


def wiring_file(data: Path, *, practice: bool) -> Path | None:
    """Return the wiring file that counts for a data folder, or None where there is none."""
    places = (data / WIRING_NAME,) if practice else (data / WIRING_NAME, SYSTEM_WIRING)
    return next((place for place in places if place.exists()), None)


def read_fitting(data: Path, environment: Mapping[str, str], *, practice: bool, outputs_only: bool = False) -> Fitting:
    """Return what the darkroom of a data folder is fitted with.

    In the practice darkroom the pins of a wiring file mean nothing: the lines it names are fitted as practice lines.
    With `outputs_only` a fault in another line's words does not keep the lamps from being known.

    Raises:
        LineError: there is no wiring file for real lines; nothing falls back to practice lines.
        WiringError: it cannot be read, or says what cannot be so.
    """
    runtime = runtime_of(data, environment)
    runtime.mkdir(mode=0o700, parents=True, exist_ok=True)
    place = wiring_file(data, practice=practice)
    if place is None and not practice:
        raise LineError(
            f"no wiring file is here, so no lamp is driven: write one as {data / WIRING_NAME} or {SYSTEM_WIRING}; "
            "“treadle wiring” prints an example. Nothing falls back to practice lines; "
            "try everything without hardware: treadle serve --simulate"
        )
    body = PLAIN if place is None else read_body(wiring_text(place), str(place))
    wiring = (read_outputs if outputs_only else read_wiring)(body, str(place))
    kind = {"kind": "practice", "runtime": str(runtime)} if practice else {"kind": "gpio", "factory": "lgpio"}
    return Fitting(wiring, {**kind, "wiring": body}, runtime, practice, place=place)


def read_body(text: str, name: str) -> dict[str, object]:
    """Return the tables of a wiring file's text; `name` is the file's, for the sentence.

    Raises:
        WiringError: it is no TOML.
    """
    for number, line in enumerate(text.splitlines(), 1):
        if line.count(".") > MOST_DOTS and not line.lstrip().startswith("#"):
            raise WiringError(
                f"{name} is no wiring file: its line {number} has over {MOST_DOTS} dots. "
                "Mend that line; “treadle wiring” prints an example."
            )
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as problem:  # a number of thousands of digits is no TOMLDecodeError
        raise WiringError(
            f"{name} is no TOML ({problem}). Mend that line; “treadle wiring” prints an example."
        ) from None


def not_its_own(problem: PermissionError) -> str:
    """Return a sentence for a file that this user may not use, as after a copy that was made by root."""
    place = Path(str(problem.filename or "a file"))
    state = os.environ.get("STATE_DIRECTORY", "")
    if state and place.is_relative_to(state):
        return f"{place} is not this user's: give everything there back with “sudo chown -R treadle: {state}”."
    user = getpass.getuser()
    return f"{place}: {problem.strerror} for the user {user}, who asks here. Name another place, or let {user} use it."


def wiring_text(place: Path) -> str:
    """Return what a wiring file holds.

    Raises:
        WiringError: it cannot be read, is far too long, or is no UTF-8 text.
    """
    try:
        with place.open("rb") as file:
            held = file.read(LARGEST_WIRING + 1)
    except PermissionError as problem:
        raise LineError(not_its_own(problem)) from problem
    except OSError as problem:
        raise WiringError(
            f"{place} cannot be read ({problem.strerror}): let it be a file that this user may read"
        ) from problem
    if len(held) > LARGEST_WIRING:
        raise WiringError(f"{place} is longer than {LARGEST_WIRING} bytes, so it is no wiring file: look at its name")
    try:
        return held.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise WiringError(f"{place} is no UTF-8 text: save it as plain text") from None
