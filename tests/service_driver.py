"""The daemon as a service starts it, through the same `serve`, with a hand on its inside for tests.

Started as `python tests/service_driver.py FOLDER`, with the project and its tests on the path and, in the environment,
what a service manager gives. A line on standard input, `hang SECONDS`, has the runner's thread do nothing for so long.
`keeper` says its process id and when it greeted; `page` comes out once the page would be there.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

from controller.darkroom import Darkroom
from controller.data import DataFolder
from controller.serving import serve


class Hand:
    """Stands where the page would be."""

    port = 0

    def __init__(self, darkroom: Darkroom) -> None:
        self._darkroom = darkroom
        threading.Thread(target=self._run, daemon=True).start()
        print("page", flush=True)

    def _run(self) -> None:
        for line in sys.stdin:
            match line.split():
                case ["hang", seconds]:
                    self._darkroom._inbox.call(lambda s=float(seconds): time.sleep(s))
                case ["keeper"]:
                    tether = self._darkroom._pipe.tether
                    print("keeper", tether.greeting.pid, tether.greeting.at_ns, flush=True)

    def close(self) -> None:
        """There is nothing to close."""


def open_page(desk: object, names: Sequence[str], host: str, port: int) -> Hand:
    """Put the hand in."""
    assert isinstance(desk, Darkroom)
    return Hand(desk)


if __name__ == "__main__":
    sys.exit(serve(DataFolder(Path(sys.argv[1])), simulate=True, host="127.0.0.1", port=0, open_page=open_page))
