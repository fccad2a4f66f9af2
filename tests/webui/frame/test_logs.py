"""What the page's server writes down: seldom, and in one line."""

from __future__ import annotations

import logging

from webui.frame.logs import BETWEEN_S, KEPT, LONGEST, SAME_AGAIN_S, Seldom, SeldomFilter, one_line, place_of


def test_the_same_complaint_comes_once_a_minute_and_any_other_a_second_later() -> None:
    """However often something happens, the log has it once a minute, and no more than a line a second of all."""
    now = [100.0]
    seldom = Seldom(lambda: now[0])
    assert seldom.may("a")
    assert not seldom.may("b")
    now[0] += BETWEEN_S
    assert not seldom.may("a")
    assert seldom.may("b")
    now[0] += SAME_AGAIN_S
    assert seldom.may("a")
    told = 0
    for second in range(600):
        now[0] += 0.1
        told += sum(seldom.may((second, each)) for each in range(20))
    assert told <= 61


def test_what_is_known_of_complaints_is_bounded() -> None:
    """A crowd that complains in ever new words fills no memory."""
    now = [0.0]
    seldom = Seldom(lambda: now[0])
    for each in range(3 * KEPT):
        now[0] += BETWEEN_S
        assert seldom.may(each)
    assert len(seldom._told) == KEPT


def test_a_line_is_one_line() -> None:
    """Whatever a stranger has sent, nothing of it ends a line, steers a terminal or goes on for pages."""
    record = logging.LogRecord(
        "waitress", logging.ERROR, "x", 1, "at %s", ("/x\nERROR root: lit\r\x1b[2J\x85\u2028é",), None
    )
    assert SeldomFilter().filter(record)
    line = record.getMessage()
    assert line.isprintable()
    assert "é" in line
    assert "\\n" in line
    assert len(one_line("x" * 100_000)) < LONGEST + 10


def test_mistakes_are_told_apart_by_kind_and_place() -> None:
    """Two mistakes at one place are the same; at another, or of another kind, they are not."""

    def fail(number: int) -> tuple[object, ...]:
        try:
            if number == 1:
                raise ValueError
            raise KeyError(number) if number == 2 else ValueError(number)
        except (KeyError, ValueError) as problem:
            return place_of(problem)

    assert fail(3) == fail(4)
    assert len({fail(1), fail(2), fail(3)}) == 3
    assert place_of(None) == (type(None), None)
