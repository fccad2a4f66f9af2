"""A darkroom in virtual time for tests of the foot switch: whole worlds, feet that move, sheets that are folded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeVar

from controller.errors import StoreTrouble
from controller.foot.acts import Act, AskFocus, PaperAway
from controller.foot.effects import Effect, Watchers
from controller.foot.events import Event
from controller.foot.page_acts import asking
from controller.foot.places import NothingChosen, Place, Ready
from controller.foot.state import Habits, State, Work
from controller.recipe.plan import Hands, Mark, Plan, Step, StepKind, StripPlan, Wait
from controller.store.entries import Entry, Intent, LightCame, NoLightCame
from controller.store.folding import fold
from controller.store.records import SheetRecord
from controller.store.rows import Row
from hardware.clock import ManualClock
from hardware.practice.meter import Edge
from hardware.slate import Interrupted
from hardware.timing import Timing
from hardware.wire import Greeting
from tools.mortal_world import MortalWorld

MS = 1_000_000
T = TypeVar("T")
START_MS = 20_000
"""Nothing of the darkroom's start is left in any window by then."""


def one_step(number: int = 1, planned_ms: int = 10_000, filter_: str = "soft", **more: object) -> Step:
    """Return a base of its own light."""
    values = {"name": f"step {number}", "act": StepKind.BASE, "base_ms": planned_ms, **more}
    return Step.model_validate({"number": number, "planned_ms": planned_ms, "filter": filter_, **values})


def sheet_plan(*steps: Step, source: str = "crane") -> Plan:
    """Return a plan of these steps, or of a soft and a hard base."""
    return Plan(
        source=source, version=1, kind="recipe", title="Crane", steps=steps or (one_step(), one_step(2, 8000, "hard"))
    )


def rhythm_plan(bands: int = 3, each_ms: int = 3000, gap_ms: int = 4000) -> Plan:
    """Return a rhythm strip whose bands follow each other by themselves."""
    steps = tuple(
        Step(
            number=n,
            name=f"band {n} of {bands}",
            act=StepKind.BAND,
            filter="soft",
            planned_ms=each_ms,
            base_ms=each_ms if n == 1 else None,
            gap_ms=gap_ms if n > 1 else None,
            card="recipe.card-cover-next",
        )
        for n in range(1, bands + 1)
    )
    strip = StripPlan(
        filter="soft",
        kind="seconds",
        card="cover",
        pace="rhythm",
        totals_ms=tuple(each_ms * n for n in range(1, bands + 1)),
        pulses_ms=(each_ms,) * bands,
    )
    return Plan(source="rhythm", version=1, kind="strip", title="Rhythm", steps=steps, strip=strip)


def long_plan(marks_ms: Sequence[int] = (3000, 6000), whole_ms: int = 9000) -> Plan:
    """Return a strip given in one long light with a cue at each total."""
    marks = tuple(Mark(at_ms=at, cue="move card") for at in marks_ms)
    return sheet_plan(one_step(1, whole_ms, act=StepKind.LONG, card="recipe.card-none", marks=marks), source="long")


def flash_plan() -> Plan:
    """Return a flash without the negative, and a base with it back."""
    return sheet_plan(
        one_step(1, 1500, act=StepKind.FLASH, hands=Hands.NEGATIVE_OUT), one_step(2, 8000, hands=Hands.NEGATIVE_BACK)
    )


def waits_plan(each_ms: Sequence[int] = (4000, 2000), glow: Literal["safelight", "phone"] = "safelight") -> Plan:
    """Return a grey, waits in the dark with a card to be moved after each, and the same grey again."""
    waits = tuple(Wait(ms=ms, card="trials.card-first", glow=glow) for ms in each_ms)
    return sheet_plan(one_step(1, 1500), one_step(2, 1500, waits=waits), source="test:safelight")


@dataclass
class BenchJournal:
    """A journal of the lightest kind: rows in a list. `full` refuses everything, as a full card does."""

    now_ns: Callable[[], int]
    rows: list[Row] = field(default_factory=list)
    full: bool = False
    _sheet_of: dict[str, str] = field(default_factory=dict)
    _filed: set[tuple[str, str]] = field(default_factory=set)

    def append(self, *entries: Entry) -> None:
        if self.full:
            raise StoreTrouble("the card is full: make room")
        for entry in entries:
            sheet = str(getattr(entry, "sheet", ""))
            match entry:
                case Intent():
                    self._sheet_of[entry.light] = entry.sheet
                case LightCame() | NoLightCame():
                    if (entry.light, "light") in self._filed or (entry.light, entry.kind) in self._filed:
                        continue
                    self._filed.add((entry.light, entry.kind))
                    sheet = self._sheet_of.get(entry.light, "")
            self.rows.append(
                Row.model_construct(
                    number=len(self.rows) + 1,
                    boot="virtual",
                    at_ns=self.now_ns(),
                    wall="2025-03-01T19:00:00.000Z",
                    synchronised=True,
                    software="test",
                    protocol=1,
                    setup="",
                    sheet=sheet,
                    entry=entry,
                )
            )

    def of(self, kind: type[T]) -> list[T]:
        return [row.entry for row in self.rows if isinstance(row.entry, kind)]


class FootBench:
    """A world, a foot and its sheets. Time is in ms since the bench was set up, and only ever goes on."""

    def __init__(
        self,
        plan: Plan | None = None,
        *,
        filter_in: str | None = None,
        timing: Timing | None = None,
        lag_ms: int = 0,
        sounder: bool = True,
        lid: bool = False,
        chosen: bool = True,
        start_from_phone: bool = False,
        lid_single_hold: bool = False,
        filters: Literal["drawer", "lines"] = "drawer",
        outlets: Sequence[str] = (),
        busy_ns: Callable[[], int] = lambda: 0,
    ) -> None:
        self.timing = timing or Timing()
        habits = Habits(
            timing=self.timing,
            lag_ms=lag_ms,
            sounder=sounder,
            start_from_phone=start_from_phone,
            lid_single_hold=lid_single_hold,
            filters=filters,
            room_light="room_light" in outlets,
        )
        self.plan = plan or sheet_plan()
        work = Work.fresh(self.plan) if chosen else None
        place: Place = Ready() if chosen else NothingChosen()
        drawer = self.plan.steps[0].filter if filter_in is None else filter_in
        state = State(
            place,
            habits,
            work,
            filter_in=drawer if chosen else "",
            run="v",
            stop_down=False,
            lid_open=False if lid else None,
        )
        journals: list[BenchJournal] = []

        def file(clock: ManualClock) -> BenchJournal:
            journals.append(BenchJournal(clock.now_ns))
            return journals[0]

        self.effects: list[Effect] = []
        watchers = Watchers(changed=lambda _before, _after, effects: self.effects.extend(effects))
        self.world = MortalWorld(state, file, watchers=watchers, lid=lid, outlets=outlets, busy_ns=busy_ns)
        self.journal = journals[0]
        self.world.run_until(START_MS * MS)
        self.world.runner.ask_again(START_MS * MS)
        self.level = False

    # ---- time and foot

    @property
    def now_ms(self) -> float:
        return self.world.clock.now_ns() / MS - START_MS

    def at(self, ms: float) -> int:
        """Return a moment of the bench in ns."""
        return round((ms + START_MS) * MS)

    def run(self, ms: float) -> None:
        """Let time pass."""
        self.world.run_until(self.world.clock.now_ns() + round(ms * MS))

    def run_to(self, ms: float) -> None:
        self.world.run_until(self.at(ms))

    def move(self, closed: bool) -> None:
        """Move the contact now."""
        self.world.room.foot.feed(self.world.clock.now_ns(), closed)
        self.world.run_until(self.world.clock.now_ns())
        self.level = closed

    def press(self, ms: float = 150) -> float:
        """Press for `ms`, and wait until the release is known; return the first contact's moment."""
        first = self.now_ms
        self.move(True)
        self.run(ms)
        self.move(False)
        self.run(61)
        return first

    def hold(self, ms: float = 900) -> float:
        """Press for longer than a hold."""
        return self.press(ms)

    def double(self) -> None:
        """Press twice within the double's window."""
        self.press(100)
        self.run(50)
        self.press(100)

    def stop(self) -> None:
        """Press the page's STOP."""
        self.world.stop()

    def ask(self, event: Event) -> str | None:
        """Let a page ask for something now; return a refusal's key."""
        refused = self.world.runner.take(event, self.world.clock.now_ns())
        self.world.run_until(self.world.clock.now_ns())
        return refused

    def do(self, act: Act) -> str | None:
        """Let a page do something now; return a refusal's key."""
        return self.ask(asking(self.state, act, self.now_ns))

    def ask_focus(self) -> str | None:
        """Say on the day face that all paper is away, and ask for focus light there; return a refusal's key."""
        self.do(PaperAway())
        return self.do(AskFocus())

    def lid(self, *, shut: bool) -> None:
        """Move the paper box's lid now."""
        lid = self.world.room.lid
        assert lid is not None
        lid.feed(self.world.clock.now_ns(), shut)
        self.world.run_until(self.world.clock.now_ns())

    # ---- what is seen

    @property
    def state(self) -> State:
        return self.world.runner.state

    @property
    def place(self) -> Place:
        return self.state.place

    @property
    def now_ns(self) -> int:
        return self.world.clock.now_ns()

    @property
    def lit(self) -> bool:
        return any(lamp.lit for lamp in self.world.room.lamps.values())

    @property
    def edges(self) -> tuple[Edge, ...]:
        return self.world.room.edges()

    def lights(self) -> list[tuple[float, float]]:
        """Return the lamp line's lights, (on, off) in ms of the bench; one still on ends now."""
        moments = [edge.at_ns / MS - START_MS for edge in self.edges]
        if len(moments) % 2:
            moments.append(self.now_ms)
        return list(zip(moments[::2], moments[1::2], strict=True))

    def cues(self, since_ms: float = -START_MS) -> list[str]:
        """Return the cues sounded since then, in order."""
        return [str(cue.cue) for cue in self.world.cues if cue.at_ns >= self.at(since_ms)]

    def sheets(self) -> tuple[SheetRecord, ...]:
        return fold(self.journal.rows)

    @property
    def sheet(self) -> SheetRecord:
        return self.sheets()[-1]

    # ---- ways to stand somewhere

    def begin(self) -> None:
        """Press, and stand in the lead-in."""
        self.press()

    def light(self, after_ms: float = 0) -> None:
        """Press, wait out the lead-in, and stand `after_ms` inside the light."""
        first = self.press()
        self.run_to(first + self.timing.lead_in_ms + after_ms)
        assert self.lit

    def hold_step(self, given_ms: float = 4000) -> None:
        """Stop the present step after so much light, and stand held with the waiting over."""
        self.light(given_ms - 25)
        self.press()
        self.run(2000)

    def give(self) -> None:
        """Give the present step whole, and wait until presses count again."""
        self.light()
        assert self.state.work is not None
        while self.lit:
            self.run(100)
        self.run(2000)

    def focus(self, after_ms: float = 1000) -> None:
        """Two holds, the warning, and `after_ms` of focus light."""
        self.hold()
        self.hold()
        self.run(self.timing.warning_ms + after_ms)
        assert self.lit


def lost(bench: FootBench, before_ns: int) -> Interrupted:
    """Return what a slate would tell of the light that is on: seen lit until `before_ns` ago."""
    on_ns = bench.edges[-1].at_ns
    order = bench.state.outstanding
    assert order is not None
    now = bench.now_ns
    return Interrupted(order, on_ns, now - on_ns - before_ns, now - on_ns)


def standing(bench: FootBench, kind: type) -> None:
    """Hold the bench to the place where it must stand."""
    assert isinstance(bench.place, kind), f"stands at {bench.place}"


def greeting(bench: FootBench) -> Greeting:
    """Return what a keeper that comes now says of itself."""
    return Greeting(
        protocol=1,
        pid=2,
        boot="virtual",
        at_ns=bench.now_ns,
        practice=True,
        lamps=("lamp",),
        features=("sounder",),
        scheduling="other",
        locked=False,
        timing="{}",
        at_rest=True,
    )
