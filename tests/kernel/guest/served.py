"""Inside the emulated machine: `treadle serve` as a service manager starts it, on the lines of its wiring file."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from kernel.guest.bench import FOOT, LAMP, PATIENCE_NS, SOUNDER, Bench

WIRING: Final = f"[lamp]\npin = {LAMP}\n\n[foot]\npin = {FOOT}\n\n[sounder]\npin = {SOUNDER}\n"
_SERVE: Final = f"""
import sys
import hardware.tether.tether as tether, treadle
tether.START_NS = tether.DARK_NS = {PATIENCE_NS}
sys.exit(treadle.main())
"""
"""`treadle serve` that waits for its keepers as long as the tethers of the other scenes do."""
_STARTS: Final = 2
"""A service manager tries again."""
_READY_S: Final = 120.0


@contextmanager
def served(bench: Bench, data: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Give the service of a data folder once it says to its manager that it is ready; what it prints is noted."""
    (data / "wiring.toml").write_text(WIRING)
    place = bench.folder / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager, (bench.folder / "printed").open("wb") as printed:
        manager.bind(str(place))
        manager.settimeout(1)
        for _ in range(_STARTS):
            service = subprocess.Popen(
                [sys.executable, "-P", "-c", _SERVE, "serve", "--data", data, "--host", "127.0.0.1", "--port=0"],
                env={**os.environ, "NOTIFY_SOCKET": str(place)},
                stdin=subprocess.DEVNULL,
                stdout=printed,
                stderr=subprocess.STDOUT,
            )
            try:
                if _ready(service, manager):
                    yield service
                    return
            finally:
                service.kill()
                service.wait()
                bench.note(printed=(bench.folder / "printed").read_text())
    raise TimeoutError(f"the service was never ready, and said: {bench.notes['printed']}")


def _ready(service: subprocess.Popen[bytes], manager: socket.socket) -> bool:
    for _ in range(round(_READY_S)):
        try:
            if b"READY=1" in manager.recv(200):
                return True
        except TimeoutError:
            if service.poll() is not None:
                return False
    return False
