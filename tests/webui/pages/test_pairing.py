"""Letting a phone in: a code of eight digits, by hand or by picture; only a tap pairs, and not too often."""

from __future__ import annotations

import re

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tools.fake_desk import CODE, KEY, FakeDesk
from tools.phone import ORIGIN, Paired, words_of

from controller.words import say
from webui.app import create_app
from webui.frame.device import cookie_name


def test_the_picture_brings_the_code_and_a_tap_pairs(stranger: FlaskClient, desk: FakeDesk) -> None:
    """The address of the QR picture shows the code with one button; nothing is used up before it is pressed."""
    page = stranger.get("/pair?code=12345678")
    assert page.status_code == 200
    assert f'name="code" value="{CODE}"' in page.text
    assert desk.pairing().tries == 0
    answer = stranger.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    assert answer.status_code == 303
    assert answer.headers["Location"].startswith("/phone")
    assert stranger.get("/phone").status_code == 200


def test_the_code_is_read_as_it_was_printed(stranger: FlaskClient) -> None:
    """Eight digits in a row are hard to compare: the page parts them as the terminal does."""
    assert "1234 5678" in words_of(stranger.get("/pair?code=12345678"))


def test_a_code_may_be_typed_with_spaces(stranger: FlaskClient) -> None:
    """Spaces and dashes between the digits do not matter."""
    assert stranger.post("/pair", data={"code": " 1234-5678 "}, headers={"Origin": ORIGIN}).status_code == 303


@pytest.mark.parametrize("code", ["", "1234567", "123456789", "abcdefgh", "１２３４５６７８"])
def test_a_code_that_is_none_is_not_tried(stranger: FlaskClient, desk: FakeDesk, code: str) -> None:
    """What is not eight digits costs no try, and the sentence says what is asked for."""
    answer = stranger.post("/pair", data={"code": code}, headers={"Origin": ORIGIN})
    assert answer.status_code == 422
    assert say("page.pair-digits") in words_of(answer)
    assert desk.pairing().tries == 0


def test_a_wrong_code_lets_nobody_in(stranger: FlaskClient) -> None:
    """A code that does not fit gives no cookie, and says how to get a new one."""
    answer = stranger.post("/pair", data={"code": "00000000"}, headers={"Origin": ORIGIN})
    assert answer.status_code == 422
    assert "Set-Cookie" not in answer.headers
    assert say("page.pair-wrong") in words_of(answer)


def test_a_code_is_good_once(app: Flask, phone: Paired) -> None:
    """The code that paired one phone pairs no second one."""
    answer = app.test_client().post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    assert answer.status_code == 422


def test_too_many_tries_are_refused_with_429(app: Flask) -> None:
    """The sixth try, from whatever phone, is refused with the controller's sentence and a time to wait."""
    for _ in range(5):
        app.test_client().post("/pair", data={"code": "00000000"}, headers={"Origin": ORIGIN})
    answer = app.test_client().post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    assert answer.status_code == 429
    assert answer.headers["Retry-After"] == "60"
    assert "Wait a minute" in words_of(answer)
    assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("secure", [False, True])
def test_the_cookie_is_for_this_page_alone(desk: FakeDesk, secure: bool) -> None:
    """Scripts cannot read it, only our own requests carry it, for a year, and under https never in the clear."""
    client = create_app(desk, hosts=["localhost"], secure=secure).test_client()
    base = "https://localhost" if secure else "http://localhost"
    answer = client.post("/pair", data={"code": CODE}, headers={"Origin": base}, base_url=base)
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith(cookie_name(KEY) + "=")
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "Max-Age=31536000" in cookie
    assert ("Secure" in cookie) is secure


def test_two_daemons_on_one_machine_do_not_share_a_cookie() -> None:
    """Cookies do not keep ports apart, so the name follows the key."""
    assert cookie_name(b"a" * 32) != cookie_name(b"b" * 32)


def test_a_paired_phone_lets_another_in_by_day(phone: Paired, desk: FakeDesk, app: Flask) -> None:
    """By day a paired phone shows a new code, with a picture for the address a phone can reach; the old one is void."""
    assert phone.send("/settings/pair").status_code == 409
    desk.say_day()
    answer = phone.send("/settings/pair")
    assert answer.status_code == 200
    assert "8765 4321" in words_of(answer)
    assert "http://192.0.2.7" in words_of(answer)
    assert re.search(r"<svg[^>]*>", answer.text)
    assert app.test_client().post("/pair", data={"code": "87654321"}, headers={"Origin": ORIGIN}).status_code == 303


def test_no_phone_is_sent_to_itself(desk: FakeDesk) -> None:
    """The address for another phone is one it can reach: never 127.0.0.1, which is the phone itself."""
    app = create_app(desk, hosts=["127.0.0.1", "127.0.1.1", "::1", "localhost", "192.0.2.7"])
    client = app.test_client()
    client.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    desk.say_day()
    words = words_of(Paired(client).send("/settings/pair"))
    assert "http://192.0.2.7" in words
    assert "127.0." not in words
