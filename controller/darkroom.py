"""The darkroom as one thing: data, keeper, runner and chores, put together, and the desk where pages ask for things."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final, Literal

from controller import acts
from controller.acts import Act
from controller.answers import Answers
from controller.archive import Archive
from controller.chores import Chores
from controller.data import DataFolder
from controller.entries import Started
from controller.errors import KeeperGone, NotThere
from controller.face import Health, SessionLine
from controller.inbox import Inbox
from controller.journal import Journal, Stamp, setup_hash
from controller.library import Library
from controller.pairing import Pairing
from controller.performer import Performer
from controller.picks import PickMeaning
from controller.practice_desk import PracticeSwitches
from controller.records import SheetRecord
from controller.recovery import Reopened, call_short, file_unfinished, reopen
from controller.rows import Reader
from controller.runner import Came, Runner, Went
from controller.settings import Settings, changed, keep_settings, kept_settings, timing, write_settings
from controller.sheet import Plan
from controller.shelf import Kept, Shelf, new_id
from controller.sittings import session_lines
from controller.snapshots import Snapshots
from controller.standing import AfterRestart, Fault, Habits, NothingChosen, State, Work
from controller.status import Heard, Status
from controller.trays import safe_left_s
from controller.words import say
from hardware.child import KeeperConfig
from hardware.clock import MonotonicClock, boot_id
from hardware.errors import KeeperAway
from hardware.fitting import Fitting
from hardware.practice.room import PracticeRoom
from hardware.tether import Event as TetherEvent
from hardware.tether import KeeperBack, KeeperLost, Tether
from hardware.timing import Timing
from hardware.wire import Greeting, Order, ToKeeper

_log = logging.getLogger(__name__)
_ANSWER_S: Final = 5.0
_LOOK_BACK: Final = 4000
"""Rows that are read at the start: far more than one sheet has."""


class _Pipe:
    """The way to whichever tether there is."""

    def __init__(self) -> None:
        self.tether: Tether | None = None
        self._known = 0

    def know(self, keeper: int) -> None:
        self._known = keeper

    def send(self, message: ToKeeper) -> None:
        if self.tether is None:
            raise KeeperAway("there is no keeper yet")
        if isinstance(message, Order) and self.tether.greeting.pid != self._known:
            raise KeeperAway("this order was decided on the words of another keeper")
        self.tether.send(message)

    def stop(self, why: str = "page") -> None:
        if self.tether is not None:
            self.tether.stop(why)


class Darkroom:
    """`controller.desk.Desk`, with real things behind it. `open` it, and `close` it in the end."""

    def __init__(self, data: DataFolder, fitting: Fitting) -> None:
        self._data, self._fitting = data, fitting
        self._clock = MonotonicClock()
        self._snapshots = Snapshots()
        self._pipe = _Pipe()
        self._pairing = Pairing(self._clock.now_ns)
        self._settings = Settings()
        self._closers: list[Any] = []
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
        self._closers.append(self._data.unlock)
        self._shelf = Shelf.open(self._data.shelf)
        self._closers.append(self._shelf.close)
        self._settings = kept_settings(self._shelf)
        self._journal = Journal.open(self._data.journal, self._clock, Stamp.here())
        self._closers.append(self._journal.close)
        self._note_setup()
        self._library = Library(self._shelf, lambda: self._table().longest_light_ms)
        if self._fitting.practice:
            self._library.stock()
            self._room = PracticeRoom(self._fitting.runtime)
            self._closers.append(self._room.close)
        self._inbox = Inbox(self._clock, self._broken)
        self._closers.append(self._inbox.close)
        tether = Tether(self._config(), self._heard)
        greeting = tether.start()
        self._pipe.tether = tether
        self._closers.append(self._let_keeper_go)
        reopened = self._recover(tether, greeting.at_ns)
        self._archive = Archive(self._reader())
        self._start_runner(reopened, greeting)
        self._chores = Chores(self._data, self._busy, self._tell)
        self._chores.start()
        self._closers.append(self._chores.stop)

    def _reader(self) -> Reader:
        reader = self._journal.reader()
        self._closers.append(reader.close)
        return reader

    def _recover(self, tether: Tether, dark_ns: int) -> Reopened | None:
        reader = self._journal
        rows = list(reader.rows(after=max(0, reader.last() - _LOOK_BACK)))
        entries = file_unfinished(rows, reader.unfinished(), tether.found, boot_id(), dark_ns)
        if entries:
            rows += self._journal.append(*entries)
        self._last_loaded = self._library.remember(rows)
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
        return None if record is None else reopen(record, self._lag_ms())

    def _start_runner(self, reopened: Reopened | None, greeting: Greeting) -> None:
        work, place = self._first_work(reopened)
        habits = replace(self._habits(), sounder="sounder" in greeting.features)
        lid_open = False if "lid" in greeting.features else None
        state = State(place, habits, work, sheets=1, lid_open=lid_open)
        number = reopened.number if reopened else self._number
        performer = Performer(self._pipe, self._journal, run=new_id(), number=number)
        if reopened is not None:
            performer.adopt_sheet(1, reopened.sheet)
            performer.adopt_order(0, reopened.last_light)
        self._runner = Runner(state, performer)
        self._answers = Answers(
            self._runner, self._snapshots, self._library, self._clock, self._inbox.call, self._between_sheets
        )
        self._runner.watchers = self._answers.watchers()
        opened_ns = reopened.opened_ns if reopened else None
        self._answers.begin(practice=self._fitting.practice, greeting=greeting, opened_ns=opened_ns)
        self._inbox.start(self._runner)
        self._inbox.call(self._journal.adopt).result(_ANSWER_S)
        if reopened is None:
            self._inbox.call(self._answers.rest).result(_ANSWER_S)

    def _first_work(self, reopened: Reopened | None) -> tuple[Work | None, Any]:
        if reopened is not None:
            return reopened.work, AfterRestart()
        last = self._last_loaded
        if last is not None:
            try:
                return Work.fresh(1, self._library.plan(last.source)), NothingChosen()
            except (NotThere, ValueError) as gone:
                _log.info("what was loaded last cannot be loaded again: %s", gone)
        return None, NothingChosen()

    def close(self) -> None:
        """Dark, everything filed, everything let go; closing twice does nothing."""
        while self._closers:
            self._closers.pop()()

    def _let_keeper_go(self) -> None:
        tether, self._pipe.tether = self._pipe.tether, None
        if tether is not None:
            tether.stop("fault")
            tether.close()

    def _tell(self, words: str) -> None:
        self._inbox.call(lambda: self._answers.trouble(words))

    # ---- the keeper's words

    def _heard(self, event: TetherEvent) -> None:
        match event:
            case KeeperLost():
                self._inbox.put(Went(event.at_ns, event.why))
            case KeeperBack():
                if event.slate_event is not None:
                    self._inbox.put(event.slate_event)
                self._inbox.put(Came(event.greeting, event.interrupted))
            case _:
                self._inbox.put(event)

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
        return KeeperConfig(self._fitting.lines, self._fitting.runtime, timing=_fields(table))

    def _table(self) -> Timing:
        return self._fitting.timing or timing(self._settings)

    def _lag_ms(self) -> int:
        return round(self._settings.lamp_lag_seconds * 1000)

    def _habits(self) -> Habits:
        return Habits(
            timing=self._table(),
            lag_ms=self._lag_ms(),
            start_from_phone=self._settings.start_from_phone,
            lid_single_hold=self._settings.lid_single_hold,
        )

    def _note_setup(self) -> None:
        self._journal.set_hash(setup_hash(str(sorted(self._fitting.lines.items())), write_settings(self._settings)))

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
            tether = Tether(self._config(), self._heard)
            tether.start()
            self._pipe.tether = tether
            self._runner.forget_foot()
        self._answers.take_over(replace(wanted, sounder=have.sounder))

    # ---- the desk: looking

    def status(self) -> Status:
        """Return the present snapshot."""
        return self._fresh(self._snapshots.latest())

    def wait(self, after: int, timeout_s: float) -> Status:
        """Return the present snapshot as soon as its number is above `after`, or at the timeout."""
        return self._fresh(self._snapshots.wait(after, timeout_s))

    def wait_for_news(self, after: int, cue_after: int, timeout_s: float) -> tuple[Status, tuple[Heard, ...]]:
        """Return the snapshot and the cues after `cue_after`, as soon as either has news, or at the timeout."""
        status, heard = self._snapshots.wait_for_either(after, cue_after, timeout_s)
        return self._fresh(status), heard

    def _fresh(self, status: Status) -> Status:
        now_ns = self._clock.now_ns()
        if status.day_until_ns is not None and now_ns > status.day_until_ns:
            status = self._inbox.call(self._answers.look_at_day).result(_ANSWER_S)
        opened_ns = self._answers.opened_ns
        left = None if opened_ns is None else safe_left_s(opened_ns, now_ns, self._settings.safe_minutes)
        return status.model_copy(update={"at_ns": now_ns, "safe_left_s": left})

    def heard(self, after: int) -> tuple[Heard, ...]:
        """Return the cues sounded since cue number `after`, at most the last hundred."""
        return self._snapshots.heard(after)

    def now_ns(self) -> int:
        """Return the daemon's monotonic now."""
        return self._clock.now_ns()

    # ---- acting

    def stop(self) -> None:
        """Dark now: straight to the keeper, past every queue."""
        self._pipe.stop("page")

    def do(self, act: Act, number: int) -> Status:
        """Carry out one act that was decided on snapshot `number`; return the snapshot after it."""
        if self._pipe.tether is None:
            raise KeeperGone(say("foot.keeper-away"))
        if isinstance(act, acts.Pick):
            record = self._archive.record(act.sheet)
            self._answers.check(number)
            picked, _ = self._library.take_pick(record, act.band, between=act.between, recipe=act.recipe)
            return self._fresh(self._call(lambda: self._answers.note(picked)))
        if isinstance(act, acts.WriteRemark):
            self._archive.record(act.sheet)
        return self._fresh(self._call(lambda: self._answers.do(act, number)))

    def _call(self, work: Any) -> Status:
        try:
            answer: Status = self._inbox.call(work).result(_ANSWER_S)
        except TimeoutError:
            raise KeeperGone(say("foot.keeper-away")) from None
        return answer

    # ---- shelf

    def kept(self, kind: Literal["recipe", "strip"]) -> Sequence[Kept]:
        """Return the latest version of each that is not put away, last used first."""
        return self._library.kept(kind)

    def fetch(self, source: str, version: int | None = None) -> Kept:
        """Return one version of a recipe or strip."""
        return self._library.fetch(source, version)

    def versions(self, source: str) -> Sequence[Kept]:
        """Return every version, newest first."""
        return self._library.versions(source)

    def review(self, text: str) -> Plan:
        """Return the steps a recipe's or strip's text would give, without keeping it."""
        return self._library.review(text)

    def save(self, text: str, source: str | None = None) -> Kept:
        """Keep a text as a new version; the one that is loaded becomes the next sheet's."""
        kept = self._library.save(text, source)
        plan = self._library.plan(kept.id)
        self._call(lambda: self._answers.saved(plan))
        return kept

    def put_away(self, source: str) -> None:
        """Take it off the list; its versions and sheets stay."""
        self._library.put_away(source)

    # ---- records

    def sessions(self, limit: int = 20) -> Sequence[SessionLine]:
        """Return the sessions, newest first, each with its sheets' short lines."""
        return session_lines(self._archive.sessions(limit))

    def record(self, sheet: str) -> SheetRecord:
        """Return a sheet's record."""
        return self._archive.record(sheet)

    def pick_meaning(self, sheet: str, band: int, between: bool) -> PickMeaning:
        """Return what a pick from a strip's sheet would mean, or why it is not offered."""
        return self._library.meaning(self._archive.record(sheet), band, between=between)

    # ---- settings, pairing, health

    def settings(self) -> Settings:
        """Return the settings in force."""
        return self._settings

    def change_settings(self, changes: dict[str, object]) -> Settings:
        """Keep changed settings; they count at once, or as soon as no sheet is open."""
        wanted = changed(self._settings, changes)
        keep_settings(self._shelf, wanted)
        self._settings = wanted
        self._call(self._answers.settle_changes)
        return wanted

    def key(self) -> bytes:
        """Return the 32 bytes that sign cookies."""
        return self._data.key()

    def pairing(self) -> Pairing:
        """Return the keeper of pairing codes."""
        return self._pairing

    def health(self) -> Health:
        """Return what an unpaired device may know."""
        status = self._snapshots.latest()
        return Health(ok=status.keeper == "ready", keeper=status.keeper, practice=status.practice)

    def practice(self) -> PracticeSwitches | None:
        """Return the practice darkroom's switches, or None with real lines."""
        if self._room is None:
            return None
        return PracticeSwitches(self._room, self._clock.now_ns, lambda: self._answers.opened_ns)


def _fields(table: Timing) -> dict[str, int]:
    return {name: getattr(table, name) for name in Timing.__dataclass_fields__}
