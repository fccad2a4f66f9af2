"""A negative's row: small drawings of its strips and prints, and the threads between them, drawn cell by cell.

A row scrolls sideways and its cells are as wide as the reader's letters: so a thread is drawn in pieces, one in each
cell that it runs through, all at the same heights.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from markupsafe import Markup

from controller.words import say
from webui.pictures.drawing import Drawing, Face, Picture, width_of
from webui.pictures.strip import band_words, expected_density
from webui.wording import filter_called, seconds

if TYPE_CHECKING:
    from controller.recipe.plan import StripPlan
    from controller.store.said_of_sheets import Picked

CELL: Final = 144.0
"""Units across a cell of the row."""
MARGIN: Final = 6.0
"""Of it to either side of the picture."""
WIDE: Final = CELL - 2 * MARGIN
HIGH: Final = 96.0
COMES: Final = 0.2
"""Where a thread comes down to a picture, as a share of its width; from a print it goes off on the other side."""
GOES: Final = 0.8
_LANE: Final = 8.0
_LANES: Final = 4
"""Threads above each other before they share a lane."""
_TOP: Final = 5.0
_DROP: Final = 12.0


@dataclass(frozen=True)
class Run:
    """A thread: from the cell of that place, counted from 0, to a later one; −1 comes from before the row."""

    start: int
    end: int
    leaves: float = GOES
    """Where it leaves its first picture, as a share of that picture's width."""


def run_of(start: int, end: int, pick: Picked | None, bands: int) -> Run:
    """Return the thread from a sheet to one that follows it; from a strip it leaves the band that was picked."""
    if pick is None or not bands:
        return Run(start, end)
    return Run(start, end, (pick.band - (0 if pick.between else 0.5)) / bands)


def thread_cells(runs: Iterable[Run], cells: int) -> tuple[Markup, ...]:
    """Return the pieces of the threads above each of so many cells; empty ones where there is no thread at all."""
    laid = list(_in_lanes(runs))
    if not laid:
        return (Markup(),) * cells
    # the first lane lies lowest, next to the pictures
    lanes = max(lane for lane, _ in laid)
    placed = [(_TOP + _LANE * (lanes - lane), run) for lane, run in laid]
    return tuple(_cell(cell, placed, _TOP + _LANE * lanes + _DROP) for cell in range(cells))


def _in_lanes(runs: Iterable[Run]) -> Iterable[tuple[int, Run]]:
    """Give each thread the lowest lane that is free all its way."""
    taken: list[int] = []
    for run in sorted(runs, key=lambda run: (run.start, run.end)):
        lane = next((lane for lane, until in enumerate(taken) if until <= run.start), len(taken))
        taken[lane : lane + 1] = [run.end]
        yield lane % _LANES, run


def _cell(cell: int, placed: Sequence[tuple[float, Run]], high: float) -> Markup:
    lines, knots = [], []
    for y, run in placed:
        if run.start == cell:
            x = MARGIN + WIDE * run.leaves
            bend = min(6.0, CELL - x)
            lines.append(f"M{x:.1f} {high:g}V{y + 6:g}Q{x:.1f} {y:g} {x + bend:.1f} {y:g}H{CELL:g}")
        elif run.start < cell < run.end:
            lines.append(f"M0 {y:g}H{CELL:g}")
        elif run.end == cell:
            x = MARGIN + WIDE * COMES
            lines.append(f"M0 {y:g}H{x - 6:.1f}Q{x:.1f} {y:g} {x:.1f} {y + 6:g}V{high - 4:g}")
            knots.append(f"M{x - 4:.1f} {high - 4:g}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z")
    return Markup(
        '<svg class="thread" viewBox="0 0 {:g} {:g}" aria-hidden="true"><path d="{}"/><path class="knot" d="{}"/></svg>'
    ).format(CELL, high, "".join(lines), "".join(knots))


def small_strip(strip: StripPlan, pick: Picked | None, *, ident: str) -> Picture:
    """Draw a strip's bands in their expected greys, with their times where there is room, and the picked one marked."""
    drawing = Drawing(ident, Face.DAY, width=WIDE)
    count = len(strip.totals_ms)
    wide = WIDE / count
    for band in range(1, count + 1):
        left, density, word = (band - 1) * wide, expected_density(strip, band), band_words(strip, band)
        drawing.rect(left, 0, wide, HIGH, fill=drawing.face.grey(density))
        if wide >= 13 and width_of(word, 12, bold=True) <= HIGH - 8:
            fill = drawing.face.on_grey(density)
            drawing.text(left + wide / 2, HIGH / 2, word, size=12, bold=True, fill=fill, upright=True)
    drawing.rect(0.6, 0.6, WIDE - 1.2, HIGH - 1.2, stroke=drawing.face.ink, thick=1.2)
    if pick is not None and pick.between:
        drawing.line(pick.band * wide, 0, pick.band * wide, HIGH, thick=3.5)
    elif pick is not None and pick.band <= count:
        drawing.rect((pick.band - 1) * wide + 1.75, 1.75, wide - 3.5, HIGH - 3.5, stroke=drawing.face.ink, thick=3.5)
    return drawing.finish(HIGH, say("negatives.row-strip-drawn"))


def small_print(lights: Mapping[str, int], longest_ms: int, *, ident: str) -> Picture:
    """Draw a print as a sheet with a bar for each of its lights, in ms, as long as it is of the row's longest."""
    drawing = Drawing(ident, Face.DAY, width=WIDE)
    ink = drawing.face.ink
    drawing.rect(0.6, 0.6, WIDE - 1.2, HIGH - 1.2, fill="#fff", stroke=ink, thick=1.2)
    each = (HIGH - 16) / max(2, len(lights))
    for place, (name, ms) in enumerate(lights.items()):
        top = 8 + place * each
        drawing.text(8, top + 11, filter_called(name), size=11)
        wide = max(2.0, (WIDE - 16) * min(1.0, ms / max(1, longest_ms)))
        drawing.rect(8, top + 16, wide, each - 20, fill=drawing.texture(name), stroke=ink)
    words = ", ".join(
        say("negatives.row-light", filter=filter_called(name), seconds=seconds(ms)) for name, ms in lights.items()
    )
    return drawing.finish(HIGH, words)
