"""Prints of the tablet through single filters: read from CSV, and made to stand in for soft and hard.

The table is `paper,filter,seconds,step,tablet_density,print_density`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from controller.errors import Unreadable
from controller.paper.readings import (
    MOST_EXPOSURES,
    Exposure,
    Reading,
    amount,
    csv_rows,
    csv_text,
    paper_name,
    plain,
    read_step,
)
from controller.words import say

FILTER_COLUMNS: Final = ("paper", "filter", "seconds", "step", "tablet_density", "print_density")
LONGEST_NAME: Final = 12
MIDDLE: Final = (0.25, 0.75)
"""Parts of the scale between which two filters are told apart: every print that has a curve reaches them."""


@dataclass(frozen=True)
class FilterReadings:
    """One paper's prints through single filters, each exposure under its filter's name."""

    paper: str
    exposures: tuple[Exposure, ...]


def is_filter_table(text: str) -> bool:
    """Tell from its first line whether a table is one of single filters."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return "filter" in {cell.strip() for cell in first.split(",")}


def read_filter_csv(text: str | bytes, name: str) -> FilterReadings:
    """Return the prints through single filters that a CSV file holds.

    Raises:
        Unreadable: one sentence with the file, the line, the column and the remedy.
    """
    papers: dict[str, None] = {}
    found: dict[str, tuple[float, dict[int, Reading]]] = {}
    for number, row in csv_rows(text, name, FILTER_COLUMNS):
        if not row["print_density"].strip():
            continue
        place = {"file": name, "line": number}
        papers[paper_name(row, place)] = None
        light = row["filter"].strip()
        if not 1 <= len(light) <= LONGEST_NAME or not light.isprintable():
            raise Unreadable(say("paper.filter-name", **place))
        seconds = amount(row, "seconds", 0.1, 3600.0, place)
        reading = read_step(row, place)
        given, steps = found.setdefault(light, (seconds, {}))
        if given != seconds:
            raise Unreadable(
                say("paper.filter-seconds-two", **place, filter=light, one=f"{given:g}", two=f"{seconds:g}")
            )
        if reading.step in steps:
            raise Unreadable(say("paper.filter-step-twice", **place, step=reading.step, filter=light))
        steps[reading.step] = reading
    return _checked(papers, found, name)


def write_filter_csv(paper: str, filters: Sequence[Exposure]) -> str:
    """Return the CSV file of prints through single filters; `read_filter_csv` reads the same figures from it."""
    return csv_text(
        FILTER_COLUMNS,
        (
            (paper, each.filter, plain(each.soft_seconds + each.hard_seconds), *reading.cells)
            for each in filters
            for reading in each.readings
        ),
    )


def standing_in(filters: Sequence[Exposure]) -> tuple[Exposure, ...]:
    """Return the softest filter's print as the soft one and the hardest one's as the hard one.

    So a paper is fitted that was read through single filters only; of one filter there is a soft print alone.

    Raises:
        Impossible: a print has too few readings for a curve, or none that differ.
    """
    from controller.paper.curve import draw  # loads numpy: only when used

    lines = [draw(each).line for each in filters]
    ends = [[line.dmin + share * (line.dmax - line.dmin) for share in MIDDLE] for line in lines]
    ranges = [line.tablet(light) - line.tablet(dark) for line, (light, dark) in zip(lines, ends, strict=True)]
    softest = max(range(len(filters)), key=ranges.__getitem__)
    hardest = min(range(len(filters)), key=ranges.__getitem__)
    soft = filters[softest]
    if softest == hardest:
        return (soft,)
    hard = filters[hardest]
    return soft, hard.model_copy(update={"soft_seconds": 0.0, "hard_seconds": hard.soft_seconds})


def _checked(papers: dict[str, None], found: dict[str, tuple[float, dict[int, Reading]]], name: str) -> FilterReadings:
    if not found:
        raise Unreadable(say("paper.csv-empty", file=name, columns=",".join(FILTER_COLUMNS)))
    if len(papers) > 1:
        raise Unreadable(say("paper.csv-papers", file=name, papers=", ".join(papers)))
    if len(found) > MOST_EXPOSURES:
        raise Unreadable(say("paper.csv-too-many", file=name, most=MOST_EXPOSURES))
    for light, (_, steps) in found.items():
        if len(steps) < 2:
            raise Unreadable(say("paper.filter-one-step", file=name, filter=light))
    exposures = tuple(
        Exposure(soft_seconds=seconds, hard_seconds=0.0, filter=light, readings=tuple(steps.values()))
        for light, (seconds, steps) in found.items()
    )
    return FilterReadings(next(iter(papers)), exposures)
