"""What the journal can say: one frozen model a kind of row; corrections are rows too."""

from __future__ import annotations

from typing import Annotated, Final, Literal, get_args

from pydantic import Field, TypeAdapter

from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Plan, Step
from controller.recipe.set_up import SetUp
from controller.store.easel_rows import SpotRead, SpotsTaken
from controller.store.edition_rows import EDITION_ROWS, BoxCounted, Numbered
from controller.store.levels import Dose, GainsMeasured, WrongLight
from controller.store.said_of_sheets import (
    HandsDone,
    Looked,
    Picked,
    ReferencePrint,
    Remark,
    RemarkChanged,
    Toned,
    WentIn,
)
from controller.store.tray_rows import BathMade, TrayEntered
from controller.store.trial_rows import TRIAL_ROWS, GreyFound, TrialDone, TrialInterval, TrialTakenBack, Waited


class Started(Frozen):
    """The daemon started; `open_sheet` is the sheet it found open, or empty."""

    kind: Literal["started"] = "started"
    practice: bool
    timing: str
    open_sheet: str = ""


class SheetPlanned(Frozen):
    """The plan of a sheet, frozen at the press that begins its first lead-in.

    The sheet is real, and `number` used, only when a light of it has come (a `Lit` row or a recovered one).
    """

    kind: Literal["planned"] = "planned"
    sheet: str
    number: int
    plan: Plan


class Intent(Frozen):
    """A light that is about to be ordered; on disk before the order is sent."""

    kind: Literal["intent"] = "intent"
    light: str
    """The order's id."""
    light_kind: Literal["step", "focus", "check"] = "step"
    sheet: str = ""
    step: int = 0
    part: int = 0
    filter: str = ""
    lit_ms: int
    longest_ms: int = Field(default=0, exclude_if=lambda longest: not longest)
    """How long it may last where its dose is asked for; 0 where it is not: then `lit_ms`."""
    lag_ms: int = 0
    start_ns: int


class LightCame(Frozen):
    """The fact of a light, on disk after dark; filed by order id, so filing twice does nothing.

    `least_ns` and `most_ns` are how long the line was on; they differ only after a killed keeper or a power cut.
    """

    kind: Literal["light"] = "light"
    light: str
    on_ns: int
    least_ns: int
    most_ns: int
    why: Literal["complete", "foot", "page", "level", "limit", "lease", "lid", "tether", "keeper", "fault"]


class NoLightCame(Frozen):
    """The order `light` brought no light."""

    kind: Literal["no light"] = "no light"
    light: str
    why: str


class Struck(Frozen):
    """The printer says that light `light` gave nothing (bulb dead, hand switch off)."""

    kind: Literal["struck"] = "struck"
    sheet: str
    light: str


class Assumed(Frozen):
    """What the printer said to assume of a light whose least and most differ: `given_ns` of lit line."""

    kind: Literal["assumed"] = "assumed"
    sheet: str
    light: str
    given_ns: int


class CalledGiven(Frozen):
    """A step counts as given as it is. `by`: foot, page, or rule (remainder too short to light)."""

    kind: Literal["called given"] = "called given"
    sheet: str
    step: int
    by: Literal["foot", "page", "rule"]


class LeftOut(Frozen):
    """A step was left out by the printer."""

    kind: Literal["left out"] = "left out"
    sheet: str
    step: int


class PutBack(Frozen):
    """A step that was left out is wanted after all."""

    kind: Literal["put back"] = "put back"
    sheet: str
    step: int


class Added(Frozen):
    """One more burn for this sheet only."""

    kind: Literal["added"] = "added"
    sheet: str
    step: Step


class Closed(Frozen):
    """A sheet was closed: complete when every step was given, called given or left out; else spoiled."""

    kind: Literal["closed"] = "closed"
    sheet: str
    outcome: Literal["complete", "spoiled"]
    by: Literal["foot", "page"] = "foot"


class FilterSaid(Frozen):
    """The filter in the drawer, as the printer said it; empty is unknown."""

    kind: Literal["filter"] = "filter"
    filter: str


class Loaded(Frozen):
    """A recipe or strip was chosen for the next sheet."""

    kind: Literal["loaded"] = "loaded"
    source: str
    version: int
    title: str


class StoodAtEnlarger(Frozen):
    """What stands at the enlarger from here on: all of it, after one thing of it was changed."""

    kind: Literal["at the enlarger"] = "at the enlarger"
    bench: AtEnlarger
    set_up: SetUp | None = Field(default=None, exclude_if=lambda set_up: set_up is None)
    """How it is set up from here on, carrier and easel too: as it was made for a sheet, or said. None: as the bench."""
    sheet: str = Field(default="", exclude_if=lambda sheet: not sheet)
    """The sheet to be begun that asked for it; empty where nobody asked."""


class FootRow(Frozen):
    """A gesture, filed at the next dark moment: press, hold, double, or a press that started nothing."""

    kind: Literal["foot"] = "foot"
    sheet: str = ""
    gesture: Literal["press", "hold", "double", "wait", "page stop"]
    at_ns: int


class RoomLit(Frozen):
    """The room light was switched. `why` is the keeper's word: asked, foot, lid, lease and so on."""

    kind: Literal["room light"] = "room light"
    on: bool
    at_ns: int
    why: str


class Trouble(Frozen):
    """Something went wrong, in a key of the catalogue and its values."""

    kind: Literal["trouble"] = "trouble"
    sheet: str = ""
    what: str
    detail: str = ""


class PaperTestGiven(Frozen):
    """Every light of a paper test was given: a long one, and trains of `pulses` lights each."""

    kind: Literal["paper test"] = "paper test"
    long_ms: int
    pulses: int
    each_ms: tuple[int, ...]


class LagFound(Frozen):
    """A lamp lag was found, or typed in, relay delays included. `taken` says that it is in force from here on."""

    kind: Literal["lag found"] = "lag found"
    way: Literal["paper", "sensor", "typed"]
    lag_ms: float
    uncertain_ms: float = Field(default=0.0, ge=0.0)
    """One standard deviation; 0 where nothing is known of it."""
    taken: bool = False


class LampChecked(Frozen):
    """The reference light was measured: `level` in counts a second, by the sensor `sensor` at its gain."""

    kind: Literal["lamp checked"] = "lamp checked"
    level: float = Field(gt=0.0)
    sensor: str
    new_bulb: bool = False
    """From here on this level is the reference."""
    rise: tuple[tuple[int, float], ...] = Field(default=(), exclude_if=lambda rise: not rise)
    """How the lamp came up: (ms after its line was lit, share of the level), a pair a cycle, in order."""


class LampWarmed(Frozen):
    """The lamp was lit to warm it up."""

    kind: Literal["lamp warmed"] = "lamp warmed"
    lit_ms: int


class LightSeen(Frozen):
    """What the sensor says of a light that is otherwise only assumed from its line."""

    kind: Literal["light seen"] = "light seen"
    sheet: str = ""
    light: str
    came: bool
    """It was seen while the line was lit."""
    stayed: bool = False
    """It was still there half a second after the line was dark."""


Share = tuple[Annotated[float, Field(ge=0.0, le=1.0)], Annotated[float, Field(ge=0.0, le=1.0)]]
"""A place on a picture: across and down, as shares of it."""


class Photographed(Frozen):
    """A photograph was kept, in the store of pictures by its `hash`: of a proof, of a dry print, of a frame.

    The last of a sheet's counts; one without a hash says that it was taken away. What was is on file.
    """

    kind: Literal["photographed"] = "photographed"
    hash: str = Field(pattern="^([0-9a-f]{64})?$")
    small: str = Field(default="", pattern="^([0-9a-f]{64})?$", exclude_if=lambda small: not small)
    """The same once more, a quarter as wide, for a row of many."""
    of: Literal["proof", "sheet", "frame"]
    thing: str
    """The id of the set of negatives, or of the sheet; of a frame "SET:FRAME"."""
    corners: tuple[Share, Share, Share, Share] | None = Field(default=None, exclude_if=lambda corners: corners is None)
    """Where the image of a dry print has its corners on it, from the top left on as a clock goes; None: not told."""

    @property
    def sheet(self) -> str:
        """The sheet whose row it is, or nothing."""
        return self.thing if self.of == "sheet" else ""


Entry = Annotated[
    Started
    | SheetPlanned
    | Intent
    | LightCame
    | NoLightCame
    | Struck
    | Assumed
    | CalledGiven
    | LeftOut
    | PutBack
    | Added
    | Closed
    | HandsDone
    | Picked
    | WentIn
    | ReferencePrint
    | Toned
    | Remark
    | Looked
    | RemarkChanged
    | FilterSaid
    | Loaded
    | StoodAtEnlarger
    | FootRow
    | RoomLit
    | TrayEntered
    | BathMade
    | Waited
    | PaperTestGiven
    | LagFound
    | LampChecked
    | LampWarmed
    | GainsMeasured
    | LightSeen
    | WrongLight
    | Dose
    | SpotRead
    | SpotsTaken
    | Photographed
    | Numbered
    | BoxCounted
    | TrialDone
    | TrialTakenBack
    | TrialInterval
    | GreyFound
    | Trouble,
    Field(discriminator="kind"),
]

ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)

# A room's own kinds of row, as it declares them; every kind belongs to one room.
ENLARGER_ROWS: Final = (StoodAtEnlarger,)
LAMP_ROWS: Final = (PaperTestGiven, LagFound, LampChecked, LampWarmed, GainsMeasured)
NEGATIVE_ROWS: Final = (Photographed,)
EASEL_ROWS: Final = (SpotRead, SpotsTaken)
BATH_ROWS: Final = (BathMade,)
_OTHERS: Final = (*EASEL_ROWS, *EDITION_ROWS, *ENLARGER_ROWS, *LAMP_ROWS, *NEGATIVE_ROWS, *BATH_ROWS, *TRIAL_ROWS)
SHEET_ROWS: Final = tuple(kind for kind in get_args(get_args(Entry)[0]) if kind not in _OTHERS)
