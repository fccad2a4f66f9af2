"""Inside the emulated machine: the scenes that are played on kernel lines. None judges; the tests outside do."""

from __future__ import annotations

import importlib.util
import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from kernel.guest.bench import AHEAD_MS, FOOT, LAMP, LID, Bench, lines
from kernel.guest.drowsy import watched
from kernel.guest.forked import ForkedKeeper, apart
from kernel.guest.sim import until
from tools.feet import downs
from tools.tether_bench import ROOT, Ear, order

from hardware.open_lines import open_lines
from hardware.slate import KEEPER_MODULE
from hardware.tether.child import KeeperConfig
from hardware.tether.events import KeeperBack
from hardware.timing import Timing
from hardware.wire import Dark, FootDown, Refused
from hardware.wire import Lid as LidMoved

CONTROL = 5
"""A line that nothing else uses."""
ROOM_LIGHT = "room_light"
OUTLETS = {"safelight": 22, ROOM_LIGHT: 24, "status_led": 25, "alive": 26}
TRIES = 6
BOUNCE_NS = 20_000_000
"""A contact that bounces longer has several firsts, as its looks fall."""
HOLD_NS = Timing().hold_ms * 1_000_000


def plain_library(bench: Bench) -> None:
    """Open an active-low output as the pin library does by itself: the control case, which blips."""

    def alone() -> None:
        import lgpio  # noqa: F401 - it must be there, or another factory would be no control
        from gpiozero import OutputDevice
        from gpiozero.pins.lgpio import LGPIOFactory

        factory = LGPIOFactory(chip=bench.header.chip)
        device = OutputDevice(CONTROL, active_high=False, initial_value=False, pin_factory=factory)
        device.close()
        factory.close()

    apart(alone)
    bench.note(line=CONTROL)


def start_active_low(bench: Bench) -> None:
    """Open and close a darkroom's lines with every outlet that may be active-low wired so."""
    start(bench, active_high=False)


def start_active_high(bench: Bench) -> None:
    """Open and close a darkroom's lines with every outlet active-high."""
    start(bench, active_high=True)


def start(bench: Bench, *, active_high: bool) -> None:
    outlets = {name: {"pin": pin, "active_high": active_high} for name, pin in OUTLETS.items()}
    outlets[ROOM_LIGHT] = {"pin": OUTLETS[ROOM_LIGHT]}

    def opened() -> dict[str, int]:
        held = open_lines(lines(sounder=True, lid=True, **outlets))
        levels = {name: bench.header.level(pin) for name, pin in {"lamp": LAMP, **OUTLETS}.items()}
        held.close()
        return levels

    levels = apart(opened)
    rests = {name: int(not active_high and name != ROOM_LIGHT) for name in OUTLETS}
    bench.note(levels=levels, pins={"lamp": LAMP, **OUTLETS}, rests={"lamp": 0, **rests})


def foot(bench: Bench) -> None:
    """Press with bounces on both edges, and chatter too short for a foot; then press into a light.

    A hand that the machine held up is no hand, and a keeper that it held up hears what no keeper does: the gesture is
    made again, a few times, and the last one of a quick hand is judged.
    """
    bench.header.open_contact(FOOT)
    bounces = [(True, 0.3), (False, 0.4)] * 5
    gesture = [*bounces, (True, 200), (False, 0.4), *bounces, (False, 150), *[(True, 1), (False, 30)] * 4, (False, 150)]
    with bench.tether("foot") as (tether, ear):
        with watched(bench):
            quick = False
            for _ in range(TRIES):
                before = len(ear.of(FootDown))
                bench.moved.clear()
                moves = bench.move_foot(gesture)
                time.sleep(0.5)
                bounced_ns = moves[len(bounces)][0] - moves[0][0]
                if not (bench.moved_fast() and bounced_ns < BOUNCE_NS):
                    continue
                if len(downs(moves, moves[-1][0], HOLD_NS)) != 1:
                    continue
                quick, after = True, len(ear.of(FootDown))
                bench.note(moves=moves, moved=list(bench.moved), hold_ns=HOLD_NS, before=before, after=after)
                if after == before + 1:
                    break
            if not quick:
                bench.note(slow="the machine was held up, so that no hand was quick enough to bounce")
        time.sleep(1.2)  # no light comes on sooner after a contact
        bench.light(tether, foot_seq=ear.of(FootDown)[-1].seq)
        time.sleep(0.3)
        bench.note(pressed=bench.press())
        ear.wait(Dark, 1, 20)
        time.sleep(0.2)
        bench.note(level=bench.header.level(LAMP))


def lid(bench: Bench) -> None:
    """Open the box in a focus light, ask for light with the box open, and with it shut again."""
    bench.header.open_contact(FOOT)
    with bench.tether("lid", sounder=True, lid=True) as (tether, ear):
        # asked to pull the line up, the simulated chip lets go of what pulled it down: shut it once it is claimed
        bench.header.close_contact(LID)
        wait_shut(ear, 1)
        tether.send(order(20_000, kind="focus", ahead_ms=AHEAD_MS))
        bench.trace.wait_set(LAMP, 1)
        time.sleep(0.3)
        opened = bench.trace.mark("lid opened")
        bench.header.open_contact(LID)
        ear.wait(Dark, 1, 20)
        tether.send(order(500, ahead_ms=AHEAD_MS))
        ear.wait(Refused, 1, 20)
        bench.header.close_contact(LID)
        wait_shut(ear, 2)
        tether.send(order(500, ahead_ms=AHEAD_MS))
        ear.wait(Dark, 2, 20)
        bench.note(opened=opened)


def wait_shut(ear: Ear, times: int) -> None:
    """Wait until the keeper has said so many times that the lid is shut."""
    until(lambda: [m for m in ear.of(LidMoved) if not m.open][times - 1 :] or None, "the lid to be shut")


def keeper(bench: Bench) -> None:
    """While a keeper holds the lamp lit start another; then kill the first, on a line that keeps its level."""
    bench.header.open_contact(FOOT)
    bench.trace.kept = (LAMP,)
    with bench.tether("first", spare=True) as (tether, ear):
        bench.wait_for_spare(tether)
        bench.light(tether)
        first = tether.greeting.pid
        status, said = run_keeper(bench.config("second"))
        bench.note(status=status, said=said, level_after_second=bench.header.level(LAMP), first=first)
        killed = bench.trace.mark("kill")
        os.kill(first, signal.SIGKILL)
        between = watch_level(bench, killed, until_level=0)
        ear.wait(KeeperBack, 1, 30)
        time.sleep(0.2)
        bench.note(second=tether.greeting.pid, killed=killed, between=between, level=bench.header.level(LAMP))


def run_keeper(config: KeeperConfig) -> tuple[int, str]:
    """Have a keeper begin, wake it, wait for its end, and return its status and what it complained of."""
    errors = config.runtime / "said"
    with errors.open("wb") as said:
        words = [sys.executable, "-P", "-m", KEEPER_MODULE, config.json()]
        keeper = ForkedKeeper(words, stderr=said, cwd=config.runtime, env=config.environment())
    keeper.stdin.write(b"wake\n")
    status = keeper.wait(60)
    keeper.stdin.close()
    keeper.stdout.close()
    return status, errors.read_text()


def treadle_dark(config: KeeperConfig) -> subprocess.CompletedProcess[str]:
    """Run the command as a service's last act does."""
    return subprocess.run(
        [sys.executable, "-P", str(ROOT / "treadle.py"), "dark", "--data", str(config.runtime.parent)],
        env={"PYTHONPATH": str(ROOT), "HOME": "/run", "LG_WD": str(config.runtime)},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def watch_level(bench: Bench, since: int, *, until_level: int, seconds: float = 20) -> list[tuple[int, int]]:
    """Look at the lamp's line until it shows a level; return each look that showed something new, in ns since."""
    seen: list[tuple[int, int]] = []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        level = bench.header.level(LAMP)
        if not seen or seen[-1][1] != level:
            seen.append((time.monotonic_ns() - since, level))
        if level == until_level:
            break
        time.sleep(0.001)
    return seen


def daemon_killed(bench: Bench) -> None:
    """Kill the process that holds the tether in a light; its keeper sees the end of its pipe."""
    bench.header.open_contact(FOOT)
    bench.trace.kept = (LAMP,)
    with bench.lit_daemon(bench.config("orphan")) as (daemon, keeper):
        time.sleep(0.5)
        handle = os.pidfd_open(keeper)
        killed = bench.trace.mark("kill")
        os.kill(daemon, signal.SIGKILL)
        ended = bool(select.select([handle], (), (), 20)[0])
        os.close(handle)
        time.sleep(0.2)
        bench.note(keeper=keeper, killed=killed, ended=ended, level=bench.header.level(LAMP))


def both_killed(bench: Bench) -> None:
    """Kill keeper and daemon together in a light, on a line that keeps its level; then what a service does after."""
    bench.header.open_contact(FOOT)
    bench.trace.kept = (LAMP,)
    config = bench.config("both")
    with bench.lit_daemon(config) as (daemon, keeper):
        time.sleep(0.5)
        # both stand still first, so that neither can act on the other's end
        for pid in (daemon, keeper):
            os.kill(pid, signal.SIGSTOP)
        killed = bench.trace.mark("kill")
        for pid in (keeper, daemon):
            os.kill(pid, signal.SIGKILL)
        time.sleep(1.0)
        left = bench.header.level(LAMP)
        called = time.monotonic_ns()
        done = treadle_dark(config)
        time.sleep(0.2)
        bench.note(
            killed=killed,
            left=left,
            called=called,
            status=done.returncode,
            said=done.stderr,
            level=bench.header.level(LAMP),
            gone=[keeper, daemon],
        )


def dark_beside_keeper(bench: Bench) -> None:
    """Have the lines driven dark while a keeper holds the lamp lit, and while a hung one does."""
    bench.header.open_contact(FOOT)
    bench.trace.kept = (LAMP,)
    for name, hung in (("living", False), ("hung", True)):
        config = bench.config(name)
        with bench.lit_daemon(config) as (daemon, keeper):
            time.sleep(0.3)
            if hung:
                # with the daemon hung as well, nobody else puts the keeper away
                for pid in (daemon, keeper):
                    os.kill(pid, signal.SIGSTOP)
            called = bench.trace.mark(f"dark {name}")
            done = treadle_dark(config)
            finished = time.monotonic_ns()
            bench.note(**{name: {"keeper": keeper, "called": called, "finished": finished, "status": done.returncode}})
            bench.notes[name] |= {"said": done.stderr, "level": bench.header.level(LAMP)}
            os.kill(daemon, signal.SIGCONT)
        until(lambda: True if not holders() else None, "the keepers to end", pause=0.1)
    bench.note(level=bench.header.level(LAMP))


def holders() -> list[int]:
    """Return the keepers that run."""
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            words = (entry / "cmdline").read_bytes().split(b"\0")
        except OSError:
            continue
        if KEEPER_MODULE.encode() in words:
            found.append(int(entry.name))
    return found


def split_grade(bench: Bench) -> None:
    """Print a soft and a hard light by foot, with `treadle serve` itself."""
    from kernel.guest.evening import print_sheet

    bench.header.open_contact(FOOT)
    print_sheet(bench)


def pedal(bench: Bench) -> None:
    """Use a USB pedal beside the wired foot."""
    if has_evdev(bench):
        from kernel.guest.pedal import play

        play(bench)


def pedal_alone(bench: Bench) -> None:
    """Listen to a USB pedal without a keeper."""
    if has_evdev(bench):
        from kernel.guest.pedals import play

        play(bench)


def has_evdev(bench: Bench) -> bool:
    """Tell whether a USB pedal can be made and heard here, and note it where it cannot."""
    found = importlib.util.find_spec("evdev") is not None
    if not found:
        bench.note(skipped="evdev is not installed for this Python (extra: pi): it needs gcc and the kernel's headers")
    return found


SCENES: dict[str, Any] = {
    scene.__name__: scene
    for scene in (
        plain_library,
        start_active_low,
        start_active_high,
        foot,
        lid,
        pedal,
        pedal_alone,
        keeper,
        daemon_killed,
        both_killed,
        dark_beside_keeper,
        split_grade,
    )
}
