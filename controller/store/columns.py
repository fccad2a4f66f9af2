"""The columns of a sheet's record: one table that the spreadsheet of an export and the record's page are made from."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeAlias

from controller.exposure.stops import round_ms, seconds_text
from controller.files import bare_cell
from controller.keeping import Keeps
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.plan import Flashed, StepKind
from controller.store import threads
from controller.store.entries import SHEET_ROWS
from controller.store.folding import fold
from controller.store.records import FIXES, SheetRecord, StepRecord, TonedRecord, TrayRecord
from controller.store.rows import Reader
from controller.trays.process import TrayName
from controller.words import say

Cell: TypeAlias = str | int | float
LONGEST_SLUG: Final = 40
BETWEEN: Final = " | "
"""Between a sheet's remarks in their one cell, and between its trays in theirs."""
LEAST_SAID_STOPS: Final = 0.05
"""A dose this close to its plan is as planned."""
SHEETS_FILE: Final = "sheets.csv"
SHEETS_FOLDER: Final = "sheets"


@dataclass(frozen=True)
class Column:
    """One column: its name in the spreadsheet, and where it comes from; a truth is written yes or no."""

    name: str
    take: Callable[[SheetRecord, StepRecord], Cell]
    of_step: bool = True
    """It tells of a step, and not of its sheet."""
    said: str = ""
    """Key of the catalogue with `{value}`, where the record's page says it under the step; empty: it does not."""
    written: bool = True
    """It stands in the spreadsheet."""


def _at(sheet: SheetRecord) -> AtEnlarger:
    return sheet.plan.bench or _NOTHING


def _figure(value: float | None) -> Cell:
    return "" if value is None else value


def waits_words(line: StepRecord) -> str:
    """Return in words what was waited in the dark before a step's light: "4 + 2 + 1 min, safelight"; mostly nothing."""
    minutes = " + ".join(f"{wait.ms / 60_000:g}" for wait in line.waits)
    return say(f"trials.waited-{line.step.waits[0].glow}", minutes=minutes) if line.waits and line.step.waits else ""


def dose_words(line: StepRecord) -> str:
    """Return in words what a light sensor says of a step's light against its plan; empty where none was looking."""
    stops = line.dose_stops
    if stops is None:
        return say("page.dose-not-watched") if any(part.dose is not None for part in line.parts) else ""
    if abs(stops) < LEAST_SAID_STOPS:
        return say("page.dose-as-planned")
    return say("page.dose-more" if stops > 0 else "page.dose-less", stops=f"{abs(stops):.2f}")


def band_total(sheet: SheetRecord, line: StepRecord) -> str:
    """Return what a strip's band has had of its own light once its exposures are added up, in seconds to 0.1 s.

    Of one long exposure that was given whole it is what each band has had. Empty where this exposure is all of it,
    and where how much one of them was is not known to 0.1 s. A card that uncovers lets each band have all that comes
    after its own.
    """
    strip = sheet.plan.strip
    if strip is not None and line.step.act is StepKind.LONG:
        whole = {round_ms(line.given_least_ms), round_ms(line.given_most_ms)} == {round_ms(line.step.planned_ms)}
        return " · ".join(seconds_text(ms) for ms in strip.totals_ms if ms) if whole else ""
    if strip is None or strip.card == "window" or line.step.act is not StepKind.BAND or not line.given_most_ms:
        return ""
    bands = [each for each in sheet.steps if each.step.act is StepKind.BAND]
    place = next(place for place, each in enumerate(bands) if each.step.number == line.step.number)
    lit = bands[: place + 1] if strip.card == "cover" else bands[place:] if sheet.closed else ()
    least, most = (
        round_ms(sum(ms)) for ms in ([each.given_least_ms for each in lit], [each.given_most_ms for each in lit])
    )
    return seconds_text(most) if len(lit) > 1 and least == most else ""


def _lay_s(sheet: SheetRecord, *trays: TrayName) -> Cell:
    lay_ms = sheet.lay_ms(*trays)
    return "" if lay_ms is None else lay_ms / 1000


def _developer(sheet: SheetRecord) -> TrayRecord | None:
    return next((each for each in sheet.trays if each.tray == "developer"), None)


def _appearance_s(sheet: SheetRecord) -> Cell:
    developer = _developer(sheet)
    return "" if developer is None or developer.appearance_ms is None else developer.appearance_ms / 1000


def trays_cell(sheet: SheetRecord) -> str:
    """Return a sheet's trays in their one cell, as "developer 10.0-100.0 s 20 °C bath b7 no. 12 | drain …".

    In and out in seconds after the close, by the process's clock; no out where nobody followed the print so far.
    """
    written, at_ms = [], 0
    for each in sheet.trays:
        out_ms = None if each.lay_ms is None else at_ms + each.lay_ms
        written.append(
            f"{each.tray} {at_ms / 1000:.1f}-{'' if out_ms is None else f'{out_ms / 1000:.1f}'} s"
            + (f" {each.celsius:g} °C" if each.celsius is not None else "")
            + (f" bath {each.bath} no. {each.prints}" if each.bath else "")
        )
        at_ms = at_ms if out_ms is None else out_ms
    return BETWEEN.join(written)


def toned_words(toning: TonedRecord) -> str:
    """Return a toning in words: toner, dilution, minutes, and what it did."""
    minutes = "" if toning.minutes is None else say("trays.toned-minutes", minutes=f"{toning.minutes:g}")
    head = ", ".join(filter(None, (toning.toner, toning.dilution, minutes)))
    return say("trays.toned-did", what=head, did=toning.did) if toning.did else head


_NOTHING: Final = AtEnlarger()
COLUMNS: Final = (
    Column("number", lambda sheet, _: sheet.number, of_step=False),
    Column("sheet", lambda sheet, _: sheet.id, of_step=False),
    Column("kind", lambda sheet, _: sheet.plan.kind, of_step=False),
    Column("title", lambda sheet, _: sheet.plan.title, of_step=False),
    Column("outcome", lambda sheet, _: sheet.outcome, of_step=False),
    Column("opened", lambda sheet, _: sheet.opened_wall, of_step=False),
    Column("clock_set", lambda sheet, _: sheet.opened.synchronised, of_step=False),
    Column("step", lambda _, line: line.step.number),
    Column("name", lambda _, line: line.step.name),
    Column("filter", lambda _, line: line.step.filter),
    Column("planned_seconds", lambda _, line: line.step.planned_ms / 1000),
    Column("given_least_seconds", lambda _, line: line.given_least_ms / 1000),
    Column("given_most_seconds", lambda _, line: line.given_most_ms / 1000),
    Column("lit_seconds", lambda _, line: line.lit_ms / 1000),
    Column("called_given", lambda _, line: line.called_given),
    Column("left_out", lambda _, line: line.left_out),
    Column("added", lambda _, line: line.added),
    Column("negative", lambda sheet, _: _at(sheet).negative_title, of_step=False),
    Column("paper", lambda sheet, _: _at(sheet).paper_title, of_step=False),
    Column("box", lambda sheet, _: _at(sheet).box, of_step=False),
    Column("head_height_mm", lambda sheet, _: _figure(_at(sheet).head_height_mm), of_step=False),
    Column("f_number", lambda sheet, _: _figure(_at(sheet).aperture), of_step=False),
    Column("enlarger", lambda sheet, _: _at(sheet).enlarger_title, of_step=False),
    Column("dose_stops", lambda _, line: _figure(None if line.dose_stops is None else round(line.dose_stops, 3))),
    Column("process", lambda sheet, _: sheet.trays[0].support if sheet.trays else "", of_step=False),
    Column("developer_seconds", lambda sheet, _: _lay_s(sheet, "developer"), of_step=False),
    Column("appearance_seconds", lambda sheet, _: _appearance_s(sheet), of_step=False),
    Column(
        "developer_celsius", lambda sheet, _: _figure(d.celsius if (d := _developer(sheet)) else None), of_step=False
    ),
    Column("fix_seconds", lambda sheet, _: _lay_s(sheet, *FIXES), of_step=False),
    Column("wash_seconds", lambda sheet, _: _lay_s(sheet, "wash"), of_step=False),
    Column("trays", lambda sheet, _: trays_cell(sheet), of_step=False),
    Column("toned", lambda sheet, _: BETWEEN.join(map(toned_words, sheet.tonings)), of_step=False),
    Column("remarks", lambda sheet, _: BETWEEN.join(sheet.remarks), of_step=False),
    Column("stops", lambda _, line: line.step.stops or "", said="page.record-stops", written=False),
    Column("band_total", band_total, said="page.record-band-total", written=False),
    Column("waits", lambda _, line: waits_words(line), said="page.record-waits", written=False),
    Column("dose", lambda _, line: dose_words(line), said="page.record-dose", written=False),
)


def said_of(sheet: SheetRecord, line: StepRecord) -> tuple[str, ...]:
    """Return what the record's page says under a step, a column each; nothing of a column that is empty there."""
    found = ((column.said, column.take(sheet, line)) for column in COLUMNS if column.said)
    return tuple(say(key, value=value) for key, value in found if value)


def write_sheets(reader: Reader, folder: Path) -> None:
    """Write a journal's sheets into an export's folder: a line a step in `sheets.csv`, a file a record in `sheets`.

    Sheet by sheet: a journal of any length takes the memory of one.
    """
    with (folder / SHEETS_FILE).open("w", encoding="utf-8", newline="") as out:
        table = csv.writer(out)
        columns = [column for column in COLUMNS if column.written]
        table.writerow([column.name for column in columns])
        for record in _records(reader):
            if record.plan.flashed is not None and record.steps:
                table.writerow([_cell(each) for each in _beforehand(record, record.plan.flashed)])
            table.writerows([_cell(column.take(record, line)) for column in columns] for line in record.steps)
            place = folder / SHEETS_FOLDER / f"{record.number:04}-{slug(record.id)}.{record.opened.row}.json"
            place.parent.mkdir(exist_ok=True)
            place.write_bytes(f"{record.model_dump_json(indent=1)}\n".encode())


def _beforehand(record: SheetRecord, flashed: Flashed) -> list[Cell]:
    """Return the line of a flash that the paper had before the sheet's own steps, so that a sum over lines has it."""
    seconds = flashed.planned_ms / 1000
    given = ("planned_seconds", "given_least_seconds", "given_most_seconds")
    told: dict[str, Cell] = {"step": 0, "name": say("recipe.name-flash"), "filter": flashed.filter}
    told |= dict.fromkeys(given, seconds) | {"lit_seconds": 0.0}
    return [
        told.get(column.name, "" if column.of_step else column.take(record, record.steps[0]))
        for column in COLUMNS
        if column.written
    ]


def slug(text: str) -> str:
    """Return a piece of a file's name that every file system takes."""
    return re.sub("[^0-9a-z]+", "-", text.lower())[:LONGEST_SLUG].strip("-") or "untitled"


def _records(reader: Reader) -> Iterator[SheetRecord]:
    for sheet in reader.sheets():
        yield from fold(reader.rows(sheet=sheet)) if sheet else ()


def _cell(value: Cell) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return bare_cell(value) if isinstance(value, str) else value


KEEPS: Final = Keeps(room="sheets", rows=SHEET_ROWS, write_out=write_sheets, derived=(threads.DERIVED,))
