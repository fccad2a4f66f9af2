"""Numbered snapshots of what is going on, for everyone who looks from outside, and how a sheet's steps stand there.

Frozen; times are monotonic ns.
"""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from controller.exposure import lag
from controller.foot.state import Given, State, Work
from controller.model import Frozen
from controller.recipe.asks import tool_called
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Ask, Hands, Mark, Plan, Step, StepKind
from controller.trays.process import TrayName
from controller.words import say
from hardware.clock import NS_PER_MS

_NS_PER_S: Final = 1_000_000_000

PlaceName = Literal[
    "nothing chosen",
    "ready",
    "lead-in",
    "light",
    "gap",
    "held",
    "set-up asked",
    "change filter",
    "hands asked",
    "settling",
    "waiting",
    "finished",
    "close this sheet?",
    "call it given?",
    "white light?",
    "white-light warning",
    "focus light",
    "open after a restart",
    "fault",
]


class NextStep(Frozen):
    """The step that comes next, or is being given: what a printer needs to read in one glance."""

    number: int
    of: int
    name: str
    verb: str
    """What to do, in the trade's words: "base", "burn", "dodge", "band", "flash"."""
    area: str = ""
    what: str = ""
    filter: str
    planned_ms: int
    remaining_ms: int
    """Nominal; what the next light of this step will bring at the most."""
    hands: Hands | None = None
    card: str = ""
    """Words for where the card or dodger goes first."""
    marks: tuple[Mark, ...] = ()
    advice: tuple[str, ...] = ()
    """Sentences, such as "stop down one stop: every time doubles"."""
    carrier: str = Field(default="", exclude_if=lambda carrier: not carrier)
    """Which carrier its light goes through; empty where there is one negative only."""
    tools: tuple[str, ...] = Field(default=(), exclude_if=lambda tools: not tools)
    """What each tool in its light is called: "hole C, small hole"."""
    words: str = Field(default="", exclude_if=lambda words: not words)
    """What the hands do in its light, in the printer's words."""


class StepLine(Frozen):
    """One line of the sheet's list: planned and given, nominal ms."""

    number: int
    name: str
    filter: str
    planned_ms: int
    given_least_ms: int
    given_most_ms: int
    state: Literal["given", "called given", "left out", "held", "next", "to come"]
    added: bool = False


class LitNow(Frozen):
    """The light that is on."""

    kind: Literal["step", "focus", "check"]
    on_ns: int
    lit_ms: int


class Doubt(Frozen):
    """A light whose least and most differ too much to go on without the printer's word; nominal ms of its step."""

    light: str
    step: int
    least_ms: int
    most_ms: int


class PrintNow(Frozen):
    """A print in the trays."""

    number: int
    """The sheet's running number."""
    tray: TrayName
    way: tuple[TrayName, ...]
    """Every tray of its process, in order."""
    at: int
    """Which of `way` it lies in."""
    entered_ns: int
    until_ns: int | None
    """When it goes on by itself; None waits for a press."""
    ask: str = ""
    """The press that is waited for, as a sentence; empty where none is."""
    in_fix: bool = False
    """It has come into the first fix."""
    lit_ns: int = 0
    """When it had its first light: its safe minutes run from then until it is in the fix."""


class Heard(Frozen):
    """A cue that was sounded."""

    number: int
    cue: str
    count: int
    at_ns: int


class Status(Frozen):
    """One snapshot. `number` rises with every change; an act says which number it was decided on."""

    number: int
    at_ns: int
    since: int | None = None
    """The first of the snapshots that say the same but of the trays; None: this one alone does."""
    place: PlaceName
    question: bool = False
    sheet: str = ""
    """Id of the sheet under way or planned; empty where nothing is chosen."""
    sheet_number: int | None = None
    open: bool = False
    """A sheet is open: white light, focus light and the day face do not exist."""
    closed_sheet: str = ""
    """Id of the sheet that was closed last; empty before any was closed since the start."""
    plan: Plan | None = None
    bench: AtEnlarger = AtEnlarger()
    """What stands at the enlarger."""
    next: NextStep | None = None
    steps: tuple[StepLine, ...] = ()
    just_given: str = ""
    """Words for what was just given, or empty."""
    headline: str = ""
    """The one sentence that says what is asked of the printer now."""
    filter_in: str = ""
    """The filter in the drawer as the printer last said it; empty is unknown."""
    filter_wanted: str = ""
    ask: Ask | None = Field(default=None, exclude_if=lambda ask: ask is None)
    """What is asked of the hands now, of the recipe's own; None where nothing is."""
    lit: LitNow | None = None
    due_ns: int | None = None
    """When the light comes on, in a lead-in, gap or warning."""
    stop_possible: bool = False
    """Light is on or announced: every page shows STOP."""
    doubt: Doubt | None = None
    keeper: Literal["ready", "away", "fault"] = "away"
    practice: bool = False
    realtime: bool = False
    sounder: bool = True
    troubles: tuple[str, ...] = ()
    """Sentences that stay until they are mended, newest last."""
    day_until_ns: int | None = None
    """The day face is allowed until then, on this word renewed; None: dark face only."""
    day_refused: str = ""
    """Why the day face cannot be had now (which sheet is open and how to close it); empty where it can."""
    room_light: Literal["", "off", "on"] = ""
    """Empty where no outlet for it is fitted."""
    room_said: str = ""
    """Why the room light went off, in words; empty where it was asked to."""
    prints: tuple[PrintNow, ...] = ()
    """The prints in the trays, the newest last."""
    hurry: int = 1
    """So many seconds of the trays' process go by in one: above 1 in a practice darkroom alone."""
    white_from_ns: int | None = None
    """White light of any kind is refused until then; None: nothing is in its way. `WAITS_NS` where a print waits for a
    press, and nobody knows."""
    white_refused: str = ""
    """Why there is no white light, with the seconds left as of this snapshot; empty where no print is in its way."""
    start_from_phone: bool = False
    can: tuple[str, ...] = ()
    """Verbs of `controller.foot.acts` that make sense now; a page shows no others."""
    safe_left_s: int | None = None
    """Safe minutes left under the safelight of the open sheet, or of the print that is not in the fix yet, in seconds;
    None where untested."""

    def holds(self, number: int) -> bool:
        """Tell whether what was decided on snapshot `number` still holds: a print may have gone on since, no more."""
        return (self.number if self.since is None else self.since) <= number <= self.number


class Health(Frozen):
    """What `/health` says to anyone."""

    ok: bool
    keeper: Literal["ready", "away", "fault"]
    practice: bool
    room: bool = True
    """There is room on the card to file a light; without it none is given."""


def safe_left_s(opened_ns: int, now_ns: int, safe_minutes: float) -> int | None:
    """Return the whole seconds of safelight a sheet still has, 0 when they are over; None where untested.

    Paper fogs slowly under a safelight too, and the printer's own test says for how many minutes it may lie there.
    Both moments belong to one boot. They count from the sheet's first light: paper that lay out before it had
    less, so the test's safe time is halved by whoever reads it off (Kodak Publication K-4, 2006: safe time is
    at most half the time that makes a visible change; seen).
    """
    if safe_minutes <= 0:
        return None
    left_ns = round(safe_minutes * 60 * _NS_PER_S) - (now_ns - opened_ns)
    return max(0, left_ns // _NS_PER_S)


# ---- the sheet's steps

_VERBS: Final[dict[StepKind, str]] = {
    StepKind.BASE: "foot.verb-base",
    StepKind.OPEN: "foot.verb-base",
    StepKind.UNDER: "foot.verb-base",
    StepKind.AFTER: "foot.verb-base",
    StepKind.PART: "foot.verb-dodge",
    StepKind.RUNNING: "foot.verb-dodge",
    StepKind.BURN: "foot.verb-burn",
    StepKind.EDGE: "foot.verb-edge",
    StepKind.BAND: "foot.verb-band",
    StepKind.LONG: "foot.verb-strip",
    StepKind.FLASH: "foot.verb-flash",
    StepKind.CHECK: "lamp.verb-check",
    StepKind.READING: "easel.verb",
}


def next_step(work: Work, lag_ms: int) -> NextStep:
    """Return the step that comes next, or is being given."""
    step = work.step
    return NextStep(
        number=step.number,
        of=len(work.steps),
        name=step.name,
        verb=say(_VERBS[step.act]),
        area=step.area,
        what=step.what,
        filter=step.filter,
        planned_ms=step.planned_ms,
        remaining_ms=nominal_ms(step, work.missing_ns(lag_ms), lag_ms),
        hands=step.hands,
        card=card_words(step),
        marks=step.marks,
        advice=tuple(say(key) for key in step.advice),
        carrier=step.carrier,
        tools=tuple(tool_called(tool) for tool in work.plan.tools if tool.letter in step.tools),
        words=step.words,
    )


def step_lines(state: State, work: Work) -> list[StepLine]:
    """Return a line for each step, those added for this sheet last."""
    added_from = len(work.plan.steps)
    lines = []
    for index, (step, given) in enumerate(zip(work.steps, work.given, strict=True)):
        least, most = given_ms(step, given, state.habits.lag_ms)
        lines.append(
            StepLine(
                number=step.number,
                name=step.name,
                filter=step.filter,
                planned_ms=step.planned_ms,
                given_least_ms=least,
                given_most_ms=most,
                state=_line_state(work, index, given),
                added=index >= added_from,
            )
        )
    return lines


def _line_state(
    work: Work, index: int, given: Given
) -> Literal["given", "called given", "left out", "held", "next", "to come"]:
    if given.left_out:
        return "left out"
    if given.called:
        return "called given"
    if given.done:
        return "given"
    if index != work.index:
        return "to come"
    return "held" if given.most_ns else "next"


def given_ms(step: Step, given: Given, lag_ms: int) -> tuple[int, int]:
    """Return the nominal light a step has had, least and most, in ms."""
    least, most = (lag.nominal_ns(full, step.base_ms, lag_ms) for full in (given.least_ns, given.most_ns))
    return lag.bounds_ms(least, most)


def nominal_ms(step: Step, full_ns: int, lag_ms: int) -> int:
    """Return full light of a step as nominal light, in ms."""
    return (lag.nominal_ns(full_ns, step.base_ms, lag_ms) + NS_PER_MS // 2) // NS_PER_MS


def card_words(step: Step) -> str:
    """Return the words for where the card or dodger goes first, or nothing."""
    if not step.card:
        return ""
    return say(step.card, area=step.area, what=step.what, edge=step.edge or "", filter=step.filter)
