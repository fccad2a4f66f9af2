"""The wiring of a darkroom, read from its file's tables: every rule a line is held to, and each refusal's sentence.

The keeper, the daemon and `treadle dark` read it here and nowhere else. Nothing heavy is imported, so that this works
when little else does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, cast

from hardware.errors import WiringError
from hardware.wiring_tables import (
    BY_ID,
    DRAWER,
    KEPT,
    LAMPS,
    LINES,
    NEEDED,
    OUTLETS,
    PULLED_UP,
    TABLES,
    TAKEN,
    TOP,
    Filters,
    Key,
    Table,
)

_MOST_SENTENCES: Final = 8


@dataclass(frozen=True, slots=True)
class Output:
    """An output's pin, and the level that makes it active."""

    pin: int
    active_high: bool = True


@dataclass(frozen=True, slots=True)
class FootPins:
    """The wired foot switch: closed to ground on `pin` when pressed, on `open_pin` (where there is one) at rest."""

    pin: int
    open_pin: int | None = None


@dataclass(frozen=True, slots=True)
class Wiring:
    """The wiring of one darkroom."""

    filters: Filters
    chip: int | None
    lamps: Mapping[str, int]
    """Pins by the lamps' names in orders."""
    foot: FootPins | None
    pedals: tuple[str, ...]
    sounder: int | None
    lid: int | None
    outlets: Mapping[str, Output]
    """By name, of `OUTLETS`."""
    safelight_dark_while_lit: bool
    operate_ms: float
    release_ms: float

    def outputs(self) -> dict[str, Output]:
        """Return every output but the sounder by name: the lamps first, driven high for light."""
        return {**{f"{name} line": Output(pin) for name, pin in self.lamps.items()}, **self.outlets}


Body = Mapping[str, object]


def read_wiring(body: Body, name: str) -> Wiring:
    """Return what a wiring file's tables say; `name` is the file's, for the sentences.

    Raises:
        WiringError: one sentence for each thing that cannot be so, with file, key and remedy.
    """
    return _read(body, name, foot_needed=True)


def read_outputs(body: Body, name: str) -> Wiring:
    """Return the lamps, and those outlets in whose words there is no fault: what is to be let go of in any case.

    Raises:
        WiringError: a lamp's own words cannot be so.
    """
    filters = LINES if body.get("filters") == LINES else DRAWER
    kept: dict[str, object] = {"filters": filters, "chip": body.get("chip"), "force": True}
    for key in LAMPS[filters].values():
        lamp = body.get(key)
        if lamp is not None:  # a level that lights it is no lamp's: each is driven high for light
            kept[key] = {"pin": lamp["pin"]} if isinstance(lamp, Mapping) and "pin" in lamp else lamp
    found = _read(kept, name, foot_needed=False)
    for key in OUTLETS:
        if key in body:
            try:
                found = _read({**kept, key: body[key]}, name, foot_needed=False)
            except WiringError:
                continue
            kept[key] = body[key]
    return found


def _read(body: Body, name: str, *, foot_needed: bool) -> Wiring:
    _refuse(name, _misfits(body, foot_needed=foot_needed))
    top = {key: body.get(key, rule.default) for key, rule in TOP.items()}
    tables = {
        key: {inner: table.get(inner, rule.default) for inner, rule in TABLES[key].keys.items()}
        for key in TABLES
        if isinstance(table := body.get(key), Mapping)
    }
    _refuse(name, _broken(top, tables))
    foot, relay, lamps = tables.get("foot", {}), tables.get("relay", {}), LAMPS[str(top["filters"])]
    return Wiring(
        cast("Filters", top["filters"]),
        cast("int | None", top["chip"]),
        {lamp: tables[key]["pin"] for lamp, key in lamps.items()},
        None if foot.get("pin") is None else FootPins(foot["pin"], foot["open_pin"]),
        tuple(foot.get("pedals", ())),
        tables.get("sounder", {}).get("pin"),
        tables.get("lid", {}).get("pin"),
        {key: Output(tables[key]["pin"], tables[key]["active_high"]) for key in OUTLETS if key in tables},
        tables.get("safelight", {}).get("dark_while_lit", False),
        float(relay.get("operate_ms", 0.0)),
        float(relay.get("release_ms", 0.0)),
    )


# ---- what cannot be so


def _refuse(name: str, sentences: Iterator[str]) -> None:
    """Raise what is wrong, if anything is.

    Raises:
        WiringError: the sentences, each with the file's name.
    """
    wrong = list(dict.fromkeys(sentences))
    if wrong:
        more = [f"{len(wrong) - _MOST_SENTENCES} things more."] if len(wrong) > _MOST_SENTENCES else []
        raise WiringError(" ".join(f"{name}: {words}" for words in (*wrong[:_MOST_SENTENCES], *more)))


def _misfits(body: Body, *, foot_needed: bool) -> Iterator[str]:
    """Give a sentence for each key that there is not, that is missing, or whose value does not fit."""
    yield from _misfits_of("", {key: value for key, value in body.items() if key not in TABLES}, TOP, (*TOP, *TABLES))
    if foot_needed and "foot" not in body:
        yield "there is no [foot]. Write that table; “treadle wiring” prints an example."
    for key, table in TABLES.items():
        if key in body:
            inside = body[key]
            if isinstance(inside, Mapping):
                yield from _misfits_of(f"{key}.", inside, table.keys, tuple(table.keys))
            else:
                yield (
                    f"“{key}” is {_shown(inside)}, not a table. Write [{key}] on a line of its own, "
                    "and below it pin = and a number."
                )


def _misfits_of(where: str, body: Body, keys: Mapping[str, Key], known: tuple[str, ...]) -> Iterator[str]:
    for key, value in body.items():
        if key not in keys:
            yield f"there is no “{where}{key[:60]}”. Take it out, or write one of: {', '.join(known)}."
        elif not keys[key].kind.fits(value):
            yield f"“{where}{key}” is {_shown(value)}. {keys[key].kind.advice}"
    for key, rule in keys.items():
        if rule.default is NEEDED and key not in body:
            yield f"“{where}{key}” is missing. Write it, or take its table out."


def _shown(value: object) -> str:
    """Return a value in few words, however long or deep it is."""
    match value:
        case bool():
            return str(value).lower()
        case int() if abs(value) >= 10**12:
            return "a very long number"
        case Mapping():
            return "a table"
        case list() | tuple():
            return "a list"
        case _:
            return str(value)[:60]


def _broken(top: Mapping[str, Any], tables: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    """Give a sentence for each rule that no single key can hold."""
    filters = top["filters"]
    wanted = LAMPS[filters].values()
    other = "or say the other way of changing filters."
    for key in ("lamp", "lamp_soft", "lamp_hard"):
        if key in wanted and key not in tables:
            yield f"filters is “{filters}”, but there is no [{key}]. Write it with its pin, {other}"
        if key not in wanted and key in tables:
            yield f"filters is “{filters}”, so [{key}] would never be lit. Take it out, {other}"
    if "foot" in tables:
        yield from _broken_foot(**tables["foot"])
    users: dict[int, str] = {}
    for key, table in tables.items():
        for inner in ("pin", "open_pin"):
            if (pin := table.get(inner)) is not None:
                yield from _broken_pin(f"{key}.{inner}", pin, TABLES[key], users, force=top["force"])
        if TABLES[key].high_only and not table["active_high"]:
            yield (
                f"“{key}.active_high” is false. A line that lights when low would light whenever the Pi is off, "
                "starting or broken. Take a driver that needs a high level, and leave active_high out."
            )


def _broken_foot(pin: int | None, open_pin: int | None, pedals: list[str]) -> Iterator[str]:
    if pin is None and not pedals:
        yield (
            "“foot” has neither a pin nor pedals, so nothing could be pressed. Give foot.pin, or a name in foot.pedals."
        )
    if pin is None and open_pin is not None:
        yield (
            "“foot.open_pin” stands without “foot.pin”. A changeover switch has both: give foot.pin too, "
            "or take foot.open_pin out."
        )
    for number, pedal in enumerate(pedals):
        if not pedal.startswith(BY_ID) or len(pedal) == len(BY_ID) or "/" in pedal.removeprefix(BY_ID):
            yield (
                f"“foot.pedals” names {_shown(pedal)}. Name it below /dev/input/by-id, where a pedal keeps its name: "
                "ls /dev/input/by-id shows them."
            )
        if pedal in pedals[:number]:
            yield f"“foot.pedals” names {_shown(pedal)} twice. Take one out."


def _broken_pin(key: str, pin: int, table: Table, users: dict[int, str], *, force: bool) -> Iterator[str]:
    if pin in users:
        yield f"“{key}” is GPIO {pin}, as “{users[pin]}” is. One pin, one line: move one of them."
    users.setdefault(pin, key)
    if pin in KEPT:
        yield (
            f"“{key}” is GPIO {pin}. The Pi asks a plug-on board for its name on GPIO 0 and 1, before any software "
            "runs. Take another pin."
        )
    elif pin in TAKEN and not force:
        yield (
            f"“{key}” is GPIO {pin}, which {TAKEN[pin]}. Take another pin, or say force = true where you know that "
            "nothing else has it."
        )
    if table.low_at_start and pin in PULLED_UP:
        yield (
            f"“{key}” is GPIO {pin}. GPIO 0 to 8 are pulled up from power-on, so the line would be on before Treadle "
            "runs. Take GPIO 17 or one of 22 to 27."
        )
