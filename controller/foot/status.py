"""Numbered snapshots of what is going on, for everyone who looks from outside. Frozen; times are monotonic ns."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Ask, Hands, Mark, Plan
from controller.trays.process import TrayName

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
