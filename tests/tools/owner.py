"""A paired phone that writes its own bytes to a real server, and a lamp that is lit for it."""

from __future__ import annotations

import re
import socket
import time

from controller.foot.status import LitNow
from tools.stand_in_desk import CODE, StandInDesk, next_step
from webui.server import Server

OWN, OTHER = "127.0.0.1", "127.0.0.2"
LIT = LitNow(kind="step", on_ns=1, lit_ms=10100)
JSON = b"Accept: application/json\r\n"


def lit_desk() -> StandInDesk:
    """Return a desk whose clock goes by itself, with the lamp lit."""
    made = StandInDesk()
    made.clock = time.monotonic_ns
    light(made)
    return made


def light(desk: StandInDesk) -> None:
    """Have the lamp lit."""
    desk.show(lit=LIT, next=next_step(), stop_possible=True)


class Owner:
    """A paired phone that writes its own bytes."""

    def __init__(self, server: Server) -> None:
        self.port = server.port
        told = self.send(
            b"POST /pair", b"Content-Type: application/x-www-form-urlencoded\r\n", b"code=" + CODE.encode()
        )
        found = re.search(rb"Set-Cookie: ([^;]+);", told, re.I)
        assert found, told[:300]
        self.cookie = found[1]

    def send(self, what: bytes, headers: bytes = b"", body: bytes = b"") -> bytes:
        """Send one request on a connection of its own; return all that comes back."""
        host = f"{OWN}:{self.port}".encode()
        head = b"%s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nConnection: close\r\n" % (what, host, host)
        with socket.create_connection((OWN, self.port), timeout=20) as line:
            line.sendall(head + headers + b"Content-Length: %d\r\n\r\n" % len(body) + body)
            told = b""
            while chunk := line.recv(65536):
                told += chunk
            return told

    def stop(self, before: bytes = b"", after: bytes = b"") -> bytes:
        """Press STOP, with other cookies before and after the phone's own."""
        return self.send(b"POST /stop", JSON + b"Cookie: " + before + self.cookie + after + b"\r\n")

    def press(self) -> bool:
        """Press STOP as the page's script does; tell whether it was carried out."""
        for _ in range(5):
            try:
                if b" 200 " in self.stop().partition(b"\r\n")[0]:
                    return True
            except OSError:
                pass
            time.sleep(0.15)
        return False
