"""A desk with a real shelf, a real compiler and real picks, but no darkroom: for the pages of the shelf."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Literal

from controller.carry.desk import CarryDesk
from controller.contrast.split_grade import ContrastDesk
from controller.daemon.library import Library
from controller.errors import NotThere
from controller.foot.acts import Act, Load, Pick
from controller.foot.status import Status
from controller.paper.paper import Paper
from controller.recipe.compile_recipe import compile_any
from controller.recipe.fields import LONGEST_MS
from controller.recipe.files import read_recipe
from controller.recipe.pick import PickMeaning
from controller.recipe.plan import Plan
from controller.recipe.recipe import Recipe
from controller.store.records import SheetRecord, StepRecord, When
from controller.store.sessions import SessionLine, SheetLine
from controller.store.shelf import Shelf
from controller.store.versions import Kept
from tools.fake_desk import FakeDesk

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


class ShelfDesk(FakeDesk):
    """Keeps, reads and compiles for real; sheets are put into `records` by hand."""

    def __init__(self, *, practice: bool = False) -> None:
        super().__init__(practice=practice)
        self.kept_things = Shelf.in_memory()
        self.lay_papers(self.kept_things)
        self.trouble: Exception | None = None
        self.saves = 0
        self.crane = self.save(CRANE)
        self.strip = self.save(HARD_STRIP)
        self.proof = self.save(PROOF_STRIP)
        self.saves = 0

    def kept(self, kind: Literal["recipe", "strip"]) -> Sequence[Kept]:
        return self.kept_things.latest(kind)

    def fetch(self, source: str, version: int | None = None) -> Kept:
        return self.kept_things.get(source, version)

    def versions(self, source: str) -> Sequence[Kept]:
        return self.kept_things.versions(source)

    def review(self, text: str) -> Plan:
        return compile_any(read_recipe(text, "this text"), source="", version=0)

    def save(self, text: str, source: str | None = None) -> Kept:
        if self.trouble is not None:
            raise self.trouble
        written = read_recipe(text, "this text")
        self.review(text)
        self.saves += 1
        kind: Literal["recipe", "strip"] = "recipe" if isinstance(written, Recipe) else "strip"
        return self.kept_things.save(kind, written.title, text, source)

    def contrast(self) -> ContrastDesk:
        return ContrastDesk(self.papers, lambda: LONGEST_MS)

    def carrying(self) -> CarryDesk:
        return CarryDesk(
            lambda: self.kept_things, self.papers, lambda: LONGEST_MS, lambda sheet: self.record(sheet).plan
        )

    def put_away(self, source: str) -> None:
        self.kept_things.put_away(source)

    def record(self, sheet: str) -> SheetRecord:
        if sheet not in self.records:
            raise NotThere("No such sheet is kept.")
        return self.records[sheet]

    def sessions(self, limit: int = 20) -> Sequence[SessionLine]:
        lines = tuple(
            SheetLine(
                id=record.id,
                number=record.number,
                title=record.plan.title,
                kind=record.plan.kind,
                outcome=record.outcome,
                opened=record.opened.wall,
                given_ms=record.plan.total_ms,
                planned_ms=record.plan.total_ms,
            )
            for record in reversed(self.records.values())
        )
        return [SessionLine(began=lines[-1].opened, sheets=lines)] if lines else []

    def pick_meaning(self, sheet: str, band: int, between: bool) -> PickMeaning:
        return self._library().meaning(self.record(sheet), band, between=between)

    def _library(self) -> Library:
        return Library(self.kept_things, lambda: LONGEST_MS)

    def do(self, act: Act, number: int) -> Status:
        status = super().do(act, number)
        match act:
            case Load(source=source, version=version):
                kept = self.fetch(source, version)
                plan = compile_any(read_recipe(kept.body, kept.title), source=kept.id, version=kept.version)
                return self.show(plan=plan, place="ready")
            case Pick():
                self._pick(act)
        return status

    def _pick(self, act: Pick) -> None:
        record = self.record(act.sheet)
        picked, _ = self._library().take_pick(record, act.band, between=act.between, recipe=act.recipe)
        self.records[act.sheet] = record.model_copy(update={"picks": (*record.picks, picked)})

    def work(self, kept: Kept, sheet: str, **changes: Any) -> SheetRecord:
        """Put a complete sheet of something kept into the records."""
        plan = compile_any(read_recipe(kept.body, kept.title), source=kept.id, version=kept.version)
        when = When(row=1, boot="b", at_ns=0, wall="2024-01-01T20:15:00+00:00", synchronised=True)
        steps = tuple(
            StepRecord(step=step, given_least_ms=step.planned_ms, given_most_ms=step.planned_ms) for step in plan.steps
        )
        values: dict[str, Any] = {"steps": steps, "outcome": "complete", "closed": when} | changes
        record = SheetRecord(id=sheet, number=len(self.records) + 3, plan=plan, opened=when, ended=when, **values)
        self.records[sheet] = record
        return record


@contextmanager
def day_desk(*papers: Paper, clock: Callable[[], int] | None = None) -> Iterator[ShelfDesk]:
    """A desk that shows the day face and keeps these papers; its own clock stands still."""
    made = ShelfDesk()
    made.clock = clock
    for paper in papers:
        made.papers().keep(paper)
    made.say_day()
    yield made
    made.kept_things.close()
