"""A request's head, before waitress reads it: nothing that anybody sends holds up who waits behind it."""

from __future__ import annotations

import re
import time

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from tools.stand_in_desk import StandInDesk
from waitress.adjustments import Adjustments

from webui.app import create_app
from webui.bodies import Reader, reader_for
from webui.frame.heads import LONGEST, LONGEST_AS_SENT, LONGEST_OF_STRANGERS, plain_head

HOST = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"
LONG = 30_000
SLOW = {
    "blanks before": HOST + b"A:" + b" " * LONG + b"\x01",
    "blanks within": HOST + b"A: x" + b"\t " * (LONG // 2) + b"\x01",
    "blanks behind": HOST + b"A: x\x01" + b" " * LONG,
    "blanks in folds": HOST + b"A:" + b"\r\n \r\n\t" * (LONG // 6) + b"\x01",
    "blanks in a cookie": HOST + b"Cookie: a" + b" " * LONG + b"\x01",
    "words": HOST + b"A: " + b"a " * (LONG // 2) + b"\x01",
    "many lines": HOST + b"A: b\r\n" * (LONG // 6),
    "many names": HOST + b"".join(b"A%d: \r\n" % number for number in range(LONG // 9)),
    "digits in the first line": b"GET a://" + b"1" * LONG + b" x\r\nHost: a",
    "letters in the first line": b"GET a://" + b"a" * LONG + b" HTTP/11\r\nHost: a",
    "a port in the first line": b"GET a://b:" + b"1" * LONG + b" HTTP/1.1\r\nHost: a",
    "no method": b"A" * LONG + b"\x01 / HTTP/1.1\r\nHost: a",
    "cookies of our name": HOST + b"Cookie: " + b"treadle-a=b; " * (LONG // 13),
    "a cookie of our name": HOST + b"Cookie: " + b" treadle-" * (LONG // 9) + b"a=" + b"b" * LONG,
    "quotes": HOST + b'Cookie: "' + b'\\"' * (LONG // 2),
}


def _reader() -> Reader:
    return reader_for(create_app(StandInDesk(), hosts=["127.0.0.1"]), list)(
        Adjustments(max_request_header_size=LONGEST_AS_SENT)
    )


@pytest.mark.parametrize("head", SLOW.values(), ids=SLOW)
def test_no_head_takes_long_to_read(head: bytes) -> None:
    """Thirty kilobytes from anybody are read, or refused, in a moment: STOP may be the next one."""
    reader, begun = _reader(), time.thread_time()
    reader.received(head + b"\r\n\r\n")
    assert time.thread_time() - begun < 0.2
    assert reader.completed


@pytest.mark.parametrize(
    "line",
    [b"GET", b"GET  / HTTP/1.1", b"GET / x HTTP/1.1", b"GET / HTTP/1.10", b"GET / http/1.1", b" / HTTP/1.1", b"\t"],
)
def test_a_first_line_that_is_none_is_refused(line: bytes) -> None:
    """Three words, the last the protocol's."""
    with pytest.raises(ValueError, match="first line"):
        plain_head(line + b"\r\nHost: a\r\n\r\n")


@pytest.mark.parametrize(
    ("length", "code"), [(LONGEST_OF_STRANGERS - 100, None), (LONGEST_OF_STRANGERS, 431), (LONGEST, 431)]
)
def test_a_stranger_may_send_a_short_head(length: int, code: int | None) -> None:
    """Whoever is not paired needs no more; cookies of other services do not count."""
    reader = _reader()
    reader.received(HOST + b"Cookie: " + b"a=b; " * 10_000 + b"\r\nA: " + b"a" * length + b"\r\n\r\n")
    assert reader.completed
    assert (reader.error.code if reader.error else None) == code


def test_what_an_ordinary_browser_sends_stays_as_it_is() -> None:
    """But for cookies of others."""
    rest = b"Host: a:8090\r\nAccept: text/html, */*;q=0.8\r\nUser-Agent: A (B; C) D/1.0\r\nEmpty:\r\n\r\n"
    line = b"GET /choose?a=%20b HTTP/1.1\r\n"
    ours = b"treadle-0a1b2c3d=eyJ.x-_y; treadle-red-00000000=2"
    assert plain_head(line + rest) == line + rest
    assert plain_head(line + b"cookie: a=b; " + ours + b";c\r\n" + rest) == line + b"Cookie: " + ours + b"\r\n" + rest
    assert plain_head(line + b"Cookie: a=b\r\n" + rest) == line + rest


@given(st.binary(max_size=200), st.binary(max_size=200))
def test_a_head_in_order_stays_so(line: bytes, rest: bytes) -> None:
    """Whatever it was, once in order nothing is left to be done."""
    try:
        once = plain_head(line + b"\r\n" + rest)
    except ValueError:
        return
    assert plain_head(once) == once


@given(st.lists(st.sampled_from([b" ", b"\t", b"\r\n", b"a", b":", b"Cookie: ", b"treadle-a=b", b";", b"\x00"])))
def test_lines_of_any_kind_are_brought_into_order(parts: list[bytes]) -> None:
    """No two blanks are left beside each other, no line is folded, and no cookie is another's."""
    first, sent = b"GET / HTTP/1.1\r\n", b"".join(parts)
    assume(b"\r\n\r\n" not in sent)  # there a head ends
    once = plain_head(first + sent)
    assert not re.search(rb"  |\t", once)
    assert not re.search(rb"\r\n ", once.removeprefix(first))
    assert not re.search(rb"(?i)\r\ncookie: (?!treadle-a=b)", once)
