"""What a darkroom is fitted with: its lines, and the folder of slate and practice lines. Imports nothing heavy.

The lines stand in `wiring.toml`, in the data folder or else in /etc/treadle. It is read here lightly, with the standard
library alone, so that `treadle dark` works when little else does; `controller.daemon.wiring` holds it to every rule.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from hardware.errors import LineError
from hardware.timing import Timing

WIRING_NAME: Final = "wiring.toml"
SYSTEM_WIRING: Final = Path("/etc/treadle") / WIRING_NAME
"""Looked at where the data folder has none; never for the practice darkroom."""
LARGEST_WIRING: Final = 64_000
"""Bytes; one that is longer is no wiring file."""
LINES: Final = "lines"
"""`filters` of a head with a lamp line for the soft light and one for the hard."""
_LAST_PIN: Final = 27
_CONTACTS: Final = ("sounder", "lid")
_ROOM_OUTLETS: Final = ("safelight", "room_light", "status_led", "alive")
_POLAR: Final = frozenset({"safelight", "status_led", "alive"})
"""Outlets that may be wired either way round; room light, as the lamps, is lit by a high level only."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """The keeper's lines as `hardware.open_lines` reads them, and the runtime folder.

    `wiring` is the file that says so, where there is one, and `wiring_text` what it held when it was read. `timing`
    is for tests with practice lines only: spans scaled short.
    """

    lines: Mapping[str, object]
    runtime: Path
    practice: bool
    timing: Timing | None = None
    wiring: Path | None = None
    wiring_text: str = ""


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


def read_fitting(data: Path, environment: Mapping[str, str], *, practice: bool, lamps_only: bool = False) -> Fitting:
    """Return what the darkroom of a data folder is fitted with.

    In the practice darkroom the pins of a wiring file mean nothing: the lines it names are fitted as practice lines.
    With `lamps_only` a fault in another line's words does not keep the lamps from being known; that line is left out.

    Raises:
        LineError: there is no wiring file for real lines, or it cannot be read; nothing falls back to practice lines.
    """
    runtime = runtime_of(data, environment)
    runtime.mkdir(mode=0o700, parents=True, exist_ok=True)
    place = wiring_file(data, practice=practice)
    if place is None:
        if practice:
            return Fitting({"kind": "practice", "runtime": str(runtime)}, runtime, practice=True)
        raise LineError(
            f"no wiring file is here, so no lamp is driven: write one as {data / WIRING_NAME} or {SYSTEM_WIRING}; "
            "“treadle wiring” prints an example. Nothing falls back to practice lines; "
            "try everything without hardware: treadle serve --simulate"
        )
    text = wiring_text(place)
    try:
        body = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise LineError(f"{place} is no TOML ({problem}): mend that line; “treadle wiring” prints an example") from None
    file = _File(place, body, lamps_only)
    lines = file.practice_lines(runtime) if practice else file.real_lines()
    return Fitting(lines, runtime, practice=practice, wiring=place, wiring_text=text)


def wiring_text(place: Path) -> str:
    """Return what a wiring file holds.

    Raises:
        LineError: it cannot be read, is far too long, or is no UTF-8 text.
    """
    try:
        with place.open("rb") as file:
            held = file.read(LARGEST_WIRING + 1)
    except OSError as problem:
        raise LineError(
            f"{place} cannot be read ({problem.strerror}): let it be a file that this user may read"
        ) from problem
    if len(held) > LARGEST_WIRING:
        raise LineError(f"{place} is longer than {LARGEST_WIRING} bytes, so it is no wiring file: look at its name")
    try:
        return held.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise LineError(f"{place} is no UTF-8 text: save it as plain text") from None


@dataclass(frozen=True, slots=True)
class _File:
    """A wiring file's tables, and the lines they name."""

    place: Path
    body: Mapping[str, object]
    lamps_only: bool

    def real_lines(self) -> dict[str, object]:
        """Return the lines as `hardware.open_lines` reads real ones."""
        lines: dict[str, object] = {"kind": "gpio", "factory": "lgpio", "chip": self._chip()}
        lines["lamps"] = {name: self._pin(table, "pin") for name, table in self._lamps().items()}
        for name in ("foot", *_CONTACTS, *_ROOM_OUTLETS):
            try:
                lines[name] = self._line(name)
            except LineError:
                if not self.lamps_only:
                    raise
                lines[name] = None
        lines["pedals"] = [] if self.lamps_only else self._pedals()
        return lines

    def practice_lines(self, runtime: Path) -> dict[str, object]:
        """Return practice lines for what the file names; its pins mean nothing there."""
        lines: dict[str, object] = {"kind": "practice", "runtime": str(runtime), "lamps": list(self._lamps())}
        tables = {name: self._practised(name) for name in ("foot", *_CONTACTS, *_ROOM_OUTLETS)}
        lines.update({name: tables[name] is not None for name in _CONTACTS})
        lines["changeover"] = "open_pin" in (tables["foot"] or {})
        lines["outlets"] = [name for name in _ROOM_OUTLETS if tables[name] is not None]
        return lines

    def _practised(self, name: str) -> Mapping[str, object] | None:
        """Return a table of another line than a lamp's; a faulty one is left out where only the lamps count."""
        try:
            return self._table(name)
        except LineError:
            if not self.lamps_only:
                raise
            return None

    def _lamps(self) -> dict[str, Mapping[str, object]]:
        two = self.body.get("filters") == LINES
        named = {"soft": "lamp_soft", "hard": "lamp_hard"} if two else {"lamp": "lamp"}
        found: dict[str, Mapping[str, object]] = {}
        for name, key in named.items():
            table = self._table(key)
            if table is None:
                raise LineError(
                    f"{self.place}: there is no [{key}], so no lamp can be driven: say [{key}] and pin = 17"
                )
            found[name] = table
        return found

    def _line(self, name: str) -> dict[str, object] | None:
        table = self._table(name)
        if table is None or (name == "foot" and "pin" not in table):
            return None
        line: dict[str, object] = {"pin": self._pin(table, "pin", name)}
        if name == "foot" and "open_pin" in table:
            line["open_pin"] = self._pin(table, "open_pin", name)
        if name in _POLAR:
            active_high = table.get("active_high", True)
            if type(active_high) is not bool:
                raise LineError(f"{self.place}: {name}.active_high is {active_high!r}: say true or false")
            line["active_high"] = active_high
        return line

    def _table(self, name: str) -> Mapping[str, object] | None:
        table = self.body.get(name)
        if table is not None and not isinstance(table, dict):
            raise LineError(f"{self.place}: {name} is {table!r}, not a table: say [{name}] and below it pin = 17")
        return table

    def _pin(self, table: Mapping[str, object], key: str, name: str = "lamp") -> int:
        pin = table.get(key)
        if type(pin) is not int or not 0 <= pin <= _LAST_PIN:
            raise LineError(
                f"{self.place}: {name}.{key} is {pin!r}: give its GPIO number, a whole number from 0 to {_LAST_PIN}"
            )
        return pin

    def _chip(self) -> int | None:
        chip = self.body.get("chip")
        if chip is not None and (type(chip) is not int or chip < 0):
            raise LineError(f"{self.place}: chip is {chip!r}: leave it out, or say its number")
        return chip

    def _pedals(self) -> list[str]:
        pedals = (self._table("foot") or {}).get("pedals", [])
        if not isinstance(pedals, list) or not all(isinstance(name, str) for name in pedals):
            raise LineError(f"{self.place}: foot.pedals is {pedals!r}: say a list of names below /dev/input/by-id")
        return list(pedals)
