"""Lateness of the dark edge while a photograph is brought over and over: `bench_upload.py [LIGHTS]`.

A photograph of nearly 24 MB comes to the page of a practice darkroom again and again, is made small there by a process
of its own, and is kept; meanwhile a keeper process gives lights of a quarter of a second. First the same lights with
nobody bringing anything. No sheet is open at the page: with one open nothing is unpacked at all, and a photograph takes
less. Real-time priority is named where it was granted. Then what one photograph takes: by the clock, as the phone sees
it, and of the processor, in the page's process and in the one that unpacks. Nothing is judged.
"""

from __future__ import annotations

import http.client
import json
import re
import resource
import select
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlencode

from machine import folder, share, table  # puts the project and its tests on the path

# isort: split
from tools.negatives import heavy_photograph, tree

import treadle
from controller.commands.timing.load import Load
from controller.commands.timing.measure import Measured, measure
from controller.daemon.desk import Desk

LIT_MS: Final = 250
FORM: Final = "application/x-www-form-urlencoded"
BOUNDARY: Final = "a-photograph-of-a-proof"
ONES_OWN: Final = "bring"
"""This file's own first word where it is the phone that brings, in a process of its own."""


class Bringer:
    """A paired phone that brings one photograph after the other, until it is ended."""

    def __init__(self, port: int, cookie: str, source: str, photograph: Path) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__, ONES_OWN, str(port), cookie, source, str(photograph)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def end(self) -> list[float]:
        """End it after the photograph that is on its way; return the seconds that each one took."""
        return [float(each) for each in json.loads(self._process.communicate("\n", timeout=120)[0])]


def send(port: int, verb: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, str, str]:
    """Ask the page, on a connection of its own; return status, cookie and body."""
    line = http.client.HTTPConnection("localhost", port, timeout=100)
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    line.request(verb, path, body, {"Origin": f"http://localhost:{port}", **named})
    answer = line.getresponse()
    said = answer.read().decode()
    line.close()
    return answer.status, (answer.getheader("Set-Cookie") or "").partition(";")[0], said


def bring(port: int, cookie: str, source: str, photograph: Path) -> list[float]:
    """Bring the photograph until a line comes in, at least once; return the seconds that each one took."""
    page = send(port, "GET", "/", Cookie=cookie)[2]
    fields = {name: re.findall(rf'name="{name}" value="([^"]+)"', page)[0] for name in ("token", "run")}
    fields["number"] = str(json.loads(send(port, "GET", "/status.json", Cookie=cookie)[2])["number"])
    away = send(port, "POST", "/act/paper-away", urlencode(fields).encode(), Content_Type=FORM, Cookie=cookie)[0]
    assert away in (200, 303), away
    body = b"".join(
        f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in {**fields, "set": source}.items()
    )
    body += f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="proof.jpg"\r\n\r\n'.encode()
    body += photograph.read_bytes() + f"\r\n--{BOUNDARY}--\r\n".encode()
    kind = f"multipart/form-data; boundary={BOUNDARY}"
    took: list[float] = []
    while not took or not select.select([sys.stdin], [], [], 0)[0]:
        began = time.perf_counter()
        status, _, said = send(port, "POST", "/negatives/proof", body, Content_Type=kind, Cookie=cookie)
        took.append(time.perf_counter() - began)
        assert status == 303, (status, re.sub(r"<[^>]+>|\s+", " ", said)[-400:])
    return took


@dataclass
class Brought:
    """What came of the photographs, once the page is closed."""

    photograph: Path
    took: list[float] = field(default_factory=list)
    page_s: float = 0.0
    """Of the processor, in the process of the page; lights and threads of the measuring itself are in it."""
    unpacking_s: float = 0.0

    def open_page(self, desk: Desk, names: Sequence[str], host: str, port: int) -> Any:
        """Serve the page, and have photographs brought to it until it is closed."""
        made = desk.negatives().make(tree(1))
        server = treadle._open_page(desk, names, host, port)
        code = urlencode({"code": desk.pairing().new_code()}).encode()
        cookie = send(server.port, "POST", "/pair", code, Content_Type=FORM)[1]
        had, children = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
        phone = Bringer(server.port, cookie, made.id, self.photograph)
        close: Callable[[], None] = server.close

        def end() -> None:
            # the one that brings is a child, too: what it has taken is not there before it has ended
            has, those = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
            self.page_s, self.unpacking_s = _used(has, had), _used(those, children)
            self.took = phone.end()
            close()

        server.close = end
        return server


def _used(has: resource.struct_rusage, had: resource.struct_rusage) -> float:
    return has.ru_utime + has.ru_stime - had.ru_utime - had.ru_stime


def lateness(name: str, found: Measured) -> tuple[object, ...]:
    """Return a line of the table, in ms."""
    late = [each / 1e6 for each in found.late_ns]
    figures = (f"{share(late, 50):.3f}", f"{share(late, 99):.3f}", f"{max(late):.3f}")
    return f"{name}, {found.greeting.scheduling}", *figures, len(late)


def main(lights: int) -> None:
    """Measure and print."""
    with folder() as name:
        photograph = Path(name) / "proof.jpg"
        photograph.write_bytes(heavy_photograph())
        brought = Brought(photograph)

        def give(open_page: Callable[..., Any]) -> Measured:
            return measure(None, lights=lights, lit_ms=LIT_MS, load=Load(), compare=False, open_page=open_page)

        alone, beside = give(treadle._open_page), give(brought.open_page)
        count = len(brought.took)
        rows = [
            ("", "p50", "p99", "max", "lights"),
            lateness("nothing brought", alone),
            lateness(f"{count} photographs brought", beside),
        ]
        table("Lateness of the dark edge, ms", rows)
        clock = f"median {statistics.median(brought.took):.2f}, worst {max(brought.took):.2f} s"
        unpacked = f"{brought.unpacking_s / max(1, count - 1):.2f} s"
        table(
            f"One photograph of {photograph.stat().st_size / 1e6:.1f} MB",
            [
                ("by the clock, as the phone sees it", clock),
                ("of the processor, unpacking", unpacked),
                ("of the processor, the page, lights among it", f"{brought.page_s / max(1, count - 1):.2f} s"),
            ],
        )


if __name__ == "__main__":
    if sys.argv[1:2] == [ONES_OWN]:
        print(json.dumps(bring(int(sys.argv[2]), sys.argv[3], sys.argv[4], Path(sys.argv[5]))))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
