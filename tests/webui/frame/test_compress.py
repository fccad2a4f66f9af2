"""Answers are compressed for who may have them so, and are the same bytes once they are unpacked."""

from __future__ import annotations

import gzip
import re

import pytest
from flask import Flask, Response, g
from flask.testing import FlaskClient
from tools.phone import Paired

import webui.frame.compress as compress_

PACKED = {"Accept-Encoding": "br;q=0.9, gzip"}


def test_a_page_is_smaller_and_the_same(phone: Paired) -> None:
    """A page goes packed to a browser that takes it, is a third or less, and unpacks to what others are sent."""
    plain, packed = phone.look("/choose"), phone.look("/choose", **PACKED)
    assert packed.headers["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["Vary"]
    assert "Accept-Encoding" in plain.headers["Vary"]
    assert "Content-Encoding" not in plain.headers
    assert gzip.decompress(packed.data) == plain.data
    assert int(packed.headers["Content-Length"]) == len(packed.data) < len(plain.data) / 2


@pytest.mark.parametrize("accepted", ["", "identity", "br", "gzip;q=0", "*;q=0", ";;,=gzip"])
def test_who_does_not_take_it_is_not_given_it(phone: Paired, accepted: str) -> None:
    """Without a word that gzip is taken, or with one that it is not, an answer goes as it is."""
    answer = phone.look("/choose", **{"Accept-Encoding": accepted})
    assert (answer.status_code, "Content-Encoding" in answer.headers) == (200, False)


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_request_that_another_page_began_is_not_packed(phone: Paired, site: str) -> None:
    """What a page of anyone else's has a browser ask for is sent plain: its packed length could tell of its secrets."""
    assert "Content-Encoding" not in phone.look("/choose", **PACKED, **{"Sec-Fetch-Site": site}).headers
    assert "Content-Encoding" in phone.look("/choose", **PACKED, **{"Sec-Fetch-Site": "same-origin"}).headers


def test_strangers_and_stop_are_answered_as_they_were(stranger: FlaskClient, phone: Paired) -> None:
    """No work is done for who is not paired, and STOP's answer is not touched."""
    for path in ("/", "/pair", "/health"):
        assert "Content-Encoding" not in stranger.get(path, headers=PACKED).headers
    answer = phone.send("/stop", **PACKED, Accept="application/json")
    assert (answer.json, "Content-Encoding" in answer.headers) == ({"stopped": True}, False)


def test_the_event_stream_goes_word_by_word(phone: Paired) -> None:
    """The stream is not packed, so that its words are there when they are said."""
    answer = phone.client.get("/live?part=word", headers=PACKED)
    assert answer.mimetype == "text/event-stream"
    assert "Content-Encoding" not in answer.headers
    assert "Accept-Encoding" not in answer.headers.get("Vary", "")
    answer.close()


@pytest.mark.parametrize(
    ("kind", "streamed", "packed"),
    [("text/html", False, True), ("image/png", False, False), ("text/html", True, False)],
    ids=["words", "a picture", "a stream"],
)
def test_only_whole_words_are_packed(kind: str, streamed: bool, packed: bool) -> None:
    """A picture is packed already, and what is given piece by piece stays so, however long either is."""
    app, body = Flask(__name__), b"word " * compress_.LEAST
    compress_.compress_answers(app)

    @app.before_request
    def let_in() -> None:
        g.device = "paired"

    @app.get("/")
    def page() -> Response:
        answer = Response(iter([body]) if streamed else body, mimetype=kind)
        answer.content_length = len(body)
        return answer

    answer = app.test_client().get("/", headers=PACKED)
    assert (answer.headers.get("Content-Encoding") == "gzip") is packed
    assert (gzip.decompress(answer.data) if packed else answer.data) == body


def test_small_answers_are_left_as_they_are(phone: Paired) -> None:
    """What fits one packet is not packed."""
    answer = phone.look("/status.json", **PACKED)
    assert len(answer.data) < compress_.LEAST
    assert "Content-Encoding" not in answer.headers


def test_a_file_that_may_be_kept_is_packed_once(app: Flask, phone: Paired, monkeypatch: pytest.MonkeyPatch) -> None:
    """Styles and scripts are compressed at their first asking, and from then on given from memory."""
    compress_._once.cache_clear()
    packed = []
    really = gzip.compress

    def noted(body: bytes, level: int, mtime: float | None = None) -> bytes:
        packed.append(level)
        return really(body, level, mtime=mtime)

    monkeypatch.setattr(compress_.gzip, "compress", noted)
    address = re.findall(r'"(/static/[0-9a-f]+/live\.js)"', phone.look("/").text)[0]
    first, second = (phone.look(address, **PACKED).data for _ in range(2))
    assert first == second
    assert gzip.decompress(first) == phone.look(address).data
    assert packed == [9]
