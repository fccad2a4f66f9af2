"""Judging from outside whether a keeper is well: does it look up, and does light end when it should? Pure."""

from __future__ import annotations

from typing import Final

from hardware.clock import NS_PER_MS
from hardware.slate import Page
from hardware.wire import Cancelled, Dark, Dose, FromKeeper, Lit, Order, Refused

SILENT_NS: Final = 1_000_000_000
"""No pass of the keeper's loop for this long is a keeper that hangs."""
LATE_NS: Final = 250_000_000
"""No dark this long after an order's end, or after a stop, is one that hangs or has lost its line."""
SURE_NS: Final = 50_000_000
"""Silence is judged twice, so far apart: a watcher that slept itself must not blame the keeper for it."""


class Watch:
    """The watch over one keeper, from its greeting on."""

    def __init__(self, pid: int, greeted_ns: int) -> None:
        self._pid = pid
        self._greeted_ns = greeted_ns
        self._orders: dict[str, int] = {}
        self._longest: dict[str, int] = {}
        """The longest of the newest order of which a dose is asked for."""
        self._lit, self._on_ns = "", 0
        self._due_ns: int | None = None
        self._stop_ns = 0
        self._doubt_ns: int | None = None

    def ordered(self, order: Order) -> None:
        """Take note of an order on its way to the keeper."""
        self._orders[order.id] = order.lit_ms
        if order.longest_ms:
            self._longest = {order.id: order.most_ms}

    def dosed(self, dose: Dose) -> None:
        """Take note of a word on its way to the keeper that may put a light's end off, up to its order's longest."""
        if dose.id in self._longest:
            self._orders[dose.id] = self._longest[dose.id]
            if dose.id == self._lit and self._stop_ns < self._on_ns:
                self._due_ns = self._on_ns + self._orders[dose.id] * NS_PER_MS + LATE_NS

    def stopping(self, now_ns: int) -> None:
        """Take note of a stop on its way to the keeper."""
        self._stop_ns = now_ns
        if self._due_ns is not None:
            self._due_ns = min(self._due_ns, now_ns + LATE_NS)

    def heard(self, event: FromKeeper) -> None:
        """Take note of what the keeper said."""
        match event:
            case Lit(id=id_, at_ns=at_ns):
                self._lit, self._on_ns = id_, at_ns
                self._due_ns = at_ns + self._orders.get(id_, 0) * NS_PER_MS + LATE_NS
                if self._stop_ns >= at_ns:
                    self._due_ns = min(self._due_ns, self._stop_ns + LATE_NS)
            case Dark(id=id_):
                self._orders.pop(id_, None)
                if id_ == self._lit:
                    self._lit, self._due_ns = "", None
            case Refused(id=id_) | Cancelled(id=id_):
                self._orders.pop(id_, None)

    def due_ns(self) -> int | None:
        """Return the next moment worth looking at, beside the looks at every tenth of a second or so."""
        return self._due_ns

    def ailing(self, now_ns: int, page: Page | None) -> str | None:
        """Return "late" or "silent" for a keeper that must be killed, else None.

        `page` is the slate as it stands; everything that the keeper has said up to `now_ns` must have been heard.
        """
        if self._due_ns is not None and now_ns >= self._due_ns:
            return "late"
        passed_ns = page.last_pass_ns if page is not None and page.pid == self._pid else 0
        if now_ns - max(passed_ns, self._greeted_ns) <= SILENT_NS:
            self._doubt_ns = None
        elif self._doubt_ns is None:
            self._doubt_ns = now_ns
        elif now_ns - self._doubt_ns >= SURE_NS:
            return "silent"
        return None
