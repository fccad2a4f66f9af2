"""A foot switch that changes over between two contacts, so that a broken wire shows; exact to the nanosecond.

One line is closed while the switch is pressed, the other while it is at rest. Exactly one of them is closed, but for
the transit: pressing opens the one before it closes the other, and for some milliseconds both are open (or, in a
switch that makes before it breaks, both closed). With a snap-action switch this takes 5 to 20 ms (common practice). A
transit may take 60 ms on end, the span in which the contact counts as up. Longer is a fault: a wire is broken, or two
touch. A broken wire to the rest line shows at once, one to the pressed line at the first press, which is then dark
too, 60 ms after the rest line has opened.

After a fault the switch counts as whole once it was seen so in both places: pressed for 25 ms on end, then at rest
for 60 ms on end, with no transit over 60 ms between. A wire that is broken still cannot show both.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from hardware.lines import Contact

SPAN_NS: Final = 60_000_000
PRESSED_NS: Final = 25_000_000
_PRESSED, _REST = 0, 1


class Changeover:
    """The two lines as one contact, closed while pressed, with a judgement of their wires."""

    def __init__(self, pressed: Contact, rest: Contact, now_ns: int) -> None:
        """Take the lines as they are at `now_ns`."""
        self._lines = (pressed, rest)
        self._levels = [pressed.closed(), rest.closed()]
        self._since_ns = now_ns
        self._proven = False
        """While broken: it was seen pressed, and nothing but that or a transit since."""
        self.broken = False
        self._verdicts: list[int] = []

    # ---- a contact

    def fileno(self) -> int | None:
        """Return None: two lines have no one descriptor; `descriptors` has both."""
        return None

    def descriptors(self) -> tuple[int | None, ...]:
        """Return the descriptors of both lines."""
        return tuple(line.fileno() for line in self._lines)

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges of both lines since the last call; return those of the pressed one, oldest first."""
        waiting = sorted((at_ns, n, closed) for n, line in enumerate(self._lines) for at_ns, closed in line.edges())
        for at_ns, n, closed in waiting:
            self._edge(n, at_ns, closed)
        return [(at_ns, closed) for at_ns, n, closed in waiting if n == _PRESSED]

    def closed(self) -> bool:
        """Return whether the pressed line is closed now."""
        return self._lines[_PRESSED].closed()

    def close(self) -> None:
        """Let both lines go; closing twice does nothing."""
        for line in self._lines:
            line.close()

    # ---- its wires

    def look(self, now_ns: int) -> None:
        """Take both levels as they are now: the second path beside the edges."""
        for n, line in enumerate(self._lines):
            self._edge(n, now_ns, line.closed())

    def settled(self) -> bool:
        """Return whether exactly one line is closed: no transit, no fault to be seen."""
        return self._levels[_PRESSED] != self._levels[_REST]

    def advance(self, now_ns: int) -> bool:
        """Judge up to `now_ns`; return whether `broken` has changed, once or more often."""
        self._judge(now_ns)
        changed, self._verdicts = bool(self._verdicts), []
        return changed

    def due_ns(self) -> int | None:
        """Return the next moment at which `advance` has something to judge if no edge comes."""
        if self._verdicts:
            return self._verdicts[0]
        if not self.settled():
            return None if self.broken and not self._proven else self._since_ns + SPAN_NS
        if not self.broken or self._proven == self._levels[_PRESSED]:
            return None
        return self._since_ns + (PRESSED_NS if self._levels[_PRESSED] else SPAN_NS)

    @property
    def since_ns(self) -> int:
        """When the lines came to be as they are."""
        return self._since_ns

    def _edge(self, n: int, at_ns: int, closed: bool) -> None:
        if self._levels[n] == closed:
            return
        at_ns = max(at_ns, self._since_ns)
        self._judge(at_ns)
        self._levels[n] = closed
        self._since_ns = at_ns

    def _judge(self, now_ns: int) -> None:
        verdicts, self._verdicts = self._verdicts, []
        while (due_ns := self.due_ns()) is not None and due_ns <= now_ns:
            if self.settled() and self._levels[_PRESSED]:
                self._proven = True
            else:
                was, self.broken, self._proven = self.broken, not self.settled(), False
                verdicts += [due_ns] if was != self.broken else []
        self._verdicts = verdicts
