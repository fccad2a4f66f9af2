"""Enlargers on the shelf: what was picked lately is looked up row by row, as if all rows were looked through."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.history import FakeWall

import controller.daemon.enlarger_shelf as enlarger_shelf
from controller.daemon.enlarger_shelf import EnlargerShelf
from controller.store.entries import Entry, FilterSaid
from controller.store.journal import Journal
from controller.store.said_of_sheets import Picked
from controller.store.shelf import Shelf
from hardware.clock import ManualClock


@pytest.fixture(autouse=True)
def _short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Few rows are looked back over, and few picks are of interest."""
    monkeypatch.setattr(enlarger_shelf, "PICKS_BACK", 7)
    monkeypatch.setattr(enlarger_shelf, "MOST_PICKS", 3)
    monkeypatch.setattr(enlarger_shelf, "MOST_LEVELS", 2)


def entry(number: int, *, picked: bool) -> Entry:
    if picked:
        sheet, level = f"s{number % 4}", number % 3 > 0  # a sheet is picked from again
        return Picked(sheet=sheet, band=1, filter="soft", seconds=1.0 + number, level=level)
    return FilterSaid(filter="soft")


@given(st.lists(st.tuples(st.lists(st.booleans(), max_size=6), st.booleans()), max_size=9))
def test_picks_are_those_of_the_last_rows(evening: list[tuple[list[bool], bool]]) -> None:
    """However the rows come in, and whenever it is asked: the last picks among the last rows, in order."""
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as journal, Shelf.in_memory() as shelf:
        enlargers, filed = EnlargerShelf(shelf, journal), list[Entry]()
        for picks, asked in evening:
            new = [entry(len(filed) + at, picked=picked) for at, picked in enumerate(picks)]
            if new:
                journal.append(*new)
            filed += new
            if asked:
                lately = [one for one in filed[-7:] if isinstance(one, Picked)][-3:]
                assert list(enlargers.picked()) == lately
                levels = [one.sheet for one in filed[-7:] if isinstance(one, Picked) and one.level]
                assert list(enlargers.levels_picked()) == list(dict.fromkeys(reversed(levels)))[:2]


def test_rows_that_were_looked_through_are_not_looked_through_again() -> None:
    """With nothing new no row is asked for, and with one new row that one alone."""
    with Journal.in_memory(ManualClock(), FakeWall().stamp()) as journal, Shelf.in_memory() as shelf:
        enlargers = EnlargerShelf(shelf, journal)
        journal.append(*(entry(number, picked=True) for number in range(5)))
        first = enlargers.picked()
        asked, real = list[int](), journal.rows
        journal.rows = lambda **more: (asked.append(more["after"]), real(**more))[1]  # type: ignore[method-assign]
        assert enlargers.picked() == first
        assert asked == []
        journal.append(entry(5, picked=False))
        assert enlargers.picked() == first
        assert asked == [5]
