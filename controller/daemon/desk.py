"""The desk: everything a page may look at and ask for, safe from any thread."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from controller import wall
from controller.carry.carry_over import CarryDesk
from controller.contrast.split_grade import ContrastDesk
from controller.daemon.answers import Answers, Snapshots
from controller.daemon.at_enlarger import EnlargerDesk
from controller.daemon.easel_desk import EaselDesk
from controller.daemon.easel_trials import add_easel_trials
from controller.daemon.edition_desk import EditionDesk
from controller.daemon.enlarger_shelf import EnlargerShelf
from controller.daemon.evening import verdicts_lately
from controller.daemon.fog_trials import FogTrials
from controller.daemon.inbox import Inbox
from controller.daemon.negative_shelf import NegativeShelf
from controller.daemon.next_desk import NextDesk
from controller.daemon.offers import MovedOffers
from controller.daemon.pairing import Pairing
from controller.daemon.paper_shelf import PaperShelf
from controller.daemon.paper_trials import add_paper_tests
from controller.daemon.phones import Phones
from controller.daemon.photographs import Photographs
from controller.daemon.pipe import TetherPipe
from controller.daemon.preview_desk import PreviewDesk
from controller.daemon.preview_renderer import PreviewRenderer
from controller.daemon.printing_maps import PrintingMaps
from controller.daemon.recipe_shelf import RecipeShelf
from controller.daemon.scans import ScanDrawer
from controller.daemon.sheet_acts import SheetAct, SheetActs
from controller.daemon.tray_desk import TrayDesk
from controller.daemon.tray_shelf import TrayShelf
from controller.daemon.trial_desk import TrialDesk
from controller.daemon.your_data import YourData
from controller.errors import KeeperGone
from controller.foot import acts
from controller.foot.status import Health, Heard, Status
from controller.foot.tray_words import as_of
from controller.lamp.bench import LampBench
from controller.lamp.spot_bench import SpotBench
from controller.practice.switches import PracticeSwitches
from controller.store.archive import LEAST, MOST, Archive
from controller.store.finding import Finder
from controller.store.records import SheetRecord
from controller.store.rows import Reader
from controller.store.sessions import SheetsPage, Thread
from controller.store.settings import Settings
from controller.words import say
from hardware.clock import Clock
from hardware.sounds import Cue


class Desk:
    """What the pages know of a running darkroom. The darkroom makes its parts; here they are asked.

    Errors are `controller.errors` (their `str()` is the sentence to show): WrongMoment → 409, Unreadable and
    Impossible → 422, NotThere → 404, StoreTrouble and KeeperGone → 503.
    """

    def __init__(
        self,
        *,
        clock: Clock,
        snapshots: Snapshots,
        pipe: TetherPipe,
        inbox: Inbox,
        answers: Answers,
        archive: Archive,
        finder: Finder,
        room_left: Callable[[], bool],
        recipes: RecipeShelf,
        papers: PaperShelf,
        negatives: NegativeShelf,
        photographs: Photographs,
        scans: ScanDrawer,
        incoming: Path,
        contrast: ContrastDesk,
        carrying: CarryDesk,
        settings: Callable[[], Settings],
        change_settings: Callable[[dict[str, object]], Settings],
        your_data: YourData,
        key: bytes,
        pairing: Pairing,
        phones: Phones,
        lamp: LampBench,
        practice: PracticeSwitches | None,
        enlargers: EnlargerShelf,
        editions: EditionDesk,
        spots: SpotBench,
        rows: Reader,
        trays: TrayShelf,
        two_lamps: bool = False,
    ) -> None:
        self._clock, self._snapshots, self._pipe, self._inbox, self._answers = clock, snapshots, pipe, inbox, answers
        self._room_left, self._finder, self._editions, self._carrying = room_left, finder, editions, carrying
        self._archive, self._recipes, self._papers, self._scans = archive, recipes, papers, scans
        self._negatives, self._photographs, self._incoming, self._contrast = negatives, photographs, incoming, contrast
        self._of_sheets = SheetActs(archive, recipes, contrast, inbox, answers, snapshots)
        self._settings, self._change_settings, self._your_data = settings, change_settings, your_data
        self._key, self._pairing, self._phones, self._lamp, self._practice = key, pairing, phones, lamp, practice
        self._at_enlarger = EnlargerDesk(
            *(enlargers, papers, recipes),
            status=snapshots.latest,
            do=self.do,
            settings=self.settings,
            change_settings=self.change_settings,
            negatives=negatives.lately,
        )
        self._easel = EaselDesk(
            *(papers, recipes, lamp, spots),
            status=snapshots.latest,
            do=self.do,
            note=lambda row: inbox.ask(lambda: answers.note(row)),
            verdicts=lambda: verdicts_lately(rows, wall.now()),
            lines=two_lamps,
        )
        self._trials = TrialDesk(finder.lookups, inbox, answers)
        self._next = NextDesk(
            *(archive, recipes, negatives, enlargers, snapshots.latest),
            *(self.do, self._easel, editions.begun, self._trials.due, MovedOffers(archive, recipes, papers, carrying)),
        )
        self._trays = TrayDesk(trays, archive, inbox, answers)
        FogTrials(self._trials, archive, phones, snapshots.latest, settings, change_settings, recipes.longest_ms)
        shelves = recipes, papers, enlargers, lambda: self._scans
        add_easel_trials(self._trials, lamp, spots, *shelves, snapshots.latest, self.do)
        add_paper_tests(self._trials, archive, papers, self._trays, lamp, carrying, snapshots.latest, settings, recipes)
        self._previews = self._preview_desk(PreviewRenderer(self._busy))

    def _busy(self) -> bool:
        """Tell whether a sheet is open, or there is light: nothing is worked out beside it then."""
        status = self._snapshots.latest()
        return status.open or status.stop_possible

    def _preview_desk(self, renderer: PreviewRenderer) -> PreviewDesk:
        known = self._negatives, self._photographs, self._recipes, self._archive
        return PreviewDesk(
            *(self._negatives, self._photographs.place, self._papers, self._recipes, self._archive),
            *(renderer, PrintingMaps(*known, self._practice, self._snapshots.latest)),
            status=self._snapshots.latest,
            do=self.do,
            setting=self._at_enlarger.setting,
            readings=self._easel.densities_of,
            invented=self._practice is not None,
        )

    # ---- looking

    def status(self) -> Status:
        """Return the present snapshot."""
        return self._fresh(self._snapshots.latest())

    def wait(self, after: int, timeout_s: float) -> Status:
        """Return the present snapshot as soon as its number is above `after`, or at the timeout."""
        return self._fresh(self._snapshots.wait(after, timeout_s))

    def _fresh(self, status: Status) -> Status:
        now_ns = self._clock.now_ns()
        said = as_of(status, self._answers.opened_ns, now_ns, self._settings().safe_minutes)
        return status.model_copy(update=said)

    def heard(self, after: int) -> tuple[Heard, ...]:
        """Return the cues sounded since cue number `after`, at most the last hundred."""
        return self._snapshots.cues(after)

    def now_ns(self) -> int:
        """Return the daemon's monotonic now, to turn a status's times into spans."""
        return self._clock.now_ns()

    def health(self) -> Health:
        """Return what an unpaired device may know."""
        status = self._snapshots.latest()
        ready, room = status.keeper == "ready", self._room_left()
        return Health(ok=ready and room, keeper=status.keeper, practice=status.practice, room=room)

    # ---- acting

    def stop(self) -> None:
        """Dark now: straight to the keeper, past every queue; never refuses, does nothing where nothing is lit."""
        self._pipe.stop("page")

    def do(self, act: acts.Act, number: int) -> Status:
        """Carry out one act that was decided on snapshot `number`; return the snapshot after it.

        Raises:
            WrongMoment: the snapshot is not the present one, or the act does not fit; the sentence says what to do.
            NotThere: no such recipe, strip, sheet or remark is kept.
            Impossible: a sheet that cannot be looked at, or a pick that cannot be taken over.
            KeeperGone: there is no keeper, or the runner does not answer.
        """
        if self._pipe.tether is None:
            raise KeeperGone(say("foot.keeper-away"))
        if isinstance(act, SheetAct):
            status = self._of_sheets.do(act, number)
            return self._fresh(self._next.go_on(status) if isinstance(act, acts.Pick) and act.go_on else status)
        if isinstance(act, acts.TakeOffer):
            return self._fresh(self._next.take(act.offer, number))
        if isinstance(act, acts.RefuseOffer):
            self._answers.check(number)
            self._next.refuse(act.offer)
            return self._fresh(self._inbox.ask(self._answers.publish))
        if isinstance(act, acts.WriteRemark):
            self._archive.record(act.sheet)
        if isinstance(act, acts.ChangeRemark | acts.TakeBackRemark):
            text = act.text if isinstance(act, acts.ChangeRemark) else ""
            if self._archive.remark(act.sheet, act.remark).text == text:  # nothing is new, and no row says so
                return self.status()
        return self._fresh(self._inbox.ask(lambda: self._answers.do(act, number)))

    def used(self) -> Status:
        """Note that a page of the day face was used, by a key or a button: it then lasts its whole time from now on.

        Looking alone is no use, and none of this begins the day face.

        Raises:
            KeeperGone: there is no keeper, or the runner does not answer.
        """
        if self._pipe.tether is None:
            raise KeeperGone(say("foot.keeper-away"))
        return self._fresh(self._inbox.ask(self._answers.used))

    def hear(self, cue: Cue, count: int = 0) -> Status:
        """Have the sounder say a cue, after `count` short beats, so that it can be learnt.

        Raises:
            WrongMoment: not on the white page, or something is lit or announced; or no sounder works.
            KeeperGone: there is no keeper, or the runner does not answer.
        """
        if self._pipe.tether is None:
            raise KeeperGone(say("foot.keeper-away"))
        return self._fresh(self._inbox.ask(lambda: self._answers.hear(cue, count)))

    # ---- what is kept

    def recipes(self) -> RecipeShelf:
        """Return the recipes and strips on the shelf."""
        return self._recipes

    def papers(self) -> PaperShelf:
        """Return the papers on the shelf."""
        return self._papers

    def negatives(self) -> NegativeShelf:
        """Return the sets of negatives with their contact sheets."""
        return self._negatives

    def photographs(self) -> Photographs:
        """Return the photographs of proofs and of dry prints."""
        return self._photographs

    def previews(self) -> PreviewDesk:
        """Return the desk where a print is seen before its paper."""
        return self._previews

    def next(self) -> NextDesk:
        """Return what is offered next for the negative in the carrier."""
        return self._next

    def easel(self) -> EaselDesk:
        """Return the desk where spots are measured at the easel, and made the next sheet's lights."""
        return self._easel

    def editions(self) -> EditionDesk:
        """Return the editions with their numbers, and the paper in boxes."""
        return self._editions

    def at_enlarger(self) -> EnlargerDesk:
        """Return what stands at the enlarger, to look at and to change, and the enlargers themselves."""
        return self._at_enlarger

    def scans(self) -> ScanDrawer:
        """Return the scans that are being read."""
        return self._scans

    def incoming(self) -> Path:
        """Return the folder where what comes in lies while it is looked at, in files without a name."""
        return self._incoming

    def contrast(self) -> ContrastDesk:
        """Return the contrast desk: two lights for two tones on a kept paper."""
        return self._contrast

    def trays(self) -> TrayDesk:
        """Return the processes, and the baths that stand in the trays."""
        return self._trays

    def trials(self) -> TrialDesk:
        """Return the tests of a test evening, with what each found and when it is due."""
        return self._trials

    def carrying(self) -> CarryDesk:
        """Return the desk where a recipe is carried over to another size, aperture, paper, dry-down or flash."""
        return self._carrying

    def sheets(
        self, *, below: int | None = None, above: int | None = None, least: int = LEAST, most: int = MOST
    ) -> SheetsPage:
        """Return a page of sheets in their sessions, newest first: as `Archive.page`."""
        return self._archive.page(below=below, above=above, least=least, most=most)

    def find(self) -> Finder:
        """Return what finds things on the shelf and sheets, page by page."""
        return self._finder

    def record(self, sheet: str) -> SheetRecord:
        """Return a sheet's record; raises `NotThere`."""
        return self._archive.record(sheet)

    def thread(self, record: SheetRecord) -> Thread:
        """Return where a sheet comes from: the strip of its recipe's pick, and the sheet before it."""
        return self._archive.thread(record)

    def threads(self, records: Iterable[SheetRecord]) -> dict[str, Thread]:
        """Return where each of these sheets comes from, by their ids."""
        return self._archive.threads(records)

    def your_data(self) -> YourData:
        """Return what brings all that is kept in and out."""
        return self._your_data

    def settings(self) -> Settings:
        """Return the settings in force."""
        return self._settings()

    def change_settings(self, changes: dict[str, object]) -> Settings:
        """Keep changed settings; they count at once, or as soon as no sheet is open. Raises `Unreadable`."""
        return self._change_settings(changes)

    def key(self) -> bytes:
        """Return the 32 bytes that sign cookies; they outlive restarts."""
        return self._key

    def pairing(self) -> Pairing:
        """Return the pairing codes."""
        return self._pairing

    def phones(self) -> Phones:
        """Return the list of paired phones."""
        return self._phones

    def lamp(self) -> LampBench:
        """Return the lamp's bench: its lag, its checks, its warming up."""
        return self._lamp

    def practice(self) -> PracticeSwitches | None:
        """Return the practice darkroom's switches, or None with real lines."""
        return self._practice
