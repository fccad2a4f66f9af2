"""Within the emulated machine, with its own Python: what the service promises on a kernel's lines, one scene each.

Started by systemd once the machine is up, with the file to write what came of it to. Judged are order and end states:
an emulated machine keeps no time.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

LINES = Path("/run/lines")
PROCESSES = Path("/sys/fs/cgroup/system.slice/treadle.service/cgroup.procs")
played: list[dict[str, object]] = []


def run(command: str) -> str:
    """Return what a line of shell says, whatever came of it."""
    return subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False).stdout.strip()


def show(name: str) -> str:
    """Return a property of the unit."""
    return run(f"systemctl show -P {name} treadle")


def until(holds: Callable[[], object], seconds: float = 240) -> bool:
    """Tell whether something came to hold."""
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(0.2)
    return True


def lit() -> bool:
    """Tell whether the lamp's line is driven high."""
    return (LINES / "sim_gpio17" / "value").read_text().strip() == "1"


def foot(seconds: float) -> None:
    """Put a foot down for a while."""
    pull = LINES / "sim_gpio27" / "pull"
    pull.write_text("pull-down")
    time.sleep(seconds)
    pull.write_text("pull-up")


def light() -> bool:
    """Have a foot ask for white light, and grant it; tell whether it came."""
    for _ in range(5):
        foot(1.5)
        time.sleep(1.0)
        foot(1.5)
        if until(lit, 8):
            return True
    return False


def ready() -> bool:
    """Tell whether the service is up with a keeper, dark."""
    return run("systemctl is-active treadle") == "active" and '"ready"' in run("treadle status --json") and not lit()


def scene(name: str, holds: Callable[[], object], said: Callable[[], str] = str) -> None:
    """Play one, and note it at once: a machine that stands still later has still told what it saw."""
    held = bool(holds())
    played.append({"name": name, "held": held, "said": said() if not held else ""})
    Path(sys.argv[1]).write_text(json.dumps(played))
    print(("held " if held else "FAILED ") + name, flush=True)


def own_processes() -> list[str]:
    """Return the processes of the unit."""
    return PROCESSES.read_text().split()


def keepers_first() -> bool:
    """Tell whether there is a keeper, and every one has real-time priority and locked memory."""
    found = [pid for pid in own_processes() if b"hardware.keeper" in Path(f"/proc/{pid}/cmdline").read_bytes()]
    first = all(run(f"cut -d' ' -f41 /proc/{pid}/stat") == "1" for pid in found)  # SCHED_FIFO, proc(5)
    return bool(found) and first and all("VmLck:\t       0" not in Path(f"/proc/{p}/status").read_text() for p in found)


def dies(name: str, how: str) -> None:
    """Light the lamp, end the daemon so, and see it dark, and another daemon ready."""
    pid = show("MainPID")
    scene(f"{name}: light by foot", light, lambda: run("journalctl -u treadle -n 20 -o cat --no-pager"))
    run(how.format(pid=pid))
    scene(f"{name}: dark", lambda: until(lambda: not lit()))
    scene(f"{name}: ready again", lambda: until(lambda: show("MainPID") not in ("0", pid) and ready()))
    time.sleep(4)


def log() -> str:
    """Return the unit's journal of this boot, without pictures."""
    return run("journalctl -b -u treadle -o cat --no-pager | grep -v '[█▀▄]' | tail -n 40")


scene("starts with the machine, by whichever start", lambda: until(ready, 600), log)
scene(
    "every process is the service's user",
    lambda: all(run(f"stat -c %U /proc/{pid}") == "treadle" for pid in own_processes()),
)
scene("keepers have real-time priority and locked memory", keepers_first)
scene("what systemctl shows", lambda: until(lambda: show("StatusText").startswith("lamp dark; http"), 30))
dies("kill -9 main", "kill -9 {pid}")
dies("kill -9 all", "systemctl kill -s KILL treadle")
dies("stop main", "kill -STOP {pid}")
scene("the watchdog ended it", lambda: "Watchdog timeout" in run("journalctl -b -u treadle -o cat --no-pager"), log)
dies("restart", "systemctl restart treadle")
run("mv /etc/treadle/wiring.toml /etc/treadle/away; echo wrong >/etc/treadle/wiring.toml")
run("systemctl --no-block restart treadle")
time.sleep(60)
scene(
    "a wrong wiring file fills no journal",
    lambda: len(run("journalctl -b -u treadle -o cat --no-pager --since '-50s'").splitlines()) < 30,
    log,
)
scene("and systemctl shows what to do", lambda: "switch the lamp off" in show("StatusText"))
run("mv /etc/treadle/away /etc/treadle/wiring.toml")
scene("mended, it is ready", lambda: until(ready), log)
