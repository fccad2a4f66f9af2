"""Several contacts as one: closed while any of them is, so that a wired foot switch and pedals act alike."""

from __future__ import annotations

import select
from collections.abc import Sequence
from typing import Final

from hardware.lines.lines import Contact


class AnyOf:
    """Contacts that act as one. One that is missing or broken keeps none of the others from being heard."""

    def __init__(self, *contacts: Contact) -> None:
        """Take the contacts; their descriptors must stay what they are."""
        self._contacts = contacts
        self._levels = [contact.closed() for contact in contacts]
        self._poll: select.epoll | None = None
        fds = [fd for contact in contacts for fd in descriptors(contact)]
        if None not in fds:
            self._poll = select.epoll()
            for fd in fds:
                assert fd is not None
                self._poll.register(fd, select.EPOLLIN)

    def fileno(self) -> int | None:
        """Return a descriptor that can be read when any contact's can, or None where one has none."""
        return None if self._poll is None else self._poll.fileno()

    def edges(self) -> Sequence[tuple[int, bool]]:
        """Take the edges since the last call, oldest first, of all contacts as one."""
        waiting = sorted(
            (at_ns, n, closed) for n, contact in enumerate(self._contacts) for at_ns, closed in contact.edges()
        )
        found: list[tuple[int, bool]] = []
        for at_ns, n, closed in waiting:
            before = any(self._levels)
            self._levels[n] = closed
            if any(self._levels) != before:
                found.append((at_ns, not before))
        return found

    def closed(self) -> bool:
        """Return whether any contact is closed now."""
        return any(contact.closed() for contact in self._contacts)

    def close(self) -> None:
        """Let every contact go; closing twice does nothing."""
        if self._poll is not None:
            self._poll.close()
            self._poll = None
        for contact in self._contacts:
            contact.close()


def descriptors(contact: Contact) -> tuple[int | None, ...]:
    """Return what can be waited for at a contact; None stands for a line that cannot ring."""
    return contact.descriptors() if isinstance(contact, Changeover) else (contact.fileno(),)


def join(*contacts: Contact) -> Contact:
    """Return the contacts as one."""
    if len(contacts) == 1 and not isinstance(contacts[0], Changeover):
        return contacts[0]
    return AnyOf(*contacts)


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
