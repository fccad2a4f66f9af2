"""What else breaks: runner, page, card, journal, the wall's clock, foot switch, light sensor, lid."""

from __future__ import annotations

import http.client
import os
import shutil
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from flask import Blueprint
from tools.daemon_bench import SHORT, Bench, bench, tread_until_lit, until
from tools.daemon_process import Daemon, DaemonPhone
from tools.feet import MS
from tools.line_specs import practice_spec

from controller import wall
from controller.store.entries import LightCame
from controller.store.folder import DataFolder
from controller.words import say
from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.wire import FootUp
from webui.app import create_app
from webui.server import Server

pytestmark = pytest.mark.usefixtures("by_real_time")

ROOT = Path(__file__).resolve().parents[2]
TWO_HOLDS_MS = (SHORT.hold_ms + 30, SHORT.hold_ms + 30)
"""White light is asked for, and confirmed."""


@pytest.fixture
def darkroom(tmp_path: Path) -> Iterator[Bench]:
    with bench(tmp_path) as opened:
        yield opened


def last_light(darkroom: Bench) -> LightCame:
    return until(lambda: next((r.entry for r in reversed(darkroom.rows()) if isinstance(r.entry, LightCame)), None), 10)


def lit_ms(darkroom: Bench) -> float:
    on, off = darkroom.lights()[-1]
    return (off - on) / MS


def focus(darkroom: Bench) -> None:
    tread_until_lit(darkroom.room, *TWO_HOLDS_MS)
    darkroom.wait_for("focus light")


# ---- the runner


def test_a_runner_that_hangs_in_a_step_lets_it_end_on_time(darkroom: Bench) -> None:
    """The keeper ends a step by itself while the runner's thread stands; its event waits and is filed afterwards."""
    darkroom.load(0.5, 0.3)
    darkroom.begin_light()
    hung = darkroom.darkroom._inbox.call(lambda: time.sleep(1.2))
    darkroom.wait_lit(False)
    assert not hung.done()
    assert lit_ms(darkroom) == pytest.approx(500, abs=30)
    hung.result(5)
    status = darkroom.wait_for("ready")
    assert status.steps[0].given_most_ms == 500


def test_a_runner_that_hangs_in_focus_light_loses_it_with_its_lease(darkroom: Bench) -> None:
    """Nobody renews the lease of a focus light whose runner stands: dark at its end, and guarded afterwards."""
    focus(darkroom)
    stood = time.monotonic_ns()
    hung = darkroom.darkroom._inbox.call(lambda: time.sleep(1.5))
    darkroom.wait_lit(False)
    assert not hung.done()
    assert (darkroom.room.edges()[-1].at_ns - stood) / MS <= SHORT.lease_ms + 60
    hung.result(5)
    darkroom.wait_for("nothing chosen")


def test_stop_and_foot_are_past_a_runner_that_hangs(darkroom: Bench) -> None:
    """While the runner stands, STOP and foot still end a light at once: neither goes through it."""
    darkroom.load(5.0)
    for end in (darkroom.desk.stop, darkroom.press):
        darkroom.begin_light()
        hung = darkroom.darkroom._inbox.call(lambda: time.sleep(0.8))
        time.sleep(0.1)
        asked = time.monotonic_ns()
        end()
        darkroom.wait_lit(False)
        assert not hung.done()
        assert (darkroom.room.edges()[-1].at_ns - asked) / MS <= 150
        hung.result(5)
        darkroom.wait_for("held")


def test_a_runner_that_raises_is_dark_and_a_fault(darkroom: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """An exception in the runner's own thread: the keeper is told dark, and the page says fault; nothing restarts."""
    darkroom.load(5.0)
    darkroom.begin_light()

    def broken(*_: object) -> None:
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr(darkroom.darkroom._runner, "_step", broken)
    # no foot: that would end the light by itself
    now = time.monotonic_ns()
    darkroom.darkroom._inbox.put(FootUp(0, now, now))
    darkroom.wait_lit(False, seconds=3)
    until(lambda: darkroom.desk.status().place == "fault" or None, 3)
    edges = len(darkroom.room.edges())
    time.sleep(0.4)
    assert len(darkroom.room.edges()) == edges


# ---- the page


@contextmanager
def served(darkroom: Bench, *extra: Blueprint) -> Iterator[int]:
    app = create_app(darkroom.desk, hosts=["127.0.0.1"])
    for blueprint in extra:
        app.register_blueprint(blueprint)
    server = Server(app, "127.0.0.1", 0)
    server.start()
    try:
        yield server.port
    finally:
        server.close()


def test_a_page_that_raises_changes_no_light(darkroom: Bench) -> None:
    """A request that raises answers 500 with a sentence; the light goes on as planned, and other pages answer."""
    blueprint = Blueprint("broken", __name__)

    @blueprint.get("/health/broken")
    def broken() -> str:
        raise RuntimeError("broken on purpose")

    darkroom.load(0.6)
    with served(darkroom, blueprint) as port:
        phone = phone_of(darkroom, port)
        darkroom.begin_light()
        status, body = phone.get("/health/broken")
        assert status == 500
        assert len(body.split()) > 4
        assert b"Traceback" not in body
        darkroom.wait_lit(False)
        assert lit_ms(darkroom) == pytest.approx(600, abs=30)
        assert phone.get("/")[0] == 200
        phone.close()


def phone_of(darkroom: Bench, port: int) -> DaemonPhone:
    """Return a phone that is paired with a darkroom in this very process."""
    return DaemonPhone(SimpleNamespace(door={"port": port, "code": darkroom.desk.pairing().new_code()}))


def test_a_page_that_hangs_changes_no_light(darkroom: Bench) -> None:
    """With every thread of the page's server stuck, steps end on time, a foot ends a light, and STOP still answers."""
    blueprint = Blueprint("stuck", __name__)
    let_go = time.monotonic() + 6

    @blueprint.get("/health/stuck")
    def stuck() -> str:
        while time.monotonic() < let_go:
            time.sleep(0.05)
        return "let go"

    darkroom.load(0.6, 5.0)
    with served(darkroom, blueprint) as port, ExitStack() as open_lines:
        phone = phone_of(darkroom, port)
        open_lines.callback(_hang_up, phone)
        lines = [open_lines.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10)) for _ in range(60)]
        for line in lines:
            asked = f"GET /health/stuck HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nCookie: {phone._cookie}\r\n\r\n"
            line.sendall(asked.encode())
        time.sleep(0.2)
        darkroom.begin_light()
        darkroom.wait_lit(False)
        assert lit_ms(darkroom) == pytest.approx(600, abs=30)
        darkroom.begin_light()
        first = darkroom.press()
        darkroom.wait_lit(False)
        assert (darkroom.room.edges()[-1].at_ns - first) / MS <= 45 + 20
        darkroom.begin_light()
        sent = phone.stop()
        darkroom.wait_lit(False)
        assert (darkroom.room.edges()[-1].at_ns - sent) / MS <= 150


def _hang_up(phone: DaemonPhone) -> None:
    """Close a phone's line, whatever still hangs on it."""
    with suppress(http.client.HTTPException, OSError):
        phone.close()


# ---- the card


@contextmanager
def small_card(folder: Path, megabytes: int) -> Iterator[Path]:
    """A file system of its own in memory; skips where none can be mounted."""
    card = folder / "card"
    card.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(card)], capture_output=True, check=False
    )
    if done.returncode:
        pytest.skip("no file system can be mounted here: it takes root")
    try:
        yield card
    finally:
        subprocess.run(["umount", "-l", str(card)], check=True)


def test_a_card_that_is_really_full_brings_no_light_and_loses_nothing(tmp_path: Path) -> None:
    """On a file system without a byte left: no light, a sentence; what is there stays, and room brings light again."""
    with small_card(tmp_path, 24) as card:
        with bench(card) as darkroom:
            darkroom.load(0.3, 0.3)
            darkroom.begin_light()
            darkroom.wait_for("ready")
            filler = card / "filler"
            with suppress(OSError), filler.open("wb") as file:
                while True:
                    file.write(b"\0" * 65_536)
                    file.flush()
            assert shutil.disk_usage(card).free == 0
            darkroom.rest()
            darkroom.press()
            time.sleep(0.4)
            assert len(darkroom.lights()) == 1
            assert darkroom.desk.status().troubles
            filler.unlink()
            darkroom.begin_light()
            darkroom.wait_for("finished")
        assert whole_journal(card / "data")


def whole_journal(folder: Path) -> bool:
    """Tell whether the journal of a data folder is in order, by SQLite's own check."""
    with sqlite3.connect(DataFolder(folder).journal) as connection:
        found: tuple[str] = connection.execute("PRAGMA integrity_check").fetchone()
    connection.close()
    return found[0] == "ok"


def test_a_card_that_turns_read_only_in_a_light_ends_it_by_plan_and_loses_nothing(darkroom: Bench) -> None:
    """A journal that cannot be written any more in a light: it ends as planned, no other comes, none is lost."""
    room = darkroom.darkroom

    def writable(yes: bool) -> None:
        # SQLite answers every write with what it answers on a read-only file system
        change = f"PRAGMA query_only = {'OFF' if yes else 'ON'}"
        room._inbox.call(lambda: room._journal._connection.execute(change)).result(5)

    darkroom.load(0.6, 0.3)
    darkroom.begin_light()
    writable(False)
    darkroom.wait_lit(False)
    assert lit_ms(darkroom) == pytest.approx(600, abs=30)
    time.sleep(0.3)
    darkroom.rest()
    darkroom.press()
    time.sleep(0.4)
    assert len(darkroom.lights()) == 1
    assert darkroom.desk.status().troubles
    writable(True)
    came = last_light(darkroom)
    assert came.most_ns == pytest.approx(600 * MS, abs=5 * MS)
    darkroom.begin_light()
    darkroom.wait_for("finished")


def test_a_read_only_card_is_said_at_the_start(tmp_path: Path) -> None:
    """Data on a card that cannot be written: the daemon does not begin, and says which folder in one sentence."""
    with small_card(tmp_path, 8) as card:
        (card / "data").mkdir()
        subprocess.run(["mount", "-o", "remount,ro", str(card)], check=True)
        done = serve(card / "data")
        assert done.returncode != 0
        assert str(card / "data") in done.stderr
        assert "Traceback" not in done.stderr


# ---- the journal


def serve(folder: Path) -> subprocess.CompletedProcess[str]:
    """Start the real command, which must end by itself."""
    words = [sys.executable, str(ROOT / "treadle.py"), "serve", "--simulate", "--data", str(folder), "--port", "0"]
    return subprocess.run(words, capture_output=True, text=True, timeout=20, check=False)


def begun(folder: Path) -> Path:
    """Make a data folder with a sheet in it; return its journal."""
    with bench(folder) as darkroom:
        darkroom.load(0.1)
        darkroom.begin_light()
        darkroom.wait_for("finished")
    return DataFolder(folder / "data").journal


@pytest.mark.parametrize("harm", ["middle", "head", "nonsense"])
def test_a_damaged_journal_arms_nothing_and_is_kept(tmp_path: Path, harm: str) -> None:
    """A damaged journal: the daemon refuses to begin, names the file and the remedy, and leaves every byte as it is."""
    journal = begun(tmp_path)
    data = bytearray(journal.read_bytes())
    match harm:
        case "middle":
            data[4096 : 4096 + 2000] = b"\xff" * 2000
        case "head":
            data[:16] = b"not a journal !!"
        case "nonsense":
            data = bytearray(os.urandom(20_000))
    for beside in ("-wal", "-shm"):
        journal.with_name(journal.name + beside).unlink(missing_ok=True)
    journal.write_bytes(data)
    edges = len(_edges(tmp_path))
    done = serve(tmp_path / "data")
    assert done.returncode != 0
    assert journal.name in done.stderr
    assert "treadle restore" in done.stderr
    assert journal.read_bytes() == bytes(data)
    assert len(_edges(tmp_path)) == edges
    # a fresh one only when told, and the damaged one is kept beside it
    fresh = [sys.executable, str(ROOT / "treadle.py"), "restore", "--fresh-journal", "--simulate"]
    done = subprocess.run([*fresh, "--data", str(tmp_path / "data")], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert any(kept.read_bytes() == bytes(data) for kept in (tmp_path / "data").rglob("*") if kept.is_file())
    with bench(tmp_path) as darkroom:
        darkroom.load(0.1)
        darkroom.begin_light()
        darkroom.wait_for("finished")


def _edges(folder: Path) -> tuple[object, ...]:
    with PracticeDarkroom(folder / "run") as room:
        return room.edges()


def test_a_journal_that_another_program_has_locked_brings_no_light(tmp_path: Path) -> None:
    """A journal locked by somebody else: no light while it is, a sentence; once it is free, light as ever."""
    with bench(tmp_path) as darkroom:
        darkroom.load(0.2, 0.2)
        darkroom.get_ready()
        other = sqlite3.connect(DataFolder(tmp_path / "data").journal, isolation_level=None)
        try:
            other.execute("BEGIN IMMEDIATE")
            darkroom.rest()
            darkroom.press()
            time.sleep(1.0)
            assert not darkroom.lights()
            other.execute("ROLLBACK")
        finally:
            other.close()
        until(lambda: darkroom.place() in ("ready", "held") or None, 8)
        assert not darkroom.lights(), "a light came late, after the lock was gone"
        darkroom.begin_light()
        darkroom.wait_for("ready")
        assert lit_ms(darkroom) == pytest.approx(200, abs=30)


def test_a_folder_that_another_daemon_owns_is_refused(tmp_path: Path) -> None:
    """A second daemon on the same data ends at once with a sentence that names the first."""
    with bench(tmp_path):
        done = serve(tmp_path / "data")
    assert done.returncode != 0
    assert str(os.getpid()) in done.stderr


# ---- the wall's clock


@pytest.mark.parametrize("hours", [7, -7])
def test_a_clock_stepped_in_a_sheet_changes_nothing_but_labels(darkroom: Bench, hours: int) -> None:
    """Stepped by hours in a sheet, forwards or back: lights, order of rows and given times do not change."""
    darkroom.load(0.4, 0.3)
    darkroom.begin_light()
    journal = darkroom.darkroom._journal
    journal._stamp = replace(journal._stamp, wall_now=lambda: datetime.now(UTC) + timedelta(hours=hours))
    darkroom.wait_lit(False)
    assert lit_ms(darkroom) == pytest.approx(400, abs=30)
    darkroom.begin_light()
    darkroom.wait_for("finished")
    assert lit_ms(darkroom) == pytest.approx(300, abs=30)
    rows = darkroom.rows()
    assert [row.number for row in rows] == sorted(row.number for row in rows)
    assert [row.at_ns for row in rows] == sorted(row.at_ns for row in rows)
    moments = [wall.moment(row.wall) for row in rows]
    assert abs(moments[-1] - moments[0]) > timedelta(hours=6), "the step is not in the labels: it was never made"
    status = darkroom.desk.status()
    assert status.steps[0].given_most_ms == 400
    assert status.steps[1].given_most_ms == 300


# ---- the foot switch, the sensor and the lid


def test_a_chattering_foot_still_ends_a_light(darkroom: Bench) -> None:
    """A wet contact that opens for two of every five milliseconds ends a light within 80 ms, and begins none."""
    darkroom.load(5.0)
    darkroom.begin_light()
    darkroom.room.fault(PracticeFault.CONTACT_CHATTERS)
    first = darkroom.press(120)
    darkroom.wait_lit(False)
    assert (darkroom.room.edges()[-1].at_ns - first) / MS <= 80 + 20
    darkroom.wait_for("held")
    time.sleep((SHORT.lead_in_ms + 200) / 1000)
    assert darkroom.place() == "held"
    assert [edge.lit for edge in darkroom.room.edges()] == [True, False]
    darkroom.room.fault(PracticeFault.CONTACT_CHATTERS, False)


def test_a_stuck_foot_is_dark_and_starts_nothing_until_it_is_free(darkroom: Bench) -> None:
    """A contact that sticks in a light ends it, is a fault in words after a while, and starts none till it opens."""
    darkroom.load(5.0)
    darkroom.begin_light()
    darkroom.room.fault(PracticeFault.CONTACT_STUCK)
    darkroom.wait_lit(False)
    assert darkroom.wait_for("fault").headline == say("foot.place-fault-stuck")
    edges = len(darkroom.room.edges())
    time.sleep(0.5)
    assert len(darkroom.room.edges()) == edges
    darkroom.room.fault(PracticeFault.CONTACT_STUCK, False)
    darkroom.wait_for("held", "close this sheet?")


def test_a_light_sensor_that_goes_takes_no_light_with_it(darkroom: Bench) -> None:
    """A sensor that no longer answers is said on every page, a light goes on as planned, and it may come back."""
    lamp, gone = darkroom.desk.lamp(), say("lamp.sensor-gone")
    darkroom.desk.change_settings({"light_sensor": "tsl2591"})
    until(lambda: lamp.view().sensor == "ready" or None)
    assert gone not in darkroom.desk.status().troubles
    darkroom.load(1.0)
    darkroom.begin_light()
    darkroom.room.fault(PracticeFault.SENSOR_GONE)
    until(lambda: gone in darkroom.desk.status().troubles or None)
    darkroom.wait_for("finished")
    assert last_light(darkroom).why == "complete"
    assert lit_ms(darkroom) == pytest.approx(1000, abs=30)
    darkroom.room.fault(PracticeFault.SENSOR_GONE, False)
    until(lambda: gone not in darkroom.desk.status().troubles or None, 15)
    assert lamp.view().sensor == "ready"


def test_a_lid_opened_under_focus_light_is_dark_within_50_ms(tmp_path: Path) -> None:
    """With a lid contact: opened under focus light the lamp is dark within 50 ms, and stays so while it is open."""
    lines = practice_spec(tmp_path / "run", lid=True)
    (tmp_path / "run").mkdir()
    with PracticeDarkroom(tmp_path / "run") as room:
        daemon = Daemon(tmp_path, lines=lines)
        try:
            tread_until_lit(room, *TWO_HOLDS_MS)
            opened = room.lid(True)
            until(lambda: None if room.driven() else True, 3)
            assert (room.edges()[-1].at_ns - opened) / MS <= 50 + 20
            time.sleep(0.2)
            for ms in TWO_HOLDS_MS:
                room.press(ms)
                time.sleep(0.07)
            time.sleep(0.4)
            assert not room.driven()
        finally:
            daemon.close()
