"""A desk that is set by hand, the app around it, a phone that is paired, and a stranger."""

from __future__ import annotations

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tools.phone import ORIGIN, Paired
from tools.stand_in_desk import CODE, StandInDesk

from webui.app import create_app


@pytest.fixture
def desk() -> StandInDesk:
    """A desk without a practice darkroom, with nothing chosen."""
    return StandInDesk()


@pytest.fixture
def app(desk: StandInDesk) -> Flask:
    """The app around the desk, at its usual names."""
    return create_app(desk, hosts=["Treadle.local", "localhost"])


@pytest.fixture
def stranger(app: Flask) -> FlaskClient:
    """A phone that was never paired."""
    return app.test_client()


@pytest.fixture
def phone(app: Flask) -> Paired:
    """A phone that is paired."""
    client = app.test_client()
    answer = client.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    assert answer.status_code == 303, answer.text
    return Paired(client)


@pytest.fixture
def practice_desk() -> StandInDesk:
    """A desk with a practice darkroom."""
    return StandInDesk(practice=True)


@pytest.fixture
def phone_with_practice(practice_desk: StandInDesk) -> Paired:
    """A phone paired with the practice darkroom."""
    client = create_app(practice_desk, hosts=["localhost"]).test_client()
    client.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    return Paired(client)
