"""Phones that look: each holds the live page's stream open and turns a page a second.

Run as `python -m controller.commands.timing.looker PORT CODE PHONES`; says “looking” once every stream is open.
"""

from __future__ import annotations

import http.client
import sys
import threading
import time
from typing import Final
from urllib.parse import urlencode

_TURN_S: Final = 1.0
_PATIENCE_S: Final = 60.0


def pair(port: int, code: str) -> str:
    """Pair as a phone does, and return the cookie."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=_PATIENCE_S)
    headers = {"Origin": f"http://127.0.0.1:{port}", "Content-Type": "application/x-www-form-urlencoded"}
    line.request("POST", "/pair", urlencode({"code": code}), headers)
    answer = line.getresponse()
    answer.read()
    line.close()
    if answer.status != 303:
        raise SystemExit(f"not paired: {answer.status}")
    return (answer.getheader("Set-Cookie") or "").partition(";")[0]


def listen(port: int, cookie: str, opened: threading.Barrier) -> None:
    """Hold a stream open, and open it anew as often as the page's server ends it."""
    first = True
    while True:
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=_PATIENCE_S)
        line.request("GET", "/live?part=now", headers={"Cookie": cookie})
        answer = line.getresponse()
        if first and answer.status != 200:
            opened.abort()
            return
        if first:
            first = False
            opened.wait()
        while answer.readline():
            pass
        line.close()


def turn_pages(port: int, cookie: str, phones: int) -> None:
    """Turn a page for every phone, each second."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=_PATIENCE_S)
    turned = 0
    while True:
        due = time.monotonic() + _TURN_S / phones
        line.request("GET", "/", headers={"Cookie": cookie})
        line.getresponse().read()
        turned += 1
        time.sleep(max(0.0, due - time.monotonic()))


def main(port: int, code: str, phones: int) -> None:
    """Look until killed."""
    cookie = pair(port, code)
    opened = threading.Barrier(phones + 1)
    for _ in range(phones):
        threading.Thread(target=listen, args=(port, cookie, opened), daemon=True).start()
    opened.wait(_PATIENCE_S)
    sys.stdout.write("looking\n")
    sys.stdout.flush()
    turn_pages(port, cookie, phones)


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
