"""The real server: STOP passes every queue, streams give their threads back, and what it refuses itself is black."""

from __future__ import annotations

import http.client
import json
import socket
import sys
import threading
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from types import SimpleNamespace
from urllib.parse import urlencode

import pytest
from flask import Flask
from tools.stand_in_desk import CODE, StandInDesk
from waitress.adjustments import Adjustments

from controller.errors import ControllerError
from controller.words import say
from webui.app import create_app
from webui.bodies import LARGE_AT_ONCE, LARGEST, LET_GO, USUAL, reader_for
from webui.frame.live import STREAMS
from webui.frame.strangers import A_SECOND, AT_ONCE_S, whose
from webui.server import CONNECTIONS, LOOKS, OF_ONE_ADDRESS, STOPS, STRANGERS, YOUNG_S, Lanes, Server, too_many


class Visitor:
    """A paired phone that speaks HTTP over sockets of its own, one a request."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.cookie = ""
        with closing(self.ask("POST", "/pair", {"code": CODE})) as connection:
            answer = connection.getresponse()
            answer.read()
            self.cookie = (answer.getheader("Set-Cookie") or "").split(";")[0]
        assert self.cookie

    def ask(self, method: str, path: str, fields: dict[str, str] | None = None) -> http.client.HTTPConnection:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        headers = {"Cookie": self.cookie, "Origin": f"http://127.0.0.1:{self.port}", "Accept": "application/json"}
        headers["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request(method, path, urlencode(fields or {}) if method == "POST" else None, headers)
        return connection

    def status(self, method: str, path: str) -> int:
        with closing(self.ask(method, path)) as connection:
            answer = connection.getresponse()
            answer.read()
            return answer.status


@pytest.fixture
def live_desk() -> StandInDesk:
    desk = StandInDesk()
    desk.clock = time.monotonic_ns
    return desk


@pytest.fixture
def server(live_desk: StandInDesk) -> Iterator[Server]:
    made = Server(create_app(live_desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
    made.start()
    yield made
    made.close()


@pytest.fixture
def visitor(server: Server) -> Visitor:
    return Visitor(server.port)


def _until(true: Callable[[], bool], seconds: float = 20) -> bool:
    """Wait for something to become true; it is not asked again then, for asking may be what makes it false."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() >= end:
            return False
        time.sleep(0.01)
    return True


def _open_streams(visitor: Visitor, number: int) -> list[tuple[http.client.HTTPConnection, http.client.HTTPResponse]]:
    opened = []
    for _ in range(number):
        connection = visitor.ask("GET", "/live?part=now")
        answer = connection.getresponse()
        assert answer.status == 200
        opened.append((connection, answer))
    return opened


def _hang_up(opened: list[tuple[http.client.HTTPConnection, http.client.HTTPResponse]]) -> None:
    for connection, answer in opened:
        answer.close()
        connection.close()


def test_stop_passes_every_queue(visitor: Visitor, live_desk: StandInDesk) -> None:
    """With every stream open and every other thread and the queue behind it stuck, STOP is done all the same."""
    streams = _open_streams(visitor, STREAMS)
    stuck, held = threading.Event(), []
    slow = live_desk.recipes().kept

    def wait(kind: str) -> object:
        stuck.wait(20)
        return slow(kind)  # type: ignore[arg-type]

    live_desk.recipes().kept = wait  # type: ignore[method-assign,assignment]
    held = [visitor.ask("GET", "/choose") for _ in range(LOOKS * 3)]
    time.sleep(0.2)
    try:
        began = time.monotonic()
        for _ in range(20):
            assert visitor.status("POST", "/stop") == 200
        assert live_desk.stops == 20
        assert time.monotonic() - began < 5
    finally:
        stuck.set()
    for connection in held:
        with closing(connection):
            answer = connection.getresponse()
            assert answer.status == 200
            answer.read()
    _hang_up(streams)


@pytest.mark.parametrize(
    ("line", "changed", "stops"),
    [
        ("POST /stop", {}, True),
        ("POST /stop?x=1", {}, True),
        ("GET /stop", {}, False),
        ("PUT /stop", {}, False),
        ("POST /stop/", {}, False),
        ("POST /stopper", {}, False),
        ("POST /", {}, False),
        ("POST /stop", {"Cookie": ""}, False),
        ("POST /stop", {"Cookie": "forged"}, False),
        ("POST /stop", {"Origin": "http://evil.example"}, False),
        ("POST /stop", {"Origin": "http://["}, False),
        ("POST /stop", {"Host": "evil.example", "Origin": "http://evil.example"}, False),
    ],
)
def test_only_a_paired_phones_stop_uses_its_lane(
    live_desk: StandInDesk, line: str, changed: dict[str, str], stops: bool
) -> None:
    """Whatever looks like STOP, but is not one that will be carried out, never comes into its lane."""
    app = create_app(live_desk, hosts=["127.0.0.1"])
    headers = {"Host": "127.0.0.1", "Origin": "http://127.0.0.1", "Cookie": _cookie_of(app), **changed}
    if headers["Cookie"] == "forged":
        headers["Cookie"] = _cookie_of(app)[:-4] + "AAAA"
    reader = reader_for(app, list)(Adjustments())
    head = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
    reader.received(f"{line} HTTP/1.1\r\n{head}Content-Length: 0\r\n\r\n".encode())
    assert reader.completed
    lanes, taken = Lanes(0, 0), SimpleNamespace(requests=[reader], cancel=lambda: None)
    lanes.add_task(taken)
    queued = [bool(lane.queue) for lane in (lanes._stops, lanes._rest)]
    assert queued == [stops, not stops]
    lanes.shutdown()


def _cookie_of(app: Flask) -> str:
    """Pair a phone, and return its Cookie header."""
    phone = app.test_client()
    app.extensions["treadle"].desk.pairing().code = CODE
    phone.post("/pair", data={"code": CODE}, headers={"Origin": "http://127.0.0.1", "Host": "127.0.0.1"})
    return next(f"{each.key}={each.value}" for each in phone._cookies.values())


def test_no_stranger_has_anything_made_in_stops_lane(
    server: Server, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With STOP's lane stuck a STOP without a cookie is refused at once, and by bytes: nothing is made for it."""
    monkeypatch.setattr("webui.frame.refusals.render_template", lambda *_args, **_named: 1 // 0)
    began = threading.Event()
    held = threading.Event()
    visitor_stop = StandInDesk.stop

    def stuck(desk: StandInDesk) -> None:
        began.set()
        held.wait(20)
        visitor_stop(desk)

    monkeypatch.setattr(StandInDesk, "stop", stuck)
    lines = [visitor.ask("POST", "/stop") for _ in range(STOPS)]
    assert began.wait(10)
    try:
        for accept in ("application/json", "text/html"):
            request = f"POST /stop HTTP/1.1\r\nHost: 127.0.0.1\r\nAccept: {accept}\r\nContent-Length: 0\r\n\r\n"
            with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
                line.sendall(request.encode())
                told = b""
                while chunk := line.recv(65536):
                    told += chunk
            assert told.startswith(b"HTTP/1.1 403")
            assert say("page.refused-unpaired").encode() in told
    finally:
        held.set()
    for one in lines:
        with closing(one):
            assert one.getresponse().status == 200


@pytest.mark.parametrize("gone", [1, STREAMS])
def test_a_stream_gives_its_place_back_when_the_page_is_gone(visitor: Visitor, gone: int) -> None:
    """Pages that hang up make room for others within a beat or two, be it one of them or all."""
    streams = _open_streams(visitor, STREAMS)
    assert visitor.status("GET", "/live") == 503
    _hang_up(streams[:gone])
    said = Counter[int]()

    def is_open() -> bool:
        with closing(visitor.ask("GET", "/live")) as connection:
            answer = connection.getresponse()
            answer.close()
        said[answer.status] += 1
        return answer.status == 200

    assert _until(is_open, 60), f"{said}; {_where_threads_are()}"
    _hang_up(streams[gone:])


def _where_threads_are() -> str:
    """Return in which lines the threads of this process are."""
    names = {one.ident: one.name for one in threading.enumerate()}
    return "\n".join(
        f"{names.get(ident)}:\n{''.join(traceback.format_stack(frame)[-4:])}"
        for ident, frame in sys._current_frames().items()
    )


def test_a_crowd_of_idle_connections_makes_room(server: Server, visitor: Visitor) -> None:
    """However many connections are held open without a word, a newcomer is answered."""
    crowd = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(CONNECTIONS * 2 + 50)]
    assert visitor.status("POST", "/stop") == 200
    assert visitor.status("GET", "/") == 200
    for one in crowd:
        one.close()


def test_a_crowd_hangs_up_on_nobody_who_is_being_answered(
    server: Server, visitor: Visitor, live_desk: StandInDesk
) -> None:
    """The connections that make room are idle ones: a page's stream, silent the longest, goes on."""
    ((connection, stream),) = _open_streams(visitor, 1)
    crowd = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(CONNECTIONS + 50)]
    assert visitor.status("GET", "/") == 200
    number = live_desk.show(headline="Press to begin.").number
    try:
        while line := stream.readline():
            if line == f"id: {number}\n".encode():
                break
        assert line
        assert stream.readline().startswith(b"data: ")
    finally:
        _hang_up([(connection, stream)])
        for one in crowd:
            one.close()


@dataclass
class Held:
    """A connection as it is counted."""

    name: str
    owner: str = "a"
    age_s: float = 60
    spoken: bool = False
    proven: bool = False
    requests: tuple[object, ...] = ()
    will_close: bool = False

    @property
    def creation_time(self) -> float:
        return 1000 - self.age_s

    last_activity = creation_time


def _gone(*held: Held) -> list[str]:
    return [each.name for each in too_many(held, 1000)]  # type: ignore[arg-type]


def test_of_one_address_few_strangers_stay() -> None:
    """Above the limit the oldest goes; one that is being answered only where no idle one is left; others' stay."""
    many = [Held(f"{number}", spoken=True, age_s=60 - number) for number in range(OF_ONE_ADDRESS)]
    other = [Held("other", owner="b")]
    assert _gone(*many, *other) == []
    assert _gone(*many, *other, Held("new", spoken=True, age_s=0)) == ["0"]
    many[0].requests = (1,)
    assert _gone(*many, *other, Held("new", spoken=True, age_s=0)) == ["1"]
    busy = [Held(f"{number}", spoken=True, requests=(1,)) for number in range(OF_ONE_ADDRESS + 1)]
    assert _gone(*busy) == ["0"]


def test_a_young_connection_that_has_said_nothing_yet_is_not_counted() -> None:
    """Who was let in less than two seconds ago may be about to say STOP: it is not closed for those who were there."""
    young = [Held(f"young {number}", age_s=YOUNG_S - 0.1) for number in range(3 * OF_ONE_ADDRESS)]
    old = [Held(f"old {number}", spoken=True) for number in range(OF_ONE_ADDRESS)]
    assert _gone(*old, *young) == []
    assert _gone(*(replace(each, age_s=YOUNG_S) for each in young)) == [each.name for each in young[:-OF_ONE_ADDRESS]]


def test_in_all_the_crowded_address_loses_its_oldest() -> None:
    """So many strangers are held in all, and above that it is not the newcomer who goes."""
    crowd = [Held(f"{number}", age_s=1) for number in range(STRANGERS)]
    assert _gone(*crowd, Held("owner", owner="b", age_s=0)) == ["0"]
    assert _gone(*crowd, Held("owner", age_s=0)) == ["0"]


def test_paired_phones_are_counted_apart() -> None:
    """A connection that has shown a good cookie is never closed for a stranger's, nor for its own address's."""
    paired = [Held(f"paired {number}", proven=True, age_s=500 - number) for number in range(CONNECTIONS)]
    strangers = [Held(f"{number}", spoken=True) for number in range(2 * OF_ONE_ADDRESS)]
    assert _gone(*paired, *strangers) == [str(number) for number in range(OF_ONE_ADDRESS)]
    assert _gone(*paired, Held("new", proven=True, age_s=0)) == ["paired 0"]
    paired[0].requests = (1,)
    assert _gone(*paired, Held("new", proven=True, age_s=0)) == ["paired 1"]


@pytest.mark.parametrize(
    ("address", "one"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2::1", "20010db800010002"),
        ("2001:db8:1:2:ffff::9", "20010db800010002"),
        ("fe80::1%eth0", "fe80000000000000"),
    ],
)
def test_a_network_counts_as_one_address(address: str, one: str) -> None:
    """A device may take as many IPv6 addresses of its network as it likes: they count as one."""
    assert whose(address) == one


def test_a_young_silent_connection_survives_a_crowd(server: Server, visitor: Visitor) -> None:
    """Let in among strangers who were there before, a connection that speaks within two seconds is answered."""
    crowd = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(OF_ONE_ADDRESS)]
    for one in crowd:
        one.sendall(b"G")
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)) as late:
        late.connect()
        crowd += [socket.create_connection(("127.0.0.1", server.port)) for _ in range(3 * OF_ONE_ADDRESS)]
        time.sleep(0.5)
        headers = {"Cookie": visitor.cookie, "Origin": f"http://127.0.0.1:{server.port}"}
        late.request("POST", "/stop", "", headers)
        assert late.getresponse().status == 303
    for one in crowd:
        one.close()


def test_a_stranger_is_hung_up_on_after_his_answer(server: Server, visitor: Visitor) -> None:
    """An unpaired device has one answer a connection, whoever gives it; a paired phone keeps its connection."""
    for asked in ("GET /health", "GET /", "GET /pair?code=1", "POST /pair", "GET /favicon.ico", "HEAD /pair"):
        with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
            line.sendall(f"{asked} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 0\r\n\r\n".encode())
            told = b""
            while chunk := line.recv(65536):
                told += chunk
            assert told.startswith(b"HTTP/1.1 ")
            assert b"\r\nConnection: close\r\n" in told
    with closing(visitor.ask("GET", "/now")) as connection:
        connection.getresponse().read()
        assert connection.sock is not None


@pytest.mark.parametrize(
    ("method", "path", "accept"),
    [
        ("GET", "/", "text/html"),
        ("GET", "/status.json", "application/json"),
        ("GET", "/nowhere", ""),
        ("GET", "/pair", "text/html"),
        ("GET", "/health", "application/json"),
        ("GET", "/health", "text/html"),
        ("GET", "/favicon.ico", "image/avif"),
        ("HEAD", "/", ""),
        ("HEAD", "/pair", ""),
        ("POST", "/act/close", "application/json"),
        ("GET", "//pair", ""),
    ],
)
def test_what_was_made_beforehand_says_what_the_app_says(
    server: Server, live_desk: StandInDesk, method: str, path: str, accept: str
) -> None:
    """A stranger reads the same status, the same words and the same bounds, whichever way they come."""
    app = create_app(live_desk, hosts=["127.0.0.1"]).test_client()
    origin = f"http://127.0.0.1:{server.port}"
    headers = {"Host": f"127.0.0.1:{server.port}", "Accept": accept, "Origin": origin}
    wanted = app.open(path.replace("//", "/"), method=method, headers=headers)
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)) as line:
        line.request(method, path, headers=headers)
        answer = line.getresponse()
        body = answer.read()
    assert answer.status == wanted.status_code
    if wanted.is_json:
        assert json.loads(body) == wanted.get_json()
    else:
        assert body == wanted.data
    told = dict(answer.getheaders())
    for name, value in wanted.headers.items():
        if name not in {"Content-Length", "Content-Security-Policy"}:
            assert told[name] == value
    assert "default-src 'none'" in told["Content-Security-Policy"]


def test_strangers_ask_little_of_the_app(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    """What cannot be made beforehand is made a few times a second; the rest is told to come again."""
    port, told = server.port, []
    begun = time.monotonic()
    for _ in range(100):
        with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=10)) as line:
            line.request("GET", "/pair?code=1")
            answer = line.getresponse()
            answer.read()
            told.append(answer.status)
            if answer.status == 503:
                assert answer.getheader("Retry-After") == "1"
    made = told.count(200)
    assert made + told.count(503) == 100
    assert A_SECOND * AT_ONCE_S <= made <= A_SECOND * (AT_ONCE_S + time.monotonic() - begun) + 1


@pytest.mark.parametrize(
    ("request_", "status"),
    [
        (b"POST /stop HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: %d\r\n\r\n" % USUAL, 413),
        (b"POST /nowhere HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: %d\r\n\r\n" % (LARGEST - 1), 413),
        (b"POST /papers/scan HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: %d\r\n\r\n" % USUAL, 403),
        (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"x" * 40_000 + b"\r\n\r\n", 431),
        (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: x\r\n\r\n", 400),
        (b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: gzip\r\n\r\n", 501),
    ],
    ids=["413", "413 elsewhere", "403 scan", "431", "400", "501"],
)
def test_what_the_server_refuses_itself_is_black(server: Server, request_: bytes, status: int) -> None:
    """Even below the app a refusal is a sentence on black, bound by a policy."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as line:
        line.sendall(request_)
        told = b""
        while chunk := line.recv(65536):
            told += chunk
    head, _, body = told.partition(b"\r\n\r\n")
    assert head.startswith((f"HTTP/1.1 {status}".encode(), f"HTTP/1.0 {status}".encode()))
    assert b"background:#000" in body
    assert b"default-src 'none'" in head
    assert len(body.partition(b"<p>")[2].split()) > 8


def _begin_large(visitor: Visitor, head: bytes, cookie: str = "") -> socket.socket:
    """Begin a post to where scans come, and send no more of its body than two bytes."""
    line = socket.create_connection(("127.0.0.1", visitor.port), timeout=10)
    host = b"POST /papers/scan HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: %s\r\n"
    line.sendall(host % (cookie or visitor.cookie).encode() + head + b"\r\n\r\n1\r\n")
    return line


def _answer_of(line: socket.socket) -> bytes:
    told = b""
    with line:
        while chunk := line.recv(65536):
            told += chunk
    return told


LONG = b"Content-Length: %d"


@pytest.mark.parametrize("head", [LONG % (LARGEST - 1), b"Transfer-Encoding: chunked"], ids=["length", "chunks"])
def test_a_large_body_wants_a_paired_phone(visitor: Visitor, head: bytes) -> None:
    """A body too large for any other page is refused from its header on unless a phone that is paired sends it."""
    forged = visitor.cookie[:-4] + "AAAA"
    told = _answer_of(_begin_large(visitor, head, forged))
    assert told.startswith((b"HTTP/1.1 403", b"HTTP/1.0 403"))
    assert b"pair the phone" in told


def test_even_a_paired_phone_sends_no_more_than_the_largest(visitor: Visitor) -> None:
    """What is longer than is let go is refused from its header, whosever it is."""
    told = _answer_of(_begin_large(visitor, LONG % LET_GO))
    assert told.startswith((b"HTTP/1.1 413", b"HTTP/1.0 413"))


def test_large_bodies_come_a_few_at_a_time(visitor: Visitor) -> None:
    """With two on their way a third is asked to wait, and is let in when one of them is gone; small posts go on."""
    under_way = [_begin_large(visitor, LONG % (LARGEST - 1)) for _ in range(LARGE_AT_ONCE)]
    assert _until(
        lambda: _answer_of(_begin_large(visitor, LONG % LET_GO)).startswith((b"HTTP/1.1 503", b"HTTP/1.0 503"))
    )
    assert visitor.status("POST", "/stop") == 200
    under_way.pop().close()
    assert _until(
        lambda: _answer_of(_begin_large(visitor, LONG % LET_GO)).startswith((b"HTTP/1.1 413", b"HTTP/1.0 413"))
    )
    under_way.pop().close()


def test_a_large_body_that_waits_to_be_looked_at_counts(live_desk: StandInDesk) -> None:
    """A body that is all there, its page not yet made, lies on the card like one on its way: it takes a place too."""
    app = create_app(live_desk, hosts=["127.0.0.1"])
    taken = SimpleNamespace(large=True)
    waiting = [SimpleNamespace(request=None, requests=[taken, SimpleNamespace()]) for _ in range(LARGE_AT_ONCE)]
    phone = app.test_client()
    phone.post("/pair", data={"code": CODE}, headers={"Origin": "http://127.0.0.1", "Host": "127.0.0.1"})
    name, value = next((each.key, each.value) for each in phone._cookies.values())
    head = f"POST /papers/scan HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: {name}={value}\r\nContent-Length: {USUAL}\r\n\r\n"
    for channels, large in ((waiting, False), (waiting[1:], True)):
        reader = reader_for(app, lambda channels=channels: channels)(Adjustments())  # type: ignore[misc]
        reader.received(head.encode())
        assert reader.large is large
        assert (reader.error is None) is large


def test_an_address_that_is_taken_is_told(server: Server, live_desk: StandInDesk) -> None:
    """A second server at the same port is refused with a sentence that names it, and leaves nothing behind."""
    with pytest.raises(ControllerError, match=str(server.port)):
        Server(create_app(live_desk, hosts=["127.0.0.1"]), "127.0.0.1", server.port)


def test_closing_ends_what_is_open(server: Server, visitor: Visitor) -> None:
    """With streams open the server is gone within a few seconds; closing it again does no harm."""
    streams = _open_streams(visitor, 5)
    began = time.monotonic()
    server.close()
    assert time.monotonic() - began < 5
    server.close()
    with pytest.raises(OSError, match=r".*"):
        socket.create_connection(("127.0.0.1", server.port), timeout=1)
    _hang_up(streams)


def test_a_server_that_never_began_can_be_closed(live_desk: StandInDesk) -> None:
    """A daemon that fails between binding and serving leaves no thread and no socket."""
    Server(create_app(live_desk, hosts=["127.0.0.1"]), "127.0.0.1", 0).close()
