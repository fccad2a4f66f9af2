"""Dark without the daemon: whoever holds the line, alive, hung or dead."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import pytest
from tools.tether_bench import MS, ROOT, Ear, hold_still, lit_parent, order, until

from hardware.clock import boot_id
from hardware.dark import darken
from hardware.errors import LineError
from hardware.practice.faults import PracticeFault
from hardware.practice.outputs import PracticeLamp
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.slate import interrupted, read_slate
from hardware.tether.child import KeeperConfig, darken_apart
from hardware.tether.events import KeeperLost
from hardware.tether.tether import Tether
from hardware.wire import Dark, Lit

pytestmark = pytest.mark.usefixtures("by_real_time")


def orphan(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """Leave the lamp lit and the line free: keeper and daemon killed together."""
    with lit_parent(config) as (parent, keeper):
        hold_still(parent.pid)
        os.kill(keeper, signal.SIGKILL)
    until(lambda: not room.owned())
    assert room.lit()


def test_a_free_line_that_is_lit_goes_dark(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """With nobody left the line is claimed and darkened, and the slate says when and by whom."""
    orphan(config, room)
    assert darken(config.lines, config.runtime)
    assert not room.lit()
    assert not room.owned()
    page = read_slate(config.slate)
    assert page is not None
    assert (page.lit, page.why) == (True, "keeper")
    light = interrupted(page, page.dark_ns + 10_000 * MS, boot_id())
    (truth,) = room.lights()
    assert light is not None
    assert light.least_ns <= truth.full_ns <= light.most_ns
    assert light.most_ns - truth.full_ns < 50 * MS
    # once more changes nothing
    assert darken(config.lines, config.runtime)
    assert read_slate(config.slate) == page


def test_it_is_quick_where_nothing_holds_the_line(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """As a command of its own, darkening a free line takes under 0.3 s of a processor."""
    before = os.times()
    assert darken_apart(config)
    after = os.times()
    user, system = after.children_user - before.children_user, after.children_system - before.children_system
    assert 0 < user + system < 0.3


def test_nothing_heavy_is_imported(config: KeeperConfig) -> None:
    """Darkening practice lines loads no web server, no model library, no database, no pin library."""
    code = "import sys, hardware.dark; assert hardware.dark.main(sys.argv) == 0; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-P", "-c", code, config.json()],
        env={"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {name.split(".")[0] for name in done.stdout.split()}
    assert "hardware" in loaded
    assert not loaded & {"pydantic", "flask", "gpiozero", "sqlite3", "asyncio", "subprocess", "controller", "webui"}


def test_a_keeper_that_holds_the_line_is_asked_to_go(config: KeeperConfig, room: PracticeDarkroom, ear: Ear) -> None:
    """A living keeper is asked, darkens and says so itself; a daemon that brings it back is worn out."""
    with Tether(config, ear) as tether:
        tether.send(order())
        ear.wait(Lit)
        began = time.monotonic_ns()
        assert darken(config.lines, config.runtime)
        assert not room.lit()
        assert room.edges()[-1].at_ns - began < 500 * MS
        assert ear.wait(Dark).why == "keeper"
        ear.wait(KeeperLost)


def test_a_keeper_that_hangs_is_killed(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """A keeper that does not heed SIGTERM for a second is killed; the line is dark and the slate keeps the bracket."""
    with lit_parent(config) as (parent, keeper):
        hold_still(parent.pid)
        os.kill(keeper, signal.SIGSTOP)
        began = time.monotonic_ns()
        assert darken(config.lines, config.runtime)
        assert 900 * MS < time.monotonic_ns() - began < 2500 * MS
    page = read_slate(config.slate)
    assert page is not None
    assert (page.pid, page.lit, page.why) == (keeper, True, "keeper")
    (truth,) = room.lights()
    light = interrupted(page, page.dark_ns, boot_id())
    assert light is not None
    assert light.least_ns <= truth.full_ns <= light.most_ns


def test_a_holder_that_is_no_keeper_is_left_alone(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """A line that something else holds is not known dark, and whatever holds it is not harmed."""
    lamp = PracticeLamp(config.runtime)
    lamp.set(True)
    assert not darken(config.lines, config.runtime)
    assert room.lit()
    lamp.close()


def test_a_line_that_will_not_go_dark_is_not_called_dark(
    config: KeeperConfig, room: PracticeDarkroom, capfd: pytest.CaptureFixture[str]
) -> None:
    """Where the line does not answer, the command leaves with 1 and the sentence; so it does for a bad argument."""
    orphan(config, room)
    room.fault(PracticeFault.LAMP_LINE_FAILS)
    with pytest.raises(LineError, match="does not answer"):
        darken(config.lines, config.runtime)
    assert not darken_apart(config)
    assert "does not answer" in capfd.readouterr().err
    page = read_slate(config.slate)
    assert page is not None
    assert page.dark_ns == 0
    for bad in ("", "{}", json.dumps({"lines": {"kind": "x"}, "runtime": "/tmp"})):
        done = subprocess.run(
            [sys.executable, "-P", "-m", "hardware.dark", bad],
            env={"PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 1
        assert "Traceback" not in done.stderr
        assert done.stderr.strip()
