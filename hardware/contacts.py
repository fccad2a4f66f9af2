"""Several contacts as one: closed while any of them is, so that a wired foot switch and pedals act alike."""

from __future__ import annotations

import select
from collections.abc import Sequence

from hardware.changeover import Changeover
from hardware.lines import Contact


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
