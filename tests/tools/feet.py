"""An independent reading of a contact's raw edges: foot-downs and holds as the design words them, no state machine.

A down is closed for 25 ms of the last 60 ms, its first contact the first closing edge in these 60 ms; an up is open
for 60 ms on end; a hold is a down that is still closed at its span's end. Times are ns.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

MS = 1_000_000
WINDOW, ENOUGH, OPEN = 60 * MS, 25 * MS, 60 * MS

Edge = tuple[int, bool]


@dataclass(frozen=True)
class Down:
    """A foot-down; `opened` is None where it never came up, `hold` where it never was one."""

    first: int
    known: int
    opened: int | None
    hold: int | None


def closures(edges: Sequence[Edge], until: int) -> list[tuple[int, int]]:
    """Return the spans in which the contact was closed."""
    spans: list[tuple[int, int]] = []
    since: int | None = None
    for at, closed in edges:
        if closed and since is None:
            since = at
        elif not closed and since is not None:
            spans.append((since, at))
            since = None
    return spans if since is None else [*spans, (since, until + 1)]


def downs(edges: Sequence[Edge], until: int, hold_ns: int) -> list[Down]:
    """Return the foot-downs known up to `until` of a contact that was at rest before its first edge."""
    spans = closures(edges, until)
    begun = [a for a, _ in spans]
    found: list[Down] = []
    at = 0
    while at < len(spans):
        known = _known(spans, at)
        if known is None or known > until:
            at += 1
            continue
        first = begun[bisect_left(begun, known - WINDOW)]
        last = at
        while last + 1 < len(spans) and spans[last + 1][0] - spans[last][1] < OPEN:
            last += 1
        opened = spans[last][1] if spans[last][1] + OPEN <= until else None
        held = [max(a, first + hold_ns) for a, b in spans[at : last + 1] if b >= first + hold_ns]
        hold = held[0] if held and held[0] <= until else None
        found.append(Down(first, known, opened, hold))
        at = last + 1
    return found


def _known(spans: Sequence[tuple[int, int]], at: int) -> int | None:
    """Return when closure number `at` makes a down, together with those shortly before it, or None."""
    a, b = spans[at]
    near = [(s, e) for s, e in spans[max(0, at - 40) : at] if e > a - WINDOW]
    corners = sorted({a, b, *(t + WINDOW for span in near for t in span if a < t + WINDOW < b)})

    def closed(t: int) -> int:
        return (t - a) + sum(max(0, e - max(s, t - WINDOW)) for s, e in near)

    for left, right in pairwise(corners):
        low, high = closed(left), closed(right)
        if low >= ENOUGH:
            return left
        if high >= ENOUGH:
            return left + (ENOUGH - low) * (right - left) // (high - low)
    return b if len(corners) > 1 and closed(b) >= ENOUGH else None


def from_rest(edges: Sequence[Edge], until: int) -> list[Edge]:
    """Return the edges that count for a keeper that found the contact as it was before them.

    A contact that was closed counts for nothing until it has been open for 60 ms.
    """
    if not edges or edges[0][1]:
        return list(edges)
    ends = [*(at for at, _ in edges[1:]), until]
    rested = (n for n, (at, closed) in enumerate(edges) if not closed and ends[n] - at >= OPEN)
    at = next(rested, len(edges))
    return list(edges[at + 1 :])


def at_rest(edges: Sequence[Edge], at: int) -> bool:
    """Tell whether the contact is open at `at` and has been for the 60 ms before it."""
    level, since = False, -OPEN
    for t, closed in edges:
        if t > at:
            break
        level, since = closed, t
    return not level and at - since >= OPEN
