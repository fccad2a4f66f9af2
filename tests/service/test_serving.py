"""What the daemon says of itself when it starts."""

from __future__ import annotations

import pytest

from controller.service.serve import where_words


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1"])
def test_no_phone_is_sent_to_an_address_of_this_machine_alone(host: str) -> None:
    """An address that only this machine sees is not said to be a phone's."""
    words = where_words(f"http://{host}:8090", host, 8090)
    assert "http://localhost:8090" in words
    assert "same network" not in words
    assert "--host" in words


def test_a_phone_is_told_an_address_that_it_sees() -> None:
    """An address of the network is said for the phone, and the machine's own beside it."""
    words = where_words("http://192.0.2.7:8090", "192.0.2.7", 8090)
    assert "http://192.0.2.7:8090" in words
    assert "http://localhost:8090" in words
