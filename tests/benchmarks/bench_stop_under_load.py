"""How soon STOP is answered while strangers crowd the page.

`tests/benchmarks/bench_stop_under_load.py [STOPS [WAY …]]`: the attacker runs on the same cores, once from another
loopback address and once from the owner's own. The owner presses as the page's script does: up to five tries, 150 ms
apart, and here each on a new connection, which is the harder way.
"""

from __future__ import annotations

import http.client
import sys
import time
from pathlib import Path
from urllib.parse import urlencode

from machine import folder, share, table
from serving import Served
from tools.strangers import strangers

TRIES = 5
AGAIN_S = 0.15
OWN, OTHER = "127.0.0.1", "127.0.0.2"
MANY = {"busy": 300, "idle": 500, "stops": 300, "pages": 300, "codes": 300, "forged": 300, "slow": 300}


class Owner:
    """A paired phone."""

    def __init__(self, served: Served) -> None:
        self.port, self.cookie = served.port, ""
        status, cookie = self._post("/pair", urlencode({"code": served.code}))
        assert status == 303, status
        self.cookie = cookie.partition(";")[0]

    def _post(self, path: str, body: str) -> tuple[int, str]:
        line = http.client.HTTPConnection(OWN, self.port, timeout=30)
        headers = {"Origin": f"http://{OWN}:{self.port}", "Cookie": self.cookie, "Accept": "application/json"}
        try:
            line.request("POST", path, body, {**headers, "Content-Type": "application/x-www-form-urlencoded"})
            answer = line.getresponse()
            answer.read()
            return answer.status, answer.getheader("Set-Cookie") or ""
        finally:
            line.close()

    def stop(self) -> tuple[float, int]:
        """Press STOP; return the seconds until it was carried out, and the tries it took (0: never)."""
        begun = time.perf_counter()
        for number in range(1, TRIES + 1):
            try:
                if self._post("/stop", "")[0] == 200:
                    return time.perf_counter() - begun, number
            except (OSError, http.client.HTTPException):
                pass
            time.sleep(AGAIN_S)
        return time.perf_counter() - begun, 0


def measure(owner: Owner, stops: int) -> list[object]:
    """Press STOP so often; return how often it was carried out, and how soon."""
    took = [(owner.stop(), time.sleep(0.03))[0] for _ in range(stops)]
    seconds = [each for each, tries in took if tries]
    again = sum(tries > 1 for _, tries in took)
    if not seconds:
        return [f"0 of {stops}"]
    ms = [f"{name} {value * 1000:.0f} ms" for name, value in _figures(seconds)]
    return [f"{len(seconds)} of {stops}", *ms, f"{again} needed a second try"]


def _figures(seconds: list[float]) -> list[tuple[str, float]]:
    return [("median", share(seconds, 50)), ("p99", share(seconds, 99)), ("worst", max(seconds))]


def main() -> None:
    """Measure and print."""
    stops = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    ways = sys.argv[2:] or list(MANY)
    rows: list[list[object]] = []
    with folder() as name, Served(Path(name)) as served:
        owner = Owner(served)
        rows.append(["nobody else", *measure(owner, stops)])
        for way in ways:
            for address in (OTHER, OWN):
                with strangers(served.port, way, MANY[way], address, 280):
                    rows.append([f"{MANY[way]} {way} from {address}", *measure(owner, stops)])
                    print(*rows[-1], flush=True)
                time.sleep(1)
    table(f"STOP under load, {stops} each", rows)


if __name__ == "__main__":
    main()
