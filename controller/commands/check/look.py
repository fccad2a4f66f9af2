"""Looking at everything that can be looked at without light, one finding after the other."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from typing import Final

from controller.addresses import Places
from controller.commands.check.card import (
    look_at_disk,
    look_at_folder,
    look_at_second_place,
    look_at_stores,
    rebuild,
)
from controller.commands.check.findings import Finding, Report, found
from controller.commands.check.keeper_start import look_at_keeper, look_at_lines, look_at_priority
from controller.commands.check.machine import Machine
from controller.commands.check.network import look_at_name, look_at_network, look_at_page, look_at_port
from controller.commands.check.pedals import listen, look_at_pedals
from controller.commands.check.pi import look_at_pins, look_at_power
from controller.errors import ControllerError
from controller.service.door import ask as ask_at_door
from controller.store.folder import DataFolder
from controller.words import say
from hardware.clock import MonotonicClock
from hardware.errors import HardwareError
from hardware.fitting import read_fitting, runtime_of

_OLDEST: Final = (3, 11)


def check(
    data: DataFolder,
    *,
    simulate: bool,
    port: int,
    machine: Machine | None = None,
    ask: Callable[[str], object] | None = None,
    anew: bool = False,
) -> Report:
    """Look at everything; nothing is lit, and a running daemon is left alone.

    `ask` is told what a person is to do, where a press of each pedal is to be tried; else no press is asked for.
    `anew` builds what is derived from journal and shelf once more.
    """
    return Report(
        findings=tuple(_findings(data, machine or Machine(), simulate=simulate, port=port, ask=ask, anew=anew))
    )


def _findings(
    data: DataFolder, machine: Machine, *, simulate: bool, port: int, ask: Callable[[str], object] | None, anew: bool
) -> Iterator[Finding]:
    daemon = data.is_owned()
    looks: dict[str, Callable[[], Iterable[Finding]]] = {
        "python": lambda: [_python()],
        "folder": lambda: look_at_folder(data, machine, practice=simulate),
        "lookups": lambda: [rebuild(data)] if anew else (),
        "disk": lambda: look_at_disk(data.path),
        "stores": lambda: look_at_stores(data, daemon=daemon),
        "second place": lambda: look_at_second_place(data, machine, practice=simulate),
        "clock": lambda: [_clock(machine)],
        "power": lambda: [look_at_power(machine)],
        "priority": lambda: [look_at_priority(machine)],
        "keeper": look_at_keeper,
        "lines": lambda: _look_at_lines(data, machine, simulate=simulate, daemon=daemon, ask=ask),
        "port": lambda: [look_at_port(port)],
        "name": lambda: look_at_name(machine, port),
        "network": lambda: look_at_network(machine),
        "page": lambda: _look_at_page(data, machine) if daemon else (),
    }
    for name, look in looks.items():
        # whatever breaks a look, the list goes on to its end
        try:
            yield from look()
        except (ControllerError, HardwareError) as problem:
            yield Finding(name=name, level="must", words=str(problem))
        except OSError as problem:
            place = problem.filename or data.path
            yield found(name, "must", "check.broke", name=name, place=place, detail=problem.strerror)


def _look_at_page(data: DataFolder, machine: Machine) -> Iterator[Finding]:
    try:
        where = ask_at_door(runtime_of(data.path, machine.environment), "where", Places)
    except ControllerError:
        yield found("page", "advice", "check.page-unasked")
    else:
        yield from look_at_page(where)


def _look_at_lines(
    data: DataFolder, machine: Machine, *, simulate: bool, daemon: bool, ask: Callable[[str], object] | None
) -> Iterator[Finding]:
    try:
        fitting = read_fitting(data.path, machine.environment, practice=simulate)
    except HardwareError as problem:
        yield Finding(name="wiring", level="must", words=str(problem))
        return
    if fitting.place is not None:
        yield Finding(name="wiring", level="good", words=say("wiring.used", name=fitting.place))
    wiring = fitting.wiring
    if not simulate:
        yield from look_at_pins(wiring, machine, daemon=daemon)
        yield from look_at_pedals(wiring.pedals, machine, wired_foot=wiring.foot is not None, trying=ask is not None)
    if daemon:
        yield found("lines", "good", "check.served")
    else:
        yield from look_at_lines(fitting.lines, fitting.runtime)
    if ask is not None:
        yield from _try(() if simulate else wiring.pedals, ask, daemon=daemon)


def _try(paths: tuple[str, ...], ask: Callable[[str], object], *, daemon: bool) -> Iterator[Finding]:
    if not paths:
        yield found("press", "advice", "check.press-no-pedal")
    elif daemon:
        yield found("press", "advice", "check.press-served")
    else:
        from hardware.lines.pedals import open_pedals

        for path in paths:
            ask(say("check.press-ask", path=path))
            yield listen(path, open_pedals, MonotonicClock())


def _python() -> Finding:
    have = ".".join(str(part) for part in sys.version_info[:2])
    return (
        found("python", "good", "check.python", have=have)
        if sys.version_info[:2] >= _OLDEST
        else found("python", "must", "check.python-old", have=have)
    )


def _clock(machine: Machine) -> Finding:
    return (
        found("clock", "good", "check.clock")
        if machine.synchronised()
        else found("clock", "advice", "check.clock-unset")
    )
