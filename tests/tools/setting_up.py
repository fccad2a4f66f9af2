"""Random evenings of a printer who works several negatives, each set up otherwise; and the laws of it."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace

from controller.foot.places import Finished, Light
from controller.foot.state import Habits
from controller.recipe.plan import Plan
from controller.recipe.set_up import SetUp
from controller.store.entries import Intent, LightCame, StoodAtEnlarger
from hardware.clock import NS_PER_MS
from tools import laws
from tools.evenings import Session
from tools.feet import MS
from tools.foot_bench import one_step, sheet_plan
from tools.laws import History

SET_UPS = (
    SetUp(),
    SetUp(head_height_mm=480.0, aperture=8.0, focal_mm=80.0, format="6x6"),
    SetUp(head_height_mm=620.0, aperture=8.0, focal_mm=150.0, format="4x5", image_mm=(240.0, 192.0)),
    SetUp(aperture=11.0),
    SetUp(magnification=2.5, image_mm=(300.0, 240.0)),
)
_LATEST_NS = 1500 * NS_PER_MS
"""From a foot's first contact until all that it says is filed: a hold, or a double that takes it back."""
_RETRY_NS = 10_000 * NS_PER_MS
"""What could not be filed is filed by then, once there is room on the card again."""


class SettingUp(Session):
    """A session in which what is loaded wants now this set-up, now that."""

    def __init__(self, seed: int) -> None:
        self.set_up_dice = random.Random(-(10**8) - seed)
        super().__init__(seed)
        self.history.stood = None
        self.history.said = self.stood

    @property
    def plan(self) -> Plan:
        """The plan of the evening, with a set-up of its own each time it is taken."""
        if self.set_up_dice.random() < 0.4:
            self._wants = self.set_up_dice.choice(SET_UPS)
        return self._plan.model_copy(update={"wants": self._wants})

    @plan.setter
    def plan(self, plan: Plan) -> None:
        two = sheet_plan(one_step(1, 2500), one_step(2, 3000, "hard"), one_step(3, 900, "hard"))
        self._plan = two if self.set_up_dice.random() < 0.6 else plan
        self._wants = self.set_up_dice.choice(SET_UPS)

    def with_trays(self, habits: Habits) -> Habits:
        """Return the habits of the evening: in most a sheet begins with the filter that is in."""
        return replace(habits, begin_with_filter_in=self.set_up_dice.random() < 0.7)

    def _gesture(self) -> None:
        if self.set_up_dice.random() < 0.12:
            self._whole_sheet()
        else:
            super()._gesture()

    def _whole_sheet(self) -> None:
        """Give a sheet step by step and close it, so that another follows; whatever is asked for is answered."""
        for _ in range(16):
            state = self.world.runner.state
            self._for(1100)
            if isinstance(state.place, Finished):
                self._foot(self.history.habits.timing.hold_ms + 60, bounces=0)
                break
            self._foot(60, bounces=0)
            place = self.world.runner.state.place
            until = getattr(place, "start_ns", None) or getattr(place, "until_ns", None) or self.at
            self._pass_to(max(self.at + 1, until + MS))
            state = self.world.runner.state
            if isinstance(state.place, Light):
                self._pass_to(max(self.at + 1, state.place.on_ns + state.lit_ms * MS + 600 * MS))

    def _misfortune(self) -> None:
        begun = self.at
        super()._misfortune()
        self.history.misfortunes.append((begun, self.at))


def play(seed: int, edges: int) -> History:
    """Return the history of one such evening."""
    return SettingUp(seed).play(edges)


def broken(h: History) -> list[str]:
    """Return every law that the history breaks, these and all others."""
    return [*laws.broken(h), *(f"seed {h.seed}: {found}" for law in SET_UP_LAWS for found in law(h))]


def a_sheet_is_set_up_first(h: History) -> Iterator[str]:
    """No sheet has its first light before all that its set-up says is known to stand, by rows and by sheets before."""
    assert h.journal is not None
    known = [(row.number, _of(row.entry)) for row in h.journal.rows if isinstance(row.entry, StoodAtEnlarger)]
    stands, at = SetUp(), 0
    for sheet in h.sheets:
        wanted = sheet.plan.set_up
        for number, made in known:
            if at < number < sheet.opened.row:
                stands = made
        if wanted is not None and wanted.to_be_made(stands):
            yield f"sheet {sheet.number} began set up as “{stands.words}”, and is “{wanted.words}”"
        at, stands = sheet.opened.row, (wanted or SetUp()).over(stands)


def _of(entry: StoodAtEnlarger) -> SetUp:
    return SetUp.of_bench(entry.bench) if entry.set_up is None else entry.set_up


def a_set_up_is_said_by_a_foot_or_a_page(h: History) -> Iterator[str]:
    """What stands changes where a page says so, where a foot has just been put down, or where focusing begins."""
    assert h.journal is not None
    if h.slow:
        return  # what is filed then may be filed late
    before = 0
    for row in h.journal.rows:
        if not isinstance(row.entry, StoodAtEnlarger):
            continue
        at, bench = row.at_ns, row.entry.bench
        page = any(before <= said <= at and told == bench for said, told in h.said)  # while a light is on it waits
        late = any(begun <= at <= ended + _RETRY_NS for begun, ended in h.misfortunes)
        feet = any(0 <= at - down.first <= _LATEST_NS for down in h.downs)
        focusing = any(on <= at <= off for on, off in h.lights)
        if not page and not late and not feet and not focusing:
            yield f"row {row.number} at {at} says what stands, and nobody said so"
        before = at


def an_open_sheet_keeps_its_set_up(h: History) -> Iterator[str]:
    """Nothing of what stands changes while a sheet is open."""
    assert h.journal is not None
    rows = [row.number for row in h.journal.rows if isinstance(row.entry, StoodAtEnlarger)]
    for sheet in h.sheets:
        until = sheet.closed.row if sheet.closed is not None else len(h.journal.rows) + 1
        if found := [number for number in rows if sheet.opened.row < number < until]:
            yield f"rows {found} changed what stands while sheet {sheet.number} was open"


def a_sheet_begins_with_another_filter_only_after_its_like(h: History) -> Iterator[str]:
    """A sheet in another order follows one of the same recipe, whose last filter is in, with no white light since."""
    assert h.journal is not None
    wanted = {row.entry.light: row.entry for row in h.journal.rows if isinstance(row.entry, Intent)}
    for before, sheet in zip((None, *h.sheets), h.sheets, strict=False):
        name = sheet.plan.first_filter
        if not name:
            continue
        if before is None or before.closed is None or before.plan.source != sheet.plan.source:
            yield f"sheet {sheet.number} begins with {name}, and follows no sheet of its recipe"
            continue
        opened_ns = min(part.on_ns for step in sheet.steps for part in step.parts)
        if before.number == sheet.number - 1:
            ended_ns = max(part.on_ns for step in before.steps for part in step.parts)
            others = [
                came.on_ns
                for came in h.journal.of(LightCame)
                if ended_ns < came.on_ns < opened_ns and wanted[came.light].light_kind != "step"
            ]
            if others or any(ended_ns < at < opened_ns for at in h.restarts):
                yield f"sheet {sheet.number} begins with {name}, and white light or a restart lay between"
        first = next(step for step in sheet.steps if any(part.on_ns == opened_ns for part in step.parts))
        passed = any(step.left_out or step.called_given for step in sheet.steps)
        if not passed and first.step.filter != name:
            yield f"sheet {sheet.number} was to begin with {name}, and began with {first.step.filter}"


SET_UP_LAWS: tuple[Callable[[History], Iterator[str]], ...] = (
    a_sheet_is_set_up_first,
    a_set_up_is_said_by_a_foot_or_a_page,
    an_open_sheet_keeps_its_set_up,
    a_sheet_begins_with_another_filter_only_after_its_like,
)
