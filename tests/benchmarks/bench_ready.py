"""How soon `treadle serve --simulate` is ready, and how large its first page is: `tests/benchmarks/bench_ready.py`.

Ready is when a page has been answered. The first page's bytes are those on the wire, its style, script and all else
that it names included, as a phone that has just been paired fetches them.
"""

from __future__ import annotations

import http.client
import re
import time
from pathlib import Path
from urllib.parse import urlencode

from machine import folder, table
from serving import Served

STARTS = 5


def fetch(line: http.client.HTTPConnection, path: str, cookie: str, **more: str) -> tuple[int, str, bytes]:
    """Return status, cookie and body of one page, its headers' bytes added in front as so many blanks."""
    line.request("GET", path, headers={"Cookie": cookie, "Accept-Encoding": "identity", **more})
    answer = line.getresponse()
    head = sum(len(name) + len(value) + 4 for name, value in answer.getheaders()) + 20
    return answer.status, answer.getheader("Set-Cookie") or "", b" " * head + answer.read()


def first_page(served: Served) -> tuple[int, int]:
    """Return the bytes of the first page after pairing with all that it names, and how many requests that took."""
    line = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    origin = f"http://127.0.0.1:{served.port}"
    headers = {"Origin": origin, "Content-Type": "application/x-www-form-urlencoded"}
    line.request("POST", "/pair", urlencode({"code": served.code}), headers)
    answer = line.getresponse()
    answer.read()
    assert answer.status == 303, answer.status
    cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
    status, _, body = fetch(line, "/", cookie)
    assert status == 200, status
    named = sorted(set(re.findall(rb'(?:src|href)="(/static/[^"]+)"', body)))
    total = len(body) + sum(len(fetch(line, path.decode(), cookie)[2]) for path in named)
    line.close()
    return total, 1 + len(named)


def main() -> None:
    """Measure and print."""
    with folder() as name, Served(Path(name)):
        pass  # compiles what was changed
    took, answered, size, requests = [], [], 0, 0
    for _ in range(STARTS):
        with folder() as name:
            begun = time.perf_counter()
            with Served(Path(name)) as served:
                line = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
                line.request("GET", "/health")
                assert line.getresponse().status == 200
                answered.append(time.perf_counter() - begun)
                line.close()
                took.append(served.ready_s)
                size, requests = first_page(served)
    rows = [
        ("address and code printed, s", f"{min(took):.2f} to {max(took):.2f}"),
        ("first answer, s", f"{min(answered):.2f} to {max(answered):.2f}"),
        ("first page after pairing, kB", f"{size / 1000:.1f}", f"{requests} requests"),
    ]
    table(f"`treadle serve --simulate`, {STARTS} starts", rows)


if __name__ == "__main__":
    main()
