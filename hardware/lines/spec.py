"""What lines a darkroom is fitted with: the specification that a keeper is started with, read and checked.

It is JSON, of one of two kinds. Real lines, each on a GPIO number of the header:

    {"kind": "gpio", "factory": "lgpio", "chip": null, "lamps": {"lamp": 17}, "foot": {"pin": 27},
     "pedals": ["/dev/input/by-id/..."], "sounder": {"pin": 18}, "lid": {"pin": 23},
     "safelight": {"pin": 22, "active_high": true}, "room_light": {"pin": 24},
     "status_led": {"pin": 25, "active_high": true}, "alive": {"pin": 26, "active_high": true}}

`lamps` has one line or several (soft and hard). `foot` is null, a plain contact, or a changeover with the contact
that is closed at rest on `open_pin`; a foot or a pedal there must be. What may be absent may be null or left out.
Practice lines, in files of the folder `runtime`:

    {"kind": "practice", "runtime": "/run/treadle", "lamps": ["lamp"], "sounder": true, "lid": false,
     "changeover": false, "outlets": ["safelight", "room_light", "status_led", "alive"], "keeps_level": true}
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from hardware.errors import LineError

PRACTICE: Final = "practice"
GPIO: Final = "gpio"
OUTLETS: Final = ("safelight", "room_light", "status_led", "alive")
"""Every outlet there may be, by its name in a specification and in `wire.Greeting.features`."""
ACTIVE_HIGH_ONLY: Final = frozenset({"room_light"})
"""Driven high for light, as the lamp is, so that a line nobody drives is dark by its pull-down."""

LAMP_PINS: Final = range(9, 28)
"""GPIO 0 to 8 are pulled up from power-on until a program runs, which would light the lamp. Source: BCM2835
ARM peripherals manual, table of alternative functions (default pull), from memory."""
LAMP_ADVICE: Final = "GPIO 17, or one of 22 to 27"
_PINS: Final = range(2, 28)
_NO_FOOT: Final = "not looked at"
_ADVICE: Final = {"foot": "27", "foot's open_pin": "24", "lid": "23", "sounder": "18"}


@dataclass(frozen=True, slots=True)
class Output:
    """An output's pin, and the level that makes it active."""

    pin: int
    active_high: bool = True


@dataclass(frozen=True, slots=True)
class Foot:
    """The wired foot switch: closed to ground on `pin` when pressed, on `open_pin` (where there is one) at rest."""

    pin: int
    open_pin: int | None = None


@dataclass(frozen=True, slots=True)
class GpioSpec:
    """Real lines."""

    factory: str
    chip: int | None
    lamps: Mapping[str, int]
    foot: Foot | None
    pedals: tuple[str, ...]
    sounder: int | None
    lid: int | None
    outlets: Mapping[str, Output]
    """By name, of `OUTLETS`."""

    def outputs(self) -> dict[str, Output]:
        """Return every output but the sounder by name: the lamps first, driven high for light."""
        lamps = {f"{name} line": Output(pin) for name, pin in self.lamps.items()}
        return {**lamps, **self.outlets}


@dataclass(frozen=True, slots=True)
class PracticeSpec:
    """Practice lines."""

    runtime: Path
    lamps: tuple[str, ...]
    sounder: bool
    lid: bool
    changeover: bool
    outlets: tuple[str, ...]
    keeps_level: bool
    """An output keeps its level when its owner dies, as a Pi's does."""


Spec = GpioSpec | PracticeSpec


def read_spec(spec: Mapping[str, object]) -> Spec:
    """Return what a specification says.

    Raises:
        LineError: it is not understood, a pin will not do, or is given twice; the text says which and what would do.
    """
    match spec.get("kind"):
        case "practice":
            return _practice(spec)
        case "gpio":
            return _gpio(spec)
        case other:
            raise LineError(f"there are no lines of kind {other!r}: say {PRACTICE!r} or {GPIO!r}")


def read_outputs(spec: Mapping[str, object]) -> Spec:
    """Return what a specification says of lamps and outlets alone; its other lines keep nobody from darkening them.

    Raises:
        LineError: as `read_spec`, but for the lines that are left out.
    """
    if spec.get("kind") != GPIO:
        return read_spec(spec)
    return read_spec({**spec, "foot": None, "pedals": [_NO_FOOT], "sounder": None, "lid": None})


def _practice(spec: Mapping[str, object]) -> PracticeSpec:
    _known(
        f"{PRACTICE} lines",
        spec,
        {"kind", "runtime", "lamps", "sounder", "lid", "changeover", "outlets", "keeps_level"},
    )
    lamps, outlets = _names(spec, "lamps", ("lamp",)), _names(spec, "outlets", ())
    if not lamps:
        raise LineError("lamps: [] is no list of names; name one")
    if wrong := sorted(set(outlets) - set(OUTLETS)):
        raise LineError(f"outlets: {', '.join(wrong)}: there is no such outlet; say some of {', '.join(OUTLETS)}")
    return PracticeSpec(
        Path(_text(spec, "runtime")),
        lamps,
        _flag(spec, "sounder", True),
        _flag(spec, "lid", False),
        _flag(spec, "changeover", False),
        outlets,
        _flag(spec, "keeps_level", True),
    )


def _gpio(spec: Mapping[str, object]) -> GpioSpec:
    _known(
        f"{GPIO} lines",
        spec,
        {"kind", "factory", "chip", "lamps", "foot", "pedals", "sounder", "lid", *OUTLETS},
    )
    lamps = _object(spec, "lamps") or {}
    if not lamps:
        raise LineError('lamps: name at least one line with its GPIO number, as {"lamp": 17}')
    found = GpioSpec(
        _text(spec, "factory"),
        None if spec.get("chip") is None else _number(spec, "chip"),
        {name: _number(lamps, name) for name in lamps},
        _foot(_object(spec, "foot")),
        _names(spec, "pedals", ()),
        _pin(spec, "sounder"),
        _pin(spec, "lid"),
        {name: output for name in OUTLETS if (output := _output(spec, name)) is not None},
    )
    if found.foot is None and not found.pedals:
        raise LineError("foot: there is no foot switch and no pedal, and nothing else ends a light; give one")
    _check_pins(found)
    return found


def _foot(body: Mapping[str, object] | None) -> Foot | None:
    if body is None:
        return None
    _known("foot", body, {"pin", "open_pin"})
    return Foot(_number(body, "pin"), None if body.get("open_pin") is None else _number(body, "open_pin"))


def _pin(spec: Mapping[str, object], key: str) -> int | None:
    body = _object(spec, key)
    if body is None:
        return None
    _known(key, body, {"pin"})
    return _number(body, "pin")


def _output(spec: Mapping[str, object], key: str) -> Output | None:
    body = _object(spec, key)
    if body is None:
        return None
    if key in ACTIVE_HIGH_ONLY and "active_high" in body:
        raise LineError(f"{key}: it is driven high for light, always, so that a line nobody drives is dark")
    _known(key, body, {"pin", "active_high"})
    return Output(_number(body, "pin"), _flag(body, "active_high", True))


def _check_pins(spec: GpioSpec) -> None:
    """Refuse a pin that will not do, and one that is given twice."""
    foot = spec.foot
    dark = {**spec.lamps, **{name: o.pin for name, o in spec.outlets.items() if name in ACTIVE_HIGH_ONLY}}
    others: dict[str, int | None] = {
        "foot": foot.pin if foot else None,
        "foot's open_pin": foot.open_pin if foot else None,
        "sounder": spec.sounder,
        "lid": spec.lid,
        **{name: output.pin for name, output in spec.outlets.items() if name not in dark},
    }
    users: dict[int, str] = {}
    for name, pin in {**dark, **others}.items():
        if pin is None:
            continue
        if name in dark and pin not in LAMP_PINS:
            raise LineError(
                f"the {name} must not be on GPIO {pin}: GPIO 0 to 8 are pulled up at power-on and others are "
                f"not on the header; use {LAMP_ADVICE}"
            )
        if pin not in _PINS:
            advice = f", {_ADVICE[name]} for example" if name in _ADVICE else ""
            raise LineError(f"the {name} cannot be on GPIO {pin}: use one of 2 to 27{advice}")
        if pin in users:
            raise LineError(f"GPIO {pin} is given to both {users[pin]} and {name}: give {name} another pin")
        users[pin] = name


def _known(what: str, body: Mapping[str, object], keys: Set[str]) -> None:
    if extra := sorted(set(body) - keys):
        raise LineError(f"{', '.join(extra)}: no such key of {what}; take it out")


def _object(spec: Mapping[str, object], key: str) -> Mapping[str, object] | None:
    value = spec.get(key)
    if value is None:
        return None
    if not isinstance(value, Mapping) or not all(isinstance(name, str) for name in value):
        raise LineError(f'{key}: {value!r} is no object with a pin, as {{"pin": 17}}')
    return value


def _names(spec: Mapping[str, object], key: str, default: tuple[str, ...]) -> tuple[str, ...]:
    value = spec.get(key, default)
    if not (isinstance(value, (list, tuple)) and all(isinstance(name, str) and name for name in value)):
        raise LineError(f"{key}: {value!r} is no list of names")
    if len(set(value)) != len(value):
        raise LineError(f"{key}: {value!r} names one twice; take it out")
    return tuple(value)


def _text(spec: Mapping[str, object], key: str) -> str:
    value = spec.get(key)
    if not isinstance(value, str) or not value:
        raise LineError(f"{key}: {value!r} is no text; the lines need one")
    return value


def _number(spec: Mapping[str, object], key: str) -> int:
    value = spec.get(key)
    if type(value) is not int:
        raise LineError(f"{key}: {value!r} is no number; give the GPIO number of the pin")
    return value


def _flag(spec: Mapping[str, object], key: str, default: bool) -> bool:
    value = spec.get(key, default)
    if type(value) is not bool:
        raise LineError(f"{key}: {value!r} is neither true nor false")
    return value
