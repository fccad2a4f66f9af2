"""Which pin does what: the wiring file as a model, every rule a line is held to, and a sentence for each refusal.

`hardware.fitting` reads the same file lightly for the keeper's lines; no daemon starts before it has passed here.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationError
from pydantic_core import ErrorDetails

from controller.errors import Unreadable
from controller.model import Frozen
from controller.words import say
from hardware.fitting import Fitting, read_fitting, wiring_file, wiring_text

PULLED_UP: Final = range(9)
"""GPIO 0 to 8 are pulled up from power-on until software speaks, 9 to 27 down. Source: the default pulls in the GPIO
table of the BCM2835 peripherals manual, the same on the chips that followed (from memory)."""
KEPT: Final = frozenset({0, 1})
"""Pins on which the Pi asks a plug-on board who it is, before any software. Source: as below."""
TAKEN: Final[dict[int, str]] = {
    **dict.fromkeys((2, 3), "wiring.use-i2c"),
    **dict.fromkeys((7, 8, 9, 10, 11), "wiring.use-spi"),
    **dict.fromkeys((14, 15), "wiring.use-uart"),
}
"""Pins that the Pi has another use for. Source: the usual functions of the 40-pin header (from memory)."""
BY_ID: Final = "/dev/input/by-id/"
SOFT, HARD = "soft", "hard"

Pin = Annotated[int, Field(ge=0, le=27, strict=True)]
Ms = Annotated[float, Field(ge=0.0, le=100.0, strict=True)]
_PIN: Final = "The pin's GPIO number, 0 to 27; not its place on the header."


class LampLine(Frozen):
    """A relay that lights a lamp; it must be off while its line is low."""

    pin: Pin = Field(description=_PIN)
    active_high: bool = Field(
        default=True,
        strict=True,
        description="True only: a line that lit the lamp when low would light it whenever the Pi is off or starting.",
    )


class Outlet(Frozen):
    """A switched outlet, or a line to something outside."""

    pin: Pin = Field(description=_PIN)
    active_high: bool = Field(
        default=True, strict=True, description="Whether the line is active when high; false where it is when low."
    )


class Safelight(Outlet):
    """The safelight's outlet, on a normally-closed contact: an active line makes it dark."""

    dark_while_lit: bool = Field(
        default=False,
        strict=True,
        description="Make the safelight dark while the lamp is lit, so that the projected picture can be seen.",
    )


class Line(Frozen):
    """A line whose levels are fixed: a contact to ground, or a sounder."""

    pin: Pin = Field(description=_PIN)


class FootSwitch(Frozen):
    """The contact under the foot, on one pin or two, and pedals on USB beside or instead of it."""

    pin: Pin | None = Field(
        default=None, description="The contact that closes to ground when the foot is down; its pin's GPIO number."
    )
    open_pin: Pin | None = Field(
        default=None,
        description="The changeover switch's other contact, closed while the foot is up; "
        "a broken wire is then a fault.",
    )
    pedals: tuple[str, ...] = Field(
        default=(), description="USB pedals by their names below /dev/input/by-id; a missing one blocks nothing."
    )


class Relay(Frozen):
    """What the relay's data sheet says of its own delays."""

    operate_ms: Ms = Field(
        default=0.0,
        description="Milliseconds from the line's level to the closed contact, by the relay's data sheet, 0 to 100.",
    )
    release_ms: Ms = Field(
        default=0.0,
        description="Milliseconds from the line's level to the open contact, by the relay's data sheet, 0 to 100.",
    )


class Wiring(Frozen):
    """The wiring of one darkroom."""

    filters: Literal["drawer", "lines"] = Field(
        default="drawer",
        description="How filters are changed: “drawer”, by hand, one lamp line; “lines”, one lamp line for soft "
        "and one for hard.",
    )
    chip: Annotated[int, Field(ge=0, strict=True)] | None = Field(
        default=None, description="The number of the GPIO chip; left out, the Pi's own is found by its label."
    )
    force: bool = Field(
        default=False,
        strict=True,
        description="Take pins that the Pi has another use for (serial port, SPI, I2C).",
    )
    lamp: LampLine | None = Field(default=None, description="The enlarger's lamp, where there is one line for it.")
    lamp_soft: LampLine | None = Field(default=None, description="The soft light of a head with two lamp lines.")
    lamp_hard: LampLine | None = Field(default=None, description="The hard light of a head with two lamp lines.")
    foot: FootSwitch = Field(description="The foot switch; at least a contact or one pedal.")
    sounder: Line | None = Field(
        default=None,
        description="A passive sounder; without one focus light by foot is refused and the lead-in is 4 s.",
    )
    lid: Line | None = Field(
        default=None, description="A contact on the paper box, closed to ground while the lid is shut."
    )
    safelight: Safelight | None = Field(
        default=None,
        description="The safelight's outlet, on a normally-closed contact: at rest or in doubt the line leaves it on.",
    )
    room_light: LampLine | None = Field(
        default=None,
        description="An outlet in series with the wall switch of the room light; off at rest and in doubt.",
    )
    status_led: Outlet | None = Field(default=None, description="A dim red LED; off while a sheet is open.")
    alive: Outlet | None = Field(
        default=None, description="A beat every 50 ms while the lamp is lit, for a retriggerable monostable."
    )
    relay: Relay = Field(default=Relay(), description="The lamp relay's delays, for the record's figure.")

    @property
    def lamps(self) -> tuple[str, ...]:
        """The names of the lamp lines, as orders name them."""
        return (SOFT, HARD) if self.filters == "lines" else ("lamp",)


PRACTICE: Final = Wiring(lamp=LampLine(pin=17), foot=FootSwitch(pin=27), sounder=Line(pin=18))
"""What a practice darkroom has where no file says more; the pins mean nothing there."""


def fitted(data: Path, environment: Mapping[str, str], *, practice: bool) -> Fitting:
    """Return what the darkroom is fitted with, its wiring file held to every rule.

    Raises:
        Unreadable: one sentence for each thing that cannot be so, with file, key and remedy.
        LineError: there is no wiring file for real lines, or it cannot be read.
    """
    place = wiring_file(data, practice=practice)
    if place is not None:
        read_wiring(wiring_text(place), str(place))
    return read_fitting(data, environment, practice=practice)


def wiring_of(fitting: Fitting) -> Wiring:
    """Return the wiring of a fitting; without a file that of a plain practice darkroom."""
    if fitting.wiring is None:
        return PRACTICE
    return read_wiring(fitting.wiring_text, str(fitting.wiring))


def read_wiring(text: str, name: str) -> Wiring:
    """Return the wiring of a file's text; `name` is the file's, for the sentence.

    Raises:
        Unreadable: one sentence for each thing that cannot be so.
    """
    try:
        body = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as problem:
        raise Unreadable(say("wiring.no-toml", name=name, detail=problem)) from None
    try:
        wiring = Wiring.model_validate(body)
    except ValidationError as problem:
        raise Unreadable(" ".join(dict.fromkeys(_sentence(error, name) for error in problem.errors()))) from None
    if broken := list(dict.fromkeys(say(key, name=name, **values) for key, values in _broken(wiring))):
        raise Unreadable(" ".join(broken))
    return wiring


# ---- the rules that no single field can hold


def _broken(wiring: Wiring) -> Iterator[tuple[str, dict[str, object]]]:
    """Give each rule that the wiring breaks: the key of its sentence, and the sentence's values."""
    yield from _lamps(wiring)
    if wiring.foot.pin is None and not wiring.foot.pedals:
        yield "wiring.no-foot", {}
    if wiring.foot.pin is None and wiring.foot.open_pin is not None:
        yield "wiring.half-changeover", {}
    for pedal in wiring.foot.pedals:
        if not pedal.startswith(BY_ID) or len(pedal) == len(BY_ID) or "/" in pedal.removeprefix(BY_ID):
            yield "wiring.pedal", {"pedal": pedal}
    for pedal in sorted({p for p in wiring.foot.pedals if wiring.foot.pedals.count(p) > 1}):
        yield "wiring.pedal-twice", {"pedal": pedal}
    pins = list(_pins(wiring))
    seen: dict[int, str] = {}
    for key, pin in pins:
        if pin in seen:
            yield "wiring.twice", {"field": key, "other": seen[pin], "pin": pin}
        seen.setdefault(pin, key)
        if pin in KEPT:
            yield "wiring.kept", {"field": key, "pin": pin}
        elif pin in TAKEN and not wiring.force:
            yield "wiring.taken", {"field": key, "pin": pin, "use": say(TAKEN[pin])}
    for key in ("lamp", "lamp_soft", "lamp_hard", "room_light", "safelight", "alive"):
        line = getattr(wiring, key)
        if line is not None and line.pin in PULLED_UP:
            yield "wiring.pulled-up", {"field": f"{key}.pin", "pin": line.pin}
        if isinstance(line, LampLine) and not line.active_high:
            yield "wiring.active-low", {"field": f"{key}.active_high"}


def _lamps(wiring: Wiring) -> Iterator[tuple[str, dict[str, object]]]:
    wanted = ("lamp_soft", "lamp_hard") if wiring.filters == "lines" else ("lamp",)
    for key in ("lamp", "lamp_soft", "lamp_hard"):
        there = getattr(wiring, key) is not None
        if key in wanted and not there:
            yield "wiring.no-lamp", {"field": key, "filters": wiring.filters}
        if key not in wanted and there:
            yield "wiring.spare-lamp", {"field": key, "filters": wiring.filters}


def _pins(wiring: Wiring) -> Iterator[tuple[str, int]]:
    """Give every pin with the key that names it."""
    for name in Wiring.model_fields:
        line = getattr(wiring, name)
        for key in ("pin", "open_pin"):
            pin = getattr(line, key, None)
            if pin is not None:
                yield f"{name}.{key}", pin


# ---- sentences


def _sentence(error: ErrorDetails, name: str) -> str:
    key = ".".join(str(part) for part in error["loc"])
    value = (str(error["input"]).lower() if isinstance(error["input"], bool) else str(error["input"]))[:60]
    table = len(error["loc"]) == 1 and error["loc"][0] not in ("filters", "chip", "force")
    match error["type"]:
        case "extra_forbidden":
            return say("wiring.unknown", name=name, field=key, known=", ".join(_known(error["loc"])))
        case "missing" if table:
            return say("wiring.missing-table", name=name, field=key)
        case "missing":
            return say("wiring.missing", name=name, field=key)
        case "literal_error":
            return say("wiring.filters", name=name, field=key, value=value)
        case "bool_type":
            return say("wiring.truth", name=name, field=key, value=value)
        case _ if table:
            return say("wiring.table", name=name, field=key, value=value)
        case _ if str(error["loc"][0]) == "relay":
            return say("wiring.ms", name=name, field=key, value=value)
        case _ if key.startswith("foot.pedals"):
            return say("wiring.pedals", name=name, field="foot.pedals", value=value)
        case _ if key == "chip":
            return say("wiring.chip", name=name, field=key, value=value)
        case _:
            return say("wiring.pin", name=name, field=key, value=value)


def _known(loc: tuple[int | str, ...]) -> tuple[str, ...]:
    """Return the keys that may stand where an unknown one stood."""
    model = dict(model_tables()).get(str(loc[0]), Wiring) if len(loc) > 1 else Wiring
    return tuple(model.model_fields)


def model_tables() -> Iterator[tuple[str, type[Frozen]]]:
    """Give every table of the file with its model, in order."""
    yield from (
        ("lamp", LampLine),
        ("lamp_soft", LampLine),
        ("lamp_hard", LampLine),
        ("foot", FootSwitch),
        ("sounder", Line),
        ("lid", Line),
        ("safelight", Safelight),
        ("room_light", LampLine),
        ("status_led", Outlet),
        ("alive", Outlet),
        ("relay", Relay),
    )
