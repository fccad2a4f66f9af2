"""USB pedals: whether they are there, may be read, and hold a press. Some send down and up at once."""

from __future__ import annotations

import getpass
import os
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from controller.commands.check.findings import Finding, found
from controller.commands.check.machine import Machine
from hardware.clock import NS_PER_MS, Clock
from hardware.errors import LineError
from hardware.lines.lines import Contact

LISTEN_NS: Final = 10_000_000_000
_HELD_NS: Final = range(1_000_000_000, 4_000_000_000)
"""A press that was to last two seconds, by a person's own counting."""
_AT_ONCE_NS: Final = 200_000_000
_LOOK_NS: Final = 250_000_000


def look_at_pedals(paths: Sequence[str], machine: Machine, *, wired_foot: bool, trying: bool) -> Iterator[Finding]:
    """Look whether each pedal is there and may be read; a missing one matters most where there is nothing else.

    Where no press is being tried, how to try one is said.
    """
    for path in paths:
        place = machine.at(path)
        if not place.exists():
            yield found("pedal", "advice" if wired_foot else "must", "check.pedal-none", path=path)
        elif not machine.may_use(place, os.R_OK):
            yield found("group", "must", "check.group", group="input", device=path, user=getpass.getuser())
        else:
            yield found("pedal", "good", "check.pedal", path=path)
    if paths and not trying:
        yield found("press", "advice", "check.press-how")


def listen(path: str, open_pedals: Callable[[Sequence[str]], Contact], clock: Clock) -> Finding:
    """Hear one pedal for ten seconds, or until it was pressed and let go, and judge the press."""
    try:
        contact = open_pedals([path])
    except LineError as problem:
        return Finding(name="press", level="must", words=str(problem))
    try:
        if getattr(contact, "missing", ()):
            return found("press", "must", "check.press-missing", path=path)
        return judge(path, _hear(contact, clock), clock.now_ns())
    finally:
        contact.close()


def _hear(contact: Contact, clock: Clock) -> list[tuple[int, bool]]:
    """Take edges until a press of a sensible length has ended, or the time is over."""
    until = clock.now_ns() + LISTEN_NS
    fd = contact.fileno()
    edges: list[tuple[int, bool]] = []
    while (now_ns := clock.now_ns()) < until:
        edges += contact.edges()
        if (spans := _spans(edges, now_ns)) and not contact.closed() and max(spans) >= _HELD_NS.start:
            break
        try:
            clock.wait([] if fd is None else [fd], min(until, now_ns + _LOOK_NS))
        except OSError:
            break
    return edges


def judge(path: str, edges: Sequence[tuple[int, bool]], now_ns: int) -> Finding:
    """Judge what was heard of a pedal that was to be held for two seconds."""
    spans = _spans(edges, now_ns)
    if not spans:
        return found("press", "must", "check.press-unheard", path=path)
    longest = max(spans)
    seconds = f"{longest / 1e9:.1f}"
    if longest in _HELD_NS:
        return found("press", "good", "check.press", path=path, seconds=seconds)
    if longest < _AT_ONCE_NS:
        return found("press", "must", "check.press-at-once", path=path, ms=longest // NS_PER_MS)
    return found("press", "advice", "check.press-odd", path=path, seconds=seconds)


def _spans(edges: Sequence[tuple[int, bool]], now_ns: int) -> list[int]:
    """Return how long each press lasted; one that goes on lasts until now."""
    spans: list[int] = []
    since: int | None = None
    for at_ns, closed in edges:
        if closed:
            since = at_ns
        elif since is not None:
            spans.append(at_ns - since)
            since = None
    return spans if since is None else [*spans, now_ns - since]
