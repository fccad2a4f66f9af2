"""Opening the lines that a specification names: practice lines or real ones, never one in place of the other."""

from __future__ import annotations

import time
from collections.abc import Mapping
from pathlib import Path

from hardware.lines.contacts import Changeover, join
from hardware.lines.lines import Contact, Lines, Opened, Outlet
from hardware.lines.spec import GpioSpec, PracticeSpec, read_outputs, read_spec


def open_lines(spec: Mapping[str, object]) -> Lines:
    """Open the lines, the lamps first, since holding them says that nobody else does.

    Raises:
        LineError: the specification is not understood, or a line cannot be had; nothing is left open.
    """
    match read_spec(spec):
        case PracticeSpec() as practice:
            return _practice(practice)
        case GpioSpec() as real:
            # gpiozero takes longer to import than a keeper on practice lines takes to start
            from hardware.lines.gpio import open_gpio

            return open_gpio(real)


def open_outputs(spec: Mapping[str, object], runtime: Path) -> dict[str, Outlet]:
    """Open lamps and outlets alone, to let go of every light; as little as can be is imported for it.

    The lamps come first. `runtime` is a folder for what the pin library must write, where it can be written.

    Raises:
        LineBusy: another process holds one.
        LineError: the specification is not understood, or a line cannot be had; nothing is left open.
    """
    match read_outputs(spec):
        case PracticeSpec() as practice:
            with Opened() as opened:
                found = _practice_outputs(practice, opened)
                opened.keep()
            return {**found[0], **found[1]}
        case GpioSpec() as real if real.factory == "lgpio":
            from hardware.lines.lgpio_output import open_bare

            return open_bare(real, runtime)
        case GpioSpec() as real:
            from hardware.lines.gpio import open_pins

            return open_pins(real)


def _practice_outputs(spec: PracticeSpec, opened: Opened) -> tuple[dict[str, Outlet], dict[str, Outlet]]:
    from hardware.practice.faults import Fault, Faults
    from hardware.practice.lamp import PracticeLamp, PracticeOutlet

    if not spec.keeps_level:
        faults = Faults(spec.runtime)
        faults.switch(Fault.DROPS_WHEN_OWNER_DIES, True)
        faults.close()
    lamps: dict[str, Outlet] = {name: opened.add(PracticeLamp(spec.runtime, name)) for name in spec.lamps}
    return lamps, {name: opened.add(PracticeOutlet(spec.runtime, name)) for name in spec.outlets}


def _practice(spec: PracticeSpec) -> Lines:
    from hardware.practice.contact import FOOT, FOOT_REST, LID, PracticeContact
    from hardware.practice.faults import Fault, Faults
    from hardware.practice.sounder import SilentSounder

    with Opened() as opened:
        lamps, outlets = _practice_outputs(spec, opened)
        faults = Faults(spec.runtime)
        has_sounder = spec.sounder and not faults.on(Fault.NO_SOUNDER)
        faults.close()
        foot: Contact = opened.add(PracticeContact(spec.runtime, FOOT))
        wires: Changeover | None = None
        if spec.changeover:
            wires = Changeover(foot, opened.add(PracticeContact(spec.runtime, FOOT_REST)), time.monotonic_ns())
            foot = opened.add(join(wires))
        lid = opened.add(PracticeContact(spec.runtime, LID)) if spec.lid else None
        opened.keep()
    return Lines(True, lamps, foot, SilentSounder() if has_sounder else None, lid, wires, outlets=outlets)
