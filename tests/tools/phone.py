"""A paired phone as tests hold it: it reads the token off a page and presses buttons with it."""

from __future__ import annotations

import html
import re
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

ORIGIN = "http://localhost"


class Paired:
    """Sends what a browser would send: cookie, Origin, token, and the number of the snapshot it looked at."""

    def __init__(self, client: FlaskClient) -> None:
        """Read the token off the first page, which offers something to load."""
        self.client = client
        found = re.search(r'name="token" value="([0-9a-f]{64})"', client.get("/").text)
        assert found, "the first page shows no token"
        self.token = found.group(1)

    def look(self, address: str, **headers: str) -> TestResponse:
        """Get a page."""
        return self.client.get(address, headers=headers)

    def send(self, address: str, fields: dict[str, Any] | None = None, **headers: str) -> TestResponse:
        """Press a button of a form."""
        body = {"token": self.token, **(fields or {})}
        return self.client.post(address, data=body, headers={"Origin": ORIGIN, **headers})


def words_of(answer: TestResponse) -> str:
    """Return what a person reads on a page, tags and scripts taken off."""
    text = re.sub(r"<(style|script)[^>]*>.*?</\1>", "", answer.text, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())
