"""Carries the grammar's effects out: rows into the journal, orders and sounds to the keeper, in the order of rule 9.

Intent committed → order sent → dark heard → fact committed → next order. Nothing waits for a disk while lit.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from controller.errors import StoreTrouble
from controller.foot.effects import Darken, Effect, File, PlaceOrder, Refuse
from controller.foot.events import StoreFailed
from controller.foot.places import Focus, Light, Place
from controller.store.entries import Entry, Intent, NoLightCame, SheetPlanned
from hardware.errors import KeeperAway
from hardware.wire import Cancel, Dose, RoomLight, Sound, ToKeeper


class Pipe(Protocol):
    """The way to the keeper: the tether's, or one in memory."""

    def send(self, message: ToKeeper) -> None:
        """Send; raises `KeeperAway`. No order is sent to another keeper than the one that is known."""

    def know(self, keeper: int) -> None:
        """Take note of the keeper (its process id) whose words have been taken in up to its greeting."""

    def stop(self, why: str = "page") -> None:
        """Dark now."""


class Filing(Protocol):
    """The journal, as the performer needs it."""

    def append(self, *entries: Entry) -> object:
        """File entries, all or none; raises `StoreTrouble`."""


class Performer:
    """Owned by the runner's thread. Remembers what could not be filed yet."""

    def __init__(self, pipe: Pipe, journal: Filing, stamped: Callable[[Entry], Entry] = lambda entry: entry) -> None:
        """`stamped` sees each row before it waits to be filed, and may add to it what the grammar does not know."""
        self._pipe, self._journal, self._stamped = pipe, journal, stamped
        self._planned: SheetPlanned | None = None
        """What was filed last of a sheet's plan; until light came, what stands at the enlarger may change in it."""
        self._unfiled: list[Entry] = []
        self._filing_trouble = self._arming_trouble = ""

    def perform(self, wanted: tuple[Effect, ...], place: Place, now_ns: int) -> tuple[StoreFailed, ...]:
        """Carry effects out, in order, things then standing at `place`; return what went wrong, for the grammar.

        Entries wait in memory while a light is on, and are on disk before the next order is sent.
        """
        troubles: list[StoreFailed] = []
        for effect in wanted:
            match effect:
                case PlaceOrder():
                    if not self._place(effect):
                        troubles.append(StoreFailed(effect.order.id, now_ns))
                case File():
                    self._unfiled.append(self._stamped(effect.entry))
                case Sound() | Cancel() | Dose() | RoomLight():
                    self._try_send(effect)
                case Darken(why):
                    self._pipe.stop(why)
                case Refuse():
                    pass  # the answer to whoever asked; the runner gives it
        if not isinstance(place, Light | Focus):
            self.file()
        return tuple(troubles)

    def note(self, *entries: Entry, lit: bool) -> None:
        """File entries that are nobody's effect, such as a remark, all or none; they wait where a light is on."""
        self._unfiled += map(self._stamped, entries)
        if not lit:
            self.file()

    def file(self) -> bool:
        """Commit what waits. What cannot be filed is kept, and nothing is lit until it is."""
        if not self._unfiled:
            return True
        try:
            self._journal.append(*self._unfiled)
        except StoreTrouble as trouble:
            self._filing_trouble = str(trouble)
            return False
        self._unfiled.clear()
        self._filing_trouble = ""
        return True

    @property
    def store_trouble(self) -> str:
        """What kept rows from being filed, until they are, or the last light from being armed, until one is."""
        return self._filing_trouble or self._arming_trouble

    @property
    def unfiled(self) -> bool:
        """Whether anything waits to be filed."""
        return bool(self._unfiled)

    def _place(self, effect: PlaceOrder) -> bool:
        """File the intent, then send the order; False where it was not sent."""
        planned = effect.planned
        if planned == self._planned:
            planned = None
        self._unfiled += [effect.intent] if planned is None else [planned, effect.intent]
        if not self.file():
            self._arming_trouble = self._filing_trouble
            self._take_out(effect.intent, planned)
            return False
        self._arming_trouble = ""
        if planned is not None:
            self._planned = planned
            self._stamped(planned)
        if self._try_send(effect.order):
            return True
        self._unfiled.append(NoLightCame(light=effect.order.id, why="keeper"))
        return False

    def _take_out(self, intent: Intent, planned: SheetPlanned | None) -> None:
        """Drop an intent (and its sheet's plan) that was never sent; facts stay."""
        self._unfiled = [entry for entry in self._unfiled if entry is not intent and entry is not planned]

    def know(self, keeper: int) -> None:
        """Let orders be for this keeper: what is decided on the words of one is never sent to the next."""
        self._pipe.know(keeper)

    def send(self, message: ToKeeper) -> None:
        """Send a message of the runner's own, such as a lease; raises `KeeperAway`."""
        self._pipe.send(message)

    def _try_send(self, message: ToKeeper) -> bool:
        try:
            self._pipe.send(message)
        except KeeperAway:
            return False
        return True
