"""A negative's row: threads in pieces that fit each other, and small drawings that can be read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.recipe.plan import StripPlan
from controller.store.said_of_sheets import Picked
from webui.pictures.life import CELL, HIGH, Run, run_of, small_print, small_strip, thread_cells


@dataclass(frozen=True)
class Piece:
    """What one cell shows of threads: heights at its left edge, at its right edge, and how many come down in it."""

    left: list[float]
    right: list[float]
    knots: int


def piece(svg: str) -> Piece:
    path, knot = re.findall(r' d="([^"]*)"', svg)
    lines = [line for line in re.split("(?=M)", path) if line]
    left = [float(line.removeprefix("M0 ").split("H")[0]) for line in lines if line.startswith("M0 ")]
    right = [
        float(line.removeprefix("M0 ").split("H")[0])
        if "V" not in line
        else float(re.findall(r"Q[\d.]+ ([\d.]+)", line)[0])
        for line in lines
        if line.endswith(f"H{CELL:g}")
    ]
    return Piece(sorted(left), sorted(right), knot.count("a4 4 0 1 0 8 0"))


@st.composite
def rows(draw: st.DrawFn) -> tuple[int, list[Run]]:
    """A row of cells: each but the first may follow one before it, or one before the row."""
    cells = draw(st.integers(2, 12))
    ends = [(draw(st.integers(-1, end - 1)), end) for end in range(1, cells) if draw(st.booleans())]
    return cells, [Run(start, end, draw(st.floats(0.02, 0.98))) for start, end in ends]


@settings(deadline=None)
@given(rows())
def test_the_pieces_of_a_thread_fit(row: tuple[int, list[Run]]) -> None:
    """What leaves a cell at its right enters the next at the same heights; one thread comes down for each that ends."""
    cells, runs = row
    drawn = thread_cells(runs, cells)
    assert len(drawn) == cells
    if not runs:
        assert set(map(str, drawn)) == {""}
        return
    pieces = [piece(str(each)) for each in drawn]
    for here, after in pairwise(pieces):
        assert here.right == after.left
    assert len(pieces[0].left) == sum(run.start == -1 for run in runs)
    assert pieces[-1].right == []
    assert [each.knots for each in pieces] == [sum(run.end == cell for run in runs) for cell in range(cells)]


def test_threads_side_by_side_lie_above_each_other() -> None:
    """Two prints of one strip hang on two lines; a print of a print goes on where the first line ended."""
    both = [piece(str(each)) for each in thread_cells([Run(1, 2), Run(1, 3), Run(2, 3)], 4)]
    assert len(set(both[1].right)) == 2
    chain = [piece(str(each)) for each in thread_cells([Run(0, 1), Run(1, 2)], 3)]
    assert chain[0].right == chain[1].right


def strip(bands: int, kind: str = "stops") -> StripPlan:
    totals = tuple(1000 * 2**band for band in range(bands))
    return StripPlan.model_validate(
        {"filter": "soft", "kind": kind, "card": "cover", "pace": "press", "totals_ms": totals, "pulses_ms": totals}
    )


@pytest.mark.parametrize("bands", [2, 7, 13, 24])
@pytest.mark.parametrize("between", [False, True])
def test_a_small_strip_can_be_read(bands: int, between: bool) -> None:
    """No two words touch, none runs over; the picked band is marked, and a thread leaves from its middle."""
    pick = Picked(sheet="s", band=2 if not between else 1, between=between, filter="soft", seconds=2.0)
    picture = small_strip(strip(bands), pick, ident="a")
    for number, one in enumerate(picture.texts):
        assert one.top >= 0
        assert one.bottom <= HIGH
        assert not any(one.touches(other) for other in picture.texts[number + 1 :])
    assert 'stroke-width="3.5"' in str(picture.svg)
    assert run_of(1, 2, pick, bands).leaves == pytest.approx((1 if between else 1.5) / bands)


@pytest.mark.parametrize("lights", [{}, {"2": 12_000}, {"soft": 10_100, "hard": 8_000}, dict.fromkeys("1234", 900_000)])
def test_a_small_print_has_a_bar_for_each_light(lights: dict[str, int]) -> None:
    """As many bars as lights, none longer than the sheet, no word on another."""
    picture = small_print(lights, 12_000, ident="a")
    assert str(picture.svg).count("url(#a-") == len(lights)
    for number, one in enumerate(picture.texts):
        assert one.bottom <= HIGH
        assert not any(one.touches(other) for other in picture.texts[number + 1 :])
