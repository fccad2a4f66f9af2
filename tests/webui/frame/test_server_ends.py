"""The server's ends, when one thread closes what another still writes to: nothing breaks, and nothing else is hit."""

from __future__ import annotations

import http.client
import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from types import SimpleNamespace

import pytest
from tools.stand_in_desk import StandInDesk

from webui.app import create_app
from webui.server import Server, _Channel, _Door

LONG = b"x" * 100_000
"""More than is kept as a plain string: a buffer that can be closed."""


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(create_app(StandInDesk(), hosts=["127.0.0.1"]), "127.0.0.1", 0)
    yield made
    made.close()


@pytest.fixture
def door(server: Server) -> _Door:
    return server._doors[0]


@pytest.fixture
def line(door: _Door) -> Iterator[tuple[_Channel, socket.socket]]:
    """One connection of a server whose own thread does not run, and its other end."""
    ours, theirs = socket.socketpair()
    channel = _Channel(door, ours, ("127.0.0.1", 1), door.adj, map=door._map)
    yield channel, theirs
    channel.handle_close()
    theirs.close()


def healthy(server: Server) -> bool:
    with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=10)) as phone:
        phone.request("GET", "/health")
        answer = phone.getresponse()
        answer.read()
        return answer.status == 200


# ---- the way to the server's own thread


def test_an_answer_given_while_the_server_ends_does_not_break_its_end(
    server: Server, door: _Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Woken by an answer, the server's thread ends before whoever closes the server has woken it: both go on."""
    server.start()
    wake = door.trigger._physical_pull

    def woken_before() -> None:
        wake()
        time.sleep(0.3)
        wake()

    monkeypatch.setattr(door.trigger, "_physical_pull", woken_before)
    server.close()
    assert not server._thread.is_alive()


def test_a_late_answer_writes_into_no_other_file(server: Server, door: _Door) -> None:
    """The pipe to the server's thread is gone, its number is another file's: a late thread's byte is not in there."""
    server.start()
    number = door.trigger.trigger
    server.close()
    reads, writes = os.pipe()
    os.set_blocking(reads, False)
    taken = number if number in (reads, writes) else os.dup2(writes, number)
    try:
        door.pull_trigger()
        with pytest.raises(BlockingIOError):
            os.read(reads, 1)
    finally:
        for each in {reads, writes, taken}:
            os.close(each)


def test_a_thread_that_outlasts_the_end_is_let_be(server: Server, door: _Door, monkeypatch: pytest.MonkeyPatch) -> None:
    """A view that is still at work when the server has ended gives its answer to nobody, and nothing is raised."""
    monkeypatch.setattr(server._lanes, "shutdown", lambda: None)  # as if it had waited in vain
    go, told = threading.Event(), []

    def late() -> None:
        go.wait(10)
        try:
            door.pull_trigger()
        except OSError as problem:
            told.append(problem)

    thread = threading.Thread(target=late)
    thread.start()
    server.start()
    server.close()
    go.set()
    thread.join()
    monkeypatch.undo()
    server._lanes.shutdown()
    assert told == []


def test_one_mistake_does_not_end_the_server(
    server: Server, door: _Door, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """What goes wrong in the thread that reads and writes is logged; the next phone is answered."""
    wrong = [RuntimeError("dictionary changed size during iteration")]
    look = _Door.readable

    def readable(self: _Door) -> object:
        if wrong:
            raise wrong.pop()
        return look(self)

    monkeypatch.setattr(_Door, "readable", readable)
    server.start()
    assert healthy(server)
    assert "changed size" in caplog.text


# ---- a connection


def _say(channel: _Channel) -> None:
    channel.say(b"HTTP/1.1 403 Forbidden\r\n\r\n")


def _ask_for_the_body(channel: _Channel) -> None:
    channel.request = SimpleNamespace(expect_continue=True, completed=True, close=lambda: None)
    channel.send_continue()


def _flush(channel: _Channel) -> None:
    channel.total_outbufs_len = 1
    assert not channel._flush_some()


@pytest.mark.parametrize("write", [_say, _ask_for_the_body, _flush])
def test_what_was_closed_is_not_written_to(
    line: tuple[_Channel, socket.socket], write: Callable[[_Channel], None]
) -> None:
    """A connection that was closed while an answer was on its way takes none, and breaks nothing."""
    channel, theirs = line
    channel.outbufs[-1].append(LONG)
    channel.handle_close()
    write(channel)
    assert channel.total_outbufs_len in (0, 1)
    assert theirs.recv(1) == b""


@pytest.mark.parametrize("write", [_say, _ask_for_the_body])
def test_what_is_open_is_written_to(line: tuple[_Channel, socket.socket], write: Callable[[_Channel], None]) -> None:
    """An open connection takes the same answer."""
    channel, theirs = line
    write(channel)
    channel.handle_write()
    assert theirs.recv(9) == b"HTTP/1.1 "


def test_nothing_is_sent_while_somebody_writes(line: tuple[_Channel, socket.socket]) -> None:
    """The server's thread sends nothing of what another is just adding, though no request is under way any more."""
    channel, theirs = line
    theirs.settimeout(0.3)
    sending = threading.Thread(target=channel.handle_write)
    with channel.outbuf_lock:
        channel.outbufs[-1].append(b"whole")
        channel.total_outbufs_len += 5
        sending.start()
        with pytest.raises(TimeoutError):
            theirs.recv(5)
    sending.join()
    assert theirs.recv(5) == b"whole"


def test_an_answer_given_at_once_stands_before_its_request_goes(line: tuple[_Channel, socket.socket]) -> None:
    """Until the answer is there its request is: meanwhile nobody takes the connection for an idle one."""
    channel, _ = line
    seen: list[int] = []
    channel.requests = [SimpleNamespace(close=lambda: seen.append(channel.total_outbufs_len))]
    channel.say(b"done")
    assert (seen, channel.requests) == ([4], [])
