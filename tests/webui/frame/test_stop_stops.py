"""STOP stops: whatever else a browser sends along, and whatever else of the page fails."""

from __future__ import annotations

import logging
import re
import socket
import time
from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tools.owner import LIT, OWN, Owner, light, lit_desk
from tools.phone import ORIGIN, Paired
from tools.stand_in_desk import StandInDesk, next_step

from webui.app import create_app
from webui.bodies import LARGE_AT
from webui.frame import guard, refusals
from webui.frame.device import cookie_name
from webui.server import Server


@pytest.fixture
def desk() -> StandInDesk:
    return lit_desk()


@pytest.fixture
def server(desk: StandInDesk) -> Iterator[Server]:
    made = Server(create_app(desk, hosts=[OWN, "localhost"]), OWN, 0)
    made.start()
    yield made
    made.close()


@pytest.fixture
def owner(server: Server) -> Owner:
    return Owner(server)


OTHERS = [
    b"a=caf\xe9",
    b"\xff\xfe=\x80",
    b"a=\xc3",
    b"=",
    b";;;",
    b'a="',
    b'a="\\',
    b"a" * 9000,
    b"\xe9",
    b"treadle-00000000=x.y",
    b"a=%ff%00; b",
    b"a=\x01b\x7f\x00\x1b[2J",
    b"a=" + b" " * 8000 + b"\x01",
    b"a=b\r\n  c\r\n\tCookie: d",
    b"; ".join(b"c%d=" % number + b"x" * 4000 for number in range(14)),
    b" treadle-red-00000000=9, treadle-x=" + b"y" * 5000,
]


@pytest.mark.parametrize("other", OTHERS)
def test_no_other_cookie_keeps_stop_from_stopping(owner: Owner, desk: StandInDesk, other: bytes) -> None:
    """With the lamp lit, STOP with a foreign or broken cookie before or after the phone's own makes dark."""
    for before, after in ((other + b"; ", b""), (b"", b"; " + other), (other + b";", b";" + other)):
        light(desk)
        assert owner.stop(before, after).startswith(b"HTTP/1.1 200")
        assert desk.status().lit is None


def test_a_forged_cookie_of_the_same_name_hides_nothing(owner: Owner, desk: StandInDesk) -> None:
    """Another service of that host name may set a cookie of this very name: the one that was signed here counts."""
    name = cookie_name(desk.key()).encode()
    for forged in (b"x", b"eyJhIjoxfQ.abc", b"\xe9", b""):
        assert owner.stop(name + b"=" + forged + b"; ").startswith(b"HTTP/1.1 200")
    assert desk.stops == 4


def test_a_page_is_seen_with_a_foreign_cookie(owner: Owner) -> None:
    """Not STOP alone: every page reads its own cookie, and lets others be."""
    told = owner.send(b"GET /", b"Cookie: a=caf\xe9; " + owner.cookie + b"\r\n")
    assert told.startswith(b"HTTP/1.1 200")


@pytest.mark.parametrize("address", sorted(LARGE_AT))
def test_a_large_body_with_a_foreign_cookie_is_answered(owner: Owner, address: str) -> None:
    """Where a body is judged at its header a cookie that cannot be read means a phone that is not paired."""
    head = f"POST {address} HTTP/1.1\r\nHost: {OWN}\r\nTransfer-Encoding: chunked\r\n".encode()
    with socket.create_connection((OWN, owner.port), timeout=10) as line:
        line.sendall(head + b"Cookie: a=caf\xe9\r\n\r\n1\r\na")
        assert line.recv(65536).startswith((b"HTTP/1.1 403", b"HTTP/1.0 403"))


@pytest.mark.parametrize("fault", ["host", "words", "looking", "token", "templates"])
def test_stop_stops_though_all_else_fails(
    app: Flask, phone: Paired, desk: StandInDesk, fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The stop is sent before anything else of the page could fail, and whatever does."""

    def fail(*_args: object, **_named: object) -> None:
        raise RuntimeError("broken on purpose")

    match fault:
        case "host":
            app.before_request_funcs[None].insert(0, fail)
        case "words":
            monkeypatch.setattr(guard, "say", fail)
        case "looking":
            monkeypatch.setattr(desk, "status", fail)
        case "token":
            monkeypatch.setattr(guard, "device", fail)
        case "templates":
            monkeypatch.setattr(refusals, "render_template", fail)
    stops = desk.stops
    phone.client.post("/stop", headers={"Origin": ORIGIN})
    assert desk.stops == stops + 1


@pytest.mark.parametrize(
    ("headers", "stops"),
    [
        ({"Origin": ORIGIN}, True),
        ({"Sec-Fetch-Site": "same-origin"}, True),
        ({}, False),
        ({"Sec-Fetch-Site": "cross-site"}, False),
        ({"Origin": "http://["}, False),
        ({"Origin": "http://[::1"}, False),
        ({"Origin": "null"}, False),
        ({"Origin": "http://evil.example"}, False),
        ({"Origin": "http://evil.example", "Host": "evil.example"}, False),
        ({"Origin": "http://localhost:80", "Host": "localhost"}, False),
        ({"Origin": ORIGIN, "Host": "localhost:80"}, True),
        ({"Origin": ORIGIN, "Host": "localhost:x"}, False),
    ],
)
def test_stop_asks_for_its_own_page(phone: Paired, desk: StandInDesk, headers: dict[str, str], stops: bool) -> None:
    """Our own page at our own name may stop; whatever cannot be read as that is refused with a sentence."""
    answer = phone.client.post("/stop", headers={"Accept": "application/json", **headers})
    assert (answer.status_code == 200) is stops, answer.text
    assert desk.stops == int(stops)
    if not stops:
        assert answer.status_code in {400, 403}
        assert answer.get_json()["refusal"]


@pytest.mark.parametrize("origin", ["http://[", "http://[::1", "//[", "http://]"])
def test_an_origin_that_is_none_is_refused(stranger: FlaskClient, origin: str) -> None:
    """An Origin that cannot be taken apart is not ours: a refusal, and no mistake of the program's."""
    assert stranger.post("/pair", data={"code": "1"}, headers={"Origin": origin}).status_code == 403


def test_a_stranger_stops_nothing(stranger: FlaskClient, desk: StandInDesk) -> None:
    """With no cookie, or with one that was not signed here, nothing is stopped, however good the rest looks."""
    for cookie in ("", f"{cookie_name(desk.key())}=eyJtYXJrIjoiYSIsIm5hbWUiOiJiIn0.AAAA"):
        answer = stranger.post("/stop", headers={"Origin": ORIGIN, "Cookie": cookie})
        assert answer.status_code == 403
    assert desk.stops == 0


def test_stop_answers_a_script_and_a_form(phone: Paired, desk: StandInDesk) -> None:
    """A script is told {"stopped": true}; a form is led back to the first page; neither answer is kept or framed."""
    script = phone.client.post("/stop", headers={"Origin": ORIGIN, "Accept": "application/json"})
    form = phone.client.post("/stop", headers={"Origin": ORIGIN, "Accept": "text/html,*/*;q=0.8"})
    assert (script.status_code, script.get_json()) == (200, {"stopped": True})
    assert (form.status_code, form.headers["Location"]) == (303, "/")
    for answer in (script, form):
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert desk.stops == 2


# ---- what a stranger is told, and what he leaves in the log


def test_a_stranger_is_told_nothing_of_lamp_and_sheets(owner: Owner, desk: StandInDesk) -> None:
    """Lit or dark, sheet or none: what an unpaired phone is sent is the same to the byte."""
    asked = [b"GET /pair", b"GET /", b"GET /pair?code=12345678", b"POST /stop", b"GET /nowhere", b"HEAD /pair"]
    seen = []
    for lit in (LIT, None):
        desk.show(lit=lit, next=next_step() if lit else None, stop_possible=lit is not None)
        answers = [owner.send(what).partition(b"\r\n\r\n")[2] for what in asked]
        assert not re.search(rb"data-number|data-run|data-part|stop lit", b"".join(answers))
        seen.append(answers)
    assert seen[0] == seen[1]


def _lines(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [logging.Formatter("%(levelname)s %(name)s: %(message)s").format(each) for each in caplog.records]


def test_a_stranger_writes_nothing_of_his_own_into_the_log(
    owner: Owner, server: Server, caplog: pytest.LogCaptureFixture
) -> None:
    """Broken cookies, Origins, paths and half requests leave at most a line a second, and no line break."""
    caplog.set_level(logging.WARNING)
    begun = time.monotonic()
    odd = [
        b"GET /health HTTP/1.1\r\nHost: %s\r\nCookie: \xff\r\n\r\n",
        b"POST /pair HTTP/1.1\r\nHost: %s\r\nOrigin: http://[\r\n\r\n",
        b"POST /x%%0aERROR%%20root:%%20lit HTTP/1.1\r\nHost: %s\r\nOrigin: http://[\r\nCookie: \xff\r\n\r\n",
        b"GET http://[ HTTP/1.1\r\nHost: %s\r\n\r\n",
        b"G\x00T / HTTP/1.1\r\nHost: %s\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: %s\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n\r\n",
    ]
    for turn in range(60):
        with socket.create_connection((OWN, server.port), timeout=10) as line:
            line.sendall(odd[turn % len(odd)] % OWN.encode())
            if turn % 3:
                line.recv(100)
    lines = _lines(caplog)
    assert len(lines) <= time.monotonic() - begun + 1, lines[:5]
    assert not any("\n" in each or "\r" in each for each in lines)


def test_what_fails_for_a_stranger_is_told_seldom(
    server: Server, desk: StandInDesk, caplog: pytest.LogCaptureFixture
) -> None:
    """Were there a way to make the server fail, a stranger could not fill the log by it."""
    desk.health = lambda: 1 // 0  # type: ignore[method-assign,assignment,return-value]
    begun = time.monotonic()
    for _ in range(50):
        with socket.create_connection((OWN, server.port), timeout=10) as line:
            line.sendall(f"GET /health HTTP/1.1\r\nHost: {OWN}\r\n\r\n".encode())
            assert line.recv(100) == b""
    lines = _lines(caplog)
    assert 1 <= len(lines) <= time.monotonic() - begun + 1
    assert "ZeroDivisionError" in lines[0]


def test_a_mistake_of_ours_is_told_once_a_minute(
    phone: Paired, desk: StandInDesk, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A page that fails again and again is in the log once, with its traceback, and its path in one line."""
    desk.recipes().kept = lambda kind: 1 // 0  # type: ignore[method-assign]
    for _ in range(20):
        assert phone.look("/choose?a=%0ab").status_code == 500
    told = [each for each in caplog.records if each.exc_info]
    assert len(told) == 1
    assert "'/choose'" in told[0].getMessage()
