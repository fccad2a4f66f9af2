"""Folds the journal's rows into the records of sheets, their steps and their lights.

Pure: the same rows give the same records, and a sheet's own rows are enough for its record. Corrections are taken
in: a light that was struck counts nothing, and its step is no longer called given or left out; an assumed time
stands in for both least and most.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import Literal

from controller.exposure import lag
from controller.recipe.plan import Step
from controller.store.edition_rows import Numbered
from controller.store.entries import (
    Added,
    Assumed,
    CalledGiven,
    Closed,
    FootRow,
    Intent,
    LeftOut,
    LightCame,
    LightSeen,
    NoLightCame,
    Photographed,
    PutBack,
    SheetPlanned,
    StoodAtEnlarger,
    Struck,
    Trouble,
)
from controller.store.levels import Dose, WrongLight
from controller.store.records import PartRecord, RemarkRecord, SheetRecord, StepRecord, TonedRecord, TrayRecord, When
from controller.store.rows import Row
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
from controller.store.tray_rows import TrayEntered
from controller.store.trial_rows import Waited
from hardware.clock import NS_PER_MS


@dataclass(slots=True)
class _Draft:
    """A sheet while its rows are being read."""

    planned: SheetPlanned
    added: list[Step] = field(default_factory=list)
    lights: dict[str, tuple[Intent, LightCame, When]] = field(default_factory=dict)
    struck: set[str] = field(default_factory=set)
    assumed: dict[str, int] = field(default_factory=dict)
    seen: dict[str, LightSeen] = field(default_factory=dict)
    wrong: dict[str, WrongLight] = field(default_factory=dict)
    doses: dict[str, Dose] = field(default_factory=dict)
    called: set[int] = field(default_factory=set)
    left_out: set[int] = field(default_factory=set)
    closed: tuple[Closed, When] | None = None
    remarks: list[list[str]] = field(default_factory=list)
    """Of each all that it has said, the last word last."""
    picks: list[Picked] = field(default_factory=list)
    looked: list[Looked] = field(default_factory=list)
    went_in: list[WentIn] = field(default_factory=list)
    reference: bool = False
    photographs: list[Photographed] = field(default_factory=list)
    trays: list[tuple[TrayEntered, When]] = field(default_factory=list)
    waits: list[Waited] = field(default_factory=list)
    set_up: When | None = None
    numbered: Numbered | None = None
    toned: list[TonedRecord] = field(default_factory=list)
    hands: list[HandsDone] = field(default_factory=list)
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
    set_up: dict[str, When] = {}
    """When a set-up was made for a sheet: before it was planned."""
    before: dict[str, list[HandsDone]] = {}
    """What the hands did for a sheet that is not planned yet: its plan is filed with its first lead-in."""
    for row in rows:
        entry, draft = row.entry, drafts.get(row.sheet)
        if isinstance(entry, StoodAtEnlarger) and entry.sheet:
            set_up[entry.sheet] = _when(row)
        elif isinstance(entry, SheetPlanned):
            if draft is None:
                made, hands = set_up.get(entry.sheet), before.pop(entry.sheet, [])
                drafts[entry.sheet] = _Draft(entry, set_up=made, hands=hands)
            elif not draft.real:  # planned anew after a lead-in that brought no light
                draft.planned, draft.set_up = entry, set_up.get(entry.sheet)
        elif draft is None and row.sheet and isinstance(entry, HandsDone):
            before.setdefault(entry.sheet, []).append(entry)
        elif draft is not None:
            when = _when(row)
            match entry:
                case Intent():
                    intents.setdefault(entry.light, entry)
                case LightCame() if (intent := intents.get(entry.light)) is not None:
                    draft.lights.setdefault(entry.light, (intent, entry, when))
                case Struck():
                    draft.struck.add(entry.light)
                    if (intent := intents.get(entry.light)) is not None:  # its step wants light again, as it was
                        draft.called.discard(intent.step)
                        draft.left_out.discard(intent.step)
                case Assumed():
                    draft.assumed[entry.light] = entry.given_ns
                case LightSeen():
                    draft.seen[entry.light] = entry
                case WrongLight():
                    draft.wrong[entry.light] = entry
                case Dose():
                    draft.doses[entry.light] = entry
                case CalledGiven():
                    draft.called.add(entry.step)
                case LeftOut():
                    draft.left_out.add(entry.step)
                case PutBack():
                    draft.left_out.discard(entry.step)
                case Added():
                    draft.added.append(entry.step)
                case Closed() if draft.closed is None:
                    draft.closed = entry, when
                case Picked():
                    draft.picks.append(entry)
                case Looked():
                    draft.looked.append(entry)
                case ReferencePrint():
                    draft.reference = True
                case WentIn():
                    draft.went_in.append(entry)
                case Photographed():
                    draft.photographs.append(entry)
                case Numbered():
                    draft.numbered = draft.numbered or entry
                case Toned():
                    _tone(draft, entry, when)
                case Remark():
                    draft.remarks.append([entry.text])
                case RemarkChanged() if entry.remark <= len(draft.remarks):
                    draft.remarks[entry.remark - 1].append(entry.text)
                case Waited():
                    draft.waits.append(entry)
                case TrayEntered():
                    draft.trays.append((entry, when))
                case HandsDone():
                    draft.hands.append(entry)
                case FootRow():
                    draft.feet.append(entry)
                case Trouble():
                    draft.troubles.append(entry)
                case _:
                    pass
    return drafts


def _when(row: Row) -> When:
    return When(row=row.number, boot=row.boot, at_ns=row.at_ns, wall=row.wall, synchronised=row.synchronised)


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
        remarks=tuple(said[-1] for said in draft.remarks if said[-1]),
        all_remarks=tuple(RemarkRecord(number=at, said=tuple(said)) for at, said in enumerate(draft.remarks, 1)),
        picks=tuple(draft.picks),
        looked=tuple(draft.looked),
        went_in=tuple(draft.went_in),
        reference=draft.reference,
        photographs=tuple(draft.photographs),
        set_up=draft.set_up,
        trays=tuple(_trays(draft.trays)),
        numbered=draft.numbered,
        toned=tuple(draft.toned),
        hands=tuple(_hands(draft.hands)),
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
        waits=tuple(wait for wait in draft.waits if wait.step == step.number),
        given_least_ms=given_least_ms,
        given_most_ms=given_most_ms,
        lit_ms=_ms(sum(part.most_ns if part.struck else part.counted_ns[1] for part in parts)),
    )


def _parts(draft: _Draft, step: int) -> Iterator[PartRecord]:
    for light, (intent, came, when) in draft.lights.items():
        if intent.step == step and came.most_ns > 0:
            wrong = draft.wrong.get(light)
            yield PartRecord(
                light=light,
                part=intent.part,
                filter=(wrong.filter if wrong else "") or intent.filter,
                ordered_ms=intent.lit_ms,
                longest_ms=intent.longest_ms,
                on_ns=came.on_ns,
                least_ns=came.least_ns,
                most_ns=came.most_ns,
                why=came.why,
                lag_ms=intent.lag_ms,
                struck=light in draft.struck,
                assumed_ns=draft.assumed.get(light),
                seen=_seen(draft.seen.get(light)),
                wrong=wrong,
                dose=draft.doses.get(light),
                came=when,
            )


def _hands(rows: Sequence[HandsDone]) -> list[HandsDone]:
    """Return what the hands did and was not taken back; a press is taken back before anything else is asked."""
    done: list[HandsDone] = []
    for row in rows:
        if not row.undone:
            done.append(row)
        elif done and (done[-1].step, done[-1].ask) == (row.step, row.ask):
            done.pop()
    return done


def _trays(rows: Sequence[tuple[TrayEntered, When]]) -> Iterator[TrayRecord]:
    """Give each tray with what the row says that took the print out of it, where there is one."""
    for (row, came), after in zip_longest(rows, rows[1:]):
        if not row.tray:  # out of the last one
            continue
        out, left = after or (None, None)
        yield TrayRecord(
            tray=row.tray,
            support=row.support,
            in_ns=row.at_ns,
            out_ns=out.at_ns if out else None,
            lay_ms=out.before_ms if out else None,
            put_in_by=row.by,
            taken_out_by=out.by if out else "",
            ended=out is not None and not out.tray,
            appearance_ms=out.appearance_ms if out else None,
            celsius=row.celsius,
            bath=row.bath,
            prints=row.prints,
            came=came,
            left=left,
        )


def _tone(draft: _Draft, row: Toned, when: When) -> None:
    """Note a toning: one more, or one in place of an earlier one; one in place of none that is there says nothing."""
    if row.instead > len(draft.toned):
        return
    told = row.model_dump(include={"toner", "dilution", "minutes", "did"})
    record = TonedRecord(number=row.instead or len(draft.toned) + 1, said=when, **told)
    if row.instead:
        draft.toned[row.instead - 1] = record
    else:
        draft.toned.append(record)


def _seen(row: LightSeen | None) -> Literal["", "came", "missed", "stayed"]:
    if row is None:
        return ""
    return "stayed" if row.stayed else "came" if row.came else "missed"


def _ms(ns: int) -> int:
    """Return whole milliseconds, half up."""
    return (ns + NS_PER_MS // 2) // NS_PER_MS
