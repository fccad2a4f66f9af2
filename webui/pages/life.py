"""What was made of a negative, as one row of pictures in the order of time: its proof, strips, prints and verdicts.

Each sheet is its photograph where there is one, else its practice print, else a small drawing, with its times and what
was said of it beneath. Threads lead from a pick to the sheets that follow it, and from print to print.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from markupsafe import Markup

from controller.recipe.plan import StepKind
from controller.store.records import FIXES
from controller.words import say
from webui.frame.context import desk
from webui.frame.looks import look_words
from webui.pages.record import seen_of
from webui.pictures.life import Run, run_of, small_print, small_strip, thread_cells
from webui.wording import clock, filter_called, seconds

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from controller.daemon.negative_lists import Life
    from controller.store.records import SheetRecord
    from controller.store.said_of_sheets import Picked
    from controller.store.sessions import SheetLine, Thread
    from webui.pictures import Picture

IN_A_ROW: Final = 20
"""Sheets that one page shows; the others are a tap away."""
_BASES: Final = frozenset({StepKind.BASE, StepKind.PART, StepKind.OPEN, StepKind.RUNNING})


@dataclass(frozen=True)
class Cell:
    """A sheet in the row."""

    id: str
    number: int
    kind: str
    thread: Markup
    seen: str
    """The address of its picture; empty where it is drawn."""
    drawn: Picture | None
    lights: tuple[str, ...]
    """Its times, a line each light; of a strip the span of its bands."""
    wet: tuple[str, ...]
    """How long it was developed and fixed, as far as that is known."""
    verdict: str
    """What was picked of it, or how it looked; that it is open or spoiled; empty where nothing was said."""
    origin: str
    """Where it comes from, where that is not in the row."""


@dataclass(frozen=True)
class Row:
    """The sheets of one page, the oldest first."""

    cells: tuple[Cell, ...]
    first: Markup
    """What runs over the cell of the proof."""
    earlier: int | None
    later: int | None


def row_of(life: Life) -> Row:
    """Return a page of a negative's life; the page may then fetch its pictures."""
    lines = life.sheets[::-1]
    records = [desk().record(line.id) for line in lines]
    threads = desk().threads(records)
    places = {record.id: place for place, record in enumerate(records, 1)}  # the proof is at 0
    pieces = thread_cells(_runs(records, threads, places), len(records) + 1)
    bases = {record.id: _bases(record) for record in records}
    longest = max((ms for lights in bases.values() for ms in lights.values()), default=0)
    cells = [
        _cell(line, record, piece, _origin(threads.get(record.id), places), bases[record.id], longest)
        for line, record, piece in zip(lines, records, pieces[1:], strict=True)
    ]
    return Row(tuple(cells), pieces[0], life.earlier, life.later)


def _runs(records: Sequence[SheetRecord], threads: Mapping[str, Thread], places: Mapping[str, int]) -> list[Run]:
    """Return the threads that end in the row; one that begins before it comes in from its edge."""
    by_id = {record.id: record for record in records}
    found = []
    for record in records:
        thread = threads.get(record.id)
        if thread is None or thread.before is None:
            continue
        before = by_id.get(thread.before.id)
        pick = _last_pick(before) if before is not None else None
        bands = len(before.plan.strip.totals_ms) if before is not None and before.plan.strip is not None else 0
        found.append(run_of(places.get(thread.before.id, -1), places[record.id], pick, bands))
    return found


def _origin(thread: Thread | None, places: Mapping[str, int]) -> str:
    if thread is None or thread.before is None or thread.before.id in places:
        return ""
    return say("negatives.row-from", number=thread.before.number)


def _cell(
    line: SheetLine, record: SheetRecord, thread: Markup, origin: str, bases: Mapping[str, int], longest_ms: int
) -> Cell:
    seen, strip, pick = seen_of(record.id, line.photograph), record.plan.strip, _last_pick(record)
    drawn = None
    if not seen:
        ident = f"row-{record.number}"
        drawn = small_print(bases, longest_ms, ident=ident) if strip is None else small_strip(strip, pick, ident=ident)
    return Cell(
        id=record.id,
        number=record.number,
        kind=line.kind,
        thread=thread,
        seen=seen,
        drawn=drawn,
        lights=_light_words(record, bases),
        wet=_wet_words(record),
        verdict=_verdict(record, pick),
        origin=origin,
    )


def _bases(record: SheetRecord) -> dict[str, int]:
    """Return a print's base lights as they were given, in ms, by their filters in order."""
    lights: dict[str, int] = {}
    if record.plan.strip is None:
        for step in record.steps:
            if step.step.act in _BASES:
                lights[step.step.filter] = lights.get(step.step.filter, 0) + step.given_most_ms
    return lights


def _light_words(record: SheetRecord, bases: Mapping[str, int]) -> tuple[str, ...]:
    strip = record.plan.strip
    if strip is None:
        return tuple(
            say("negatives.row-light", filter=filter_called(name), seconds=seconds(ms)) for name, ms in bases.items()
        )
    least, most = (seconds(ms) for ms in (min(strip.totals_ms), max(strip.totals_ms)))
    key = "negatives.row-burn" if strip.kind == "burn" else "negatives.row-bands"
    bands = say(key, least=least, most=most, filter=filter_called(strip.filter))
    under: dict[str, int] = {}
    for step in record.plan.steps:
        if step.act in (StepKind.UNDER, StepKind.AFTER):
            under[step.filter] = under.get(step.filter, 0) + step.planned_ms
    over = (say("negatives.row-over", filter=filter_called(name), seconds=seconds(ms)) for name, ms in under.items())
    return (bands, *over)


def _wet_words(record: SheetRecord) -> tuple[str, ...]:
    developed, fixed = record.lay_ms("developer"), record.lay_ms(*FIXES)
    return (
        *((say("trays.row-developed", developed=clock(developed)),) if developed is not None else ()),
        *((say("trays.row-fixed", fixed=clock(fixed)),) if fixed is not None else ()),
    )


def _last_pick(record: SheetRecord | None) -> Picked | None:
    return record.picks[-1] if record is not None and record.picks else None


def _verdict(record: SheetRecord, pick: Picked | None) -> str:
    if record.outcome == "open":
        return say("page.outcome-open")
    if pick is not None:
        if pick.stops and record.plan.strip is not None and record.plan.strip.kind == "burn":
            return say("negatives.row-picked-burn", stops=pick.stops)
        return say("negatives.row-picked", seconds=f"{pick.seconds:.1f}")
    if record.reference:
        return say("negatives.row-reference")
    if record.looked:
        said = record.looked[-1]
        if not said.light and not said.dark:
            return look_words(0)
        return say("page.looked-said", light=look_words(said.light), dark=look_words(said.dark)).rstrip(".")
    return say("page.outcome-spoiled") if record.outcome == "spoiled" else ""
