"""Tests at the easel through a whole real darkroom: corners looked at by foot, a place counted by the probe."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from tools.daemon_bench import bench, until
from tools.phone import ORIGIN, Paired, words_of

from controller.daemon.evenness_desk import EvennessDesk
from controller.foot import acts
from controller.practice.practice_scene import PracticeScene
from controller.recipe.at_enlarger import AtEnlarger
from webui.app import create_app

STANDS = AtEnlarger(
    negative_title="Crane", negative_format="4x5", magnification=2.0, aperture=8.0, focal_mm=150.0, head_height_mm=620.0
)


@pytest.mark.usefixtures("by_real_time")
def test_a_carrier_out_of_square_is_found_by_foot(tmp_path: Path) -> None:
    """The practice carrier's left side 0.5 mm high: begun on the page, looked at by foot, heights typed, told."""
    with bench(tmp_path) as room:
        practice = room.desk.practice()
        assert practice is not None
        tray = practice.prints()
        assert tray is not None
        tray.keep_scene(PracticeScene(carrier="left"))
        room.do(acts.StandAtEnlarger(bench=STANDS))
        room.do(acts.PaperAway())
        client = create_app(room.desk, hosts=["localhost"]).test_client()
        code = room.desk.pairing().new_code()
        assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
        phone = Paired(client)
        answer = phone.send("/tests/alignment/begin", {"number": room.desk.status().number})
        assert answer.status_code == 303, words_of(answer)
        heights: dict[str, str] = {}
        for name, place in (
            ("centre", (127, 102)),
            ("far left", (10, 10)),
            ("far right", (270, 10)),
            ("near right", (270, 214)),
            ("near left", (10, 214)),
        ):
            room.rest(1900)
            room.press()
            room.wait_for("light")
            phone.send("/practice/probe", {"at.x": str(place[0]), "at.y": str(place[1])})
            found = re.search(r"is sharp ([+−][0-9.]+) mm above", words_of(phone.look("/practice")))
            assert found, name
            heights[name] = found[1]
            room.press()
            room.wait_for("ready")
        room.rest(100)
        room.hold()
        room.wait_for("nothing chosen")
        centre = heights.pop("centre")
        assert abs(float(centre.replace("−", "-"))) <= 0.2
        assert phone.send("/tests/alignment/keep", heights).status_code == 303
        told = re.search(r"left side lies ([0-9.]+) mm too high", words_of(phone.look("/tests/alignment")))
        assert told
        assert float(told[1]) == pytest.approx(0.5, abs=0.08)  # a hole's breadth inside the corners, by tenths of mm
        assert [row.entry.kind for row in room.rows()].count("trial") == 1


@pytest.mark.usefixtures("by_real_time")
def test_the_first_place_is_counted_and_the_rest_is_asked_for(tmp_path: Path) -> None:
    """Begun without any paper or reference; one place counted as empty light, and no map of it alone."""
    with bench(tmp_path, light_sensor="tsl2591") as room:
        until(lambda: room.desk.lamp().sensor_ready() or None)
        room.do(acts.StandAtEnlarger(bench=STANDS))
        room.do(acts.PaperAway())
        room.room.log_filter("soft")
        room.room.log_negative(False)
        part = room.desk.trials().part(EvennessDesk)
        part.begin(room.desk.status().number)
        room.rest(1900)
        room.press()
        room.wait_for("light")
        room.room.log_probe(0.5, 0.5)
        assert part.view().running
        time.sleep(2.3)
        room.press()
        read = until(lambda: [row.entry for row in room.rows() if row.entry.kind == "read"] or None, 6)
        assert (read[0].what, read[0].spot) == ("evenness", "centre")
        until(lambda: "far edge" in room.desk.status().headline or None, 6)
        room.rest(1900)
        room.hold()
        room.wait_for("nothing chosen")
        assert part.view().map is None
        assert "Nothing was measured yet at: far edge, middle" in part.view().why
