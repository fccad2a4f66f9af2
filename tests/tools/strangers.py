"""Phones that were never paired and will not leave the page alone: a process of its own that ends by itself.

`python tests/tools/strangers.py PORT WAY MANY SECONDS ADDRESS`: hold MANY connections from ADDRESS, a loopback address,
for SECONDS. Each that is closed is opened anew. WAY is "busy" (ask for /health over and over), "idle" (say nothing),
"stops" (send STOP without a cookie), "pages" (ask for the first page), "codes" (try codes), "forged" (STOP with a
cookie that somebody made up), "slow" (a header that is never whole).
"""

from __future__ import annotations

import selectors
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

LONGEST_S = 300


def words(way: str, port: int) -> bytes:
    """Return what a stranger of this kind sends."""
    host = f"Host: 127.0.0.1:{port}\r\n"
    asked = {
        "busy": f"GET /health HTTP/1.1\r\n{host}Accept: application/json\r\n\r\n",
        "pages": f"GET / HTTP/1.1\r\n{host}Accept: text/html\r\n\r\n",
        "stops": f"POST /stop HTTP/1.1\r\n{host}Content-Length: 0\r\n\r\n",
        "forged": f"POST /stop HTTP/1.1\r\n{host}Cookie: treadle-00000000=eyJhIjoxfQ.x\r\nContent-Length: 0\r\n\r\n",
        "codes": f"POST /pair HTTP/1.1\r\n{host}Origin: http://127.0.0.1:{port}\r\n"
        "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 13\r\n\r\ncode=00000000",
        "slow": f"GET / HTTP/1.1\r\n{host}X: ",
        "idle": "",
    }
    return asked[way].encode()


class Crowd:
    """So many connections from one address, each opened anew when it is closed."""

    def __init__(self, port: int, way: str, address: str) -> None:
        self.port, self.address, self.asked = port, address, words(way, port)
        self.again = way not in {"idle", "slow"}
        self.eyes = selectors.DefaultSelector()
        self.opened = self.answers = 0

    def come(self) -> None:
        """Open one connection more."""
        line = socket.socket()
        line.setblocking(False)
        try:
            line.bind((self.address, 0))
            line.connect_ex(("127.0.0.1", self.port))
        except OSError:  # no port is left for a moment
            line.close()
            time.sleep(0.01)
            return self.come()
        self.opened += 1
        self.eyes.register(line, selectors.EVENT_WRITE)
        return None

    def go_on(self, line: socket.socket, events: int) -> None:
        """Ask, or take an answer in and ask again."""
        if events & selectors.EVENT_READ:
            if not line.recv(65536):
                raise ConnectionError
            self.answers += 1
            if not self.again:
                return
        if self.asked:
            line.send(self.asked)
        if events & selectors.EVENT_WRITE:
            self.eyes.modify(line, selectors.EVENT_READ)

    def stay(self, many: int, seconds: float) -> None:
        """Hold so many for so long."""
        end = time.monotonic() + seconds
        for _ in range(many):
            self.come()
        while time.monotonic() < end:
            for key, events in self.eyes.select(0.2):
                line = key.fileobj
                assert isinstance(line, socket.socket)
                try:
                    self.go_on(line, events)
                except OSError:
                    self.eyes.unregister(line)
                    line.close()
                    self.come()
        for key in list(self.eyes.get_map().values()):
            with suppress(OSError):
                key.fileobj.close()  # type: ignore[union-attr]


@contextmanager
def strangers(port: int, way: str, many: int, address: str, seconds: float = 60) -> Iterator[subprocess.Popen[str]]:
    """Have a crowd about for the length of a block, `seconds` at most."""
    command = [sys.executable, str(Path(__file__)), str(port), way, str(many), str(seconds), address]
    crowd = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        time.sleep(1.5)
        assert crowd.poll() is None, "the crowd did not come"
        yield crowd
        assert crowd.poll() is None, "the crowd was gone before the end"
    finally:
        crowd.kill()
        crowd.communicate()


def main() -> None:
    """Stay, and say how often they came and were answered."""
    port, way, many, seconds, address = sys.argv[1:]
    crowd = Crowd(int(port), way, address)
    crowd.stay(int(many), min(float(seconds), LONGEST_S))
    print(f"{crowd.opened} connections, {crowd.answers} answers")


if __name__ == "__main__":
    main()
