"""Plays a recipe or strip against a foot trace in virtual time, and says what light it gave: `treadle/replay/1`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal

from pydantic import Field

from controller.daemon.world import World
from controller.errors import Impossible
from controller.exposure.stops import farthest_off, figure_text, shown
from controller.foot.acts import NoPaperInTrays
from controller.foot.effects import Effect, File, Watchers
from controller.foot.page_acts import asking
from controller.foot.places import Ready, is_dark
from controller.foot.snapshot import seconds
from controller.foot.state import Habits, State, Work
from controller.model import Frozen
from controller.recipe.compile_recipe import compile_any
from controller.recipe.foot_trace import FeetTrace
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.recipe.versioned import in_file
from controller.store.entries import Intent, LightCame
from controller.store.folding import fold
from controller.store.journal import Journal, Stamp
from controller.store.records import SheetRecord
from controller.store.rows import Row
from controller.store.tray_rows import TrayEntered
from controller.trays.journey import white_from_ns
from controller.trays.process import Process, TrayName
from controller.words import say
from hardware.clock import NS_PER_MS
from hardware.practice.meter import Edge
from hardware.timing import Timing

_NO_PROCESS: Final = -1
_BEFORE_NS: Final = 10_000 * NS_PER_MS
"""The darkroom has stood still for so long before the trace begins: nothing of its start is left in the windows."""


class ReplayLight(Frozen):
    """One light of the lamp line, its edges in ms of the trace."""

    on_ms: int
    off_ms: int
    kind: Literal["step", "focus", "check"]
    sheet: int | None
    step: int | None
    why: str


class ReplayCue(Frozen):
    """A cue that was sounded."""

    at_ms: int
    cue: str
    count: int = 0


class ReplayStep(Frozen):
    """What a step got: nominal, and how long the line was on."""

    step: int
    name: str
    filter: str
    planned_ms: int
    given_ms: int
    lit_ms: int


class ReplayTray(Frozen):
    """A print in one of its trays; `sheet` is its running number, and `out_ms` when it was taken on."""

    sheet: int
    tray: TrayName
    in_ms: int
    out_ms: int


class ReplaySheet(Frozen):
    """A sheet of the replay."""

    number: int
    closed_ms: int | None
    outcome: Literal["complete", "spoiled", "open"]
    steps: tuple[ReplayStep, ...]
    spread_stops: float | None = None
    """How far its lights are off those of the first complete sheet, at the step that is farthest off, in stops. None
    for that one and those before it, and where a step got no light in one of the two."""
    guard_until_ms: int | None = Field(default=_NO_PROCESS, exclude_if=lambda value: value == _NO_PROCESS)
    """White light of any kind was refused until then; None for a sheet that was never closed, or only flashed."""

    def lines(self) -> tuple[str, ...]:
        """Return it in words."""
        return (
            say("command.replay-sheet", number=self.number, outcome=self.outcome),
            *(
                ()
                if self.guard_until_ms in (None, _NO_PROCESS)
                else (say("command.replay-guard", until=f"{self.guard_until_ms / 1000:.3f}"),)
            ),
            *(
                ()
                if self.spread_stops is None
                else (say("command.replay-spread", stops=figure_text(self.spread_stops)),)
            ),
            *(
                say(
                    "command.replay-step",
                    step=step.step,
                    name=step.name,
                    given=seconds(step.given_ms),
                    planned=seconds(step.planned_ms),
                )
                for step in self.steps
            ),
        )


class Replay(Frozen):
    """The whole of it, in the form of `treadle replay --json`."""

    format: Literal["treadle/replay/1"] = "treadle/replay/1"
    lights: tuple[ReplayLight, ...]
    cues: tuple[ReplayCue, ...]
    sheets: tuple[ReplaySheet, ...]
    trays: tuple[ReplayTray, ...] | None = Field(default=None, exclude_if=lambda value: value is None)
    """Each print's way through its trays, where the replay had a process."""

    def lines(self) -> tuple[str, ...]:
        """Return it in words: each light, each sheet with its steps, and each print's trays."""
        return (
            *(
                say(
                    "command.replay-light",
                    on=f"{light.on_ms / 1000:.3f}",
                    off=f"{light.off_ms / 1000:.3f}",
                    kind=say(f"command.kind-{light.kind}"),
                    step=f" {light.step}" if light.step else "",
                    why=light.why,
                )
                for light in self.lights
            ),
            *(line for sheet in self.sheets for line in sheet.lines()),
            *(
                say(
                    "command.replay-tray",
                    sheet=tray.sheet,
                    tray=tray.tray,
                    on=f"{tray.in_ms / 1000:.3f}",
                    off=f"{tray.out_ms / 1000:.3f}",
                )
                for tray in self.trays or ()
            ),
        )


@dataclass(frozen=True)
class Played:
    """What a trace came to: the replay as it is told, and what its sheets' pictures are made from."""

    told: Replay
    records: tuple[SheetRecord, ...]
    edges: tuple[Edge, ...]


def replay_timing(lead_in_seconds: float, lag_seconds: float) -> tuple[Timing, int]:
    """Return the timing table and the lag in ms for what the command line says.

    Raises:
        Impossible: out of limits; the sentence names which.
    """
    if not 1.2 <= lead_in_seconds <= 5.0:
        raise Impossible(say("command.lead-in-limits", seconds=lead_in_seconds))
    if not 0.0 <= lag_seconds <= 0.5:
        raise Impossible(say("command.lag-limits", seconds=lag_seconds))
    return Timing(lead_in_ms=round(lead_in_seconds * 1000)).checked(practice=False), round(lag_seconds * 1000)


def play_recipe(
    recipe: Recipe | Strip,
    feet: FeetTrace,
    *,
    name: str,
    timing: Timing | None = None,
    lag_ms: int = 0,
    process: Process | None = None,
) -> Played:
    """Play `recipe` against `feet`; times count from the trace's own zero, in ms.

    The trace plays on after its last edge until nothing is lit and no lead-in, gap, warning or question is
    pending. It starts with the first filter in unless it says otherwise. With a `process` every closed sheet goes
    through its trays, the trace plays on until the last is out of them, and white light waits for the fix.

    Raises:
        Impossible: the recipe cannot be turned into steps; the sentence names file and key.
    """
    table = timing or Timing()
    with in_file(name):
        plan = compile_any(recipe, source=shown(name), version=1, longest_ms=table.longest_light_ms)
    habits = Habits(timing=table, lag_ms=lag_ms, begin_with_filter_in=feet.begin_with_filter_in)
    if process is not None:
        habits = replace(habits, trays=True, processes={"RC": process, "FB": process})
    filter_in = (feet.filter_in or "") if feet.filter_said else plan.steps[0].filter
    state = State(Ready(), habits, Work.fresh(plan), filter_in=filter_in, run="v", stop_down=False)
    if feet.set_up:
        state = replace(state, set_up=plan.set_up)
    journals: list[Journal] = []

    def journal(clock: object) -> Journal:
        made = Journal.in_memory(clock, Stamp("virtual", "replay", 0))  # type: ignore[arg-type]  # a ManualClock
        journals.append(made)
        return made

    guards = _Guards()
    world = World(state, journal, watchers=Watchers(guards.changed), lid=bool(feet.lid))
    world.run_until(_BEFORE_NS)
    world.runner.ask_again(_BEFORE_NS)
    for at_ms, level in feet.edges:
        world.room.foot.feed(_BEFORE_NS + at_ms * NS_PER_MS, level == "down")
    for at_ms, lid in feet.lid:
        assert world.room.lid is not None
        world.room.lid.feed(_BEFORE_NS + at_ms * NS_PER_MS, lid == "shut")
    for at_ms, act in feet.acts:
        world.run_until(_BEFORE_NS + at_ms * NS_PER_MS)
        if act == "stop":
            world.stop()
        else:  # where there is nothing to end, or a sheet is open, it is refused, as on the page
            world.tell(asking(world.runner.state, NoPaperInTrays(), world.clock.now_ns()))
    last = max((at for at, _ in (*feet.edges, *feet.lid)), default=0)
    # the last foot-down may still become a hold, and the last release has to be known
    decided_ns = (habits.timing.hold_ms + habits.timing.down_window_ms) * NS_PER_MS
    world.run_until(max(world.clock.now_ns(), _BEFORE_NS + last * NS_PER_MS) + decided_ns)
    while _pending(world) and world.step_to_next():
        pass
    try:
        return _told(world, list(journals[0].rows()), guards if process is not None else None)
    finally:
        journals[0].close()


def _pending(world: World) -> bool:
    return world.keeper.lit or not is_dark(world.runner.state.place) or bool(world.runner.state.prints)


class _Guards:
    """Until when each print kept white light away, by its sheet's running number."""

    def __init__(self) -> None:
        self.until_ns: dict[int, int] = {}

    def changed(self, before: State, after: State, wanted: Sequence[Effect]) -> None:
        """Take in what is known now; a print that the page's word has ended keeps nothing away from then on."""
        ended = {
            effect.entry.number: effect.entry.at_ns
            for effect in wanted
            if isinstance(effect, File) and isinstance(effect.entry, TrayEntered) and effect.entry.by == "page"
        }
        for print_ in (*before.prints, *after.prints):
            self.until_ns[print_.number] = white_from_ns(print_)
        for print_ in before.prints:
            if not after.prints and print_.number in ended:
                self.until_ns[print_.number] = min(self.until_ns[print_.number], ended[print_.number])


def _trays(rows: list[Row]) -> tuple[ReplayTray, ...]:
    entered: dict[int, list[TrayEntered]] = {}
    for row in rows:
        if isinstance(row.entry, TrayEntered) and row.entry.number:
            entered.setdefault(row.entry.number, []).append(row.entry)
    return tuple(
        ReplayTray(sheet=number, tray=one.tray, in_ms=_ms(one.at_ns), out_ms=_ms(two.at_ns))
        for number, way in entered.items()
        for one, two in pairwise(way)
        if one.tray
    )


def _told(world: World, rows: list[Row], guards: _Guards | None) -> Played:
    intents = {row.entry.light: row.entry for row in rows if isinstance(row.entry, Intent)}
    came = [row.entry for row in rows if isinstance(row.entry, LightCame)]
    edges = world.room.edges()
    spans = [(edges[at].at_ns, edges[at + 1].at_ns) for at in range(0, len(edges) - 1, 2)]
    records = fold(rows)
    numbers = {record.id: record.number for record in records}
    lights = tuple(
        ReplayLight(
            on_ms=_ms(on),
            off_ms=_ms(off),
            kind=intents[fact.light].light_kind,
            sheet=numbers.get(intents[fact.light].sheet),
            step=intents[fact.light].step or None,
            why=fact.why,
        )
        for (on, off), fact in zip(spans, came, strict=True)
    )
    cues = tuple(ReplayCue(at_ms=_ms(cue.at_ns), cue=cue.cue, count=cue.count) for cue in world.cues)
    sheets = _with_spread(tuple(_sheet(record) for record in records))
    if guards is not None:
        sheets = tuple(_guarded(sheet, guards) for sheet in sheets)
    trays = None if guards is None else _trays(rows)
    return Played(Replay(lights=lights, cues=cues, sheets=sheets, trays=trays), records, edges)


def _guarded(sheet: ReplaySheet, guards: _Guards) -> ReplaySheet:
    until_ns = guards.until_ns.get(sheet.number)
    return sheet.model_copy(update={"guard_until_ms": None if until_ns is None else _ms(until_ns)})


def _with_spread(sheets: tuple[ReplaySheet, ...]) -> tuple[ReplaySheet, ...]:
    first = next((at for at, sheet in enumerate(sheets) if sheet.outcome == "complete"), len(sheets))
    return (*sheets[: first + 1], *(_off(sheets[first], sheet) for sheet in sheets[first + 1 :]))


def _off(reference: ReplaySheet, sheet: ReplaySheet) -> ReplaySheet:
    one, two = ({step.step: step.given_ms for step in each.steps} for each in (reference, sheet))
    stops = farthest_off(one, two)
    return sheet.model_copy(update={"spread_stops": None if stops is None else round(stops, 3) + 0.0})


def _sheet(record: SheetRecord) -> ReplaySheet:
    return ReplaySheet(
        number=record.number,
        closed_ms=None if record.closed is None else _ms(record.closed.at_ns),
        outcome=record.outcome,
        steps=tuple(
            ReplayStep(
                step=step.step.number,
                name=step.step.name,
                filter=step.step.filter,
                planned_ms=step.step.planned_ms,
                given_ms=step.given_most_ms,
                lit_ms=step.lit_ms,
            )
            for step in record.steps
        ),
    )


def _ms(at_ns: int) -> int:
    # a span's edges and a moment of the trace alike: half a millisecond rounds up
    return (at_ns - _BEFORE_NS + NS_PER_MS // 2) // NS_PER_MS
