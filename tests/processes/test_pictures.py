"""What pictures cost a daemon that really serves: whatever is brought, it stays small, and what unpacks it too."""

from __future__ import annotations

import http.client
import re
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

import pytest
from benchmarks.serving import Served, family, pss_kb
from tools.pictures import jpeg, png, tiff

from controller.unpack.unpacker import MOST_BYTES

pytestmark = pytest.mark.usefixtures("by_real_time")

DAEMON_MB = 250.0
AFTERWARDS_MB = 200.0
"""With the libraries that read pictures, which stay once they are loaded."""
WHOLE_MB = 400.0
"""Daemon, keepers and what unpacks: what the service's unit lets them have."""
BOUNDARY = "a-picture"


class Watch:
    """Asks, again and again, how much memory a daemon has, and it with all that it has started.

    To count it whole holds up the one who is counted, so it is done where what each has mapped is no longer the same.
    """

    def __init__(self, pid: int) -> None:
        self.daemon_mb = self.whole_mb = 0.0
        self._pid, self._end = pid, threading.Event()
        self._thread = threading.Thread(target=self._go)
        self._thread.start()

    def _go(self) -> None:
        mapped: dict[int, int] = {}
        while not self._end.wait(0.02):
            if (now := {pid: self._mapped(pid) for pid in self._family()}) != mapped:
                mapped = now
                each = [self._mb(pid) for pid in mapped]
                self.daemon_mb = max(self.daemon_mb, *each[:1], 0.0)
                self.whole_mb = max(self.whole_mb, sum(each))

    def _family(self) -> list[int]:
        try:
            return family(self._pid)
        except OSError:  # a process, or a thread, ended meanwhile
            return []

    @staticmethod
    def _mapped(pid: int) -> int:
        """Return how many of its pages are in memory, to the quarter of a megabyte."""
        try:
            return int(Path(f"/proc/{pid}/statm").read_text("ascii").split()[1]) // 64
        except (OSError, IndexError):
            return 0

    def _mb(self, pid: int) -> float:
        try:
            return pss_kb(pid) / 1000
        except (OSError, ValueError):
            return 0.0

    def close(self) -> None:
        self._end.set()
        self._thread.join()


class Bringer:
    """A paired phone that brings pictures by day."""

    def __init__(self, served: Served) -> None:
        self.port = served.port
        self.headers = {"Origin": f"http://localhost:{self.port}", "Host": f"localhost:{self.port}"}
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        answer, _ = self.ask("POST", "/pair", urlencode({"code": served.code}).encode(), form)
        self.headers["Cookie"] = (answer.getheader("Set-Cookie") or "").partition(";")[0]
        front = self.ask("GET", "/")[1]
        self.fields = dict(re.findall(r'name="(token|number|run)" value="([^"]*)"', front))
        assert self.ask("POST", "/act/paper-away", urlencode(self.fields).encode(), form)[0].status in (200, 303)

    def ask(
        self, verb: str, path: str, body: bytes = b"", headers: dict[str, str] | None = None
    ) -> tuple[http.client.HTTPResponse, str]:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=400)
        with closing(line):
            line.request(verb, path, body or None, self.headers | (headers or {}))
            answer = line.getresponse()
            return answer, answer.read().decode()

    def bring(self, path: str, field: str, content: bytes, **more: str) -> tuple[int, str]:
        """Bring a file; return the status, and what was refused."""
        parts = [
            f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{text}\r\n'.encode()
            for name, text in (self.fields | more).items()
        ]
        head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{field}"; filename="mine.bin"\r\n\r\n'.encode()
        body = b"".join((*parts, head, content, f"\r\n--{BOUNDARY}--\r\n".encode()))
        answer, page = self.ask("POST", path, body, {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"})
        told = re.findall(r'role="alert"[^>]*>([^<]+)', page) or re.findall(r"mine\.bin [^<]+", page)
        return answer.status, " ".join(told)

    def scan(self, content: bytes) -> tuple[int, str]:
        return self.bring("/papers/scan", "file", content, do="bring")

    def own(self, content: bytes) -> tuple[int, str]:
        return self.bring("/practice/own", "picture", content)


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    monkeypatch.setenv("MALLOC_ARENA_MAX", "2")  # as the service's unit has it
    with Served(tmp_path) as found:
        yield found


SMALL_AND_HEAVY = lambda: png(3000, 3000, 6, 16, filtered=4)  # noqa: E731
BROUGHT: list[tuple[str, Callable[[], bytes], str]] = [
    ("200,000 pixels in one column", lambda: png(1, 200_000, 0, 8), "side of more than"),
    ("59 million pixels in four bytes", lambda: png(7375, 8000, 6, 8, filtered=4), ""),
    ("60 million pixels in eight bytes", lambda: png(7500, 8000, 6, 16, filtered=4), ""),
    ("60 million pixels, JPEG", lambda: jpeg("RGB", 7500, 8000), ""),
    ("24 million pixels, progressive JPEG", lambda: jpeg("RGB", 6000, 4000, progressive=True, subsampling=0), ""),
    ("60 million pixels, TIFF", lambda: tiff("L", 7500, 8000, None), ""),
    ("48 million pixels, packed TIFF", lambda: tiff("L", 6000, 8000, "tiff_lzw"), ""),
    ("60 million pixels, packed TIFF of 71 MB", lambda: tiff("L", 7500, 8000, "tiff_lzw"), ""),
    ("56 million pixels, interlaced", lambda: png(7000, 8000, 6, 8, interlaced=True), "as a whole"),
    ("24 million pixels, interlaced and broken", lambda: png(4800, 5000, 6, 8, interlaced=True), "no picture"),
    ("66 megabytes of nothing", lambda: bytes(65_000_000), ""),
]


AS_NEGATIVE = ("59 million pixels in four bytes", "60 million pixels, JPEG")
"""What is brought as a negative, too: both ways have the same reader."""


def ahead(maker: ThreadPoolExecutor, made: list[Callable[[], bytes]]) -> Iterator[bytes]:
    """Make each while what was made before it is brought: some take longer to make than to read."""
    coming = maker.submit(made[0])
    for following in made[1:]:
        content, coming = coming.result(), maker.submit(following)
        yield content
    yield coming.result()


@pytest.mark.alone
def test_whatever_is_brought_the_daemon_stays_small(served: Served, tmp_path: Path) -> None:
    """Four heavy scans at once, and each of the heaviest pictures as scan and as negative, leave it under its limit."""
    phone, watch, maker = Bringer(served), Watch(served.process.pid), ThreadPoolExecutor(1)
    try:
        with ThreadPoolExecutor(4) as four:
            answers = list(four.map(phone.scan, [SMALL_AND_HEAVY()] * 4))
        assert {status for status, _ in answers} <= {200, 409, 503}, answers
        assert [status for status, _ in answers].count(200) >= 1
        print(f"four at once: {watch.daemon_mb:.0f} MB, {watch.whole_mb:.0f} MB in all")
        for (name, _, refused), content in zip(BROUGHT, ahead(maker, [made for _, made, _ in BROUGHT]), strict=True):
            for way in (phone.scan, phone.own) if name in AS_NEGATIVE else (phone.scan,):
                begun = time.monotonic()
                status, told = way(content)
                print(
                    f"{name}, {len(content) / 1e6:.1f} MB: {status} after {time.monotonic() - begun:.1f} s, "
                    f"{watch.daemon_mb:.0f} MB, {watch.whole_mb:.0f} MB in all; {told[:60]}"
                )
                if refused:
                    assert refused in told
                    assert status == 422
                elif len(content) > MOST_BYTES:
                    assert status in (413, 422)
                else:
                    assert status in (200, 303), told
                time.sleep(max(0.0, begun + 0.5 - time.monotonic()))  # a phone may post so often
    finally:
        watch.close()
        maker.shutdown()
    assert watch.daemon_mb < DAEMON_MB
    assert watch.whole_mb < WHOLE_MB
    assert pss_kb(served.process.pid) / 1000 < AFTERWARDS_MB
    assert len(family(served.process.pid)) == 3, "daemon, keeper and spare"
    laid = [str(each.readlink()) for each in Path(f"/proc/{served.process.pid}/fd").iterdir()]
    assert not [each for each in laid if each.startswith(str(tmp_path)) and each.endswith("(deleted)")]
