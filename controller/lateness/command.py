"""`treadle timing`: how late the dark edge comes, on practice lines or, with paper and lamp away, on real ones."""

from __future__ import annotations

import os
import sys
from argparse import Namespace
from typing import Final, TextIO

from controller.data import DataFolder
from controller.errors import Unreadable
from controller.lateness.answer import Thread, TimingAnswer
from controller.lateness.figures import late_us
from controller.lateness.load import read_load
from controller.lateness.measure import OpenPage, measure
from controller.words import say
from hardware.fitting import Fitting, read_fitting

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
