"""What is kept of a sheet: the record of it, of its steps and of their lights, corrections taken in."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final, Literal

from pydantic import Field

from controller.exposure import lag
from controller.model import Frozen
from controller.recipe.plan import Plan, Step
from controller.store.edition_rows import Numbered
from controller.store.entries import FootRow, Photographed, Trouble
from controller.store.levels import Dose, WrongLight
from controller.store.said_of_sheets import HandsDone, Looked, Picked, WentIn
from controller.store.trial_rows import Waited
from controller.trays.process import TrayName
from hardware.clock import NS_PER_MS
from hardware.wire import LONGEST_DOSE

TWELFTH_MORE: Final = 2.0 ** (1.0 / 12.0)
NEARLY_MS: Final = 3
"""A light that ends so near to its plan was ended by its plan."""
FIXES: Final[tuple[TrayName, ...]] = ("fix", "fix 1", "fix 2")
"""What a fix may be called: a print that lies in one or two of them is fixed for as long as in all of them."""


class When(Frozen):
    """The moment of a row: its number orders, `at_ns` measures within a boot, the wall's time is a label."""

    row: int
    boot: str
    at_ns: int
    wall: str
    synchronised: bool


class PartRecord(Frozen):
    """One light of a step. Line times, in ns, as they were filed; `counted_ns` is what they count for."""

    light: str
    part: int
    filter: str
    ordered_ms: int
    longest_ms: int = Field(default=0, exclude_if=lambda longest: not longest)
    """How long it might have lasted for its dose; 0 where none was asked for."""
    on_ns: int
    least_ns: int
    most_ns: int
    why: str
    lag_ms: int
    struck: bool = False
    assumed_ns: int | None = None
    seen: Literal["", "came", "missed", "stayed"] = ""
    """What a light sensor saw of it; empty where none was looking: then it is assumed from the line."""
    wrong: WrongLight | None = Field(default=None, exclude_if=lambda wrong: wrong is None)
    """What of it counts, where it was far too strong, or came through another filter, which `filter` then names."""
    dose: Dose | None = Field(default=None, exclude_if=lambda dose: dose is None)
    """How strong it was, by a light sensor; None where none told."""
    came: When

    @property
    def counted_ns(self) -> tuple[int, int]:
        """How long the line was on, at least and at most, corrections taken in."""
        if self.struck:
            return 0, 0
        if self.assumed_ns is not None:
            return self.assumed_ns, self.assumed_ns
        return self.least_ns, self.most_ns

    @property
    def full_ns(self) -> tuple[int, int]:
        """The full light it gave its step, at least and at most, lamp lag taken off."""
        if self.wrong is not None and not self.struck and self.assumed_ns is None:
            return self.wrong.least_ns, self.wrong.most_ns
        least, most = self.counted_ns
        return lag.given_full_ns(least, self.lag_ms), lag.given_full_ns(most, self.lag_ms)

    @property
    def reckoned_ns(self) -> tuple[int, int]:
        """The full light that the rest of its step is reckoned by: one figure, twice, unless it is in doubt."""
        known = self.wrong is not None and not self.struck and self.assumed_ns is None
        if self.wrong is None or not known or self.wrong.counts_ns is None:
            return self.full_ns
        return self.wrong.counts_ns, self.wrong.counts_ns

    @property
    def dose_stops(self) -> float | None:
        """How much more it gave than its time stands for, in stops; None where nobody knows."""
        return None if self.dose is None else self.dose.stops

    @property
    def worth_ns(self) -> tuple[int, int]:
        """The full light that it is worth, at least and at most: ended by its dose it gave what was ordered of it.

        Where it came to the end of what a dose may last, the sensor's own word says how much that was.
        """
        told = self.struck or self.wrong is not None or self.assumed_ns is not None
        lit_ms = round(self.most_ns / NS_PER_MS)
        if told or not self.longest_ms or self.why != "complete" or abs(lit_ms - self.ordered_ms) < NEARLY_MS:
            return self.full_ns
        at_its_end = lit_ms > self.longest_ms - NEARLY_MS or lit_ms < self.ordered_ms / LONGEST_DOSE + NEARLY_MS
        if at_its_end and self.dose_stops is not None:
            least, most = self.full_ns
            return round(least * 2.0**self.dose_stops), round(most * 2.0**self.dose_stops)
        ordered_ns = lag.given_full_ns(self.ordered_ms * NS_PER_MS, self.lag_ms)
        return ordered_ns, ordered_ns


def _sums(spans: Iterable[tuple[int, int]]) -> tuple[int, int]:
    found = list(spans)
    return sum(least for least, _ in found), sum(most for _, most in found)


class StepRecord(Frozen):
    """What one step got. Nominal times are what the page shows and count as the plan's do (see `printing.lag`)."""

    step: Step
    parts: tuple[PartRecord, ...] = ()
    called_given: bool = False
    left_out: bool = False
    added: bool = False
    """One more burn, for this sheet only."""
    waits: tuple[Waited, ...] = Field(default=(), exclude_if=lambda waits: not waits)
    """The waits before its light that are over, in the sheet of a test."""
    given_least_ms: int = 0
    given_most_ms: int = 0
    lit_ms: int = 0
    """How long the line was on at most, lamp lag included; what was struck too: it was on."""

    @property
    def failed(self) -> bool:
        """Whether a light of it failed and was not made good, or what it had is in doubt by over a twelfth of a stop.

        One that was called given or left out is as the printer wanted it, unless a sensor missed its light.
        """
        if any(part.seen == "missed" and not part.struck for part in self.parts):
            return True
        if self._in_doubt:
            return True
        settled = self.called_given or self.left_out or self.worth_ms[1] * TWELFTH_MORE >= self.step.planned_ms
        return not settled and any(part.struck or part.why == "fault" for part in self.parts)

    @property
    def worth_ms(self) -> tuple[int, int]:
        """What it was given, at least and at most, as its plan counts: where lights were ended by their dose, by that.

        It is what another sheet, or a recipe, is held against; otherwise it is the times that were given.
        """
        off = [0, 0]
        for part in self.parts:
            for end, (worth_ns, full_ns) in enumerate(zip(part.worth_ns, part.full_ns, strict=True)):
                off[end] += lag.nominal_ns(worth_ns, self.step.base_ms, part.lag_ms)
                off[end] -= lag.nominal_ns(full_ns, self.step.base_ms, part.lag_ms)
        least, most = (round(each / NS_PER_MS) for each in off)
        return self.given_least_ms + least, self.given_most_ms + most

    @property
    def full_ns(self) -> tuple[int, int]:
        """The full light the step has had, in ns, at least and at most."""
        return _sums(part.full_ns for part in self.parts)

    @property
    def reckoned_ns(self) -> tuple[int, int]:
        """The full light that its rest was reckoned by, in ns, at least and at most."""
        return _sums(part.reckoned_ns for part in self.parts)

    @property
    def dose_stops(self) -> float | None:
        """What it gave against what was planned, in stops, as a light sensor saw it; None where it saw not all of it.

        Of a light that was stopped for its level that level is in what it counts for.
        """
        parts = [part for part in self.parts if part.full_ns[1]]
        planned_ns = sum(
            lag.planned_full_ns(self.step.planned_ms, self.step.base_ms, part.lag_ms) for part in parts[:1]
        )
        if not planned_ns or any(part.dose_stops is None and part.wrong is None for part in parts):
            return None
        given = sum(part.reckoned_ns[1] * 2.0 ** (0.0 if part.wrong else part.dose_stops or 0.0) for part in parts)
        return math.log2(given / planned_ns) if given else None

    @property
    def _in_doubt(self) -> bool:
        """What it had is not known to a twelfth of a stop, either way of what the rest was reckoned by."""
        if any(part.wrong is not None and part.reckoned_ns[0] == part.reckoned_ns[1] for part in self.parts):
            (least, most), reckoned = self.full_ns, self.reckoned_ns[1]
            return most > reckoned * TWELFTH_MORE or reckoned > least * TWELFTH_MORE
        return self.given_most_ms > self.given_least_ms * TWELFTH_MORE


class RemarkRecord(Frozen):
    """One remark, and all that it has said: the last word last, empty where it was taken back."""

    number: int
    """Counted from 1 in the order in which the sheet's remarks were written."""
    said: tuple[str, ...]

    @property
    def text(self) -> str:
        """What it says now; empty where it was taken back."""
        return self.said[-1]

    @property
    def before(self) -> str:
        """What it said until it was taken back, or was changed; empty where it was neither."""
        return next((text for text in reversed(self.said[:-1]) if text and text != self.text), "")


class TrayRecord(Frozen):
    """One tray that a print lay in: when it came in and out, how warm the tray was, and which bath stood in it."""

    tray: TrayName
    support: Literal["RC", "FB"]
    in_ns: int
    out_ns: int | None = None
    """None: it lies there still, or nobody has followed it any further."""
    lay_ms: int | None = None
    """How long, by the process's clock; a practice darkroom may have hurried it."""
    put_in_by: Literal["time", "foot", "hold", "page"]
    taken_out_by: Literal["time", "foot", "hold", "page", ""] = ""
    ended: bool = Field(default=False, exclude_if=lambda ended: not ended)
    """No other tray came after it."""
    appearance_ms: int | None = Field(default=None, exclude_if=lambda value: value is None)
    """In the developer: when the image first showed, where the time was found by that."""
    celsius: float | None = Field(default=None, exclude_if=lambda value: value is None)
    bath: str = Field(default="", exclude_if=lambda value: not value)
    """Which bath of the ledger."""
    prints: int = Field(default=0, ge=0, exclude_if=lambda value: not value)
    """Which print of that bath this one is."""
    came: When
    left: When | None = None


class TonedRecord(Frozen):
    """A toning of the print, as it stands now."""

    number: int
    """From 1, in the order in which they were first said."""
    toner: str
    """Empty: it was taken back."""
    dilution: str = ""
    minutes: float | None = None
    did: str = ""
    said: When


class SheetRecord(Frozen):
    """One piece of paper: what was planned for it, and what it got."""

    id: str
    number: int
    plan: Plan
    steps: tuple[StepRecord, ...]
    outcome: Literal["complete", "spoiled", "open"]
    opened: When
    """Its first light."""
    ended: When
    """When it was closed, or its last light."""
    closed: When | None = None
    closed_by: Literal["foot", "page", ""] = ""
    remarks: tuple[str, ...] = ()
    """What was written about it, as it stands now."""
    all_remarks: tuple[RemarkRecord, ...] = ()
    """The same with all that each has said, those that were taken back too."""
    picks: tuple[Picked, ...] = ()
    looked: tuple[Looked, ...] = Field(default=(), exclude_if=lambda looked: not looked)
    """How it looked, as it was said; the last counts."""
    reference: bool = Field(default=False, exclude_if=lambda reference: not reference)
    """The printer said that it is right: the print that others of its recipe are held against."""
    went_in: tuple[WentIn, ...] = Field(default=(), exclude_if=lambda went: not went)
    """What of it became a version of its recipe."""
    photographs: tuple[Photographed, ...] = Field(default=(), exclude_if=lambda photographs: not photographs)
    """Of the dry print, as they were brought and taken away; the last counts."""
    set_up: When | None = Field(default=None, exclude_if=lambda when: when is None)
    """When its set-up was asked for and made; None where it stood already."""
    trays: tuple[TrayRecord, ...] = Field(default=(), exclude_if=lambda trays: not trays)
    """Its way from the easel to the wash, as far as it was followed."""
    numbered: Numbered | None = Field(default=None, exclude_if=lambda numbered: numbered is None)
    """What it is in an edition; what was said first stands."""
    toned: tuple[TonedRecord, ...] = Field(default=(), exclude_if=lambda toned: not toned)
    """The tonings of the print, those taken back too."""
    hands: tuple[HandsDone, ...] = Field(default=(), exclude_if=lambda hands: not hands)
    """What was asked between its lights, as it was answered."""
    feet: tuple[FootRow, ...] = ()
    troubles: tuple[Trouble, ...] = ()

    @property
    def opened_wall(self) -> str:
        """The wall's time at its first light: a label."""
        return self.opened.wall

    @property
    def photograph(self) -> Photographed | None:
        """The photograph of the dry print; None where there is none, or it was taken away."""
        return self.photographs[-1] if self.photographs and self.photographs[-1].hash else None

    @property
    def photographs_before(self) -> tuple[Photographed, ...]:
        """Those that were replaced or taken away, each once, the newest first."""
        now = self.photograph
        before = {one.hash: one for one in self.photographs if one.hash and (now is None or one.hash != now.hash)}
        return tuple(reversed(before.values()))

    def lay_ms(self, *trays: TrayName) -> int | None:
        """Return how long it lay in these trays, all of them together; None where that is not known of any."""
        known = [each.lay_ms for each in self.trays if each.tray in trays and each.lay_ms is not None]
        return sum(known) if known else None

    @property
    def tonings(self) -> tuple[TonedRecord, ...]:
        """The tonings that stand."""
        return tuple(each for each in self.toned if each.toner)

    @property
    def lamp_failed(self) -> bool:
        """Whether some of its light failed and was not made good, or is not known to a twelfth of a stop."""
        return any(step.failed for step in self.steps)

    @property
    def lit_ms(self) -> int:
        """How long the line was on for this sheet, lamp lag included."""
        return sum(step.lit_ms for step in self.steps)
