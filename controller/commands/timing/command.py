"""What `treadle timing` may be told; apart from the measuring, so that other commands need not load it."""

from __future__ import annotations

import os
import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Sequence
from math import ceil
from typing import Final, TextIO

from pydantic import Field

from controller.commands.timing.load import Load, read_load
from controller.commands.timing.measure import OpenPage, measure
from controller.errors import Unreadable
from controller.exposure.decimals import seconds
from controller.model import Frozen
from controller.store.folder import DataFolder
from controller.words import say
from hardware.fitting import Fitting, read_fitting


def add_arguments(parser: ArgumentParser) -> None:
    """Add what `timing` may be told."""
    parser.add_argument("--lights", type=int, default=200, help=say("timing.help-lights"))
    parser.add_argument("--seconds", type=seconds, default=0.25, help=say("timing.help-seconds"))
    parser.add_argument("--load", default="", metavar="cpu=2,pages=20", help=say("timing.help-load"))
    parser.add_argument("--compare", action="store_true", help=say("timing.help-compare"))
    parser.add_argument("--real-lines", action="store_true", help=say("timing.help-real-lines"))


P999_FROM: Final = 3000
"""Fewer lights than this have at most three beyond the 99.9th hundredth, which says nothing."""


class LateUs(Frozen):
    """How late, in microseconds: half of the lights at most `p50`, and so on; `p999` is None under 3,000 lights."""

    p50: float
    p99: float
    p999: float | None
    max: float


def late_us(late_ns: Sequence[int]) -> LateUs:
    """Return the figures of latenesses in nanoseconds; the percentiles are by nearest rank.

    Raises:
        ValueError: there are none.
    """
    if not late_ns:
        raise ValueError("there are no lights to take figures of")
    ordered = sorted(late_ns)

    def at(part: float) -> float:
        return round(ordered[max(0, ceil(part * len(ordered)) - 1)] / 1000, 1)

    return LateUs(
        p50=at(0.50),
        p99=at(0.99),
        p999=at(0.999) if len(ordered) >= P999_FROM else None,
        max=round(ordered[-1] / 1000, 1),
    )


class Thread(Frozen):
    """The timer thread beside the page, in the same run: as many lights as it found time for."""

    lights: int
    late_us: LateUs


class TimingAnswer(Frozen):
    """How late the lamp went dark, and under what."""

    lights: int
    seconds: float
    load: Load
    real_lines: bool
    scheduling: str
    memory_locked: bool
    steal_percent: float | None
    late_us: LateUs
    thread: Thread | None = Field(default=None, exclude_if=lambda value: value is None)
    """Where a thread was measured beside it."""

    def lines(self) -> tuple[str, ...]:
        """Return it as text, a line each."""
        load = self.load.text() or say("timing.no-load")
        steal = say("timing.steal-unknown") if self.steal_percent is None else f"{self.steal_percent:.2f} %"
        rows = [
            say(
                f"timing.head-{'real' if self.real_lines else 'practice'}",
                lights=self.lights,
                seconds=f"{self.seconds:g}",
                load=load,
            ),
            say(f"timing.scheduling-{'fifo' if self.scheduling == 'fifo' else 'other'}"),
            say("timing.steal", steal=steal),
            _row(say("timing.keeper"), self.late_us),
        ]
        if self.thread is not None:
            rows.append(_row(say("timing.thread"), self.thread.late_us))
            rows.append(say("timing.ratio", times=f"{self.thread.late_us.p99 / max(self.late_us.p99, 0.1):.0f}"))
        return tuple(rows)


def _row(name: str, late: LateUs) -> str:
    p999 = say("timing.few") if late.p999 is None else say("timing.micro", count=f"{late.p999:.0f}")
    return say("timing.row", name=name, p50=f"{late.p50:.0f}", p99=f"{late.p99:.0f}", p999=p999, most=f"{late.max:.0f}")


MOST_LIGHTS: Final = 30_000
"""A practice line remembers twice as many edges, and a few more."""
LEAST_S, MOST_S = 0.005, 10.0


def answer(args: Namespace, data: DataFolder, open_page: OpenPage, ask: TextIO = sys.stdin) -> TimingAnswer:
    """Return the figures asked for. On real lines the data folder is owned meanwhile, so no daemon can serve.

    Raises:
        Unreadable: a figure is out of range, or the question about paper and lamp was not answered with yes.
        StoreTrouble: real lines, and a daemon serves.
        LineError, KeeperAway, KeeperGone: the lines or the keeper cannot be had.
    """
    if not 1 <= args.lights <= MOST_LIGHTS:
        raise Unreadable(say("timing.lights", found=args.lights, most=f"{MOST_LIGHTS:,}"))
    if not LEAST_S <= args.seconds <= MOST_S:  # a not-a-number is refused too
        raise Unreadable(say("timing.seconds", found=args.seconds, least=LEAST_S, most=f"{MOST_S:g}"))
    if not args.real_lines:
        return _answer(args, None, open_page)
    with data.locked():
        fitting = read_fitting(data.path, os.environ, practice=False)
        sys.stderr.write(f"{say('timing.ask')} ")
        sys.stderr.flush()
        if ask.readline().strip().lower() != say("timing.yes"):
            raise Unreadable(say("timing.not-asked"))
        return _answer(args, fitting, open_page)


def _answer(args: Namespace, fitting: Fitting | None, open_page: OpenPage) -> TimingAnswer:
    load, lit_ms = read_load(args.load), round(args.seconds * 1000)
    found = measure(fitting, lights=args.lights, lit_ms=lit_ms, load=load, compare=args.compare, open_page=open_page)
    return TimingAnswer(
        lights=args.lights,
        seconds=lit_ms / 1000,
        load=load,
        real_lines=fitting is not None,
        scheduling=found.greeting.scheduling,
        memory_locked=found.greeting.locked,
        steal_percent=found.steal_percent,
        late_us=late_us(found.late_ns),
        thread=Thread(lights=len(found.thread_ns), late_us=late_us(found.thread_ns)) if found.thread_ns else None,
    )
