"""The runner: one inbox, the grammar, its effects. A core that virtual time can drive, and a thread around it."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

from controller.daemon.performer import Performer
from controller.foot.effects import Refuse, Watchers
from controller.foot.events import Event, FootWire, Its, KeeperCame, KeeperWent, Tick
from controller.foot.places import Focus, Light
from controller.foot.state import Foot, State
from controller.foot.table import decide, settled
from controller.foot.turn import Turn
from hardware.clock import NS_PER_MS
from hardware.errors import KeeperAway
from hardware.slate import Interrupted
from hardware.sounds import Cue
from hardware.wire import (
    Accepted,
    Cancelled,
    Dark,
    FromKeeper,
    Greeting,
    Lease,
    Lit,
    Reason,
    Refused,
    RoomLight,
    SheetOpen,
    Sound,
    Sounded,
    Trouble,
    What,
)

_LEASES: Final = 4
"""Renewals within one lease: three may be lost."""
_ROOM_LEASES: Final = 2
"""The same for the room light: every second."""
_RETRY_NS: Final = 5_000_000_000
"""What could not be filed is tried again this often while dark."""


_TOLD: Final = {
    Reason.PAST: "foot.trouble-slow-card",
    Reason.LONG: "foot.trouble-too-long",
    Reason.LID: "foot.box-open",
    Reason.LAMP: "wiring.trouble-no-lamp",
}
"""Why a press brought no light, where the foot cannot know and the page should say."""


@dataclass(frozen=True, slots=True)
class Came:
    """The keeper answers (again): its greeting, and what its forerunner left lit."""

    greeting: Greeting
    interrupted: Interrupted | None = None


@dataclass(frozen=True, slots=True)
class Went:
    """The keeper is gone."""

    at_ns: int
    why: str


Word: TypeAlias = FromKeeper | Came | Went | Event


class Runner:
    """The one owner of the grammar's state. Every method runs on one thread, or in virtual time."""

    def __init__(self, state: State, performer: Performer, watchers: Watchers | None = None) -> None:
        self.state = state
        self.performer = performer
        self.watchers = watchers or Watchers()
        self._lease_ns: int | None = None
        self._room_ns: int | None = None
        self._wants_sheet = False
        self._told_open: bool | None = None
        self._retry_ns: int | None = None
        performer.follow(state)

    def take(self, word: Word, now_ns: int) -> str | None:
        """Take one word in and do what follows from it; return a refusal's key where the page is refused."""
        match word:
            case Sounded():
                self.watchers.heard(word)
            case Trouble():
                if word.what == What.SOUNDER:
                    self.change_habits(sounder=False)
                if word.what == What.FOOT_WIRE:
                    self._step(FootWire(word.at_ns), now_ns)
                self.watchers.trouble(word.what)
            case Greeting():
                self.forget_foot()  # it counts from 0, whatever the last words of another one were
                self.meet(word)
                self.watchers.greeted(word)
            case Came():
                self._came(word, now_ns)
            case Went():
                self.watchers.lost(word.why)
                return self._step(KeeperWent(word.at_ns), now_ns)
            case Accepted():
                pass
            case Lit() | Dark() | Cancelled() | Refused():
                if isinstance(word, Refused) and word.reason in _TOLD:
                    self.watchers.trouble(_TOLD[word.reason])
                number = self.performer.number_of(word.id)
                if number is not None:
                    self._step(Its(number, word), now_ns)
            case _:
                return self._step(word, now_ns)
        return None

    def due_ns(self) -> int | None:
        """Return when `advance` has something to do if nothing comes before."""
        retry_ns = None if isinstance(self.state.place, Light | Focus) else self._retry_ns
        dues = (self.state.due_ns, self._lease_ns, self._room_ns, retry_ns)
        return min((due for due in dues if due is not None), default=None)

    def advance(self, now_ns: int) -> None:
        """Do what is due: the grammar's own moments, the lease of open light, what waits to be filed."""
        if self.state.due_ns is not None and self.state.due_ns <= now_ns:
            self._step(Tick(now_ns), now_ns)
        if self._lease_ns is not None and self._lease_ns <= now_ns:
            self._renew(now_ns)
        if self._room_ns is not None and self._room_ns <= now_ns:
            self._renew_room(now_ns)
        if self._retry_ns is not None and self._retry_ns <= now_ns and not isinstance(self.state.place, Light | Focus):
            self.performer.file()
            self._retry_ns = now_ns + _RETRY_NS if self.performer.unfiled else None
            self.watchers.changed(self.state, self.state, ())

    def ask_again(self, now_ns: int) -> None:
        """Stand where the present step wants the printer, from what is known of filter and hands."""
        turn = Turn(self.state)
        turn.rest(now_ns)
        self.state = settled(turn.state)
        self.performer.follow(self.state)

    def sound(self, cue: Cue) -> None:
        """Sound a cue of no gesture's, such as the alarm; with nobody to hear it, it is lost."""
        with suppress(KeeperAway):
            self.performer.send(Sound(cue))

    def change_habits(self, **habits: object) -> None:
        """Take settings over; only ever between sheets, but for what has failed."""
        self.state = replace(self.state, habits=replace(self.state.habits, **habits))  # type: ignore[arg-type]

    def forget_foot(self) -> None:
        """Begin to count foot-downs anew, as a new keeper does."""
        self.state = settled(replace(self.state, foot=Foot()))

    def _step(self, event: Event, now_ns: int) -> str | None:
        refused: str | None = None
        events: list[Event] = [event]
        while events:
            before = self.state
            self.state, wanted = decide(before, events.pop(0))
            events += self.performer.perform(before, self.state, wanted, now_ns)
            refused = next((effect.why for effect in wanted if isinstance(effect, Refuse)), refused)
            self._note_lease(now_ns)
            self._tell_sheet()
            self.watchers.changed(before, self.state, wanted)
        if self.performer.unfiled and self._retry_ns is None and not isinstance(self.state.place, Light | Focus):
            self._retry_ns = now_ns + _RETRY_NS
        return refused

    def meet(self, greeting: Greeting) -> None:
        """Know this keeper from now on, and tell it whether a sheet is open, where it has a use for that."""
        self.performer.know(greeting.pid)
        self._wants_sheet = not {"status_led", "room_light"}.isdisjoint(greeting.features)
        self._told_open = None
        self._tell_sheet()

    def _tell_sheet(self) -> None:
        open_ = self.state.sheet_open
        if not self._wants_sheet or open_ == self._told_open:
            return
        self._told_open = None
        with suppress(KeeperAway):
            self.performer.send(SheetOpen(open_))
            self._told_open = open_

    def _came(self, word: Came, now_ns: int) -> None:
        self.meet(word.greeting)
        self.watchers.greeted(word.greeting)
        found = word.interrupted
        mine = found is not None and self.performer.number_of(found.id) == self.state.outstanding
        event = KeeperCame(word.greeting.at_ns, "sounder" in word.greeting.features)
        if found is not None and mine and self.state.outstanding is not None:
            event = replace(event, on_ns=found.on_ns, least_ns=found.least_ns, most_ns=found.most_ns)
        self._step(event, now_ns)

    def _note_lease(self, now_ns: int) -> None:
        if not isinstance(self.state.place, Focus):
            self._lease_ns = None
        elif self._lease_ns is None:
            self._lease_ns = now_ns
        if self.state.room_until_ns is None:
            self._room_ns = None
        elif self._room_ns is None:
            self._room_ns = now_ns + self._room_span_ns()

    def _room_span_ns(self) -> int:
        return self.state.habits.timing.lease_ms * NS_PER_MS // _ROOM_LEASES

    def _renew_room(self, now_ns: int) -> None:
        """Renew the room light's lease while it is asked for: this thread's own word, and nobody else's."""
        self._room_ns = None
        with suppress(KeeperAway):
            self.performer.send(RoomLight(True))
            self._room_ns = now_ns + self._room_span_ns()

    def _renew(self, now_ns: int) -> None:
        """Renew the lease of focus light: this thread's own word, and nobody else's."""
        place = self.state.place
        if not isinstance(place, Focus):
            self._lease_ns = None
            return
        try:
            self.performer.send(Lease(self.performer.id_of(place.order)))
        except KeeperAway:
            self._lease_ns = None
            return
        self._lease_ns = now_ns + self.state.habits.timing.lease_ms * NS_PER_MS // _LEASES
