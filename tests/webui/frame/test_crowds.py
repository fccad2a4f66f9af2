"""STOP comes through, however many strangers crowd the door; each crowd is a process of its own, for seconds."""

from __future__ import annotations

import http.client
from collections.abc import Iterator
from contextlib import closing

import pytest
from tools.owner import OTHER, OWN, Owner, lit_desk
from tools.stand_in_desk import StandInDesk
from tools.strangers import strangers

from webui.app import create_app
from webui.server import Server


@pytest.fixture
def desk() -> StandInDesk:
    return lit_desk()


@pytest.fixture
def owner(desk: StandInDesk) -> Iterator[Owner]:
    server = Server(create_app(desk, hosts=[OWN, "localhost"]), OWN, 0)
    server.start()
    yield Owner(server)
    server.close()


@pytest.mark.parametrize("address", [OTHER, OWN])
@pytest.mark.parametrize(("way", "many"), [("busy", 300), ("idle", 500), ("stops", 300), ("pages", 300)])
def test_stop_comes_through_a_crowd(owner: Owner, desk: StandInDesk, way: str, many: int, address: str) -> None:
    """While strangers hold hundreds of connections, also from the owner's own address, every STOP is carried out."""
    with strangers(owner.port, way, many, address):
        for number in range(1, 16):
            assert owner.press(), f"STOP {number} was never carried out"
            assert desk.stops >= number


def test_a_crowd_keeps_nobody_from_the_page_who_is_paired(owner: Owner) -> None:
    """A connection that has shown a good cookie is not crowded out by strangers of its own address."""
    line = http.client.HTTPConnection(OWN, owner.port, timeout=20)
    with closing(line):
        line.request("GET", "/now", headers={"Cookie": owner.cookie.decode()})
        line.getresponse().read()
        held = line.sock
        with strangers(owner.port, "busy", 300, OWN), strangers(owner.port, "slow", 100, OWN):
            line.request("GET", "/now", headers={"Cookie": owner.cookie.decode()})
            answer = line.getresponse()
            answer.read()
            assert answer.status == 200
            assert line.sock is held
