"""The runner: one inbox, the grammar, its effects. A core that virtual time can drive, and a thread around it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Final, TypeAlias

from controller.daemon.performer import Performer
from controller.foot.effects import Refuse, Watchers
from controller.foot.events import Event, FootWire, KeeperCame, KeeperWent, Tick
from controller.foot.legal_acts import changes_ns
from controller.foot.places import Focus, Light
from controller.foot.state import Foot, State
from controller.foot.table import decide, settled
from controller.foot.turn import Turn
from controller.foot.waits import safelight_dark
from controller.model import new_id, replace
from controller.store.entries import Entry
from hardware.clock import NS_PER_MS, soonest
from hardware.errors import KeeperAway
from hardware.sounds import Cue
from hardware.tether.tether import KeeperBack, KeeperLost
from hardware.wire import (
    Accepted,
    FromKeeper,
    Greeting,
    Lease,
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


Word: TypeAlias = FromKeeper | KeeperLost | KeeperBack | Event


class Runner:
    """The one owner of the grammar's state. Every method runs on one thread, or in virtual time."""

    def __init__(
        self,
        state: State,
        performer: Performer,
        watchers: Watchers | None = None,
        make_id: Callable[[], str] = new_id,
    ) -> None:
        self._performer, self._make_id = performer, make_id
        self.watchers = watchers or Watchers()
        self._lease_ns: int | None = None
        self._room_ns: int | None = None
        self._wants_sheet = False
        self._told: tuple[bool, bool] | None = None
        """What the keeper was told last: whether a sheet is open, and whether the safelight is to be dark."""
        self._dark = False
        self._retry_ns: int | None = None
        self._offered_ns = 0
        """What is offered to pages has been told as it is since then."""
        self.state = self._named(state)

    def take(self, word: Word, now_ns: int) -> str | None:
        """Take one word in and do what follows from it; return a refusal's key where the page is refused."""
        match word:
            case Sounded():
                self.watchers.sounded(word)
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
            case KeeperLost():
                return self.take(KeeperWent(word.at_ns, word.why), now_ns)
            case KeeperBack():
                if word.slate_event is not None:
                    self.take(word.slate_event, now_ns)
                return self.take(KeeperCame(word.greeting, word.interrupted), now_ns)
            case KeeperWent():
                self.watchers.lost(word.why)
                return self._step(word, now_ns)
            case KeeperCame():
                self.meet(word.greeting)
                self.watchers.greeted(word.greeting)
                return self._step(word, now_ns)
            case Accepted():
                pass
            case _:
                if isinstance(word, Refused) and word.reason in _TOLD:
                    self.watchers.trouble(_TOLD[word.reason])
                return self._step(word, now_ns)
        return None

    def due_ns(self) -> int | None:
        """Return when `advance` has something to do if nothing comes before."""
        retry_ns = None if isinstance(self.state.place, Light | Focus) else self._retry_ns
        dues = (self.state.due_ns, self._lease_ns, self._room_ns, retry_ns, changes_ns(self.state, self._offered_ns))
        return soonest(dues)

    def advance(self, now_ns: int) -> None:
        """Do what is due: the grammar's own moments, the lease of open light, what waits to be filed."""
        if self.state.due_ns is not None and self.state.due_ns <= now_ns:
            self._step(Tick(now_ns), now_ns)
        if self._lease_ns is not None and self._lease_ns <= now_ns:
            self._renew(now_ns)
        if self._room_ns is not None and self._room_ns <= now_ns:
            self._renew_room(now_ns)
        if self._retry_ns is not None and self._retry_ns <= now_ns and not isinstance(self.state.place, Light | Focus):
            self._performer.file()
            self._retry_ns = now_ns + _RETRY_NS if self._performer.unfiled else None
            self.watchers.changed(self.state, self.state, ())
        offered_ns = changes_ns(self.state, self._offered_ns)
        if offered_ns is not None and offered_ns <= now_ns:
            self._offered_ns = now_ns
            self.watchers.changed(self.state, self.state, ())

    def ask_again(self, now_ns: int) -> None:
        """Stand where the present step wants the printer, from what is known of filter and hands."""
        turn = Turn(self.state)
        turn.rest(now_ns)
        self.state = settled(turn.state)

    def note(self, *entries: Entry) -> None:
        """File entries that are nobody's effect, such as a remark, all or none; they wait where a light is on."""
        self._performer.note(*entries, lit=isinstance(self.state.place, Light | Focus))

    @property
    def store_trouble(self) -> str:
        """What keeps rows from being filed, or kept the last light from being armed; empty where nothing does."""
        return self._performer.store_trouble

    def sound(self, cue: Cue, count: int = 0) -> None:
        """Sound a cue of no gesture's, such as the alarm; with nobody to hear it, it is lost."""
        with suppress(KeeperAway):
            self._performer.send(Sound(cue, count))

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
            after, wanted = decide(before, events.pop(0))
            self.state = self._named(after)
            events += self._performer.perform(wanted, self.state.place, now_ns)
            refused = next((effect.why for effect in wanted if isinstance(effect, Refuse)), refused)
            self._note_lease(now_ns)
            self._tell_sheet()
            self.watchers.changed(before, self.state, wanted)
        if self._performer.unfiled and self._retry_ns is None and not isinstance(self.state.place, Light | Focus):
            self._retry_ns = now_ns + _RETRY_NS
        return refused

    def meet(self, greeting: Greeting) -> None:
        """Know this keeper from now on, and tell it whether a sheet is open, where it has a use for that."""
        self._performer.know(greeting.pid)
        self._wants_sheet = not {"status_led", "room_light", "safelight"}.isdisjoint(greeting.features)
        self._told = None
        self._tell_sheet()

    def _tell_sheet(self) -> None:
        if self._dark or (self.state.work is not None and self.state.work.plan.waits):
            self._dark = safelight_dark(self.state, dark=self._dark)
        tell = self.state.sheet_open, self._dark
        if not self._wants_sheet or tell == self._told:
            return
        self._told = None
        with suppress(KeeperAway):
            self._performer.send(SheetOpen(*tell))
            self._told = tell

    def _named(self, state: State) -> State:
        """Give the sheet of newly chosen work an id."""
        work = state.work
        return state if work is None or work.sheet else replace(state, work=replace(work, sheet=self._make_id()))

    def _note_lease(self, now_ns: int) -> None:
        if not isinstance(self.state.place, Focus):
            self._lease_ns = None
        elif self._lease_ns is None:
            self._lease_ns = now_ns
        if not self.state.room_wanted:
            self._room_ns = None
        elif self._room_ns is None:
            self._room_ns = now_ns + self._room_span_ns()

    def _room_span_ns(self) -> int:
        return self.state.habits.timing.lease_ms * NS_PER_MS // _ROOM_LEASES

    def _renew_room(self, now_ns: int) -> None:
        """Renew the room light's lease while it is asked for: this thread's own word, and nobody else's."""
        self._room_ns = None
        with suppress(KeeperAway):
            self._performer.send(RoomLight(True))
            self._room_ns = now_ns + self._room_span_ns()

    def _renew(self, now_ns: int) -> None:
        """Renew the lease of focus light: this thread's own word, and nobody else's."""
        place = self.state.place
        if not isinstance(place, Focus):
            self._lease_ns = None
            return
        try:
            self._performer.send(Lease(place.order))
        except KeeperAway:
            self._lease_ns = None
            return
        self._lease_ns = now_ns + self.state.habits.timing.lease_ms * NS_PER_MS // _LEASES
