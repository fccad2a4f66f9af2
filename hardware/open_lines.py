"""Opening the lines that a specification names: practice lines or real ones, never one in place of the other.

A specification is JSON: a wiring file's tables, and on what lines they are fitted. Real lines, or practice lines in
files of the folder `runtime`:

    {"kind": "gpio", "factory": "lgpio", "wiring": {"lamp": {"pin": 17}, "foot": {"pin": 27}}}
    {"kind": "practice", "runtime": "/run/treadle", "keeps_level": true, "wiring": {...}}
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from hardware.errors import LineError
from hardware.lines.contacts import Changeover, join
from hardware.lines.lines import Contact, Lines, Opened, Outlet
from hardware.wiring import Wiring, read_outputs, read_wiring
from hardware.wiring_tables import PLAIN

_NAME: Final = "the keeper's lines"


@dataclass(frozen=True, slots=True)
class Spec:
    """The wiring, and on what lines it is fitted: practice lines where there is a `runtime`."""

    wiring: Wiring
    runtime: Path | None
    factory: str
    keeps_level: bool
    """A practice output keeps its level when its owner dies, as a Pi's does."""


def read_spec(spec: Mapping[str, object], *, outputs_only: bool = False) -> Spec:
    """Return what a specification says, of lamps and outlets alone where nothing else matters.

    Raises:
        LineError: it is not understood, or a line cannot be so; the text says which and what would do.
    """
    read = read_outputs if outputs_only else read_wiring
    match spec:
        case {"kind": "practice", "runtime": str(runtime), **more} if set(more) <= {"wiring", "keeps_level"}:
            keeps_level = more.get("keeps_level", True)
            if type(keeps_level) is not bool:
                raise LineError(f"{_NAME}: keeps_level is {keeps_level!r}: say true or false")
            return Spec(read(_body(more.get("wiring", PLAIN)), _NAME), Path(runtime), "", keeps_level)
        case {"kind": "gpio", "factory": str(factory), "wiring": wiring, **more} if not more:
            return Spec(read(_body(wiring), _NAME), None, factory, True)
    raise LineError(
        f"{_NAME} are given as {sorted(spec)}: say kind = practice with a runtime, or kind = gpio with a factory and "
        "wiring"
    )


def _body(wiring: object) -> Mapping[str, object]:
    if not isinstance(wiring, Mapping):
        raise LineError(f"{_NAME}: the wiring is {wiring!r}: give a wiring file's tables")
    return wiring


def open_lines(spec: Mapping[str, object]) -> Lines:
    """Open the lines, the lamps first, since holding them says that nobody else does.

    Raises:
        LineError: the specification is not understood, or a line cannot be had; nothing is left open.
    """
    given = read_spec(spec)
    if given.runtime is not None:
        return _practice(given, given.runtime)
    # gpiozero takes longer to import than a keeper on practice lines takes to start
    from hardware.lines.gpio import open_gpio

    return open_gpio(given.factory, given.wiring)


def open_outputs(spec: Mapping[str, object], runtime: Path) -> dict[str, Outlet]:
    """Open lamps and outlets alone, to let go of every light; as little as can be is imported for it.

    The lamps come first. `runtime` is a folder for what the pin library must write, where it can be written.

    Raises:
        LineBusy: another process holds one.
        LineError: the specification is not understood, or a line cannot be had; nothing is left open.
    """
    given = read_spec(spec, outputs_only=True)
    if given.runtime is not None:
        with Opened() as opened:
            lamps, outlets = _practice_outputs(given, given.runtime, opened)
            opened.keep()
        return {**lamps, **outlets}
    if given.factory == "lgpio":
        from hardware.lines.lgpio_output import open_outputs_alone

        return open_outputs_alone(given.wiring, runtime)
    from hardware.lines.gpio import open_pins

    return open_pins(given.factory, given.wiring)


def _practice_outputs(spec: Spec, runtime: Path, opened: Opened) -> tuple[dict[str, Outlet], dict[str, Outlet]]:
    from hardware.practice.faults import Faults, PracticeFault
    from hardware.practice.outputs import PracticeLamp, PracticeOutlet

    if not spec.keeps_level:
        faults = Faults(runtime)
        faults.switch(PracticeFault.DROPS_WHEN_OWNER_DIES, True)
        faults.close()
    lamps: dict[str, Outlet] = {name: opened.add(PracticeLamp(runtime, name)) for name in spec.wiring.lamps}
    return lamps, {name: opened.add(PracticeOutlet(runtime, name)) for name in spec.wiring.outlets}


def _practice(spec: Spec, runtime: Path) -> Lines:
    from hardware.practice.contact import FOOT, FOOT_REST, LID, PracticeContact
    from hardware.practice.faults import Faults, PracticeFault
    from hardware.practice.outputs import SilentSounder

    wiring = spec.wiring
    with Opened() as opened:
        lamps, outlets = _practice_outputs(spec, runtime, opened)
        faults = Faults(runtime)
        has_sounder = wiring.sounder is not None and not faults.on(PracticeFault.NO_SOUNDER)
        faults.close()
        foot: Contact = opened.add(PracticeContact(runtime, FOOT))
        wires: Changeover | None = None
        if wiring.foot is not None and wiring.foot.open_pin is not None:
            wires = Changeover(foot, opened.add(PracticeContact(runtime, FOOT_REST)), time.monotonic_ns())
            foot = opened.add(join(wires))
        lid = None if wiring.lid is None else opened.add(PracticeContact(runtime, LID))
        opened.keep()
    return Lines(True, lamps, foot, SilentSounder() if has_sounder else None, lid, wires, outlets=outlets)
