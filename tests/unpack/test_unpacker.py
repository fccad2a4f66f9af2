"""The process that unpacks: what it gives, how little it takes, and how it is ended."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, BinaryIO

import numpy as np
import pytest
from tools.pictures import png, random_png

from controller.errors import StoreTrouble, Unreadable, WrongMoment
from controller.unpack import unpacker as unpacker_
from controller.unpack.greys import Fit, read_greys
from controller.unpack.unpack_process import MOST_MEMORY
from controller.unpack.unpacker import Unpacked, Unpacker

FIT = Fit(9_000_000, 20_000)
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[bytes]]:
    """The processes that were begun."""
    every: list[subprocess.Popen[bytes]] = []
    real = subprocess.Popen

    def begin(*what: Any, **more: Any) -> subprocess.Popen[bytes]:
        every.append(real(*what, **more))
        return every[-1]

    monkeypatch.setattr(unpacker_.subprocess, "Popen", begin)
    return every


@pytest.fixture
def file() -> Iterator[Callable[[bytes], BinaryIO]]:
    """Lays bytes into a file."""
    every: list[BinaryIO] = []

    def lay(content: bytes = b"") -> BinaryIO:
        every.append(TemporaryFile())  # noqa: SIM115 - closed below
        every[-1].write(content)
        return every[-1]

    yield lay
    for each in every:
        each.close()


def test_it_gives_what_reading_gives(file: Callable[..., BinaryIO], begun: list[subprocess.Popen[bytes]]) -> None:
    """What comes out of the process is what `read_greys` gives here, size, depth and rows; and it ends in order."""
    content, into = random_png(80, 50, 0, 16), file()
    came = Unpacker(lambda: False).unpack(file(content), "mine.png", Fit(1000, 40), into)
    assert [process.returncode for process in begun] == [0]
    wanted = read_greys(io.BytesIO(content), "mine.png", Fit(1000, 40))
    assert came == Unpacked(wanted.width, wanted.height, deep=True, turned=1, coding="linear")
    into.seek(0)
    assert np.array_equal(np.frombuffer(into.read(), np.uint16).reshape(came.height, came.width), wanted.whole())


def test_a_refusal_comes_through_in_its_words(file: Callable[..., BinaryIO]) -> None:
    """A refusal of the process is one here, in its sentence, whatever the file is called."""
    name = "“ü\x00\n{x}.png"
    with pytest.raises(Unreadable) as refused:
        Unpacker(lambda: False).unpack(file(b"nothing"), name, FIT, file())
    assert str(refused.value).startswith(f"{name} is no picture")


def test_a_heavy_file_begins_nothing(
    file: Callable[..., BinaryIO], begun: list[object], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file over the limit is refused by its length alone."""
    monkeypatch.setattr(unpacker_, "MOST_BYTES", 1_999_999)
    with pytest.raises(Unreadable, match="larger than 1 MB"):
        Unpacker(lambda: False).unpack(file(bytes(2_000_000)), "heavy.png", FIT, file())
    assert not begun


def test_one_at_a_time(file: Callable[..., BinaryIO], begun: list[object], monkeypatch: pytest.MonkeyPatch) -> None:
    """While one is unpacked another waits for a while, and is then told to come again; afterwards it may."""
    monkeypatch.setattr(unpacker_, "WAIT_S", 0.2)
    made, held, go = Unpacker(lambda: False), threading.Event(), threading.Event()

    def hold() -> None:
        with made.alone("first.png"):
            held.set()
            go.wait(60)

    first = threading.Thread(target=hold)
    first.start()
    held.wait(60)
    with pytest.raises(WrongMoment, match=r"second\.png again in a minute"):
        made.unpack(file(random_png(9, 9, 0, 8)), "second.png", FIT, file())
    assert not begun
    go.set()
    first.join()
    assert made.unpack(file(random_png(9, 9, 0, 8)), "second.png", FIT, file()).width == 9


def test_a_sheet_ends_it(file: Callable[..., BinaryIO], begun: list[subprocess.Popen[bytes]]) -> None:
    """A sheet that is opened ends the process at once, with a sentence; with one open none is begun."""
    opened = threading.Event()
    made, large = Unpacker(opened.is_set), file(png(7500, 8000, 6, 8))
    threading.Timer(0.5, opened.set).start()
    with pytest.raises(WrongMoment, match="a sheet is open"):
        made.unpack(large, "large.png", FIT, file())
    assert opened.is_set()
    assert [each.returncode for each in begun] == [-9]
    with pytest.raises(WrongMoment, match="a sheet is open"):
        made.unpack(file(random_png(9, 9, 0, 8)), "small.png", FIT, file())
    assert len(begun) == 1


def test_one_that_takes_too_long_is_ended(
    file: Callable[..., BinaryIO], begun: list[subprocess.Popen[bytes]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A picture that takes longer than it may is given up, with a sentence."""
    monkeypatch.setattr(unpacker_, "MOST_S", 0.1)
    with pytest.raises(Unreadable, match="longer to unpack"):
        Unpacker(lambda: False).unpack(file(png(7500, 8000, 6, 8)), "large.png", FIT, file())
    assert [each.returncode for each in begun] == [-9]


def test_one_that_the_kernel_ends_is_told(file: Callable[..., BinaryIO], monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the process is killed, as the kernel does where memory runs out, the picture is refused in a sentence."""
    real = subprocess.Popen

    def begin(*what: Any, **more: Any) -> subprocess.Popen[bytes]:
        process = real(*what, **more)
        process.kill()
        return process

    monkeypatch.setattr(unpacker_.subprocess, "Popen", begin)
    with pytest.raises(Unreadable, match="more memory to unpack"):
        Unpacker(lambda: False).unpack(file(random_png(9, 9, 0, 8)), "mine.png", FIT, file())


def test_one_that_cannot_begin_is_told(file: Callable[..., BinaryIO], monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no process can be begun, or it comes to nothing, that is said; and the next may."""
    made = Unpacker(lambda: False)
    with monkeypatch.context() as patched:
        patched.setattr(unpacker_.sys, "executable", "/nowhere/python")
        with pytest.raises(StoreTrouble, match="could not be unpacked"):
            made.unpack(file(random_png(9, 9, 0, 8)), "mine.png", FIT, file())
        patched.setattr(unpacker_.sys, "executable", "/bin/false")
        with pytest.raises(StoreTrouble, match="exit 1"):
            made.unpack(file(random_png(9, 9, 0, 8)), "mine.png", FIT, file())
    assert made.unpack(file(random_png(9, 9, 0, 8)), "mine.png", FIT, file()).width == 9


def test_a_full_card_is_told(file: Callable[..., BinaryIO]) -> None:
    """Where the greys cannot be written the sentence says so, and what to look at."""
    with open("/dev/full", "wb") as full, pytest.raises(StoreTrouble, match=r"No space left.*card is full"):  # noqa: PTH123
        Unpacker(lambda: False).unpack(file(random_png(900, 900, 0, 8)), "mine.png", FIT, full)


def _process(program: str, order: dict[str, object], content: bytes) -> tuple[subprocess.Popen[bytes], BinaryIO]:
    """Begin the process with a program of our own round it, which finds its two handles in `handles`."""
    picture, into = TemporaryFile(), TemporaryFile()  # noqa: SIM115 - gone with the test
    picture.write(content)
    picture.flush()
    handles = picture.fileno(), into.fileno()
    process = subprocess.Popen(
        [
            sys.executable,
            "-P",
            "-c",
            f"handles = {handles}\nfrom controller.unpack import unpack_process as p\n{program}",
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        pass_fds=handles,
        env={"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
    )
    assert process.stdin is not None
    process.stdin.write(json.dumps(order).encode() + b"\n")
    process.stdin.flush()
    picture.close()
    return process, into


ORDER: dict[str, object] = {"name": "mine.png", "pixels": 9_000_000, "side": 20_000, "least": 1, "two_tones": True}


def test_it_takes_little_and_goes_first() -> None:
    """The process may have so much memory and no more, is the first to go where it runs out, and is in nobody's way."""
    told = (
        "p.hold_back(p.MOST_MEMORY, p.MOST_CPU_S); import json, os, resource as r\n"
        "first = open('/proc/self/oom_score_adj').read()\n"
        "print(json.dumps([r.getrlimit(r.RLIMIT_DATA)[1], os.nice(0), first]))"
    )
    process, into = _process(told, ORDER, b"")
    with process, into:
        most, nice, first = json.loads(process.communicate()[0])
    assert most == MOST_MEMORY
    assert nice >= min(19, os.nice(0) + 10)
    assert int(first) == 1000


def test_more_memory_than_it_may_have_is_told() -> None:
    """A picture for which the process may not have the memory is refused in a sentence, by the process itself."""
    process, into = _process(
        "p.MOST_MEMORY = 120_000_000; p.main(*handles)", ORDER, png(4900, 4890, 6, 8, interlaced=True)
    )
    with process, into:
        assert process.stdout is not None
        answer = json.loads(process.stdout.read())  # its input stays open: it ends with that
    assert "takes more memory to unpack" in answer["refused"]


def test_it_ends_with_whoever_wanted_it() -> None:
    """Where nobody waits any more, for the daemon is dead, the process ends in the midst of a picture."""
    process, into = _process("import sys; p.main(*handles)", ORDER, png(7500, 8000, 6, 8))
    with process, into:
        assert process.stdin is not None
        time.sleep(0.5)
        assert process.poll() is None
        process.stdin.close()
        assert process.wait(30) == 1
        assert os.fstat(into.fileno()).st_size < 2500 * 2667 * 2
