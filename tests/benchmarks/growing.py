"""What a benchmark of growing data needs: a served folder seen from a phone, its feet, memory and caches."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import time
from contextlib import suppress
from itertools import cycle
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from serving import Served, family, pss_kb

from hardware.practice.practice_darkroom import PracticeDarkroom


class Phone:
    """A phone, paired by the code that was printed, that fetches pages and does what their buttons do."""

    def __init__(self, served: Served) -> None:
        """Pair, and read the token off the first page."""
        self._origin = f"http://127.0.0.1:{served.port}"
        self._line = http.client.HTTPConnection("127.0.0.1", served.port, timeout=600)
        self._cookie = ""
        status, headers, _ = self.post("/pair", {"code": served.code})
        assert status == 303, status
        self._cookie = headers["Set-Cookie"].partition(";")[0]
        text = self.get("/")[1].decode()
        self.token = _field(text, "token")
        self.run = _field(text, "run")

    def get(self, path: str, **headers: str) -> tuple[int, bytes]:
        """Return status and body of a page, as they come over the wire."""
        status, _, body = self._ask("GET", path, None, headers)
        return status, body

    def post(self, path: str, fields: dict[str, Any], **headers: str) -> tuple[int, dict[str, str], bytes]:
        """Send a form."""
        kind = {"Origin": self._origin, "Content-Type": "application/x-www-form-urlencoded"}
        return self._ask("POST", path, urlencode(fields), {**kind, **headers})

    def act(self, name: str, **fields: str) -> int:
        """Do an act of the page as it stands now; return the status."""
        number = self.status()["number"]
        return self.post(f"/act/{name}", {"token": self.token, "run": self.run, "number": number, **fields})[0]

    def status(self) -> dict[str, Any]:
        """Return how things stand."""
        told: dict[str, Any] = json.loads(self.get("/status.json")[1])
        return told

    def wait_for(self, *places: str, seconds: float = 30.0) -> int:
        """Wait until one of these is what stands, and return when, in monotonic ns."""
        until = time.monotonic() + seconds
        while (place := self.status()["place"]) not in places:
            assert time.monotonic() < until, f"waited for {places} in vain: it is at {place}"
            time.sleep(0.005)
        return time.monotonic_ns()

    def _ask(
        self, verb: str, path: str, body: str | None, headers: dict[str, str]
    ) -> tuple[int, dict[str, str], bytes]:
        for last in (False, True):
            try:
                self._line.request(verb, path, body, {"Cookie": self._cookie, **headers})
                answer = self._line.getresponse()
                return answer.status, dict(answer.getheaders()), answer.read()
            except (http.client.HTTPException, ConnectionError):
                self._line.close()
                if last:
                    raise
        raise AssertionError("never here")


def _field(text: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]+)"', text)
    assert found, f"the first page has no {name}"
    return found.group(1)


def pss_mb(served: Served) -> list[float]:
    """Return the proportional memory of daemon and keepers, in MB."""
    return [pss_kb(pid) / 1000 for pid in family(served.process.pid)]


def peak_mb(pid: int) -> float:
    """Return the most memory a living process has had, in MB; 0 where it is no more."""
    with suppress(OSError):
        for line in (Path("/proc") / str(pid) / "status").read_text("ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1000
    return 0.0


def drop_caches() -> bool:
    """Have the kernel forget what it has read; False where that is not allowed."""
    os.sync()
    try:
        Path("/proc/sys/vm/drop_caches").write_text("3")
    except OSError:
        return False
    return True


def print_one_light(phone: Phone, room: PracticeDarkroom) -> None:
    """Load the first thing there is, and stand with the contact up where the next press gives light."""
    text = phone.get("/choose")[1].decode()
    source = re.search(r'name="source" value="([0-9a-z]{8})"', text)
    assert source, "there is nothing to choose"
    phone.act("paper-away")
    assert phone.act("load", source=source.group(1)) in (200, 303)
    filters = cycle(("soft", "hard", "2", "3", "00", "5", "0", "1", "4"))
    for _ in range(24):
        match phone.status()["place"]:
            case "ready" | "held":
                return
            case "change filter":
                room.log_filter(next(filters))
                time.sleep(0.6)
        if phone.status()["place"] not in ("ready", "held"):
            room.press(120)  # whatever is asked before the first light is done
        time.sleep(0.5)
    raise AssertionError(f"no light comes next: it is at {phone.status()['place']}")


def kill_in_light(served: Served, phone: Phone, room: PracticeDarkroom) -> float:
    """Begin a light by foot, kill the daemon in it, and return how many ms later it was dark."""
    room.press(120)
    phone.wait_for("light", seconds=10)
    time.sleep(0.3)
    assert room.lit(), "there is no light to be killed in"
    at_ns = time.monotonic_ns()
    os.kill(served.process.pid, signal.SIGKILL)
    served.process.wait()
    until = time.monotonic() + 10
    while room.lit():
        assert time.monotonic() < until, "it stayed lit"
        time.sleep(0.001)
    return next((edge.at_ns - at_ns) / 1e6 for edge in room.edges() if edge.at_ns > at_ns and not edge.lit)
