"""STOP stops: whatever else a browser sends along, whatever else of the page fails, and whoever crowds the door."""

from __future__ import annotations

import http.client
import logging
import re
import socket
import time
from collections.abc import Iterator
from contextlib import closing

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tools.fake_desk import CODE, FakeDesk, next_step
from tools.phone import ORIGIN, Paired
from tools.strangers import strangers

from controller.foot.status import LitNow
from webui.app import create_app
from webui.bodies import LARGE_AT
from webui.frame import guard, refusals
from webui.frame.device import cookie_name
from webui.server import Server

OWN, OTHER = "127.0.0.1", "127.0.0.2"
LIT = LitNow(kind="step", on_ns=1, lit_ms=10100)
JSON = b"Accept: application/json\r\n"


class Owner:
    """A paired phone that writes its own bytes."""

    def __init__(self, server: Server) -> None:
        self.port = server.port
        told = self.send(
            b"POST /pair", b"Content-Type: application/x-www-form-urlencoded\r\n", b"code=" + CODE.encode()
        )
        found = re.search(rb"Set-Cookie: ([^;]+);", told, re.I)
        assert found, told[:300]
        self.cookie = found[1]

    def send(self, what: bytes, headers: bytes = b"", body: bytes = b"") -> bytes:
        """Send one request on a connection of its own; return all that comes back."""
        host = f"{OWN}:{self.port}".encode()
        head = b"%s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nConnection: close\r\n" % (what, host, host)
        with socket.create_connection((OWN, self.port), timeout=20) as line:
            line.sendall(head + headers + b"Content-Length: %d\r\n\r\n" % len(body) + body)
            told = b""
            while chunk := line.recv(65536):
                told += chunk
            return told

    def stop(self, before: bytes = b"", after: bytes = b"") -> bytes:
        """Press STOP, with other cookies before and after the phone's own."""
        return self.send(b"POST /stop", JSON + b"Cookie: " + before + self.cookie + after + b"\r\n")

    def press(self) -> bool:
        """Press STOP as the page's script does; tell whether it was carried out."""
        for _ in range(5):
            try:
                if b" 200 " in self.stop().partition(b"\r\n")[0]:
                    return True
            except OSError:
                pass
            time.sleep(0.15)
        return False


@pytest.fixture
def desk() -> FakeDesk:
    """A desk whose clock goes by itself, with the lamp lit."""
    made = FakeDesk()
    made.clock = time.monotonic_ns
    made.show(lit=LIT, next=next_step(), stop_possible=True)
    return made


@pytest.fixture
def server(desk: FakeDesk) -> Iterator[Server]:
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
]


@pytest.mark.parametrize("other", OTHERS)
def test_no_other_cookie_keeps_stop_from_stopping(owner: Owner, desk: FakeDesk, other: bytes) -> None:
    """With the lamp lit, STOP with a foreign or broken cookie before or after the phone's own makes dark."""
    for before, after in ((other + b"; ", b""), (b"", b"; " + other), (other + b";", b";" + other)):
        desk.show(lit=LIT, next=next_step(), stop_possible=True)
        assert owner.stop(before, after).startswith(b"HTTP/1.1 200")
        assert desk.status().lit is None


def test_a_forged_cookie_of_the_same_name_hides_nothing(owner: Owner, desk: FakeDesk) -> None:
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
    app: Flask, phone: Paired, desk: FakeDesk, fault: str, monkeypatch: pytest.MonkeyPatch
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
def test_stop_asks_for_its_own_page(phone: Paired, desk: FakeDesk, headers: dict[str, str], stops: bool) -> None:
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


def test_stop_answers_a_script_and_a_form(phone: Paired, desk: FakeDesk) -> None:
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


def test_a_stranger_is_told_nothing_of_lamp_and_sheets(owner: Owner, desk: FakeDesk) -> None:
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


def test_a_mistake_of_ours_is_told_once_a_minute(
    phone: Paired, desk: FakeDesk, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A page that fails again and again is in the log once, with its traceback, and its path in one line."""
    desk.kept = lambda kind: 1 // 0  # type: ignore[method-assign]
    for _ in range(20):
        assert phone.look("/choose?a=%0ab").status_code == 500
    told = [each for each in caplog.records if each.exc_info]
    assert len(told) == 1
    assert "'/choose'" in told[0].getMessage()


# ---- crowds


@pytest.mark.parametrize("address", [OTHER, OWN])
@pytest.mark.parametrize(("way", "many"), [("busy", 300), ("idle", 500), ("stops", 300), ("pages", 300)])
def test_stop_comes_through_a_crowd(owner: Owner, desk: FakeDesk, way: str, many: int, address: str) -> None:
    """While strangers hold hundreds of connections, also from the owner's own address, every STOP is carried out."""
    with strangers(owner.port, way, many, address):
        for number in range(1, 16):
            assert owner.press(), f"STOP {number} was never carried out"
            assert desk.stops >= number


def test_a_crowd_keeps_nobody_from_the_page_who_is_paired(owner: Owner) -> None:
    """A connection that has shown a good cookie is not crowded out by strangers of its own address."""
    line = http.client.HTTPConnection(OWN, owner.port, timeout=20)
    with closing(line):
        line.request("GET", "/now", headers={"Cookie": owner.cookie.decode()})
        line.getresponse().read()
        held = line.sock
        with strangers(owner.port, "busy", 300, OWN), strangers(owner.port, "idle", 100, OWN):
            line.request("GET", "/now", headers={"Cookie": owner.cookie.decode()})
            answer = line.getresponse()
            answer.read()
            assert answer.status == 200
            assert line.sock is held
