"""The darkroom's desk: what pages may look at and ask for, with a running house behind it."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from typing import Any, Literal

from controller.carry.desk import CarryDesk
from controller.contrast.split_grade import ContrastDesk
from controller.daemon.darkroom import House
from controller.daemon.face import Health
from controller.daemon.inbox import ANSWER_S
from controller.daemon.pairing import Pairing
from controller.daemon.papers import PaperShelf
from controller.daemon.phones import Phones
from controller.daemon.scans import ScanDrawer
from controller.daemon.trays import safe_left_s
from controller.errors import KeeperGone
from controller.foot import acts
from controller.foot.acts import Act
from controller.foot.state import must_have_lines
from controller.foot.status import Heard, Status
from controller.lamp.bench import LampBench
from controller.practice.prints import PracticePrints
from controller.practice.switches import PracticeSwitches
from controller.recipe.pick import PickMeaning
from controller.recipe.plan import Plan
from controller.store.records import SheetRecord
from controller.store.sessions import SessionLine
from controller.store.settings import Settings, changed, keep_settings
from controller.store.versions import Kept
from controller.words import say

_log = logging.getLogger(__name__)


class Darkroom(House):
    """`controller.daemon.desk_protocol.Desk`, with real things behind it. `open` it, and `close` it in the end."""

    _prints: PracticePrints | None = None

    # ---- the desk: looking

    def status(self) -> Status:
        """Return the present snapshot."""
        return self._fresh(self._snapshots.latest())

    def wait(self, after: int, timeout_s: float) -> Status:
        """Return the present snapshot as soon as its number is above `after`, or at the timeout."""
        return self._fresh(self._snapshots.wait(after, timeout_s))

    def _fresh(self, status: Status) -> Status:
        now_ns = self._clock.now_ns()
        opened_ns = self._answers.opened_ns
        left = None if opened_ns is None else safe_left_s(opened_ns, now_ns, self._settings.safe_minutes)
        return status.model_copy(update={"at_ns": now_ns, "safe_left_s": left})

    def heard(self, after: int) -> tuple[Heard, ...]:
        """Return the cues sounded since cue number `after`, at most the last hundred."""
        return self._snapshots.cues(after)

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
            return self._fresh(self._pick(act, number))
        if isinstance(act, acts.WriteRemark):
            self._archive.record(act.sheet)
        return self._fresh(self._inbox.ask(lambda: self._answers.do(act, number)))

    def _pick(self, act: acts.Pick, number: int) -> Status:
        """Take a pick over; where it made a new version of what is loaded, that becomes the next sheet's."""
        record = self._archive.record(act.sheet)
        self._answers.check(number)
        before = self._newest_loaded()
        picked, _ = self._library.take_pick(record, act.band, between=act.between, recipe=act.recipe)
        after = self._newest_loaded()
        status = self._call(lambda: self._answers.note(picked))
        if after is None or after == before:
            return status
        plan = self._library.plan(after[0], after[1])
        return self._call(lambda: self._answers.saved(plan))

    def _newest_loaded(self) -> tuple[str, int] | None:
        """Return the latest version of what is loaded, where it is kept on the shelf."""
        loaded = self._snapshots.latest().plan
        if loaded is None or loaded.kind == "check":
            return None
        return loaded.source, self._library.fetch(loaded.source).version

    def _call(self, work: Any) -> Status:
        """Have done what follows from what is kept already; where nobody answers in time it is done later."""
        try:
            answer: Status = self._inbox.call(work).result(ANSWER_S)
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
        loaded = self._snapshots.latest().plan
        if source is not None and loaded is not None and source == loaded.source:
            must_have_lines(self._library.review(text), self._runner.state.habits)
        kept = self._library.save(text, source)
        plan = self._library.plan(kept.id)
        self._call(lambda: self._answers.saved(plan))
        return kept

    def put_away(self, source: str) -> None:
        """Take it off the list; its versions and sheets stay."""
        self._library.put_away(source)

    def papers(self) -> PaperShelf:
        """Return the papers on the shelf."""
        return self._papers

    def scans(self) -> ScanDrawer:
        """Return the scans that are being read."""
        return self._scans

    def contrast(self) -> ContrastDesk:
        """Return who finds two lights for two tones on a kept paper."""
        return ContrastDesk(self.papers, lambda: self._table().longest_light_ms)

    def carrying(self) -> CarryDesk:
        """Return who carries a recipe over; a new version of what is loaded becomes the next sheet's."""
        return CarryDesk(
            lambda: self._shelf,
            self.papers,
            lambda: self._table().longest_light_ms,
            lambda sheet: self._archive.record(sheet).plan,
            lambda recipe: self._call(lambda: self._answers.saved(self._library.plan(recipe))),
        )

    # ---- records

    def sessions(self, limit: int = 20) -> Sequence[SessionLine]:
        """Return the sessions, newest first, each with its sheets' short lines."""
        return self._archive.session_lines(limit)

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
        with self._changing:
            wanted = changed(self._settings, changes)
            keep_settings(self._shelf, wanted)
            self._settings = wanted
            self._lamp.fit(wanted)
        self._call(self._answers.settle_changes)
        return wanted

    def key(self) -> bytes:
        """Return the 32 bytes that sign cookies."""
        return self._data.key()

    def pairing(self) -> Pairing:
        """Return the keeper of pairing codes."""
        return self._pairing

    def phones(self) -> Phones:
        """Return the list of paired phones."""
        return self._phones

    def health(self) -> Health:
        """Return what an unpaired device may know."""
        status = self._snapshots.latest()
        return Health(ok=status.keeper == "ready", keeper=status.keeper, practice=status.practice)

    def lamp(self) -> LampBench:
        """Return the lamp's bench: its lag, its checks, its warming up."""
        return self._lamp

    def practice(self) -> PracticeSwitches | None:
        """Return the practice darkroom's switches, or None with real lines."""
        if self._room is None:
            return None
        if self._prints is None:
            tray = self._data.path / "practice"
            self._prints = PracticePrints(
                self._room, tray, lambda sheet: self._archive.record(sheet), self._library.fetch
            )
        return PracticeSwitches(
            self._room, self._clock.now_ns, lambda: self._answers.opened_ns, self._wiring.outlets, self._prints
        )
