"""Bodies that come in: on the card, in files without a name, and never more than it has room for."""

from __future__ import annotations

import http.client
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import IO

import pytest
from tools.owner import OWN, Owner
from tools.stand_in_desk import StandInDesk

from webui.app import create_app
from webui.bodies import LARGEST
from webui.frame import incoming
from webui.frame.incoming import SPARE, CardBuffer, IncomingRequest
from webui.server import Server

FORM = b"Content-Type: multipart/form-data; boundary=b\r\n"
PART = b'--b\r\nContent-Disposition: form-data; name="file"; filename="a.png"\r\n\r\n'


@pytest.fixture
def card(tmp_path: Path) -> Path:
    return tmp_path


@pytest.fixture
def server(card: Path) -> Iterator[Server]:
    desk = StandInDesk()
    desk.clock = time.monotonic_ns
    desk._incoming = card
    made = Server(create_app(desk, hosts=[OWN]), OWN, 0)
    made.start()
    yield made
    made.close()


@pytest.fixture
def owner(server: Server) -> Owner:
    return Owner(server)


def until(true: Callable[[], bool], seconds: float = 20) -> bool:
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() >= end:
            return False
        time.sleep(0.01)
    return True


def _laid(card: Path) -> list[str]:
    """What this process has open in the folder: files without a name."""
    found = []
    for handle in Path("/proc/self/fd").iterdir():
        try:
            found.append(str(handle.readlink()))
        except OSError:
            continue
    return [each for each in found if each.startswith(str(card)) and each.endswith("(deleted)")]


def _full(*_where: object, **_more: object) -> IO[bytes]:
    return Path("/dev/full").open("r+b", buffering=0)


def _begin(owner: Owner, length: int, body: bytes) -> socket.socket:
    line = socket.create_connection((OWN, owner.port), timeout=20)
    host = f"{OWN}:{owner.port}".encode()
    head = b"POST /papers/scan HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: %s\r\n" % (host, host, owner.cookie)
    line.sendall(head + FORM + b"Content-Length: %d\r\n\r\n" % length + body)
    return line


def test_what_comes_in_lies_on_the_card_without_a_name(owner: Owner, card: Path) -> None:
    """A large body lies in the desk's folder under no name, and is gone with its connection, whatever became of it."""
    line = _begin(owner, LARGEST - 1, bytes(3_000_000))
    assert until(lambda: len(_laid(card)) == 1)
    assert not list(card.iterdir())
    line.close()
    assert until(lambda: not _laid(card))
    assert not list(card.iterdir())


def test_a_files_bytes_lie_there_too(owner: Owner, card: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a form brings as a file lies there while the form is looked at, and not in memory."""
    seen: list[int] = []
    real = IncomingRequest.close

    def look(request: IncomingRequest) -> None:
        seen.append(len(_laid(card)))
        real(request)

    monkeypatch.setattr(IncomingRequest, "close", look)
    body = PART + bytes(3_000_000) + b"\r\n--b--\r\n"
    assert b"403" in owner.send(b"POST /papers/scan", FORM + b"Cookie: " + owner.cookie + b"\r\n", body)[:20]
    assert 2 in seen
    assert until(lambda: not _laid(card))


def test_a_card_with_little_room_takes_nothing_in(owner: Owner, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a large body would leave the record too little room it is refused from its header, in a sentence."""
    for free, status in ((2 * 3_000_000 + SPARE - 1, b"507"), (2 * 3_000_000 + SPARE, b"403")):
        monkeypatch.setattr(incoming.shutil, "disk_usage", lambda _, free=free: SimpleNamespace(free=free))
        told = owner.send(b"POST /papers/scan", b"Cookie: " + owner.cookie + b"\r\n", bytes(3_000_000))
        assert status in told[:20], told[:300]
        if status == b"507":
            assert b"The memory card is too full" in told
            assert b"background:#000" in told


def test_a_card_that_gets_full_is_told(owner: Owner, monkeypatch: pytest.MonkeyPatch) -> None:
    """A card that is full in the midst of a body, or of a file in it, is a sentence, and the next is served."""
    body = PART + bytes(300_000) + b"\r\n--b--\r\n"
    headers = FORM + b"Cookie: " + owner.cookie + b"\r\n"
    for place in (CardBuffer, IncomingRequest):
        with monkeypatch.context() as patched:
            patched.setattr(place, "newfile" if place is CardBuffer else "_lay", _full)
            told = owner.send(b"POST /papers/scan", headers, body)
        assert b" 507 " in told[:30], told[:300]
        assert b"The memory card is too full" in told
    assert b" 200 " in owner.send(b"GET /", b"Cookie: " + owner.cookie + b"\r\n")[:20]


def test_whoever_brings_too_much_is_told(owner: Owner, card: Path) -> None:
    """A body above all limits is heard to its end and let go, so that its sender reads why; no byte of it is kept."""
    line = _begin(owner, LARGEST + 5, bytes(3_000_000))
    with line:
        assert until(lambda: not _laid(card))
        for _ in range(21):
            line.sendall(bytes(3_000_000))
            assert not _laid(card)
        line.sendall(bytes(LARGEST + 5 - 22 * 3_000_000))
        told = line.makefile("rb").read(3000)
    assert b" 413 " in told[:30], told[:300]
    assert b"background:#000" in told


def test_a_chunked_body_is_laid_down_as_well(owner: Owner, card: Path) -> None:
    """A body that comes in chunks, its length unknown, lies on the card too."""
    connection = http.client.HTTPConnection(OWN, owner.port, timeout=20)
    connection.putrequest("POST", "/papers/scan")
    connection.putheader("Cookie", owner.cookie.decode())
    connection.putheader("Transfer-Encoding", "chunked")
    connection.endheaders()
    connection.send(b"%x\r\n" % 900_000 + bytes(900_000) + b"\r\n")
    assert until(lambda: len(_laid(card)) == 1)
    connection.close()
    assert until(lambda: not _laid(card))
