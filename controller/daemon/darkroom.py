"""One running darkroom: its parts are made and put together, mended after a crash, and let go."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from contextlib import ExitStack, closing
from dataclasses import replace
from functools import partial

from controller.backup.lost import gone
from controller.backup.registered import DERIVED, THINGS
from controller.backup.second_place import SecondPlace
from controller.carry.carry_over import CarryDesk
from controller.contrast.split_grade import ContrastDesk
from controller.daemon.answers import Answers, Snapshots
from controller.daemon.chores import Chores
from controller.daemon.desk import Desk
from controller.daemon.edition_desk import EditionDesk
from controller.daemon.edition_ledgers import Ledgers
from controller.daemon.enlarger_shelf import EnlargerShelf
from controller.daemon.in_force import InForce
from controller.daemon.inbox import Inbox
from controller.daemon.lamp_parts import lamp_bench, spot_bench
from controller.daemon.negative_shelf import NegativeShelf
from controller.daemon.pairing import Pairing
from controller.daemon.paper_shelf import PaperShelf
from controller.daemon.performer import Performer
from controller.daemon.phones import Phones
from controller.daemon.photographs import Photographs
from controller.daemon.pipe import TetherPipe
from controller.daemon.practice_parts import practice_parts, practice_room, trays_hurry
from controller.daemon.recipe_shelf import RecipeShelf
from controller.daemon.runner import Runner
from controller.daemon.scans import ScanDrawer
from controller.daemon.takeover import Left, first_state, take_over
from controller.daemon.tray_shelf import TrayShelf
from controller.daemon.your_data import YourData
from controller.foot.events import KeeperWent
from controller.foot.legal_acts import must_have_lines
from controller.foot.places import Fault
from controller.practice.probe import PracticeProbe
from controller.practice.switches import PracticeSwitches
from controller.recipe.plan import Plan
from controller.store.archive import Archive
from controller.store.entries import Entry, Trouble
from controller.store.finding import Finder
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.look_over import LookOver
from controller.store.lookups import Lookups
from controller.store.pictures import Pictures
from controller.store.rows import Reader
from controller.store.shelf import Shelf
from controller.unpack.unpacker import Unpacker
from hardware.clock import MonotonicClock
from hardware.errors import KeeperAway
from hardware.fitting import Fitting
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.tether import Tether
from hardware.wire import Greeting
from hardware.wiring import Wiring

_log = logging.getLogger(__name__)


class Darkroom:
    """Owns every part of a running darkroom. `open` it, let pages ask its `desk`, and `close` it in the end."""

    desk: Desk
    """What pages ask; there once the darkroom is open."""

    def __init__(
        self,
        data: DataFolder,
        fitting: Fitting,
        ending: Callable[[], bool] = lambda: False,
        second: SecondPlace | None = None,
    ) -> None:
        """`ending` tells, from any thread, that the daemon has been told to end; backups go to `second` as well."""
        self._data, self._fitting, self._ending = data, fitting, ending
        self._second, self._second_stands = second, ""
        self._clock = MonotonicClock()
        self._snapshots = Snapshots()
        self._pipe = TetherPipe()
        self._probe: PracticeProbe | None = None
        self._leaving = ExitStack()

    # ---- opening and closing

    def open(self, meanwhile: Callable[[], object] | None = None) -> None:
        """Lock the data, file what a crash left unfiled, take hold of the keeper, and start the runner.

        What is to be done `meanwhile` is done while the keeper's process starts.

        Raises:
            StoreTrouble: the data cannot be had; nothing is left running.
            KeeperAway: the keeper does not come up; the text says why.
        """
        try:
            self._open(meanwhile)
        except BaseException:
            self.close()
            raise

    def _open(self, meanwhile: Callable[[], object] | None) -> None:
        self._leaving.enter_context(self._data.locked())
        self._data.key()  # known before any page asks
        phones = Phones(self._data.path)
        if not phones.open():
            self._data.new_key()  # who was put out stays out, if nobody knows who that was
        self._leaving.callback(phones.close)
        self._unpacker = Unpacker(self._busy)
        scans = ScanDrawer(self._data.path / "scans", self._clock.now_ns, self._unpacker)
        scans.close()  # what a crash left
        self._leaving.callback(scans.close)
        lost = gone(self._data)  # known before a new one is begun
        shelf = self._leaving.enter_context(closing(Shelf.open(self._data.shelf, whole=False)))
        self._in_force = InForce(
            self._fitting,
            shelf,
            fit=lambda settings: self._lamp.fit(settings),
            settle=lambda: self._inbox.ask(self._answers.settle_changes, even_late=True),
            hurry=lambda: trays_hurry(self._data.path / "practice"),
        )
        self._journal = Journal.open(self._data.journal, self._clock, Stamp.here(), whole=False)
        self._leaving.callback(self._journal.close)
        self._journal.set_hash(self._in_force.setup())
        self._recipes = RecipeShelf(shelf, self._in_force.longest_ms, self._may_be_kept, self._saved)
        room, at_first = practice_room(self._fitting, shelf, self._recipes, self._leaving)
        last = self._leaving.enter_context(ExitStack())  # goes after the inbox, whose last rows are looked up
        self._inbox = Inbox(self._clock, self._broken)
        self._leaving.callback(self._let_keeper_go)  # one that came with changed settings while all this was left
        self._leaving.callback(self._inbox.close)
        tether = Tether(self._in_force.keeper_config(), self._inbox.put, ending=self._ending)
        greeting = tether.start(meanwhile)
        self._pipe.tether = tether
        self._leaving.callback(self._let_keeper_go)
        left = take_over(
            self._journal,
            self._recipes,
            self._in_force,
            tether,
            clock=self._clock,
            dark_ns=greeting.at_ns,
            practice=self._fitting.practice,
            at_first=at_first,
        )
        lookups = last.enter_context(closing(Lookups(self._data.lookups, shelf, self._reader(), THINGS, DERIVED)))
        archive = Archive(self._reader(), lookups, threaded=True)
        self._trays = TrayShelf(shelf, lookups, self._reader(), self._recipes)
        self._start_runner(left, greeting)
        if lost := (*lost, *self._journal.notes):
            self._found(lost)
        papers, pictures = PaperShelf(shelf), Pictures(self._data.pictures)
        photographs = Photographs(pictures, self._unpacker, self._note_late, self._data.path)
        chores = Chores(self._data, self._busy, self._tell, self._second, self._show_second_place, self._fitting.place)
        your_data = YourData(self._data, chores, shelf, self._in_force.change, self._second)
        your_data.clear()
        self._leaving.callback(your_data.clear)
        self.desk = Desk(
            clock=self._clock,
            snapshots=self._snapshots,
            pipe=self._pipe,
            inbox=self._inbox,
            answers=self._answers,
            archive=archive,
            finder=Finder(shelf, lookups),
            room_left=self._journal.room_left,
            recipes=self._recipes,
            papers=papers,
            negatives=NegativeShelf(shelf, lookups, photographs),
            photographs=photographs,
            scans=scans,
            incoming=self._data.path,
            contrast=ContrastDesk(papers, self._in_force.longest_ms, self._recipes),
            carrying=CarryDesk(
                shelf,
                papers,
                self._recipes.recipe,
                self._in_force.longest_ms,
                lambda sheet: archive.record(sheet).plan,
                self._saved,
            ),
            settings=self._in_force.settings,
            change_settings=self._in_force.change,
            your_data=your_data,
            key=self._data.key(),
            pairing=Pairing(self._clock.now_ns),
            phones=phones,
            lamp=self._lamp,
            practice=None if room is None else self._practice(room, archive),
            enlargers=EnlargerShelf(shelf, self._reader()),
            editions=EditionDesk(
                Ledgers(shelf, self._reader(), self._data.path, self._note_late),
                *(lookups, archive, self._snapshots.latest),
            ),
            spots=self._spots,
            rows=self._reader(),
            trays=self._trays,
            two_lamps=len(self.wiring().lamps) > 1,
        )
        self._leaving.callback(self.desk.previews().close)
        chores.start()
        self._leaving.callback(chores.stop)
        lookups.start(self._busy)
        self._look_over.start()
        self._leaving.callback(self._look_over.stop)

    def _note_late(self, row: Entry) -> object:
        return self._inbox.ask(partial(self._answers.note, row), even_late=True)

    def _reader(self) -> Reader:
        return self._leaving.enter_context(self._journal.reader())

    def _start_runner(self, left: Left, greeting: Greeting) -> None:
        state = first_state(left, self._recipes, self._in_force, greeting)
        self._runner = Runner(state, Performer(self._pipe, self._journal, self._trays.stamped))
        self._look_over = LookOver(self._data, self._busy, self._found)
        self._answers = Answers(
            self._runner,
            self._snapshots,
            self._recipes,
            self._clock,
            self._inbox.call,
            self._between_sheets,
            also=lambda before, after, wanted: self._lamp.changed(before, after, wanted),
            more_troubles=lambda: [
                *filter(None, (*self._lamp.sentences(), *self._look_over.sentences(), self._second_stands))
            ],
        )
        self._spots = spot_bench(self._runner, self._answers, self._inbox, self._clock, self._reader())
        self._lamp = lamp_bench(
            self._runner,
            self._answers,
            self._inbox,
            self._in_force,
            self._clock,
            self._reader(),
            practice=self._fitting.runtime if self._fitting.practice else None,
            laid=lambda: None if self._probe is None else self._probe.laid(),
            cut=left.check_cut,
            spots=self._spots,
        )
        self._leaving.callback(self._lamp.close)
        self._lamp.fit(self._in_force.settings())
        opened_ns = left.reopened.opened_ns if left.reopened else None
        self._answers.begin(practice=self._fitting.practice, greeting=greeting, opened_ns=opened_ns)
        # a keeper that was lost meanwhile has its word in already, and that word is filed
        self._inbox.start(self._runner, self._journal.adopt)
        if left.reopened is None:
            self._inbox.ask(self._answers.rest)

    def _practice(self, room: PracticeDarkroom, archive: Archive) -> PracticeSwitches:
        switches, self._probe = practice_parts(
            room,
            self._data.path / "practice",
            self._clock.now_ns,
            archive,
            self._recipes,
            self._unpacker,
            self._snapshots,
            self._answers,
            self._inbox,
            self.wiring().outlets,
        )
        return switches

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

    def wiring(self) -> Wiring:
        """Return which pin does what, and what the relay's data sheet says of its delays."""
        return self._in_force.wiring

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

    def _show_second_place(self, words: str) -> None:
        """Show what is wrong with the second place for backups, or no longer so; nothing of it is filed."""
        if words != self._second_stands:
            self._second_stands = words
            self._inbox.call(self._answers.publish)

    def _busy(self) -> bool:
        status = self._snapshots.latest()
        return status.open or status.stop_possible

    def _broken(self, problem: Exception) -> None:
        self._pipe.stop("fault")
        self._runner.state = replace(self._runner.state, place=Fault("runner"))
        self._answers.publish()
        _log.error("the runner broke: %s", problem)

    # ---- what is loaded, and what is changed while a sheet is worked

    def _may_be_kept(self, source: str, plan: Plan) -> None:
        """Refuse a version of what is loaded that this darkroom's lines cannot light; raises `Impossible`."""
        loaded = self._snapshots.latest().plan
        if loaded is not None and source == loaded.source:
            must_have_lines(plan, self._runner.state.habits)

    def _saved(self, source: str) -> None:
        """Let a new version of what is loaded become the next sheet's."""
        plan = self._recipes.plan(source)
        self._inbox.ask(lambda: self._answers.saved(plan), even_late=True)

    def _between_sheets(self) -> None:
        """Take changed settings over, on the runner's thread, with nothing lit and no sheet open."""
        have = self._runner.state.habits
        wanted = self._in_force.habits(sounder=have.sounder)
        if wanted == have:
            return
        self._journal.set_hash(self._in_force.setup())
        if wanted.timing != have.timing:
            old, self._pipe.tether = self._pipe.tether, None
            if old is not None:
                old.close()
            tether = Tether(self._in_force.keeper_config(), self._inbox.put, ending=self._ending)
            try:
                tether.start()
            except KeeperAway as problem:
                _log.error("no keeper comes up with the changed settings: %s", problem)
                self._inbox.put(KeeperWent(self._clock.now_ns(), "fault"))
                return
            self._pipe.tether = tether
        self._answers.take_over(wanted)
