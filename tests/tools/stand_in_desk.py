"""The one desk of the pages' tests: the real desk and its real parts, with only light and keeper stood in.

Shelf, compiler, picks, papers, settings, pairing and snapshots are the daemon's own. What is lit, loaded and possible
is set by hand (`show`), sheets are put into `records`, and what is asked of light is written down.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import gettempdir
from typing import Any

from controller.backup.registered import DERIVED, THINGS
from controller.carry.carry_over import CarryDesk
from controller.contrast.split_grade import ContrastDesk
from controller.daemon.answers import Snapshots
from controller.daemon.chores import Chores
from controller.daemon.desk import Desk
from controller.daemon.edition_desk import EditionDesk
from controller.daemon.edition_ledgers import Ledgers
from controller.daemon.enlarger_shelf import EnlargerShelf
from controller.daemon.in_force import InForce
from controller.daemon.negative_shelf import NegativeShelf
from controller.daemon.pairing import Invitation, Pairing
from controller.daemon.paper_shelf import PaperShelf
from controller.daemon.phones import FogTest, Phone
from controller.daemon.photographs import Photographs
from controller.daemon.recipe_shelf import RecipeShelf
from controller.daemon.scans import ScanDrawer
from controller.daemon.tray_shelf import TrayShelf
from controller.daemon.your_data import YourData
from controller.easel.gains import Gains, gains_of
from controller.errors import NotThere, WrongMoment
from controller.foot.acts import (
    Act,
    ChangeRemark,
    IntoRecipe,
    Load,
    Looked,
    Pick,
    StandAtEnlarger,
    TakeBackRemark,
    WriteRemark,
)
from controller.foot.status import NextStep, Status, StepLine
from controller.lamp.history import LampView
from controller.lamp.spot_bench import Through
from controller.paper.paper import Paper
from controller.practice.stage import Stage
from controller.practice.switches import PracticeView
from controller.recipe.fields import LONGEST_MS
from controller.recipe.plan import Plan, Step, StepKind
from controller.store.archive import Archive
from controller.store.easel_rows import SpotRead, SpotsTaken
from controller.store.edition_rows import BoxCounted, Numbered
from controller.store.entries import BathMade, LampChecked, Photographed, StoodAtEnlarger
from controller.store.finding import Finder
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.levels import GainsMeasured
from controller.store.lookups import Lookups
from controller.store.pictures import Pictures
from controller.store.records import SheetRecord, StepRecord, TonedRecord, When
from controller.store.said_of_sheets import Picked, Toned, WentIn
from controller.store.sessions import SheetsPage, Thread, outline, session_lines
from controller.store.shelf import Shelf
from controller.store.threads import threads_among
from controller.store.trial_rows import TRIAL_ROWS
from controller.store.versions import Kept
from hardware.clock import ManualClock
from hardware.fitting import read_fitting
from hardware.wire import Sounded
from tools.near_unpacker import NearRenderer, NearUnpacker

CRANE = """{
 "format": "treadle/recipe/1", "title": "Harbour crane, 8x10",
 "negative": {"name": "harbour crane", "format": "4x5"},
 "paper": {"name": "paper one", "support": "RC", "size": "8x10 in"},
 "image_mm": [240, 192], "magnification": 2.0, "lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620,
 "filters": {"soft": "00", "hard": "5"},
 "light": [{"filter": "soft", "seconds": 10.1}, {"filter": "hard", "seconds": 8.0}],
 "local": [
  {"area": "A", "what": "sky", "act": "burn", "filter": "soft", "stops": "1"},
  {"area": "C", "what": "under the cab", "act": "dodge", "filter": "hard", "stops": "1/3"},
  {"area": "B", "what": "wet stones", "act": "burn", "filter": "hard", "stops": "2/3"}
 ]
}"""
HARD_STRIP = """{
 "format": "treadle/strip/1", "title": "Hard strip over the soft base", "filter": "hard",
 "negative": {"name": "harbour crane", "format": "4x5"}, "paper": {"name": "paper one", "support": "RC"},
 "magnification": 2.0, "lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620,
 "under": [{"filter": "soft", "seconds": 10.1}],
 "times": {"kind": "stops", "centre": 8.0, "step": "1/3", "bands": 7}, "card": "cover", "pace": "press"
}"""
PROOF_STRIP = """{
 "format": "treadle/strip/1", "title": "Proof strip", "filter": "2",
 "times": {"kind": "seconds", "step": 3.0, "bands": 7}, "card": "cover", "pace": "press"
}"""
STOCK = (
    ("crane", "recipe", "Harbour crane, 8x10", CRANE),
    ("hardstrip", "strip", "Hard strip over the soft base", HARD_STRIP),
    ("proof", "strip", "Proof strip", PROOF_STRIP),
)


KEY = bytes(range(32))
CODE = "12345678"
SECRET = "a-secret-of-22-letters"

STEPS = (
    Step(number=1, name="soft base", act=StepKind.BASE, filter="soft", planned_ms=10100),
    Step(
        number=2,
        name="A sky, burn",
        act=StepKind.BURN,
        filter="soft",
        planned_ms=10100,
        area="A",
        what="sky",
        stops="+1",
    ),
    Step(number=3, name="hard base", act=StepKind.BASE, filter="hard", planned_ms=8000),
)
PLAN = Plan(source="crane", version=1, kind="recipe", title="Harbour crane", steps=STEPS)


def next_step(number: int = 2, **changes: Any) -> NextStep:
    """Return a step of the plan as a status shows it."""
    step = STEPS[number - 1]
    values: dict[str, Any] = {
        "number": number,
        "of": len(STEPS),
        "name": step.name,
        "verb": "burn" if step.act is StepKind.BURN else "base",
        "area": step.area,
        "what": step.what,
        "filter": step.filter,
        "planned_ms": step.planned_ms,
        "remaining_ms": step.planned_ms,
    }
    return NextStep(**{**values, **changes})


def step_lines() -> tuple[StepLine, ...]:
    """Return the plan's list with the first step given."""
    return tuple(
        StepLine(
            number=step.number,
            name=step.name,
            filter=step.filter,
            planned_ms=step.planned_ms,
            given_least_ms=step.planned_ms if step.number == 1 else 0,
            given_most_ms=step.planned_ms if step.number == 1 else 0,
            state="given" if step.number == 1 else "to come",
        )
        for step in STEPS
    )


class FakeSpots:
    """Spots that were measured, set by hand."""

    def __init__(self) -> None:
        self.measured: list[SpotRead] = []
        self.ratios: list[tuple[GainsMeasured, str]] = []
        self.through: list[Through] = []

    def gains(self, sensor: str) -> Gains:
        return gains_of(self.ratios, sensor)

    def go_through(self, through: Through) -> None:
        self.through.append(through)

    def read(self) -> tuple[SpotRead, ...]:
        return tuple(self.measured)

    def outcome(self) -> str:
        return ""


class FakeLamp:
    """A lamp's bench that shows a view set by hand and writes down what is asked of it."""

    def __init__(self) -> None:
        self.shown = LampView(lag_ms=0.0, operate_ms=0.0, release_ms=0.0, sensor="none")
        self.asked: list[tuple[Any, ...]] = []

    def view(self) -> LampView:
        return self.shown

    def begin_paper_test(self, number: int, **figures: int) -> Status:
        self.asked.append(("paper", figures))
        raise WrongMoment("It cannot be loaded here.")

    def begin_warm_up(self, number: int) -> Status:
        raise WrongMoment("It cannot be loaded here.")

    def begin_by_sensor(self, name: str, number: int) -> Status:
        self.asked.append((name,))
        raise WrongMoment("It cannot be loaded here.")

    def begin_readings(self, plan: Plan, number: int, *, by_eye: bool = False) -> Status:
        self.asked.append(("readings", plan.source))
        raise WrongMoment("It cannot be loaded here.")

    def sensor_ready(self) -> bool:
        return self.shown.sensor == "ready"

    def take_paper(self, band: int, *, between: bool = False) -> float:
        self.asked.append(("take paper", band, between))
        return 120.0

    def take_found(self) -> float:
        return 120.0

    def take_typed(self, lag_s: float) -> float:
        self.asked.append(("take typed", lag_s))
        return lag_s * 1000

    def new_bulb(self) -> None:
        self.asked.append(("new bulb",))


class FakePhones:
    """A list of phones that lies nowhere."""

    def __init__(self) -> None:
        self.known: dict[str, Phone] = {}
        self.out: set[str] = set()

    def is_out(self, mark: str) -> bool:
        return mark in self.out

    def add(self) -> Phone:
        number = len(self.known) + len(self.out) + 1
        phone = Phone(mark=f"mark{number}", name=f"phone {number}", paired="2026-03-01", seen="2026-03-01")
        self.known[phone.mark] = phone
        return phone

    def seen(self, mark: str) -> None:
        if mark not in self.known and mark not in self.out:
            self.known[mark] = Phone(mark=mark, name=f"phone {len(self.known) + 1}", seen="2026-03-02")

    def fog_test(self, mark: str) -> FogTest | None:
        return self.known[mark].fog_test if mark in self.known else None

    def tested(self, mark: str, found: FogTest | None) -> None:
        self.known[mark] = self.known[mark].model_copy(update={"fog_test": found})

    def listed(self) -> Sequence[Phone]:
        return tuple(self.known.values())

    def put_out(self, name: str) -> None:
        phone = next((phone for phone in self.known.values() if phone.name == name), None)
        if phone is None:
            raise NotThere("There is no such phone.")
        del self.known[phone.mark]
        self.out.add(phone.mark)


class FakePractice:
    """A simulated darkroom that only remembers."""

    def __init__(self) -> None:
        self.contacts: list[bool] = []
        self.filter = ""
        self.open = False
        self.lit = False
        self.broken: set[str] = set()
        self.hands: list[tuple[object, ...]] = []
        self.staged = Stage()

    def contact(self, closed: bool) -> None:
        self.contacts.append(closed)

    def put_filter(self, name: str) -> None:
        self.filter = name

    def lid(self, open_: bool) -> None:
        self.open = open_

    def prints(self) -> None:
        return None

    def faults(self) -> tuple[tuple[str, bool], ...]:
        return tuple((name, name in self.broken) for name in ("bulb_dead", "contact_stuck"))

    def fault(self, name: str, on: bool) -> None:
        (self.broken.add if on else self.broken.discard)(name)

    def paper(self, out: bool) -> None:
        self.hands.append(("paper", out))

    def negative(self, inside: bool, which: str = "A") -> None:
        self.hands.append(("negative", inside, which))

    def opal(self, inside: bool) -> None:
        self.hands.append(("opal", inside))

    def card(self, way: str, place: int) -> None:
        self.hands.append(("card", way, place))

    def move_card_on(self, status: Status) -> None:
        self.hands.append(("card on", status.number))

    def lay_probe(self, x: float, y: float) -> None:
        self.hands.append(("probe", x, y))

    def probe(self) -> tuple[float, float] | None:
        return None

    def stage(self, _status: Status) -> Stage:
        return self.staged

    def tool(self, area: str, act: str, inside: bool) -> None:
        self.hands.append(("tool", area, act, inside))

    def phone_lies_lit(self, on: bool) -> None:
        self.hands.append(("phone", on))

    def view(self) -> PracticeView:
        return PracticeView(
            lit=self.lit,
            contact_closed=bool(self.contacts and self.contacts[-1]),
            filter_in_drawer=self.filter,
            lid_open=self.open,
            light_s=0.0,
        )


class KnownCode(Pairing):
    """Real pairing codes, of which the first is known and a test may look at and set the present one."""

    def __init__(self, now_ns: Callable[[], int]) -> None:
        super().__init__(now_ns)
        self.code = CODE

    @property
    def code(self) -> str | None:
        return self._open.code if self._open else None

    @code.setter
    def code(self, code: str) -> None:
        self._open, self._until_ns = Invitation(code, SECRET), 1 << 62

    @property
    def secret(self) -> str:
        assert self._open is not None
        return self._open.secret

    @property
    def tries(self) -> int:
        return len(self._tries)

    @property
    def tried_from(self) -> list[str]:
        return [address for _, address in self._tries]

    def forget_tries(self) -> None:
        self._tries.clear()


class SetSnapshots(Snapshots):
    """Snapshots that a test sets: each has a number of its own, whether it says anything new or not."""

    waiting = 0
    """How many wait for the next one."""

    def publish(self, status: Status) -> Status:
        with self._turn:
            number = 1 if self._status is None else self._status.number + 1
            self._status = status.model_copy(update={"number": number})
            self._turn.notify_all()
            return self._status

    def wait(self, after: int, timeout_s: float) -> Status:
        self.waiting += 1
        try:
            return super().wait(after, timeout_s)
        finally:
            self.waiting -= 1


class LampDesk:
    """Keeper, runner and answers in one: does what it is asked at once, and writes it down."""

    opened_ns: int | None = None
    tether = object()

    def __init__(self, desk: StandInDesk) -> None:
        self._desk = desk

    def stop(self, _why: str) -> None:
        desk = self._desk
        desk.stops += 1
        desk.stopped_at.append(desk.now_ns())
        if desk.snapshots.latest().stop_possible:
            desk.show(lit=None, stop_possible=False)

    def ask(self, work: Callable[[], Any], _within_s: float | None = None, *, even_late: bool = False) -> Any:
        return work()

    def check(self, number: int) -> None:
        if self._desk.refuse is not None:
            raise self._desk.refuse
        if number != self._desk.status().number:
            raise WrongMoment("Something has changed since. This is how things stand now.")

    def do(self, act: Act, number: int) -> Status:
        self.check(number)
        self._desk.acts.append((act, number))
        if isinstance(act, Load):
            return self._desk.show(plan=self._desk.recipes().plan(act.source, act.version), place="ready")
        if isinstance(act, StandAtEnlarger):
            if self._desk.status().bench != act.bench:
                self._desk.journal.append(StoodAtEnlarger(bench=act.bench))
            return self._desk.show(bench=act.bench)
        return self._desk.show()

    def load_check(self, plan: Plan, number: int) -> Status:
        self.check(number)
        return self._desk.show(plan=plan, place="ready")

    def settle_changes(self) -> Status:
        return self._desk.show()

    def note(self, *entries: Any) -> Status:
        entry = entries[0]
        if isinstance(entry, (SpotsTaken, BathMade, BoxCounted, Numbered, *TRIAL_ROWS)):
            self._desk.journal.append(*entries)
            if isinstance(entry, Numbered) and entry.sheet in self._desk.records:
                record = self._desk.records[entry.sheet]
                self._desk.records[entry.sheet] = record.model_copy(update={"numbered": entry})
            return self._desk.show()
        record = self._desk.records[entry.sheet]
        if isinstance(entry, Toned):
            told = entry.model_dump(include={"toner", "dilution", "minutes", "did"})
            toned = TonedRecord(number=entry.instead or len(record.toned) + 1, said=record.opened, **told)
            before = [each for each in record.toned if each.number != toned.number]
            whole = tuple(sorted((*before, toned), key=lambda each: each.number))
            self._desk.records[entry.sheet] = record.model_copy(update={"toned": whole})
            return self._desk.show()
        into = "picks" if isinstance(entry, Picked) else "went_in" if isinstance(entry, WentIn) else "looked"
        self._desk.records[entry.sheet] = record.model_copy(update={into: (*getattr(record, into), entry)})
        return self._desk.show()

    def saved(self, _plan: Plan) -> Status:
        return self._desk.status()


class Sheets:
    """The archive of a desk: sheets that are put there by hand."""

    def __init__(self) -> None:
        self.records: dict[str, SheetRecord] = {}
        self.checks: tuple[tuple[int, LampChecked], ...] = ()
        """The lamp's checks, each with its row."""

    def record(self, sheet: str) -> SheetRecord:
        if sheet not in self.records:
            raise NotThere("No sheet of that name is in the journal. Choose one from the list of sheets.")
        return self.records[sheet]

    def sheets(self, limit: int | None = None) -> tuple[SheetRecord, ...]:
        return tuple(self.records.values())[-(limit or 0) :]

    def page(self, **_: int | None) -> SheetsPage:
        sheets = [outline(each) for each in self.records.values()]
        return SheetsPage(sessions=session_lines(reversed(sheets), threads_among(enumerate(sheets))))

    def last_of(self, source: str) -> SheetRecord | None:
        return next((each for each in reversed(self.records.values()) if each.plan.source == source), None)

    def lamp_checks(self) -> tuple[tuple[int, LampChecked], ...]:
        return self.checks

    def thread(self, record: SheetRecord) -> Thread:
        return threads_among(enumerate(map(outline, self.records.values()))).get(record.id, Thread())

    def threads(self, records: Iterable[SheetRecord]) -> dict[str, Thread]:
        return {record.id: self.thread(record) for record in records}


class StandInDesk(Desk):
    """The desk of the pages' tests; `show` sets what is going on."""

    def __init__(self, *, practice: bool = False) -> None:
        self.clock_ns = 1_000_000_000
        self.clock: Callable[[], int] | None = None
        self.acts: list[tuple[Act, int]] = []
        self.stops = 0
        self.room = True
        """There is room on the card."""
        self.stopped_at: list[int] = []
        self.refuse: Exception | None = None
        self.trouble: Exception | None = None
        """What keeping a recipe or strip raises."""
        self.saves = 0
        self.uses = 0
        self.kept_things = Shelf.in_memory()
        self.journal = Journal.in_memory(ManualClock(), Stamp.here())
        """What searches look through; sheets that are put into `records` are not in it."""
        self.lookups = Lookups(None, self.kept_things, self.journal, THINGS, DERIVED)
        for part in (self.lookups, self.journal, self.kept_things):
            weakref.finalize(self, part.close)
        light, sheets, self.snapshots, self.bench = LampDesk(self), Sheets(), SetSnapshots(), FakeLamp()
        self.spots = FakeSpots()
        self.records = sheets.records
        papers = PaperShelf(self.kept_things)
        recipes = RecipeShelf(self.kept_things, lambda: LONGEST_MS, self._about_to_keep, self._saved)
        photographs = self.photographs_in(Path("nowhere"))
        in_force = InForce(read_fitting(Path("nowhere"), {}, practice=True), self.kept_things)
        super().__init__(  # light and keeper are stood in
            clock=self,
            snapshots=self.snapshots,
            pipe=light,  # type: ignore[arg-type]
            inbox=light,  # type: ignore[arg-type]
            answers=light,  # type: ignore[arg-type]
            archive=sheets,  # type: ignore[arg-type]
            finder=Finder(self.kept_things, self.lookups),
            room_left=lambda: self.room,
            recipes=recipes,
            papers=papers,
            negatives=NegativeShelf(self.kept_things, self.lookups, photographs),
            photographs=photographs,
            scans=ScanDrawer(Path("nowhere"), self.now_ns, NearUnpacker(lambda: False)),
            incoming=Path(gettempdir()),
            your_data=self.data_in(Path("nowhere")),
            contrast=ContrastDesk(papers, lambda: LONGEST_MS, recipes),
            carrying=CarryDesk(
                self.kept_things, papers, recipes.recipe, lambda: LONGEST_MS, lambda sheet: sheets.record(sheet).plan
            ),
            settings=in_force.settings,
            change_settings=in_force.change,
            key=KEY,
            pairing=KnownCode(self.now_ns),
            phones=FakePhones(),  # type: ignore[arg-type]
            lamp=self.bench,  # type: ignore[arg-type]
            practice=FakePractice() if practice else None,  # type: ignore[arg-type]
            enlargers=EnlargerShelf(self.kept_things, self.journal),
            editions=EditionDesk(
                Ledgers(self.kept_things, self.journal, None, light.note),
                self.lookups,
                sheets,  # type: ignore[arg-type]
                self.snapshots.latest,
            ),
            spots=self.spots,  # type: ignore[arg-type]
            rows=self.journal,
            trays=TrayShelf(self.kept_things, self.lookups, self.journal, recipes),
        )
        self.crane, self.strip, self.proof = self.lay(
            *(
                Kept(id=id_, version=1, kind=kind, title=title, body=body, made="2024-01-01T00:00:00+00:00")
                for id_, kind, title, body in STOCK
            )
        )
        self.snapshots.publish(
            Status(
                number=1,
                at_ns=0,
                place="nothing chosen",
                headline="Choose on the page.",
                keeper="ready",
                practice=practice,
                can=("load", "paper away"),
            )
        )

    # ---- for tests

    def show(self, **changes: Any) -> Status:
        """Change the status; its number rises."""
        return self.snapshots.publish(self.snapshots.latest().model_copy(update=changes))

    def say_day(self, seconds: float = 900) -> Status:
        """All paper is away."""
        return self.show(day_until_ns=self.now_ns() + int(seconds * 1e9), open=False)

    def sound(self, cue: str, count: int = 0) -> None:
        """Sound a cue."""
        self.snapshots.note_cue(Sounded(cue, count, self.now_ns()))

    def lay(self, *kept: Kept) -> tuple[Kept, ...]:
        """Put these on the shelf, and take off it the recipes and strips that were there."""
        for kind in ("recipe", "strip"):
            for other in self.kept_things.latest(kind):
                self.kept_things.put_away(other.id)
        self.kept_things.take_in(kept)
        return kept

    def read_journal(self, *, threaded: bool = False) -> Journal:
        """Have the sheets come from the journal instead of `records`, and return it to be filled."""
        self._archive = Archive(self.journal, self.lookups, threaded=threaded)
        return self.journal

    def photographs_in(self, folder: Path) -> Photographs:
        """Return photographs that lie in this folder; those of sheets come into the records."""
        return Photographs(Pictures(folder), NearUnpacker(lambda: False), self._photographed, Path(gettempdir()))

    def _photographed(self, row: Photographed) -> None:
        if row.of == "sheet" and row.thing in self.records:
            record = self.records[row.thing]
            self.records[row.thing] = record.model_copy(update={"photographs": (*record.photographs, row)})
        else:
            self.journal.append(row)

    def keep_pictures_in(self, folder: Path) -> None:
        """Have pictures kept in this folder; without one there is nowhere to keep any."""
        self._photographs = self.photographs_in(folder)
        self._negatives = NegativeShelf(self.kept_things, self.lookups, self._photographs)
        self._previews = self._preview_desk(NearRenderer(lambda: self.snapshots.latest().open))

    def data_in(self, folder: Path, shelf: Shelf | None = None) -> YourData:
        """Give the desk a data folder to back up and take out; return what does so, by chores that do not run yet."""
        data = DataFolder(folder, make=False)
        self.chores = Chores(data, lambda: self.snapshots.latest().open, lambda _: None)
        if shelf is not None:
            in_force = InForce(read_fitting(Path("nowhere"), {}, practice=True), shelf)
            self._settings, self._change_settings = in_force.settings, in_force.change
        self._your_data = YourData(data, self.chores, shelf or self.kept_things, lambda new: self.change_settings(new))
        return self._your_data

    def lay_scans(self, folder: Path) -> ScanDrawer:
        """Give the desk a drawer of scans in a folder; the test closes it."""
        self._scans = ScanDrawer(folder, self.now_ns, NearUnpacker(lambda: self.snapshots.latest().open))
        return self._scans

    def work(self, kept: Kept, sheet: str, **changes: Any) -> SheetRecord:
        """Put a complete sheet of something kept into the records."""
        return self.work_plan(self.recipes().plan(kept.id, kept.version), sheet, **changes)

    def work_plan(self, plan: Plan, sheet: str, **changes: Any) -> SheetRecord:
        """Put a complete sheet of a plan into the records."""
        when = When(row=1, boot="b", at_ns=0, wall="2024-01-01T20:15:00+00:00", synchronised=True)
        steps = tuple(
            StepRecord(step=step, given_least_ms=step.planned_ms, given_most_ms=step.planned_ms) for step in plan.steps
        )
        values: dict[str, Any] = {"steps": steps, "outcome": "complete", "closed": when} | changes
        record = SheetRecord(id=sheet, number=len(self.records) + 3, plan=plan, opened=when, ended=when, **values)
        self.records[sheet] = record
        return record

    def _about_to_keep(self, _source: str, _plan: Plan) -> None:
        if self.trouble is not None:
            raise self.trouble

    def _saved(self, _source: str) -> None:
        self.saves += 1

    # ---- what light and keeper would say

    def status(self) -> Status:
        return self.snapshots.latest()

    def wait(self, after: int, timeout_s: float) -> Status:
        return self.snapshots.wait(after, timeout_s)

    def now_ns(self) -> int:
        return self.clock() if self.clock else self.clock_ns

    def used(self) -> Status:
        self.uses += 1
        return self.snapshots.latest()

    def do(self, act: Act, number: int) -> Status:
        if not isinstance(act, Looked | Pick | IntoRecipe | WriteRemark | ChangeRemark | TakeBackRemark):
            return super().do(act, number)
        self._answers.check(number)
        self.acts.append((act, number))
        known = isinstance(act, Looked | Pick | IntoRecipe) and act.sheet in self.records
        return super().do(act, number) if known else self.show()


@contextmanager
def day_desk(*papers: Paper, clock: Callable[[], int] | None = None) -> Iterator[StandInDesk]:
    """A desk that shows the day face and keeps these papers; its own clock stands still."""
    made = StandInDesk()
    made.clock = clock
    for paper in papers:
        made.papers().keep(paper)
    made.say_day()
    yield made
    made.kept_things.close()
