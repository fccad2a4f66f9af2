"""A daemon as a process of its own, asked through its pipes and, where it serves pages, looked at as a phone does."""

from __future__ import annotations

import ctypes
import http.client
import json
import os
import resource
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from urllib.parse import urlencode

from controller.foot.status import Status
from tools.patience import line_from

TESTS = Path(__file__).resolve().parents[1]
_BEGIN = """
import gc, json, sys
gc.disable()
from pathlib import Path
from tools.daemon_driver import main
main(Path(sys.argv[1]), json.loads(sys.argv[2]))
"""
"""What loading makes is kept: looking through it for garbage takes a tenth of the time until a daemon is there."""

_PR_CAPBSET_DROP = 24
_CAP_SYS_NICE = 23
_libc = ctypes.CDLL(None)


def _humble() -> None:
    """Give up, for good, what allows real-time priority."""
    resource.setrlimit(resource.RLIMIT_RTPRIO, (0, 0))
    _libc.prctl(_PR_CAPBSET_DROP, _CAP_SYS_NICE, 0, 0, 0)


class Daemon:
    """One life of a daemon; `humble` keeps it and its keeper from real-time priority, whoever runs it."""

    def __init__(self, folder: Path, *, humble: bool = False, **options: object) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-c", _BEGIN, str(folder), json.dumps(options)],
            env={**os.environ, "PYTHONPATH": f"{TESTS.parent}:{TESTS}"},
            preexec_fn=_humble if humble else None,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self._turn = threading.Lock()
        self.refusal = ""
        """Why what was asked last was refused; empty where it was not."""
        self.first = self._read()
        assert self.first is not None, "the daemon did not come up"
        self.door: dict[str, object] = json.loads(line_from(self.process)) if options.get("web") else {}

    def _read(self) -> Status | None:
        line = line_from(self.process)
        if not line:
            return None
        body = json.loads(line)
        self.refusal = str(body.get("refused", ""))
        return None if "refused" in body else Status.model_validate(body)

    def ask(self, **what: object) -> Status | None:
        """Return how things stand after `what` was done; None where it was refused, or the daemon is no more."""
        assert self.process.stdin is not None
        with self._turn:
            try:
                self.process.stdin.write(json.dumps(what) + "\n")
                self.process.stdin.flush()
            except (BrokenPipeError, OSError):
                return None
            return self._read()

    def kill(self) -> int:
        """Kill it, and return when."""
        at = time.monotonic_ns()
        os.kill(self.process.pid, signal.SIGKILL)
        return at

    def close(self) -> None:
        """End it by ending its input, or kill it where it does not end."""
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            with suppress(BrokenPipeError):
                pipe.close()
        try:
            self.process.wait(5)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


class DaemonPhone:
    """A paired phone at a daemon that serves pages: it presses STOP, and looks through event streams."""

    def __init__(self, daemon: Daemon) -> None:
        self.port = int(str(daemon.door["port"]))
        self._origin = f"http://127.0.0.1:{self.port}"
        self._line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        body = urlencode({"code": str(daemon.door["code"])})
        answer = self._send("POST", "/pair", body, {"Content-Type": "application/x-www-form-urlencoded"})
        assert answer.status == 303, answer.status
        self._cookie = (answer.getheader("Set-Cookie") or "").partition(";")[0]
        self._streams: list[socket.socket] = []
        self._lookers: list[threading.Thread] = []
        self.heard = 0
        """Words heard on all streams."""

    def _send(self, verb: str, path: str, body: str, headers: dict[str, str]) -> http.client.HTTPResponse:
        self._line.request(verb, path, body, {"Origin": self._origin, **headers})
        answer = self._line.getresponse()
        answer.read()
        return answer

    def stop(self) -> int:
        """Press STOP, and return when it was sent."""
        sent = time.monotonic_ns()
        answer = self._send("POST", "/stop", "", {"Cookie": self._cookie, "Accept": "application/json"})
        assert answer.status == 200, answer.status
        return sent

    def get(self, path: str, **headers: str) -> tuple[int, bytes]:
        """Get a page: its status, and its bytes as they come over the wire."""
        self._line.request("GET", path, headers={"Cookie": self._cookie, **headers})
        answer = self._line.getresponse()
        return answer.status, answer.read()

    def look(self, streams: int, part: str = "now") -> None:
        """Look through so many event streams of a page's part until `close`."""
        for _ in range(streams):
            line = socket.create_connection(("127.0.0.1", self.port), timeout=90)
            asked = f"GET /live?part={part} HTTP/1.1\r\nHost: 127.0.0.1:{self.port}\r\nCookie: {self._cookie}\r\n\r\n"
            line.sendall(asked.encode())
            looker = threading.Thread(target=self._listen, args=(line,), name="looker")
            self._streams.append(line)
            self._lookers.append(looker)
            looker.start()

    def _listen(self, line: socket.socket) -> None:
        with suppress(OSError), line.makefile("rb") as words:
            assert b" 200 " in words.readline(), "no stream was given"
            for word in words:
                self.heard += word.startswith(b"data:")

    def close(self) -> None:
        """Put the phone away."""
        for line in self._streams:
            with suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
        for looker in self._lookers:
            looker.join()
        for line in (*self._streams, self._line):
            line.close()
