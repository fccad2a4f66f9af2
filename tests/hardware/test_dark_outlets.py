"""Letting go of every light without the daemon, outlets too, when little else works."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tools.line_specs import practice_spec, tables
from tools.tether_bench import ROOT, Ear, until

from hardware.dark import darken
from hardware.errors import LineError
from hardware.open_lines import open_outputs
from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.child import KeeperConfig
from hardware.tether.tether import Tether
from hardware.wire import RoomLight, RoomSwitched, SheetOpen
from hardware.wiring_tables import OUTLETS

pytestmark = pytest.mark.usefixtures("by_real_time")

HEAVY = ("pydantic", "flask", "apscheduler", "waitress", "gpiozero", "numpy", "scipy", "PIL", "segno", "evdev")


@pytest.fixture
def config(runtime: Path) -> KeeperConfig:
    return KeeperConfig(practice_spec(runtime, outlets=OUTLETS), runtime)


def broken_imports(folder: Path, *but: str) -> dict[str, str]:
    """Return an environment in which everything heavy is broken, and fails loudly where it is imported."""
    for name in {*HEAVY} - {*but}:
        (folder / name).mkdir(parents=True)
        (folder / name / "__init__.py").write_text(f"raise SystemExit('imported {name}')")
    return {"PYTHONPATH": os.pathsep.join((str(folder), str(ROOT))), "HOME": str(folder), "PATH": os.environ["PATH"]}


def left_on(config: KeeperConfig) -> None:
    """Leave every output active and its line free, as a keeper that was killed does."""
    code = "import json,os,sys; from pathlib import Path; from hardware.open_lines import open_outputs\n"
    code += "[o.set(True) for o in open_outputs(json.loads(sys.argv[1]), Path('.')).values()]; os._exit(0)"
    subprocess.run(
        [sys.executable, "-P", "-c", code, json.dumps(dict(config.lines))], env={"PYTHONPATH": str(ROOT)}, check=True
    )


def test_outlets_keep_their_level_when_their_owner_dies_and_are_let_go_of(
    config: KeeperConfig, room: PracticeDarkroom
) -> None:
    """After a death lamp, room light and dark safelight stay; darkening brings every one of them to rest."""
    left_on(config)
    assert room.lit()
    assert all(room.active(name) for name in OUTLETS)
    assert not room.safelight()
    assert darken(config.lines, config.runtime)
    assert not room.lit()
    assert not any(room.active(name) for name in OUTLETS)
    assert room.safelight()


def test_lines_that_do_not_keep_their_level_fall_with_their_owner(runtime: Path) -> None:
    """`keeps_level` false gives outputs that fall back when their owner dies, as with the kernel's strict option."""
    left_on(KeeperConfig(practice_spec(runtime, outlets=["room_light"], keeps_level=False), runtime))
    with PracticeDarkroom(runtime) as room:
        assert not room.lit()
        assert not room.active("room_light")
        assert PracticeFault.DROPS_WHEN_OWNER_DIES in room.faults()


def test_a_silent_outlet_is_not_called_dark_and_keeps_no_lamp_lit(config: KeeperConfig, room: PracticeDarkroom) -> None:
    """Where an outlet does not answer the lamp is darkened all the same, and all is not said to be well."""
    left_on(config)
    room.fault(PracticeFault.OUTLET_FAILS)
    with pytest.raises(LineError, match="does not answer"):
        darken(config.lines, config.runtime)
    assert not room.lit()


def test_a_new_keeper_s_first_act_is_rest(config: KeeperConfig, room: PracticeDarkroom, ear: Ear) -> None:
    """A keeper that takes over from a dead one darkens lamp and room light and shows the safelight, unasked."""
    left_on(config)
    with Tether(config, ear):
        until(room.owned)
        assert not room.lit()
        assert not room.active("room_light")
        assert room.safelight()


def test_a_dead_daemon_takes_the_room_light_along(config: KeeperConfig, room: PracticeDarkroom, ear: Ear) -> None:
    """The room light comes on through a real keeper, and goes with the end of its pipe."""
    with Tether(config, ear) as tether:
        tether.send(SheetOpen(False))
        tether.send(RoomLight(False))
        tether.send(RoomLight(True))
        assert ear.wait(RoomSwitched).on
        assert room.active("room_light")
        assert room.active("status_led")
    assert not room.active("room_light")
    assert not room.active("status_led")


def test_a_dead_daemon_leaves_the_safelight_alight(config: KeeperConfig, room: PracticeDarkroom, ear: Ear) -> None:
    """A test of what fogs paper has it dark through a real keeper; it comes back with the end of its pipe."""
    with Tether(config, ear) as tether:
        assert room.safelight()
        tether.send(SheetOpen(True, dark=True))
        until(lambda: not room.safelight())
    assert room.safelight()


def test_darkening_needs_nothing_heavy_and_is_quick(
    config: KeeperConfig, room: PracticeDarkroom, tmp_path: Path
) -> None:
    """With every heavy import broken and no data at all, outputs go to rest in under 0.3 s of a processor."""
    environment = broken_imports(tmp_path / "broken")
    left_on(config)
    before = os.times()
    done = subprocess.run(
        [sys.executable, "-P", "-m", "hardware.dark", config.json()],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    after = os.times()
    assert (done.returncode, done.stderr) == (0, "")
    assert not room.lit()
    used = after.children_user - before.children_user + after.children_system - before.children_system
    assert 0 < used < 0.3


def test_real_lines_are_darkened_without_the_pin_library(runtime: Path, tmp_path: Path) -> None:
    """Real outputs are claimed at rest through lgpio alone, quickly; gpiozero is broken here and never looked at."""
    environment = broken_imports(tmp_path / "broken")
    said = runtime / "said"
    (tmp_path / "broken" / "lgpio.py").write_text(
        "import sys\n"
        f"sys.path.append({str(ROOT / 'tests')!r})\n"
        "from tools.fake_lgpio import FakeLgpio\n"
        "fake = FakeLgpio()\n"
        "sys.modules['lgpio'] = fake\n"
        f"import atexit; atexit.register(lambda: open({str(said)!r}, 'w').write(repr((fake.asked, fake.claimed))))\n"
    )
    wiring = {
        "chip": 0,
        "lamp": {"pin": 17},
        "foot": 3,  # what is wrong with another line keeps no lamp lit
        "safelight": {"pin": 22, "active_high": False},
        "room_light": {"pin": 25},
        "alive": {"pin": 16},
    }
    lines = {"kind": "gpio", "factory": "lgpio", "wiring": wiring}
    began = time.monotonic()
    before = os.times()
    done = subprocess.run(
        [sys.executable, "-P", "-m", "hardware.dark", json.dumps({"lines": lines, "runtime": str(runtime)})],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    after = os.times()
    assert (done.returncode, done.stderr) == (0, ""), time.monotonic() - began
    used = after.children_user - before.children_user + after.children_system - before.children_system
    assert 0 < used < 0.3
    asked, claimed = eval(said.read_text())
    assert [one for one in asked if one[0] == "output"] == [
        ("output", 17, 0, 0),
        ("output", 22, 1, 0),
        ("output", 25, 0, 0),
        ("output", 16, 0, 0),
    ]
    assert claimed == {}
    assert not list(runtime.glob("lgpio-*")), "a folder was left behind"


def test_outputs_of_a_mock_are_at_rest(tmp_path: Path) -> None:
    """A wiring on gpiozero's mock can be let go of as well."""
    spec = {"kind": "gpio", "factory": "mock", "wiring": tables()}
    outputs = open_outputs(spec, tmp_path)
    assert list(outputs) == ["lamp line"]
    outputs["lamp line"].close()


def test_the_command_needs_no_database_and_nothing_heavy(tmp_path: Path) -> None:
    """`treadle dark` darkens under 0.3 s of a processor with its data gone and every heavy import broken on purpose."""
    environment = broken_imports(tmp_path / "broken")
    data = tmp_path / "data"
    (data / "run").mkdir(parents=True)
    left_on(KeeperConfig({"kind": "practice", "runtime": str(data / "run")}, data / "run"))
    before = os.times()
    done = subprocess.run(
        [sys.executable, "-P", str(ROOT / "treadle.py"), "dark", "--simulate", "--data", str(data)],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    after = os.times()
    assert (done.returncode, done.stderr) == (0, "")
    with PracticeDarkroom(data / "run") as room:
        assert not room.lit()
    used = after.children_user - before.children_user + after.children_system - before.children_system
    assert 0 < used < 0.3
