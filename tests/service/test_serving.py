"""What the daemon says of itself when it starts."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from controller.addresses import Places
from controller.service.door import Code, link
from controller.service.serve import _keeper_came
from controller.service.standing import where_words


def test_no_phone_is_sent_to_an_address_of_this_machine_alone() -> None:
    """An address that only this machine sees is not said to be a phone's."""
    words = where_words(Places(local="http://localhost:8090", alone=True))
    assert "http://localhost:8090" in words
    assert "same network" not in words
    assert "--host" in words


def test_a_phone_is_told_every_address_that_it_sees() -> None:
    """The addresses of the networks and the name are said for the phone, and the machine's own beside them."""
    said = Places(
        local="http://localhost:80", name="http://pi.local:80", addresses=("http://192.0.2.7:80", "http://b:80")
    )
    words = where_words(said)
    assert all(place in words for place in said.every())
    assert "same network" in words


@pytest.mark.parametrize("name", ["http://pi.local:8090", ""])
def test_without_a_network_what_is_said_stays_true(name: str) -> None:
    """Before any network is there, the name is said for later, and how the addresses will be had."""
    words = where_words(Places(local="http://localhost:8090", name=name))
    assert "Once it is on a network" in words
    assert name in words
    assert "treadle pair" in words
    assert "alone" not in words


def test_this_machine_itself_is_given_a_link_that_pairs() -> None:
    """The laptop that serves has no camera for the picture: its link brings the code along, at its own address."""
    where = Places(local="http://localhost:8090", addresses=("http://192.0.2.7:8090",))
    code = Code(code="12345678", where=where, link=link(where, "secret"))
    assert any("http://localhost:8090/pair?code=12345678" in line for line in code.lines())


def test_told_to_end_while_the_keeper_is_away_it_waits_no_longer() -> None:
    """One that is told to end before a keeper is ready says nothing of being ready, and is not kept waiting."""
    told: Any = SimpleNamespace(ended=False)

    def wait(*_: object) -> None:
        assert not told.ended
        told.ended = True

    desk: Any = SimpleNamespace(now_ns=lambda: 0, status=lambda: SimpleNamespace(keeper="away", number=1), wait=wait)
    assert not _keeper_came(desk, told)
