"""Where the foot-switch grammar stands: the sheet's progress, the foot's memory, and all of it in one state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from controller.exposure import lag
from controller.foot.asks import NOTHING_ASKED, AsksDone, moved
from controller.foot.places import DarkPlace, Place
from controller.model import replace
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Plan, Step, Wait
from controller.recipe.set_up import SetUp
from controller.store.levels import WrongLight
from controller.store.tray_rows import TrayEntered
from controller.trays.journey import Print
from controller.trays.process import USUAL, Process, Support
from hardware.sounds import Cue
from hardware.timing import Timing

SOFT: Final = "soft"
HARD: Final = "hard"
"""The two lamp lines of a head with both, and the filters that it can do without a drawer."""


@dataclass(frozen=True)
class Given:
    """The full light (lamp lag taken off) a step has had, in ns: at least, and at most."""

    least_ns: int = 0
    most_ns: int = 0
    parts: int = 0
    done: bool = False
    called: bool = False
    left_out: bool = False

    @property
    def settled(self) -> bool:
        """No more light is wanted."""
        return self.done or self.called or self.left_out


@dataclass(frozen=True, slots=True)
class Last:
    """The last light of the sheet, by its id: enough to strike it or to say what to assume of it."""

    light: str
    index: int
    before: Given


@dataclass(frozen=True)
class Work:
    """The plan that is chosen and what its sheet has had."""

    plan: Plan
    steps: tuple[Step, ...]
    given: tuple[Given, ...]
    sheet: str = ""
    """The sheet's id; empty until the runner has given it one. A sheet that brings no light leaves none behind."""
    index: int = 0
    open: bool = False
    waited: int = 0
    """How many of the present step's waits are over."""
    asked: AsksDone = NOTHING_ASKED
    last: Last | None = None
    aside: Plan | None = None
    """What was loaded before a check, and is again when that is over."""
    ending: bool = False
    """Readings are to be over as soon as it is known what became of their last order."""
    lit_ns: int | None = None
    """When the sheet had its first light; None before that."""
    follows: bool = False
    """It follows a sheet of the same recipe, with no focus light since: what is in the drawer is what that one left."""

    @staticmethod
    def fresh(plan: Plan) -> Work:
        """Return the work of a sheet that has had no light, with the recipe's own order or as the plan begins."""
        return Work(plan, plan.steps, tuple(Given() for _ in plan.steps), index=plan.order[0])

    def following(self, filter_in: str) -> Work:
        """Return the work of a sheet that follows one of the same recipe, while `filter_in` is in; "": it does not."""
        fresh = Work.fresh(self.plan.beginning_with(filter_in))
        return replace(fresh, sheet=self.sheet, aside=self.aside, follows=bool(filter_in))

    def standing(self, bench: AtEnlarger) -> Work:
        """Return the work of a sheet that has had no light, with what stands at the enlarger in its plan."""
        aside = None if self.aside is None else self.aside.standing(bench)
        return replace(self, plan=self.plan.standing(bench), aside=aside)

    @property
    def check(self) -> bool:
        """It is a check of the lamp, or readings at the easel: its lights belong to no sheet."""
        return self.plan.of_no_sheet

    @property
    def readings(self) -> bool:
        """Spots are measured at the easel: each light is ended by a press, and no paper lies under it."""
        return self.plan.kind == "readings"

    @property
    def step(self) -> Step:
        """The present step."""
        return self.steps[self.index]

    @property
    def wait(self) -> Wait | None:
        """What is waited for next before the present step's light; None where all of that is over."""
        lit = self.given[self.index].most_ns
        return None if lit or self.waited >= len(self.step.waits) else self.step.waits[self.waited]

    @property
    def finished(self) -> bool:
        """Every step is settled."""
        return all(given.settled for given in self.given)

    @property
    def left_out(self) -> int | None:
        """The index of the last of the steps that were left out, or None."""
        return next((index for index in reversed(self.order) if self.given[index].left_out), None)

    @property
    def order(self) -> tuple[int, ...]:
        """The indexes of the steps in the order in which they are given; what was added comes last."""
        return (*self.plan.order, *range(len(self.plan.steps), len(self.steps)))

    def missing_ns(self, lag_ms: int) -> int:
        """Return the full light the present step still wants, counted by the most it may have had."""
        planned_ns = lag.planned_full_ns(self.step.planned_ms, self.step.base_ms, lag_ms)
        return max(0, planned_ns - self.given[self.index].most_ns)

    def with_given(self, index: int, given: Given) -> Work:
        """Return the work with one step's light replaced."""
        return replace(self, given=(*self.given[:index], given, *self.given[index + 1 :]))

    def moved_on(self) -> Work:
        """Return the work standing at the first step that is not settled."""
        for index in self.order:
            if not self.given[index].settled:
                return replace(self, index=index, asked=moved(self, index), waited=self.waited * (index == self.index))
        return self

    def doubt(self, lag_ms: int) -> int | None:
        """Return the index of the step whose least and most differ by over 1/12 stop of it, or None."""
        for index, given in enumerate(self.given):
            step = self.steps[index]
            plan_ns = lag.planned_full_ns(step.planned_ms, step.base_ms, lag_ms)
            if not given.settled and given.most_ns - given.least_ns > plan_ns * TWELFTH:
                return index
        return None


TWELFTH: Final = 1 - 2 ** (-1 / 12)
"""The share of a light that is its last twelfth of a stop."""


# ---- the foot's memory


@dataclass(frozen=True)
class Foot:
    """What the grammar remembers of the contact.

    `undo`: where a hold takes its own foot-down back to; `released_ns`: of the last press shorter than a hold.
    """

    seq: int = 0
    down: bool = False
    first_ns: int = 0
    held: bool = False
    double: bool = False
    spent: bool = False
    """Its press has done all that this foot-down may do: a hold of it adds nothing."""
    ended_step: bool = False
    """It ended a step's light: a hold of it asks to close."""
    undo: DarkPlace | None = None
    released_ns: int | None = None


@dataclass(frozen=True, slots=True)
class Habits:
    """What the grammar is told once and keeps to."""

    timing: Timing = field(default_factory=Timing)
    lag_ms: int = 0
    sounder: bool = True
    start_from_phone: bool = False
    lid_single_hold: bool = False
    filters: Literal["drawer", "lines"] = "drawer"
    """Changed by hand, or a lamp line for soft and one for hard: then no filter is ever asked for."""
    room_light: bool = False
    """An outlet for the room light is fitted."""
    room_after_close_ms: int = 300_000
    """So long after a sheet was closed its paper may not be in the fix yet."""
    strip_again: bool = True
    """A strip that was closed stands ready once more, as a replay has it; else nothing does, and the pick leads on."""
    give_dose: bool = False
    """A light ends when the paper has had its dose, where a light sensor watches it."""
    day_ms: int = 15 * 60 * 1000
    """The day face ends by itself so long after it was asked for."""
    trays: bool = False
    """A closed sheet is followed through the trays of its process, which tell when white light may be had."""
    processes: Mapping[Support, Process] = field(default_factory=lambda: USUAL)
    hurry: int = 1
    """So many times faster than real the trays go: in a practice darkroom alone."""
    begin_with_filter_in: bool = False
    """A sheet of the same recipe begins with the filter that the one before has left in."""
    guard_without_trays: bool = False
    """Where no trays are followed, white light waits after a close as the room light does; so it does at a start."""

    def lamp_of(self, filter_name: str) -> str:
        """Return the lamp line for a filter; white light, and a check light without a filter, are on the soft one.

        A filter that has no line of its own gets no other one's: the keeper then knows no such lamp.
        """
        return "lamp" if self.filters == "drawer" else filter_name or SOFT


@dataclass(frozen=True, slots=True)
class TrayPress:
    """A foot-down whose press a print has taken, the print as it was before, and which tray that brought it to.

    `row` is filed once no hold or double can take the press back any more, at `until_ns`; None where it is, or where
    there is none to file.
    """

    seq: int
    before: Print
    at: int
    row: TrayEntered | None
    until_ns: int


@dataclass(frozen=True)
class State:
    """The whole of what the foot-switch grammar knows. Frozen: `decide` returns the next one."""

    place: Place
    habits: Habits = field(default_factory=Habits)
    work: Work | None = None
    foot: Foot = field(default_factory=Foot)
    filter_in: str = ""
    bench: AtEnlarger = field(default_factory=AtEnlarger)
    """What stands at the enlarger, as the printer said it last."""
    set_up: SetUp | None = None
    """How it is known to be set up: as the last sheet was, or as was said since. None: nothing is known."""
    put_down: AsksDone = NOTHING_ASKED
    """What lies in its place still of a recipe that was put down."""
    run: str = ""
    """This run of the daemon: the head of its orders' ids."""
    orders: int = 0
    """How many orders this run has placed."""
    lit_ms: int = 0
    """How long the newest order is to be lit."""
    outstanding: str | None = None
    """The id of the order of which neither dark nor a refusal has been heard."""
    withdrawn: tuple[str, ...] = ()
    """Those that were taken back for the outstanding one, and of which nothing has been heard since."""
    focus_order: str = ""
    """The newest order of focus light: what its light was is known by this, wherever things stand by then."""
    wait_until_ns: int = 0
    """A press whose first contact is before this starts nothing."""
    hold_from_ns: int = 0
    """Holds begun before this are refused: a sheet was closed less than ten seconds ago."""
    number: int = 1
    """The running number of the sheet that is open, or that the next first light opens."""
    closed_number: int = 0
    """The number of the sheet that was closed last; 0 before any was."""
    closed_sheet: str = ""
    """Its id; empty before any was closed since the start."""
    stop_down: bool = True
    """"Stop down" is to be said with the next filter: nothing was lit since start-up or focus light."""
    day_until_ns: int | None = None
    """The day face is shown until then: the printer has said that all paper is away. None: dark face only."""
    room_wanted: bool = False
    """Room light was asked for, and stays so until anything takes it away: the end of the day face, at the latest."""
    room_on: bool = False
    """The keeper has switched it on."""
    room_ended_ns: int = -1
    """When room light last went off: a press begun before that has done its work."""
    room_ended_why: str = ""
    """Why it went off, in the keeper's word; empty once it is asked for anew."""
    room_from_ns: int = 0
    """Room light is refused before this: the last sheet may not be in the fix yet."""
    white_from_ns: int = 0
    """White light is refused before this, for a print to fix. 0: it may come; `WAITS_NS`: a print waits for a press."""
    white_floor_ns: int = 0
    """What is known of that without a print that waits; it is never sooner for anything that is pressed."""
    room_floor_ns: int = 0
    """The same of the room light."""
    prints: tuple[Print, ...] = ()
    """The prints in the trays, the newest last: it alone may still have to come into the fix."""
    tray_press: TrayPress | None = None
    """The press that a print has taken last: a hold or a double of it takes it back."""
    tray_hold_ns: int = 0
    """A hold brings no print on before this: another one has just done so."""
    tray_cues: tuple[tuple[int, Cue], ...] = ()
    """What is still to be sounded of each print, by its number; 0 is what is to be sounded of white light."""
    tray_cues_ns: int = 0
    """No tray's cue is sounded before this: light has just gone off, or another cue is being heard."""
    lid_open: bool | None = None
    """None where no lid contact is fitted."""
    wrong: WrongLight | None = None
    """What was wrong with the last light, and what of it counts; its least and most are 0 until it is dark."""
    lapse_ns: int = 0
    """Readings that stand dark are over then: nobody is at them any more."""
    due_ns: int | None = None

    @property
    def loaded(self) -> Work:
        """The work, where there must be some."""
        assert self.work is not None
        return self.work

    @property
    def sheet(self) -> str:
        """The id of the sheet under way or planned; empty where nothing is chosen."""
        return "" if self.work is None else self.work.sheet

    @property
    def sheet_open(self) -> bool:
        """A sheet has had light and is not closed."""
        return self.work is not None and self.work.open

    def in_room_light(self, first_ns: int) -> bool:
        """Tell whether a press that was begun at `first_ns` fell into the room light, or into its coming on."""
        return self.room_wanted or self.room_on or first_ns <= self.room_ended_ns

    @property
    def lit_room(self) -> bool:
        """The day face is shown, or the room light is asked for or on."""
        return self.day_until_ns is not None or self.room_wanted or self.room_on

    @property
    def wet(self) -> bool:
        """Something of the trays is to be minded: a print, the guard, or what is still to be heard of them."""
        return bool(self.prints or self.white_from_ns or self.tray_cues)

    @property
    def light_waits(self) -> bool:
        """The light of a new sheet, or of a check, has to wait: a print is not in the fix yet."""
        return not self.sheet_open and any(not print_.in_fix for print_ in self.prints)

    @property
    def check_begun(self) -> bool:
        """A check of the lamp has had light and is not over: its paper may lie under the lamp."""
        work = self.work
        return work is not None and work.check and not work.readings and work.last is not None
