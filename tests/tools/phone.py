"""A paired phone as tests hold it: it reads the token off a page and presses buttons with it."""

from __future__ import annotations

import html
import re
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from tools.stand_in_desk import KEY
from webui.frame.device import cookie_name

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

    def cookie(self) -> str:
        """Return the Cookie header, to be sent where this client would not send it."""
        cookie = self.client.get_cookie(cookie_name(KEY))
        assert cookie is not None
        return f"{cookie.key}={cookie.value}"

    def send_by(self, host: str, address: str) -> TestResponse:
        """Press a button of a page that was opened by another name or address, paired there as well."""
        headers = {"Host": host, "Origin": f"http://{host}", "Cookie": self.cookie()}
        elsewhere = self.client.application.test_client(use_cookies=False)
        return elsewhere.post(address, data={"token": self.token}, headers=headers)


def words_of(answer: TestResponse) -> str:
    """Return what a person reads on a page, tags and scripts taken off."""
    text = re.sub(r"<(style|script)[^>]*>.*?</\1>", "", answer.text, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())
