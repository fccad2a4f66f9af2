"""The room light on the page: offered by day only where it is fitted, asked for by plain forms."""

from __future__ import annotations

import re
import time
from pathlib import Path
from typing import Any

import pytest
from tools.daemon_bench import Bench, bench, until
from tools.phone import ORIGIN, Paired, words_of
from tools.stand_in_desk import StandInDesk

from controller.foot.acts import RoomLightOff, RoomLightOn
from controller.words import say
from webui.app import create_app

FITTED: dict[str, Any] = {"place": "nothing chosen", "room_light": "off"}
WIRING = (
    "[lamp]\npin = 17\n[foot]\npin = 27\n[sounder]\npin = 18\n[lid]\npin = 23\n[room_light]\npin = 26\n"
    "[safelight]\npin = 25\n[status_led]\npin = 12\n"
)


def _form(phone: Paired, address: str, page: str = "/") -> dict[str, str]:
    """Return the fields of the form that posts to an address, as a browser without scripts would send them."""
    text = phone.look(page).text
    form = re.search(rf'<form method="post" action="{address}".*?</form>', text, re.S)
    assert form, f"no form for {address}"
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form[0]))


def test_the_button_is_there_only_where_it_can_be(phone: Paired, desk: StandInDesk) -> None:
    """Without the outlet, or without the day face, no page offers room light."""
    desk.show(room_light="", can=("load", "paper away"))
    assert "room-light" not in phone.look("/").text
    desk.show(**FITTED, can=("load", "paper out", "room light on"))
    desk.say_day()
    assert say("wiring.act-room-on-sure") in words_of(phone.look("/"))


def test_room_light_is_asked_for_and_ended_by_forms(phone: Paired, desk: StandInDesk) -> None:
    """Plain forms ask for it and end it; while it is on the page says so."""
    desk.show(**FITTED, can=("room light on",))
    desk.say_day()
    assert phone.send("/act/room-light-on", _form(phone, "/act/room-light-on")).status_code == 303
    desk.show(room_light="on", can=("room light off",))
    assert say("wiring.room-is-on") in words_of(phone.look("/"))
    assert phone.send("/act/room-light-off", _form(phone, "/act/room-light-off")).status_code == 303
    assert [type(act) for act, _ in desk.acts] == [RoomLightOn, RoomLightOff]
    desk.show(room_light="off", room_said=say("wiring.room-ended-lid"), can=("room light on",))
    assert say("wiring.room-ended-lid") in words_of(phone.look("/"))


def _paired(made: Bench) -> Paired:
    client = create_app(made.desk, hosts=["localhost"]).test_client()
    code = made.desk.pairing().new_code()
    assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
    return Paired(client)


@pytest.mark.usefixtures("by_real_time")
def test_a_real_room_light_is_worked_from_the_page(tmp_path: Path) -> None:
    """With scripts off: the day face, then the room light, seen in the simulated darkroom; a press makes it dark."""
    with bench(tmp_path, wiring=WIRING) as made:
        made.room.lid(False)
        until(lambda: "paper away" in made.desk.status().can or None)
        phone = _paired(made)
        phone.send("/act/paper-away", _form(phone, "/act/paper-away"))
        phone.send("/act/room-light-on", _form(phone, "/act/room-light-on"))
        until(lambda: made.desk.status().room_light == "on" or None)
        seen = words_of(phone.look("/practice"))
        assert say("wiring.outlet-room-light-on") in seen
        assert say("wiring.outlet-safelight-on") in seen
        assert say("wiring.room-is-on") in words_of(phone.look("/"))
        time.sleep(0.1)
        made.press()
        until(lambda: (not made.room.active("room_light")) or None)
        until(lambda: made.desk.status().room_light == "off" or None)
        assert say("wiring.room-ended-foot") in words_of(phone.look("/"))
