"""Every optional line on real processes: two lamps worked by foot, the room light, the LED, a broken wire."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from tools.daemon_bench import SHORT, Bench, bench, until
from tools.daemon_process import Daemon

from controller.errors import ControllerError
from controller.foot import acts
from controller.practice.practice_scene import PracticeScene
from controller.store.entries import FilterSaid, Intent, RoomLit
from controller.words import say
from hardware.practice.faults import PracticeFault
from hardware.practice.practice_darkroom import PracticeDarkroom

pytestmark = pytest.mark.usefixtures("by_real_time")

CALM = replace(SHORT, hold_ms=250, lead_in_ms=400, question_ms=2000, warning_ms=400)
"""Spans in which a busy machine's press stays a press, and its question stands until it is answered."""
OUTLETS = """\
[sounder]
pin = 18
[lid]
pin = 23
[safelight]
pin = 25
dark_while_lit = true
[room_light]
pin = 26
[status_led]
pin = 12
[alive]
pin = 13
"""
TWO_LAMPS = f"""\
filters = "lines"
[lamp_soft]
pin = 17
[lamp_hard]
pin = 22
[foot]
pin = 27
open_pin = 24
{OUTLETS}"""
ONE_LAMP = f"[lamp]\npin = 17\n[foot]\npin = 27\n{OUTLETS}"


@pytest.fixture
def wired(tmp_path: Path) -> Iterator[Bench]:
    with bench(tmp_path, timing=CALM, wiring=ONE_LAMP) as made:
        made.room.lid(False)
        until(lambda: made.try_to(acts.PaperAway()) or None)
        made.do(acts.PaperOut())
        yield made


def _lit_room(wired: Bench) -> None:
    wired.do(acts.PaperAway())
    wired.do(acts.RoomLightOn())
    until(lambda: wired.desk.status().room_light == "on" or None)
    assert wired.room.active("room_light")


def _dark_room(wired: Bench) -> None:
    until(lambda: (not wired.room.active("room_light")) or None, 0.3)
    until(lambda: wired.desk.status().room_light == "off" or None)


def _refused(wired: Bench, act: acts.Act) -> str:
    """Return why an act is refused; asked again where something has only just happened, as a page would."""
    for _ in range(3):
        with pytest.raises(ControllerError) as refusal:
            wired.do(act)
        if str(refusal.value) != say("foot.stale"):
            break
    return str(refusal.value)


# ---- two lamps


def test_a_sheet_of_soft_and_hard_is_worked_by_foot(tmp_path: Path) -> None:
    """With two lamp lines each press gives the next light on its own lamp, and no filter is asked for or filed."""
    with bench(tmp_path, timing=CALM, wiring=TWO_LAMPS) as made:
        made.room.lid(False)
        made.load(0.3, filters=("soft", "hard"))
        until(lambda: made.room.active("status_led") or None)
        assert made.wait_for("ready").headline == say(
            "wiring.place-ready-stop-down", aperture=say("foot.to-aperture", aperture="8")
        )
        assert made.room.safelight()
        made.rest()
        made.press()
        made.wait_for("light")
        assert (made.room.driven("soft"), made.room.driven("hard"), made.room.safelight()) == (True, False, False)
        until(lambda: (not made.room.active("status_led")) or None)
        made.wait_for("ready")
        assert made.room.safelight()
        assert not made.room.active("status_led"), "a sheet is open"
        made.rest()
        made.press()
        made.wait_for("light")
        assert (made.room.driven("soft"), made.room.driven("hard")) == (False, True)
        made.wait_for("finished")
        made.rest()
        made.hold()
        made.wait_for("ready")
        until(lambda: made.room.active("status_led") or None)
        edges = made.room.edges()
        assert [(edge.lamp, edge.lit) for edge in edges] == [
            ("soft", True),
            ("soft", False),
            ("hard", True),
            ("hard", False),
        ]
        entries = [row.entry for row in made.rows()]
        assert [entry.filter for entry in entries if isinstance(entry, Intent)] == ["soft", "hard"]
        assert not [entry for entry in entries if isinstance(entry, FilterSaid) and entry.filter]
        record = made.desk.record(made.desk.sheets().sessions[0].sheets[0].id)
        assert record.outcome == "complete"
        beats = made.room.outlet_edges("alive")
        assert len(beats) >= 2 * (300 // 50)  # toggled every 50 ms through both lights


def test_focus_light_is_on_the_soft_lamp(tmp_path: Path) -> None:
    """Two holds light the soft lamp alone."""
    with bench(tmp_path, timing=CALM, wiring=TWO_LAMPS) as made:
        made.room.lid(False)
        time.sleep(0.2)
        made.hold()
        made.wait_for("white light?")
        time.sleep(0.08)
        made.hold()
        made.wait_for("focus light")
        assert (made.room.driven("soft"), made.room.driven("hard")) == (True, False)
        made.press()
        made.wait_for("nothing chosen")


def test_a_filter_without_a_lamp_is_refused(tmp_path: Path) -> None:
    """A recipe with another filter is kept and not loaded, with a sentence that names step, filter and remedy."""
    with bench(tmp_path, timing=CALM, wiring=TWO_LAMPS) as made:
        with pytest.raises(ControllerError, match=r"“00”.*soft.*hard"):
            made.load(1.0, filters=("00",))
        assert made.place() == "nothing chosen"
        source = made.load(1.0, filters=("soft",))
        text = made.desk.recipes().fetch(source).body.replace('"soft"', '"2"')
        with pytest.raises(ControllerError, match="“2”"):
            made.desk.recipes().save(text, source)
        assert made.desk.recipes().fetch(source).version == 1, "nothing half-kept"


def test_a_broken_wire_of_the_foot_switch_is_a_fault(tmp_path: Path) -> None:
    """A wire that breaks is said in words and lights nothing; mended, one press and its release clear it."""
    with bench(tmp_path, timing=CALM, wiring=TWO_LAMPS) as made:
        made.room.lid(False)
        made.load(0.3)
        made.wait_for("ready")
        made.room.fault(PracticeFault.REST_WIRE_BROKEN)
        status = made.wait_for("fault")
        assert status.headline == say("foot.place-fault-wire")
        made.press()
        time.sleep(0.3)
        assert made.place() == "fault"
        made.room.fault(PracticeFault.REST_WIRE_BROKEN, on=False)
        made.press(60)
        made.wait_for("ready")
        assert say("foot.trouble-foot-wire") not in made.desk.status().troubles
        assert not made.room.edges()


def test_the_wiring_is_part_of_every_row_s_hash(tmp_path: Path) -> None:
    """Rows tell which wiring they were written under: another relay, another hash; the same file, the same."""
    hashes = []
    for operate in (8, 8, 9):
        with bench(tmp_path, timing=CALM, wiring=f"{ONE_LAMP}[relay]\noperate_ms = {operate}\n") as made:
            assert made.darkroom.wiring().operate_ms == operate
            hashes.append(made.rows()[-1].setup)
    assert hashes[0] == hashes[1] != hashes[2]


# ---- the room light


def test_room_light_is_for_the_day_face(wired: Bench) -> None:
    """Room light comes on from the day face only, stays longer than its lease while asked for, and is on file."""
    assert say("wiring.room-day") == _refused(wired, acts.RoomLightOn())
    _lit_room(wired)
    time.sleep(2.5 * SHORT.lease_ms / 1000)
    assert wired.room.active("room_light")
    assert "room light off" in wired.desk.status().can
    wired.do(acts.RoomLightOff())
    _dark_room(wired)
    rows = [row.entry for row in wired.rows() if isinstance(row.entry, RoomLit)]
    assert [(row.on, row.why) for row in rows] == [(True, "asked"), (False, "asked")]
    line = [at for at, _ in wired.room.outlet_edges("room_light")]
    assert all(abs(row.at_ns - at) < 5_000_000 for row, at in zip(rows, line, strict=True))


def test_a_press_ends_room_light_and_does_no_more(wired: Bench) -> None:
    """A press, and a hold, take the room light away at once; neither begins a lead-in nor asks for white light."""
    wired.load(0.3)
    wired.get_ready()
    for gesture in (wired.press, wired.hold):
        _lit_room(wired)
        gesture()
        _dark_room(wired)
        time.sleep(0.7)
        assert wired.place() == "ready"
        assert wired.desk.status().room_said == say("wiring.room-ended-foot")
        wired.do(acts.PaperOut())
    assert not wired.room.edges()


def test_the_lid_ends_room_light(wired: Bench) -> None:
    """An opened box makes the room dark within 50 ms, ends the day face, and refuses room light until it is shut."""
    _lit_room(wired)
    opened = wired.room.lid(True)
    _dark_room(wired)
    assert wired.room.outlet_edges("room_light")[-1][0] - opened <= 50_000_000
    until(lambda: wired.desk.status().day_until_ns is None or None)
    assert _refused(wired, acts.PaperAway()) == say("foot.day-refused-box")


def test_stop_and_the_end_of_the_day_end_room_light(wired: Bench) -> None:
    """The page's STOP, and going back to the dark face, each make the room dark."""
    _lit_room(wired)
    wired.desk.stop()
    _dark_room(wired)
    wired.do(acts.PaperOut())
    _lit_room(wired)
    wired.do(acts.PaperOut())
    _dark_room(wired)


def test_paper_keeps_room_light_away(wired: Bench) -> None:
    """With a sheet open, in focus light, and until the print of a closed one is fixed there is no room light."""
    prints = wired.desk.practice().prints()  # type: ignore[union-attr]
    prints.keep_scene(PracticeScene(trays="real"))  # type: ignore[union-attr]
    until(lambda: wired.desk.status().hurry == 1 or None)
    until(lambda: wired.try_to(acts.PaperAway()) or None)
    wired.do(acts.AskFocus())
    time.sleep(0.08)
    wired.hold()
    wired.wait_for("focus light")
    assert _refused(wired, acts.RoomLightOn()) == say("wiring.room-focus")
    wired.press()
    wired.wait_for("nothing chosen")
    until(lambda: wired.try_to(acts.PaperOut()) or None)
    wired.load(0.3)
    wired.begin_light()
    wired.wait_for("finished")
    assert wired.desk.status().day_until_ns is None
    assert _refused(wired, acts.RoomLightOn()) == say("foot.sheet-open")
    wired.do(acts.CloseSheet())
    time.sleep(0.3)
    for act in (acts.PaperAway(), acts.RoomLightOn()):
        assert _refused(wired, act).startswith(say("trays.white-not-yet", seconds="%").partition("%")[0])
    assert not wired.room.outlet_edges("room_light")


def test_room_light_goes_with_the_daemon_s_hang_or_death(tmp_path: Path) -> None:
    """A hung daemon's room goes dark when the lease ends, a dead one's at once; nothing lights it again."""
    daemon = Daemon(tmp_path, wiring=ONE_LAMP)
    room = PracticeDarkroom(tmp_path / "run")
    try:
        for send, within in ((signal.SIGSTOP, SHORT.lease_ms / 1000 + 0.5), (signal.SIGKILL, 0.5)):
            room.lid(False)
            until(lambda: daemon.ask(act={"verb": "paper away"}))
            until(lambda: daemon.ask(act={"verb": "room light on"}))
            until(lambda: room.active("room_light") or None)
            os.kill(daemon.process.pid, send)
            until(lambda: (not room.active("room_light")) or None, within)
            os.kill(daemon.process.pid, signal.SIGCONT)
            if send == signal.SIGSTOP:
                time.sleep(0.3)
                assert not room.active("room_light")
                until(lambda: daemon.ask(act={"verb": "paper out"}))
    finally:
        daemon.close()
        room.close()


def test_a_lost_keeper_lets_room_light_go(wired: Bench) -> None:
    """After a killed keeper the room is dark, and stays so until it is asked for anew."""
    _lit_room(wired)
    tether = wired.darkroom._pipe.tether
    assert tether is not None
    os.kill(tether.greeting.pid, signal.SIGKILL)
    until(lambda: (not wired.room.active("room_light")) or None, 1.5)
    wired.wait_for("nothing chosen")
    time.sleep(0.5)
    assert not wired.room.active("room_light")
    assert wired.desk.status().room_said == say("wiring.room-ended-fault")
    until(lambda: wired.room.active("status_led") or None)
    until(lambda: wired.try_to(acts.RoomLightOn()) or None)
    until(lambda: wired.room.active("room_light") or None)
