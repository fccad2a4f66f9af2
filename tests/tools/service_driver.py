"""The daemon as a service starts it, through the same `serve`, with a hand on its inside for tests.

Started as `python tests/tools/service_driver.py FOLDER`, with the project and its tests on the path and, in the
environment,
what a service manager gives. A line on standard input, `hang SECONDS`, has the runner's thread do nothing for so long.
`light SECONDS` loads a recipe of one light. `keeper` says the keeper's process id and when it greeted; `page` comes out
once the page would be there, which takes SLOW_PAGE seconds to close. With SIGNALS set, SIGTERM comes from then on at
every single line with which the main thread waits for it and deals with it. With SLOW_OPENING set, each keeper is
killed while the page is being opened.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import Any

import controller.service.serve
from controller.daemon.desk import Desk
from controller.foot import acts
from controller.service.serve import serve
from controller.store.folder import DataFolder


class Hand:
    """Stands where the page would be."""

    port = 0

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        threading.Thread(target=self._run, daemon=True).start()
        print("page", flush=True)

    def _run(self) -> None:
        for line in sys.stdin:
            match line.split():
                case ["hang", seconds]:
                    self._desk._inbox.call(lambda s=float(seconds): time.sleep(s))
                case ["light", seconds]:
                    light = [{"filter": "soft", "seconds": float(seconds)}]
                    recipe = {"format": "treadle/recipe/1", "title": "Bench", "light": light, "local": []}
                    kept = self._desk.recipes().save(json.dumps(recipe))
                    self._desk.do(acts.Load(source=kept.id), self._desk.status().number)
                case ["keeper"]:
                    tether = self._desk._pipe.tether
                    print("keeper", tether.greeting.pid, tether.greeting.at_ns, flush=True)

    def close(self) -> None:
        """Take as long as a page's server that has much to end."""
        time.sleep(float(os.environ.get("SLOW_PAGE", "0")))


def open_page(desk: object, names: Sequence[str], host: str, port: int) -> Hand:
    """Put the hand in."""
    assert isinstance(desk, Desk)
    hand = Hand(desk)
    if "SLOW_OPENING" in os.environ:
        lose_keepers(desk)
    if "SIGNALS" in os.environ:
        frame = sys._getframe(1)
        sys.settrace(lambda *_: signal_at_each_line)
        frame.f_trace = signal_at_each_line
    return hand


def lose_keepers(desk: Desk) -> None:
    """Kill each keeper as it comes, until none is started any more."""
    while desk.status().keeper != "fault":
        with suppress(ProcessLookupError):
            os.kill(desk._pipe.tether.greeting.pid, signal.SIGKILL)
        time.sleep(0.05)


def signal_at_each_line(frame: FrameType, event: str, _: object) -> Any:
    """Raise SIGTERM at a line of the waiting; not within the handler, which would never end."""
    if event == "line" and frame.f_code.co_filename in _WAITING:
        signal.raise_signal(signal.SIGTERM)
    return signal_at_each_line


_WAITING = {module.__file__ for module in (controller.service.serve, queue, threading)}


def main(folder: str) -> int:
    """Serve a data folder."""
    return serve(DataFolder(Path(folder)), simulate=True, host="127.0.0.1", port=0, open_page=open_page)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
