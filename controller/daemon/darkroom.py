"""A running darkroom's parts, put together: data, keeper, runner and chores; opened, mended after a crash, closed."""

from __future__ import annotations

import json
import logging
import threading
from abc import abstractmethod
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace
from functools import partial
from typing import Any, Final

from controller.backup.registered import THINGS
from controller.daemon.answers import Answers, Snapshots
from controller.daemon.chores import Chores
from controller.daemon.inbox import Inbox
from controller.daemon.library import Library
from controller.daemon.pairing import Pairing
from controller.daemon.papers import PaperShelf
from controller.daemon.performer import Performer
from controller.daemon.phones import Phones
from controller.daemon.pipe import TetherPipe
from controller.daemon.recovery import (
    RECOVERED_BY,
    Reopened,
    call_short,
    check_cut,
    file_unfinished,
    hold_from_ns,
    reopen,
    room_from_ns,
)
from controller.daemon.runner import Runner
from controller.daemon.scans import ScanDrawer
from controller.daemon.ways import HouseWays, sensor_of
from controller.errors import NotThere
from controller.foot.events import KeeperWent
from controller.foot.places import AfterRestart, Fault, NothingChosen
from controller.foot.state import Habits, State, Work, must_have_lines
from controller.lamp.bench import LampBench
from controller.model import new_id
from controller.store.archive import Archive
from controller.store.entries import Started, Trouble
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp, setup_hash
from controller.store.look_over import LookOver
from controller.store.lookups import Lookups
from controller.store.rows import Reader
from controller.store.settings import Settings, kept_settings, timing, write_settings
from controller.store.shelf import Shelf
from hardware.clock import MonotonicClock, boot_id
from hardware.errors import KeeperAway
from hardware.fitting import Fitting
from hardware.practice.room import PracticeRoom
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Tether
from hardware.timing import Timing
from hardware.wire import Greeting
from hardware.wiring import Wiring
from hardware.wiring_tables import ROOM_LIGHT

_log = logging.getLogger(__name__)
_LOOK_BACK: Final = 4000
"""Rows that are looked at in the start: far more than a daemon files while one light of its has no outcome."""


class House:
    """Owns every part of a running darkroom. `open` it, and `close` it in the end."""

    def __init__(self, data: DataFolder, fitting: Fitting) -> None:
        self._data, self._fitting = data, fitting
        self._clock = MonotonicClock()
        self._snapshots = Snapshots()
        self._pipe = TetherPipe()
        self._pairing = Pairing(self._clock.now_ns)
        self._phones = Phones(data.path)
        self._papers = PaperShelf(lambda: self._shelf)
        self._scans = ScanDrawer(lambda: data.path / "scans", self._clock.now_ns)
        self._wiring = fitting.wiring
        self._settings = Settings()
        self._changing = threading.Lock()
        """One change of settings at a time; taken by pages' threads alone."""
        self._leaving = ExitStack()
        self._room: PracticeRoom | None = None

    # ---- opening and closing

    def open(self) -> None:
        """Lock the data, file what a crash left unfiled, take hold of the keeper, and start the runner.

        Raises:
            StoreTrouble: the data cannot be had; nothing is left running.
            KeeperAway: the keeper does not come up; the text says why.
        """
        try:
            self._open()
        except BaseException:
            self.close()
            raise

    def _open(self) -> None:
        self._data.lock()
        self._leaving.callback(self._data.unlock)
        self._data.key()  # known before any page asks
        if not self._phones.open():
            self._data.new_key()  # who was put out stays out, if nobody knows who that was
        self._leaving.callback(self._phones.close)
        self._scans.close()  # what a crash left
        self._leaving.callback(self._scans.close)
        self._shelf = Shelf.open(self._data.shelf, whole=False)
        self._leaving.callback(self._shelf.close)
        self._settings = kept_settings(self._shelf)
        self._journal = Journal.open(self._data.journal, self._clock, Stamp.here(), whole=False)
        self._leaving.callback(self._journal.close)
        self._note_setup()
        self._library = Library(self._shelf, lambda: self._table().longest_light_ms)
        if self._fitting.practice:
            self._library.stock()
            self._room = PracticeRoom(self._fitting.runtime, lamps=tuple(self._wiring.lamps))
            self._leaving.callback(self._room.close)
        self._inbox = Inbox(self._clock, self._broken)
        self._leaving.callback(self._let_keeper_go)  # one that came with changed settings while all this was left
        self._leaving.callback(self._inbox.close)
        tether = Tether(self._config(), self._inbox.put)
        greeting = tether.start()
        self._pipe.tether = tether
        self._leaving.callback(self._let_keeper_go)
        reopened = self._recover(tether, greeting.at_ns)
        self._lookups = Lookups(self._data.lookups, self._shelf, self._reader(), THINGS)
        self._leaving.callback(self._lookups.close)
        self._archive = Archive(self._reader(), self._lookups)
        self._start_runner(reopened, greeting)
        if self._journal.notes:
            self._found(self._journal.notes)
        self._chores = Chores(self._data, self._busy, self._tell)
        self._chores.start()
        self._leaving.callback(self._chores.stop)
        self._lookups.start(self._busy)
        self._look_over.start()
        self._leaving.callback(self._look_over.stop)

    def _reader(self) -> Reader:
        reader = self._journal.reader()
        self._leaving.callback(reader.close)
        return reader

    def _recover(self, tether: Tether, dark_ns: int) -> Reopened | None:
        reader = self._journal
        after = max(0, reader.last() - _LOOK_BACK)
        rows = list(reader.rows(after=after, kinds=RECOVERED_BY))
        entries = file_unfinished(rows, reader.unfinished(after=after), tether.found, boot_id(), dark_ns)
        if entries:
            rows += self._journal.append(*entries)
        self._check_cut = check_cut(rows)
        tether.filed()
        self._last_loaded = self._library.remember(rows)
        now_ns = self._clock.now_ns()
        self._hold_from_ns = hold_from_ns(rows, boot_id(), now_ns, self._table().after_close_ms)
        self._room_from_ns = room_from_ns(rows, boot_id(), now_ns)
        record = Archive(reader).open_sheet()
        if record is not None and (short := call_short(record, self._lag_ms())):
            self._journal.append(*short)
            record = Archive(reader).open_sheet()
        self._number = Archive(reader).next_number()
        self._journal.append(
            Started(
                practice=self._fitting.practice,
                timing=write_settings(self._settings),
                open_sheet=record.id if record else "",
            )
        )
        return None if record is None else reopen(record, self._lag_ms(), boot_id())

    def _start_runner(self, reopened: Reopened | None, greeting: Greeting) -> None:
        habits = replace(self._habits(), sounder="sounder" in greeting.features)
        work, place = self._first_work(reopened, habits)
        lid_open = False if "lid" in greeting.features else None
        state = State(
            place,
            habits,
            work,
            run=new_id(),
            number=reopened.number if reopened else self._number,
            lid_open=lid_open,
            hold_from_ns=self._hold_from_ns,
            room_from_ns=self._room_from_ns,
        )
        self._runner = Runner(state, Performer(self._pipe, self._journal))
        self._answers = Answers(
            self._runner, self._snapshots, self._library, self._clock, self._inbox.call, self._between_sheets
        )
        self._runner.watchers = self._answers.watchers()
        self._set_up_lamp()
        opened_ns = reopened.opened_ns if reopened else None
        self._answers.begin(practice=self._fitting.practice, greeting=greeting, opened_ns=opened_ns)
        self._inbox.start(self._runner)
        self._inbox.ask(self._journal.adopt)
        if reopened is None:
            self._inbox.ask(self._answers.rest)

    def _set_up_lamp(self) -> None:
        """Watch over the lamp itself: beside the runner, never in light's way."""
        practice, lamps = (self._fitting.runtime if self._fitting.practice else None), tuple(self._wiring.lamps)
        self._lamp = LampBench(
            HouseWays(self._inbox, self._runner, self._answers, lambda: self._settings, self.change_settings),
            self._reader(),
            self._clock,
            lambda settings: sensor_of(settings, practice, lamps),
            relay_ms=(self._wiring.operate_ms, self._wiring.release_ms),
            longest_ms=lambda: self._table().longest_light_ms,
            cut=self._check_cut,
        )
        self._runner.watchers = self._lamp.beside(self._runner.watchers)
        self._look_over = LookOver(self._data, self._busy, self._found)
        self._answers.more_troubles = lambda: (*self._lamp.sentences(), *self._look_over.sentences())
        self._leaving.callback(self._lamp.close)
        self._lamp.fit(self._settings)

    @abstractmethod
    def change_settings(self, changes: dict[str, object]) -> Settings:
        """Keep changed settings; they count at once, or as soon as no sheet is open."""

    def _first_work(self, reopened: Reopened | None, habits: Habits) -> tuple[Work | None, Any]:
        if reopened is not None:
            return reopened.work, AfterRestart()
        last = self._last_loaded
        if last is not None:
            try:
                plan = self._library.plan(last.source)
                must_have_lines(plan, habits)
                return Work.fresh(plan), NothingChosen()
            except (NotThere, ValueError) as gone:
                _log.info("what was loaded last cannot be loaded again: %s", gone)
        return None, NothingChosen()

    def close(self) -> None:
        """Dark, everything filed, everything let go, whatever of it fails; closing twice does nothing."""
        self.darken()
        self._leaving.close()

    def darken(self) -> None:
        """End any light at once and begin none, as the first act of going: all else may take its time."""
        self._pipe.end()

    def answered_ns(self) -> int:
        """Return the moment up to which runner and keeper are both known to have gone round; 0 without a keeper."""
        tether = self._pipe.tether
        return 0 if tether is None else min(self._inbox.beat_ns, tether.pulse_ns)

    def _let_keeper_go(self) -> None:
        tether, self._pipe.tether = self._pipe.tether, None
        if tether is not None:
            tether.stop("fault")
            tether.close()

    def _found(self, new: Sequence[str]) -> None:
        """Note what is wrong with journal or shelf, and show it, or show that it is so no longer."""
        for words in new:
            self._inbox.call(partial(self._answers.note, Trouble(sheet="", what=words)))
        self._inbox.call(self._answers.publish)

    def _tell(self, words: str) -> None:
        self._inbox.call(lambda: self._answers.trouble(words))

    def _broken(self, problem: Exception) -> None:
        self._pipe.stop("fault")
        self._runner.state = replace(self._runner.state, place=Fault("runner"))
        self._answers.publish()
        _log.error("the runner broke: %s", problem)

    def _busy(self) -> bool:
        status = self._snapshots.latest()
        return status.open or status.stop_possible

    # ---- settings

    def _config(self) -> KeeperConfig:
        table = self._table()
        return KeeperConfig(
            self._fitting.lines,
            self._fitting.runtime,
            timing=_fields(table),
            safelight="dark while lit" if self._wiring.safelight_dark_while_lit else "on",
        )

    def _table(self) -> Timing:
        return self._fitting.timing or timing(self._settings)

    def _lag_ms(self) -> int:
        """Return what one switching loses in all: the lamp's own, and the relay closing later than it opens."""
        wiring = self._wiring
        return round(self._settings.lamp_lag_seconds * 1000 + wiring.operate_ms - wiring.release_ms)

    def _habits(self) -> Habits:
        return Habits(
            timing=self._table(),
            lag_ms=self._lag_ms(),
            start_from_phone=self._settings.start_from_phone,
            lid_single_hold=self._settings.lid_single_hold,
            filters=self._wiring.filters,
            room_light=ROOM_LIGHT in self._wiring.outlets,
        )

    def _note_setup(self) -> None:
        lines = json.dumps(dict(self._fitting.lines), sort_keys=True)
        self._journal.set_hash(setup_hash(lines, write_settings(self._settings)))

    def wiring(self) -> Wiring:
        """Return which pin does what, and what the relay's data sheet says of its delays."""
        return self._wiring

    def _between_sheets(self) -> None:
        """Take changed settings over, on the runner's thread, with nothing lit and no sheet open."""
        wanted = self._habits()
        have = self._runner.state.habits
        if replace(wanted, sounder=have.sounder) == have:
            return
        self._note_setup()
        if wanted.timing != have.timing:
            old, self._pipe.tether = self._pipe.tether, None
            if old is not None:
                old.close()
            tether = Tether(self._config(), self._inbox.put)
            try:
                tether.start()
            except KeeperAway as problem:
                _log.error("no keeper comes up with the changed settings: %s", problem)
                self._inbox.put(KeeperWent(self._clock.now_ns(), "fault"))
                return
            self._pipe.tether = tether
        self._answers.take_over(replace(wanted, sounder=have.sounder))


def _fields(table: Timing) -> dict[str, int]:
    return {name: getattr(table, name) for name in Timing.__dataclass_fields__}
