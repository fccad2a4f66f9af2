"""The evening's verdicts out of the journal's rows, and the offset that they teach a box of paper."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from tools.fitted_papers import demo

from controller.contrast.how_it_looked import DARK_WITHIN, LIGHT_WITHIN, TIMES_TOLERATED
from controller.daemon.evening import verdicts_of
from controller.easel import evening, offset
from controller.easel.evening import evening_offset
from controller.easel.spots import Measured
from controller.easel.two_tones import reckon
from controller.store.easel_rows import SpotsTaken
from controller.store.entries import Entry
from controller.store.rows import Row
from controller.store.said_of_sheets import Looked

NOW = datetime(2026, 3, 2, 22, 0, tzinfo=UTC)
SHEETS = {"s1": ("r", 1), "s2": ("r", 1), "other": ("q", 1)}


def _row(number: int, entry: Entry, ago: timedelta = timedelta(hours=1)) -> Row:
    return Row.model_construct(number=number, wall=(NOW - ago).isoformat(), entry=entry, synchronised=True)


def _taken(box: str = "box of the tests") -> SpotsTaken:
    pair = reckon(demo(), [Measured("light", 1.25, 0.13), Measured("dark", 0.22, 1.93)]).pair
    return SpotsTaken(
        recipe="r",
        version=1,
        paper="p",
        box=box,
        light_density=1.25,
        dark_density=0.22,
        light_wanted=0.13,
        dark_wanted=1.93,
        soft_seconds=pair.soft_seconds,
        hard_seconds=pair.hard_seconds,
    )


def test_words_stand_for_the_same_sizes_everywhere() -> None:
    """What a look stands for is said in two rooms, and is one thing."""
    assert (evening.TIMES_TOLERATED, offset.LIGHT_WITHIN, offset.DARK_WITHIN) == (
        TIMES_TOLERATED,
        LIGHT_WITHIN,
        DARK_WITHIN,
    )


def test_a_print_that_is_too_light_teaches_more_density() -> None:
    """Both tones a little light: the spots were read too thin, by about what the words stand for on this curve."""
    rows = [_row(1, _taken()), _row(2, Looked(sheet="s1", light=-1, dark=-1))]
    found = evening_offset(demo(), verdicts_of(rows, SHEETS, NOW))
    assert 0.01 < found.density < 0.05
    assert found.spread == pytest.approx((1 / 0.05**2 + 1 / 0.03**2) ** -0.5)
    assert evening_offset(demo(), verdicts_of([_row(1, _taken())], SHEETS, NOW)).density == 0.0


def test_right_keeps_it_where_it_is() -> None:
    """A print that is right says 0, and makes that surer."""
    rows = [_row(1, _taken()), _row(2, Looked(sheet="s1", light=0, dark=0))]
    found = evening_offset(demo(), verdicts_of(rows, SHEETS, NOW))
    assert found.density == pytest.approx(0.0, abs=0.002)
    assert found.spread < 0.03


def test_said_again_the_last_word_counts() -> None:
    """One sheet is one verdict."""
    rows = [
        _row(1, _taken()),
        _row(2, Looked(sheet="s1", light=-3, dark=-3)),
        _row(3, Looked(sheet="s1", light=0, dark=0)),
    ]
    assert len(verdicts_of(rows, SHEETS, NOW)) == 1
    assert evening_offset(demo(), verdicts_of(rows, SHEETS, NOW)).density == pytest.approx(0.0, abs=0.002)


def test_another_evening_box_or_recipe_teaches_nothing() -> None:
    """Twelve hours later, on another box, or of a print that no spots were taken for: no offset."""
    look = Looked(sheet="s1", light=-2, dark=-2)
    old = timedelta(hours=13)
    assert verdicts_of([_row(1, _taken(), old), _row(2, look, old)], SHEETS, NOW) == ()
    rows = [_row(1, _taken()), _row(2, Looked(sheet="other", light=-2, dark=-2))]
    assert verdicts_of(rows, SHEETS, NOW) == ()
    rows = [_row(1, _taken("another box")), _row(2, look)]
    assert evening_offset(demo(), verdicts_of(rows, SHEETS, NOW)).density == 0.0
