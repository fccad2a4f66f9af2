"""What the journal's rows add up to: sheets, their steps and their lights.

Pure folding: the same rows give the same records, and a sheet's own rows are enough for its record. Corrections
are taken in: a light that was struck counts nothing, an assumed time stands in for both least and most.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from controller.entries import (
    Added,
    Assumed,
    CalledGiven,
    Closed,
    FootRow,
    Intent,
    LeftOut,
    LightCame,
    NoLightCame,
    Picked,
    Remark,
    SheetPlanned,
    Struck,
    Trouble,
)
from controller.lamp.rows import LightSeen
from controller.printing import lag
from controller.rows import Row
from controller.sheet import Frozen, Plan, Step

NS_PER_MS: Final = 1_000_000


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
    on_ns: int
    least_ns: int
    most_ns: int
    why: str
    lag_ms: int
    struck: bool = False
    assumed_ns: int | None = None
    seen: Literal["", "came", "missed", "stayed"] = ""
    """What a light sensor saw of it; empty where none was looking: then it is assumed from the line."""
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
        """The full light it gave, at least and at most, lamp lag taken off."""
        least, most = self.counted_ns
        return lag.given_full_ns(least, self.lag_ms), lag.given_full_ns(most, self.lag_ms)


class StepRecord(Frozen):
    """What one step got. Nominal times are what the page shows and count as the plan's do (see `printing.lag`)."""

    step: Step
    parts: tuple[PartRecord, ...] = ()
    called_given: bool = False
    left_out: bool = False
    added: bool = False
    """One more burn, for this sheet only."""
    given_least_ms: int = 0
    given_most_ms: int = 0
    lit_ms: int = 0
    """How long the line was on at most, lamp lag included; what was struck too: it was on."""

    @property
    def full_ns(self) -> tuple[int, int]:
        """The full light the step has had, in ns, at least and at most."""
        parts = [part.full_ns for part in self.parts]
        return sum(least for least, _ in parts), sum(most for _, most in parts)


class Progress(Frozen):
    """What a step of an open sheet has had, for whoever carries it on; full light in ns."""

    step: int
    least_ns: int
    most_ns: int
    parts: int
    """The number of the step's last light; 0 where it has had none."""
    called_given: bool
    left_out: bool


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
    picks: tuple[Picked, ...] = ()
    feet: tuple[FootRow, ...] = ()
    troubles: tuple[Trouble, ...] = ()

    @property
    def opened_wall(self) -> str:
        """The wall's time at its first light: a label."""
        return self.opened.wall

    @property
    def lit_ms(self) -> int:
        """How long the line was on for this sheet, lamp lag included."""
        return sum(step.lit_ms for step in self.steps)

    @property
    def progress(self) -> tuple[Progress, ...]:
        """What each step has had, in the order of the steps."""
        return tuple(
            Progress(
                step=step.step.number,
                least_ns=step.full_ns[0],
                most_ns=step.full_ns[1],
                parts=max((part.part for part in step.parts), default=0),
                called_given=step.called_given,
                left_out=step.left_out,
            )
            for step in self.steps
        )


# ---- folding


@dataclass(slots=True)
class _Draft:
    """A sheet while its rows are being read."""

    planned: SheetPlanned
    added: list[Step] = field(default_factory=list)
    lights: dict[str, tuple[Intent, LightCame, When]] = field(default_factory=dict)
    struck: set[str] = field(default_factory=set)
    assumed: dict[str, int] = field(default_factory=dict)
    seen: dict[str, LightSeen] = field(default_factory=dict)
    called: set[int] = field(default_factory=set)
    left_out: set[int] = field(default_factory=set)
    closed: tuple[Closed, When] | None = None
    remarks: list[str] = field(default_factory=list)
    picks: list[Picked] = field(default_factory=list)
    feet: list[FootRow] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)

    @property
    def real(self) -> bool:
        """A light of it came."""
        return any(came.most_ns > 0 for _, came, _ in self.lights.values())


def fold(rows: Iterable[Row]) -> tuple[SheetRecord, ...]:
    """Return the sheets that rows, in their order, speak of: those that light has opened, in the order planned.

    Rows that belong to no sheet, and sheets whose plan is not among the rows, are passed over.
    """
    return tuple(_record(draft) for draft in _drafts(rows).values() if draft.real)


def unfinished(rows: Iterable[Row]) -> tuple[Intent, ...]:
    """Return the intents of which the rows say neither that light came nor that none did, in order."""
    intents: dict[str, Intent] = {}
    for row in rows:
        match row.entry:
            case Intent() as intent:
                intents[intent.light] = intent
            case LightCame(light=light) | NoLightCame(light=light):
                intents.pop(light, None)
            case _:
                pass
    return tuple(intents.values())


def open_sheet(rows: Iterable[Row]) -> SheetRecord | None:
    """Return the sheet that is open, or None: the newest that light has opened, unless it was closed."""
    records = fold(rows)
    return records[-1] if records and records[-1].outcome == "open" else None


def next_number(rows: Iterable[Row]) -> int:
    """Return the running number of the next sheet: one more than the highest that light has used."""
    return max((record.number for record in fold(rows)), default=0) + 1


def _drafts(rows: Iterable[Row]) -> dict[str, _Draft]:
    drafts: dict[str, _Draft] = {}
    intents: dict[str, Intent] = {}
    for row in rows:
        entry, draft = row.entry, drafts.get(row.sheet)
        if isinstance(entry, SheetPlanned):
            if draft is None:
                drafts[entry.sheet] = _Draft(entry)
            elif not draft.real:  # planned anew after a lead-in that brought no light
                draft.planned = entry
        elif draft is not None:
            when = When(row=row.number, boot=row.boot, at_ns=row.at_ns, wall=row.wall, synchronised=row.synchronised)
            match entry:
                case Intent():
                    intents.setdefault(entry.light, entry)
                case LightCame() if (intent := intents.get(entry.light)) is not None:
                    draft.lights.setdefault(entry.light, (intent, entry, when))
                case Struck():
                    draft.struck.add(entry.light)
                case Assumed():
                    draft.assumed[entry.light] = entry.given_ns
                case LightSeen():
                    draft.seen[entry.light] = entry
                case CalledGiven():
                    draft.called.add(entry.step)
                case LeftOut():
                    draft.left_out.add(entry.step)
                case Added():
                    draft.added.append(entry.step)
                case Closed() if draft.closed is None:
                    draft.closed = entry, when
                case Picked():
                    draft.picks.append(entry)
                case Remark():
                    draft.remarks.append(entry.text)
                case FootRow():
                    draft.feet.append(entry)
                case Trouble():
                    draft.troubles.append(entry)
                case _:
                    pass
    return drafts


def _record(draft: _Draft) -> SheetRecord:
    plan = draft.planned.plan
    moments = [when for _, came, when in draft.lights.values() if came.most_ns > 0]
    closed, closed_at = draft.closed or (None, None)
    outcome: Literal["complete", "spoiled", "open"] = closed.outcome if closed else "open"
    if outcome == "spoiled" and plan.kind == "strip" and draft.picks:
        outcome = "complete"
    return SheetRecord(
        id=draft.planned.sheet,
        number=draft.planned.number,
        plan=plan,
        steps=tuple(
            _step(draft, step, added=number >= len(plan.steps))
            for number, step in enumerate((*plan.steps, *draft.added))
        ),
        outcome=outcome,
        opened=moments[0],
        ended=closed_at or moments[-1],
        closed=closed_at,
        closed_by=closed.by if closed else "",
        remarks=tuple(draft.remarks),
        picks=tuple(draft.picks),
        feet=tuple(draft.feet),
        troubles=tuple(draft.troubles),
    )


def _step(draft: _Draft, step: Step, *, added: bool) -> StepRecord:
    parts = tuple(_parts(draft, step.number))
    nominal = [[lag.nominal_ns(full, step.base_ms, part.lag_ms) for full in part.full_ns] for part in parts]
    given_least_ms, given_most_ms = lag.bounds_ms(*(sum(each[end] for each in nominal) for end in (0, 1)))
    return StepRecord(
        step=step,
        parts=parts,
        called_given=step.number in draft.called,
        left_out=step.number in draft.left_out,
        added=added,
        given_least_ms=given_least_ms,
        given_most_ms=given_most_ms,
        lit_ms=_ms(sum(part.most_ns if part.struck else part.counted_ns[1] for part in parts)),
    )


def _parts(draft: _Draft, step: int) -> Iterator[PartRecord]:
    for light, (intent, came, when) in draft.lights.items():
        if intent.step == step and came.most_ns > 0:
            yield PartRecord(
                light=light,
                part=intent.part,
                filter=intent.filter,
                ordered_ms=intent.lit_ms,
                on_ns=came.on_ns,
                least_ns=came.least_ns,
                most_ns=came.most_ns,
                why=came.why,
                lag_ms=intent.lag_ms,
                struck=light in draft.struck,
                assumed_ns=draft.assumed.get(light),
                seen=_seen(draft.seen.get(light)),
                came=when,
            )


def _seen(row: LightSeen | None) -> Literal["", "came", "missed", "stayed"]:
    if row is None:
        return ""
    return "stayed" if row.stayed else "came" if row.came else "missed"


def _ms(ns: int) -> int:
    """Return whole milliseconds, half up."""
    return (ns + NS_PER_MS // 2) // NS_PER_MS
