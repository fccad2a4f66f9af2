"""Opening the lines that a specification names: practice lines or real ones, never one in place of the other.

A specification is {"kind": "practice", "runtime": DIR, "lamps": ["lamp"], "sounder": true, "lid": false} or
{"kind": "gpio", "factory": "lgpio", "lamp": 17, "foot": 27, "sounder": 18, "lid": null, "chip": null}, as JSON.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from pathlib import Path
from typing import Final

from hardware.errors import LineError
from hardware.lines import Contact, Lamp, Lines, Sounder

PRACTICE: Final = "practice"
GPIO: Final = "gpio"

_PRACTICE_KEYS: Final = frozenset({"kind", "runtime", "lamps", "sounder", "lid"})
_GPIO_KEYS: Final = frozenset({"kind", "factory", "lamp", "foot", "sounder", "lid", "chip"})


def open_lines(spec: Mapping[str, object]) -> Lines:
    """Open the lines, the lamps first, since holding them says that nobody else does.

    Raises:
        LineError: the specification is not understood, or a line cannot be had; nothing is left open.
    """
    match spec.get("kind"):
        case "practice":
            _known(spec, _PRACTICE_KEYS)
            return _practice(spec)
        case "gpio":
            _known(spec, _GPIO_KEYS)
            # gpiozero takes longer to import than a keeper on practice lines takes to start
            from hardware.gpio import open_gpio

            return open_gpio(
                factory=text(spec, "factory"),
                lamp=number(spec, "lamp"),
                foot=number(spec, "foot"),
                sounder=number(spec, "sounder") if spec.get("sounder") is not None else None,
                lid=number(spec, "lid") if spec.get("lid") is not None else None,
                chip=number(spec, "chip") if spec.get("chip") is not None else None,
            )
        case other:
            raise LineError(f"there are no lines of kind {other!r}: say {PRACTICE!r} or {GPIO!r}")


def open_lamps(spec: Mapping[str, object]) -> dict[str, Lamp]:
    """Open the lamp lines alone, to drive them dark.

    Raises:
        LineBusy: another process holds one.
        LineError: the specification is not understood, or a line cannot be had; nothing is left open.
    """
    match spec.get("kind"):
        case "practice":
            return _practice_lamps(spec)
        case "gpio":
            from hardware.gpio import open_lamp

            chip = number(spec, "chip") if spec.get("chip") is not None else None
            return {"lamp": open_lamp(text(spec, "factory"), number(spec, "lamp"), chip)}
        case other:
            raise LineError(f"there are no lines of kind {other!r}: say {PRACTICE!r} or {GPIO!r}")


def _practice_lamps(spec: Mapping[str, object]) -> dict[str, Lamp]:
    from hardware.practice.lamp import PracticeLamp

    names = spec.get("lamps", ["lamp"])
    if not (isinstance(names, (list, tuple)) and names and all(isinstance(name, str) for name in names)):
        raise LineError(f"lamps: {names!r} is no list of names")
    lamps: dict[str, Lamp] = {}
    try:
        for name in names:
            lamps[name] = PracticeLamp(Path(text(spec, "runtime")), name)
    except LineError:
        for lamp in lamps.values():
            lamp.close()
        raise
    return lamps


def _practice(spec: Mapping[str, object]) -> Lines:
    from hardware.practice.contact import FOOT, LID, PracticeContact
    from hardware.practice.faults import Fault, Faults
    from hardware.practice.sounder import SilentSounder

    runtime = Path(text(spec, "runtime"))
    wants_sounder, wants_lid = flag(spec, "sounder", True), flag(spec, "lid", False)
    lamps = _practice_lamps(spec)
    contacts: dict[str, Contact] = {}
    try:
        faults = Faults(runtime)
        has_sounder = wants_sounder and not faults.on(Fault.NO_SOUNDER)
        faults.close()
        contacts[FOOT] = PracticeContact(runtime, FOOT)
        if wants_lid:
            contacts[LID] = PracticeContact(runtime, LID)
    except LineError:
        for lamp in lamps.values():
            lamp.close()
        for contact in contacts.values():
            contact.close()
        raise
    sounder: Sounder | None = SilentSounder() if has_sounder else None
    features = (*(("sounder",) if sounder else ()), *(("lid",) if LID in contacts else ()))
    return Lines(True, lamps, contacts[FOOT], sounder, contacts.get(LID), features)


def _known(spec: Mapping[str, object], keys: Set[str]) -> None:
    if extra := sorted(set(spec) - keys):
        raise LineError(f"{', '.join(extra)}: no such key of {spec['kind']} lines; take it out")


def text(spec: Mapping[str, object], key: str) -> str:
    """Return the text under `key`, or raise a LineError that names it."""
    value = spec.get(key)
    if not isinstance(value, str) or not value:
        raise LineError(f"{key}: {value!r} is no text; the lines need one")
    return value


def number(spec: Mapping[str, object], key: str) -> int:
    """Return the number under `key`, or raise a LineError that names it."""
    value = spec.get(key)
    if type(value) is not int:
        raise LineError(f"{key}: {value!r} is no number; give the GPIO number of the pin")
    return value


def flag(spec: Mapping[str, object], key: str, default: bool) -> bool:
    """Return the yes or no under `key`, or raise a LineError that names it."""
    value = spec.get(key, default)
    if type(value) is not bool:
        raise LineError(f"{key}: {value!r} is neither true nor false")
    return value
