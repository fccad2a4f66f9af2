"""What a printer read off a step tablet's print: densities by exposure, from a densitometer, a scan or the eye.

The table is `paper,soft_seconds,hard_seconds,step,tablet_density,print_density`, on the page as in a CSV file.
A tablet density cuts the light to 10^−density; steps are numbered from the clearest.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from typing import Annotated, Final, Literal

from pydantic import Field, model_validator

from controller.errors import Unreadable
from controller.files import bare_cell, words_of_cell
from controller.model import Frozen
from controller.paper.tones import Density, LightSeconds, PrintDensity, shown
from controller.recipe.fields import LARGEST_BYTES
from controller.words import say

COLUMNS: Final = ("paper", "soft_seconds", "hard_seconds", "step", "tablet_density", "print_density")
LOWEST_READ: Final = -0.05
"""A densitometer set to zero on paper white may read a little under it; anything less is a slip."""
HIGHEST_READ: Final = 4.0
MOST_STEPS: Final = 99
MOST_EXPOSURES: Final = 12
"""So that a kept paper, with all its readings, stays smaller than any file may be."""
_NUMBER: Final = re.compile(r"[+\-−]?[0-9]{1,6}(?:\.[0-9]{0,12})?|[+\-−]?\.[0-9]{1,12}")

How = Literal["densitometer", "scan", "eye"]
NOISE_DENSITY: Final[dict[How, float]] = {"densitometer": 0.02, "scan": 0.03, "eye": 0.05}
"""What one reading is usually off by (standard deviation; common practice), where nothing better is known."""


class Tablet(Frozen):
    """A step tablet: `steps` steps, the first of density `first`, each `spacing` denser than the one before.

    Unless told, the usual one of 21 steps of 0.15 from 0.05 (a maker's list).
    """

    steps: int = Field(default=21, ge=2, le=MOST_STEPS)
    first: Density = 0.05
    spacing: float = Field(default=0.15, gt=0.0, le=1.0)

    def density(self, step: float) -> float:
        """Return the density of a step; a fraction lies between two."""
        return round(self.first + (step - 1) * self.spacing, 6)


class Reading(Frozen):
    """One step: what was in the light, and what the print shows."""

    step: int = Field(ge=1, le=MOST_STEPS)
    tablet_density: Density
    print_density: PrintDensity
    noise_density: float | None = Field(default=None, gt=0.0, le=1.0)
    """Where this reading is surer or less sure than the rest of its exposure."""

    @property
    def cells(self) -> tuple[str, str, str]:
        """Step, tablet density and print density, as a table has them."""
        return str(self.step), plain(self.tablet_density), plain(self.print_density)


class Exposure(Frozen):
    """One print of the tablet: its seconds through soft and hard, and what was read.

    A print through one other filter says its name; its seconds then stand under soft.
    """

    soft_seconds: LightSeconds
    hard_seconds: LightSeconds
    filter: str = Field(default="", max_length=12)
    how: How = "densitometer"
    noise_density: float = Field(default=NOISE_DENSITY["densitometer"], gt=0.0, le=1.0)
    readings: Annotated[tuple[Reading, ...], Field(min_length=2, max_length=MOST_STEPS)]

    @model_validator(mode="after")
    def _has_light(self) -> Exposure:
        if self.soft_seconds + self.hard_seconds <= 0.0:
            raise ValueError("an exposure needs seconds through soft, through hard, or both")
        if len({reading.step for reading in self.readings}) < len(self.readings):
            raise ValueError("a step stands twice in one exposure")
        return self

    @property
    def lightest_first(self) -> tuple[Reading, ...]:
        """The readings from the densest step of the tablet to the clearest: print density goes up."""
        return tuple(sorted(self.readings, key=lambda reading: -reading.tablet_density))


class Readings(Frozen):
    """All exposures of one paper that belong together: one box, one set-up of the enlarger."""

    paper: str = Field(min_length=1, max_length=80)
    exposures: Annotated[tuple[Exposure, ...], Field(min_length=1, max_length=MOST_EXPOSURES)]


def read_csv(text: str | bytes, name: str) -> tuple[Readings, ...]:
    """Return the readings that a CSV file holds, one `Readings` a paper in the order of the file.

    Raises:
        Unreadable: one sentence with the file, the line, the column and the remedy.
    """
    return read_rows(csv_rows(text, name, COLUMNS), name)


def csv_rows(text: str | bytes, name: str, columns: tuple[str, ...]) -> list[tuple[int, dict[str, str]]]:
    """Return the rows of a CSV file by column, each with its line's number, as `read_rows` takes them.

    Raises:
        Unreadable: it is no such table; the sentence says what its first line must be.
    """
    data = text.encode() if isinstance(text, str) else text
    if len(data) > LARGEST_BYTES:
        raise Unreadable(say("paper.file-too-large", file=name, most=LARGEST_BYTES // 1024))
    try:
        lines = list(csv.reader(io.StringIO(data.decode("utf-8-sig")), strict=True))
    except UnicodeError:
        raise Unreadable(say("paper.file-not-text", file=name)) from None
    except csv.Error:
        raise Unreadable(say("paper.csv-broken", file=name)) from None
    numbered = [(number, line) for number, line in enumerate(lines, 1) if any(cell.strip() for cell in line)]
    if not numbered:
        raise Unreadable(say("paper.csv-empty", file=name, columns=",".join(columns)))
    header = [cell.strip() for cell in numbered[0][1]]
    _check_header(header, name, columns)
    rows: list[tuple[int, dict[str, str]]] = []
    for number, line in numbered[1:]:
        if len(line) != len(header):
            raise Unreadable(say("paper.csv-width", file=name, line=number, found=len(line), wanted=len(header)))
        rows.append((number, dict(zip(header, map(words_of_cell, line), strict=True))))
    return rows


def read_rows(rows: Iterable[tuple[int, Mapping[str, str]]], name: str) -> tuple[Readings, ...]:
    """Return the readings in rows of text by column, as a page's table or a file has them.

    `rows` are pairs of a row's number, for refusals, and its cells. A row without a print density is a step
    that was not read, and is passed over.

    Raises:
        Unreadable: one sentence with the table's name, the row, the column and the remedy.
    """
    papers: dict[str, dict[tuple[float, float], dict[int, Reading]]] = {}
    for number, row in rows:
        place = {"file": name, "line": number}
        if not row["print_density"].strip():
            continue
        paper = paper_name(row, place)
        soft = amount(row, "soft_seconds", 0.0, 3600.0, place)
        hard = amount(row, "hard_seconds", 0.0, 3600.0, place)
        if soft + hard <= 0.0:
            raise Unreadable(say("paper.csv-no-light", **place))
        reading = read_step(row, place)
        steps = papers.setdefault(paper, {}).setdefault((soft, hard), {})
        if reading.step in steps:
            raise Unreadable(
                say("paper.csv-step-twice", **place, step=reading.step, soft=f"{soft:g}", hard=f"{hard:g}")
            )
        steps[reading.step] = reading
    if not papers:
        raise Unreadable(say("paper.csv-empty", file=name, columns=",".join(COLUMNS)))
    return tuple(_readings(paper, exposures, name) for paper, exposures in papers.items())


def paper_name(row: Mapping[str, str], place: Mapping[str, object]) -> str:
    """Return a row's paper; `place` is its file and line, for the refusal.

    Raises:
        Unreadable: it is empty or too long.
    """
    paper = row["paper"].strip()
    if not 1 <= len(paper) <= 80 or not paper.isprintable():
        raise Unreadable(say("paper.csv-paper", **place))
    return paper


def read_step(row: Mapping[str, str], place: Mapping[str, object]) -> Reading:
    """Return a row's step, tablet density and print density; `place` is its file and line, for the refusal.

    Raises:
        Unreadable: names the column, what stands there, and the remedy.
    """
    step = amount(row, "step", 1.0, float(MOST_STEPS), place)
    if step != int(step):
        raise Unreadable(say("paper.csv-step", **place, found=shown(row["step"])))
    return Reading(
        step=int(step),
        tablet_density=amount(row, "tablet_density", 0.0, 6.0, place),
        print_density=amount(row, "print_density", LOWEST_READ, HIGHEST_READ, place),
    )


def write_csv(papers: Iterable[Readings]) -> str:
    """Return the CSV file of readings; `read_csv` reads the same figures from it."""
    return csv_text(
        COLUMNS,
        (
            (each.paper, plain(exposure.soft_seconds), plain(exposure.hard_seconds), *reading.cells)
            for each in papers
            for exposure in each.exposures
            for reading in exposure.readings
        ),
    )


def csv_text(columns: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Return rows of cells as the text of a CSV file, under a first line of its columns."""
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(columns)
    out.writerows([bare_cell(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return text.getvalue()


def plain(value: float) -> str:
    """Return a figure as a table has it: with a point, without needless noughts."""
    return f"{value:.12f}".rstrip("0").rstrip(".") or "0"


def _readings(paper: str, exposures: Mapping[tuple[float, float], Mapping[int, Reading]], name: str) -> Readings:
    for (soft, hard), steps in exposures.items():
        if len(steps) < 2:
            raise Unreadable(say("paper.csv-one-step", file=name, soft=f"{soft:g}", hard=f"{hard:g}"))
    if len(exposures) > MOST_EXPOSURES:
        raise Unreadable(say("paper.csv-too-many", file=name, most=MOST_EXPOSURES))
    return Readings(
        paper=paper,
        exposures=tuple(
            Exposure(soft_seconds=soft, hard_seconds=hard, readings=tuple(steps.values()))
            for (soft, hard), steps in exposures.items()
        ),
    )


def _check_header(header: list[str], name: str, columns: tuple[str, ...]) -> None:
    if len(header) == 1 and (";" in header[0] or "\t" in header[0]):
        raise Unreadable(say("paper.csv-commas", file=name))
    for column in header:
        if column not in columns:
            raise Unreadable(say("paper.csv-column", file=name, found=shown(column), columns=",".join(columns)))
    for column in columns:
        if header.count(column) > 1:
            raise Unreadable(say("paper.csv-column-twice", file=name, column=column))
        if column not in header:
            raise Unreadable(say("paper.csv-column-missing", file=name, column=column))


def amount(row: Mapping[str, str], column: str, least: float, most: float, place: Mapping[str, object]) -> float:
    """Return the number in a column.

    Raises:
        Unreadable: it is none, or outside its limits.
    """
    text = row[column].strip()
    if not _NUMBER.fullmatch(text):
        raise Unreadable(say("paper.csv-number", **place, column=column, found=shown(text)))
    value = float(text.replace("−", "-"))
    if not least <= value <= most:
        limits = {"least": f"{least:g}", "most": f"{most:g}"}
        raise Unreadable(say("paper.csv-range", **place, column=column, found=shown(text), **limits))
    return value


def shown_seconds(exposure: Exposure) -> str:
    """Return an exposure's light as it is said: "80.0 s soft", "40.4 s soft + 32.0 s hard", "10.0 s through 2"."""
    if exposure.filter:
        return light_through(exposure.filter, exposure.soft_seconds + exposure.hard_seconds)
    parts = []
    if exposure.soft_seconds:
        parts.append(say("paper.soft-light", seconds=f"{exposure.soft_seconds:.1f}"))
    if exposure.hard_seconds:
        parts.append(say("paper.hard-light", seconds=f"{exposure.hard_seconds:.1f}"))
    return " + ".join(parts)


def light_through(filter_name: str, seconds: float) -> str:
    """Return the light through one filter as it is said: "10.0 s through 2"."""
    return say("paper.filter-light", seconds=f"{seconds:.1f}", filter=filter_name)
