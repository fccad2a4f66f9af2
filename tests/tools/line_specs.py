"""Specifications of lines, as a keeper is started with them: practice lines, and real ones on a factory of pins."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from hardware.wiring_tables import OUTLETS

PINS = {"lamp": 17, "soft": 17, "hard": 22, "safelight": 25, "room_light": 26, "status_led": 12, "alive": 13}
"""Pins that nothing speaks against."""


def tables(
    *,
    lamps: Collection[str] = ("lamp",),
    foot: bool = True,
    changeover: bool = False,
    sounder: bool = True,
    lid: bool = False,
    outlets: Collection[str] = (),
) -> dict[str, object]:
    """Return the tables of a wiring file that fits these."""
    two = "soft" in lamps
    body: dict[str, object] = {"filters": "lines"} if two else {}
    body |= {f"lamp_{name}" if two else name: {"pin": PINS[name]} for name in lamps}
    body |= {name: {"pin": PINS[name]} for name in OUTLETS if name in outlets}
    if foot:
        body["foot"] = {"pin": 27, "open_pin": 24} if changeover else {"pin": 27}
    return body | ({"sounder": {"pin": 18}} if sounder else {}) | ({"lid": {"pin": 23}} if lid else {})


def practice_spec(
    runtime: Path,
    *,
    keeps_level: bool = True,
    lamps: Collection[str] = ("lamp",),
    changeover: bool = False,
    sounder: bool = True,
    lid: bool = False,
    outlets: Collection[str] = (),
) -> dict[str, object]:
    """Return practice lines in the folder `runtime`."""
    wiring = tables(lamps=lamps, changeover=changeover, sounder=sounder, lid=lid, outlets=outlets)
    return {"kind": "practice", "runtime": str(runtime), "keeps_level": keeps_level, "wiring": wiring}
