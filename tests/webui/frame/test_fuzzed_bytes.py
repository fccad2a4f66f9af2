"""Bytes that are hardly a request, sent to the page's own server: nothing of ours breaks, and it goes on answering."""

from __future__ import annotations

import random
import re
import socket
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress

import pytest
from tools.asked_pages import Mistakes, logged
from tools.hostile import MARK, hurt_bytes, seed_of, word
from tools.owner import OTHER, OWN, Owner
from tools.stand_in_desk import StandInDesk

from webui.app import create_app
from webui.server import Server

LINES = (
    *(
        "GET / HTTP/1.1",
        "GET /health HTTP/1.1",
        "POST /pair HTTP/1.1",
        "POST /stop HTTP/1.1",
        "POST /papers/scan HTTP/1.1",
    ),
    *(
        "GET http://[ HTTP/1.1",
        "GET //x HTTP/9.9",
        "GET / HTTP/1.0",
        "get /",
        "GET  / HTTP/1.1",
        "POST http://h/stop HTTP/1.1",
    ),
    *(
        "OPTIONS * HTTP/1.1",
        "CONNECT a:1 HTTP/1.1",
        "GET /%00%ff/../.. HTTP/1.1",
        "PRI * HTTP/2.0",
        "G\x00T / HTTP/1.1",
        "",
    ),
)
HEADERS = (
    *(
        "Content-Length: 5",
        "Content-Length: -1",
        "Content-Length: 5\r\nContent-Length: 6",
        "Content-Length: 99999999999999",
    ),
    *(
        "Transfer-Encoding: chunked",
        "Transfer-Encoding: gzip, chunked",
        "Transfer-Encoding: chunked\r\nContent-Length: 3",
    ),
    *(
        "Expect: 100-continue",
        "Connection: keep-alive, upgrade\r\nUpgrade: websocket",
        "Cookie: a=\xe9",
        "Cookie: \xff\xfe",
    ),
    *(
        "Origin: http://[",
        "Host: [::1",
        "Host: a\r\nHost: b",
        "Content-Type: multipart/form-data",
        " folded: x",
        "no colon",
        ":",
    ),
    *(
        "X: " + "y" * 40_000,
        "Range: bytes=0-",
        f"Accept: {MARK}",
        "Accept: text/html;q=" + "9" * 400,
        "Content-Encoding: gzip",
    ),
)
BODIES = (
    b"",
    b"code=1",
    b"5\r\nabcde\r\n0\r\n\r\n",
    b"zz\r\n",
    b"-1\r\n",
    b"ffffffffffffffff\r\nx",
    b"\x00" * 5000,
    b"5;x=y\r\nabc",
)


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(create_app(StandInDesk(), hosts=[OWN, "localhost"]), OWN, 0)
    made.start()
    yield made
    made.close()


def _bytes(dice: random.Random, host: str, cookie: bytes) -> bytes:
    """Return one request, or what is left of it."""
    headers = [f"Host: {host}"] if dice.random() < 0.8 else []
    headers += dice.sample(HEADERS, dice.randrange(4))
    if dice.random() < 0.2:
        headers.append(f"X-{dice.randrange(9)}: {word(dice)[:3000]}")
    head = "\r\n".join((dice.choice(LINES), *headers)).encode("latin-1", "replace")
    if dice.random() < 0.4:
        head += b"\r\nCookie: " + cookie + b"\r\nOrigin: http://" + host.encode()
    whole = head + b"\r\n\r\n" + dice.choice(BODIES)
    if dice.random() < 0.3:
        whole = hurt_bytes(whole, dice)
    return whole * 40 if dice.random() < 0.03 else whole


def _told(port: int, data: bytes) -> bytes:
    """Send it, say no more, and return the beginning of what comes back."""
    told = b""
    with suppress(OSError), socket.create_connection((OWN, port), timeout=5, source_address=(OTHER, 0)) as line:
        line.settimeout(0.3)
        line.sendall(data)
        line.shutdown(socket.SHUT_WR)
        while len(told) < 2000 and (chunk := line.recv(2000)):
            told += chunk
    return told


def held_to_the_laws(server: Server, seed: int, count: int) -> Counter[str]:
    """Send so many, and return what was answered, by status."""
    dice, owner, came, wrong = random.Random(seed), Owner(server), Counter[str](), []
    with logged(Mistakes()) as log:
        for _ in range(count):
            data = _bytes(dice, f"{OWN}:{server.port}", owner.cookie)
            told = _told(server.port, data)
            found = re.match(rb"HTTP/1\.[01] (\d{3})", told)
            status = found[1].decode() if found else "nothing"
            came[status] += 1
            wrong += [f"{problem} of {data[:500]!r}" for problem in log.taken()]
            if status == "500" or (told and not found) or MARK.encode() in told:
                wrong.append(f"{told[:300]!r} of {data[:500]!r}")
    assert not wrong, f"FUZZ_SEED={seed}:\n" + "\n".join(wrong[:20])
    assert owner.press(), "STOP is not heard afterwards"
    return came


def test_bytes_that_are_hardly_a_request(server: Server, request: pytest.FixtureRequest) -> None:
    """600 of them: no 500, no traceback, nothing unescaped, and STOP is heard afterwards."""
    assert held_to_the_laws(server, seed_of(request, 1), 600)["400"] > 20


@pytest.mark.long
def test_very_many_bytes(server: Server, request: pytest.FixtureRequest) -> None:
    """The same for 6,000 of them."""
    print(held_to_the_laws(server, seed_of(request, 1), 6000))
