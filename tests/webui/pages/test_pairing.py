"""Letting a phone in: a code of eight digits, by hand or by picture; only a tap pairs, and not too often."""

from __future__ import annotations

import re

import pytest
import segno
from flask import Flask
from flask.testing import FlaskClient
from tools.phone import ORIGIN, Paired, words_of
from tools.stand_in_desk import CODE, KEY, SECRET, StandInDesk

from controller.words import say
from webui.app import create_app
from webui.frame.device import _signer, cookie_name


def test_a_link_brings_the_code_and_a_tap_pairs(stranger: FlaskClient, desk: StandInDesk) -> None:
    """A link with the code shows it with one button; nothing is used up before it is pressed."""
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
def test_a_code_that_is_none_is_not_tried(stranger: FlaskClient, desk: StandInDesk, code: str) -> None:
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
def test_the_cookie_is_for_this_page_alone(desk: StandInDesk, secure: bool) -> None:
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


def test_a_paired_phone_lets_another_in_by_day(phone: Paired, desk: StandInDesk, app: Flask) -> None:
    """By day a paired phone shows a new code, and a picture for the address it came by itself; the old code is void."""
    assert phone.send("/settings/pair").status_code == 409
    desk.say_day()
    answer = phone.send_by("192.0.2.7:8090", "/settings/pair")
    assert answer.status_code == 200
    code = desk.pairing().code
    assert code != CODE
    assert f"{code[:4]} {code[4:]}" in words_of(answer)
    assert "http://192.0.2.7:8090" in words_of(answer)
    assert re.search(r"<svg[^>]*>", answer.text)
    assert app.test_client().post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN}).status_code == 422
    assert app.test_client().post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303


def test_the_picture_for_another_phone_holds_the_secret(
    phone: Paired, desk: StandInDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the picture says is the page's address with the secret, and not the code, which can be guessed."""
    said: list[str] = []
    made = segno.make
    monkeypatch.setattr("webui.pages.pairing.segno.make", lambda text, **how: said.append(text) or made(text, **how))
    monkeypatch.setattr("webui.pages.pairing.local_addresses", lambda: ("192.0.2.9",))
    desk.say_day()
    assert phone.send("/settings/pair").status_code == 200
    assert said == [f"http://192.0.2.9:80/pair?key={desk.pairing().secret}"]
    assert desk.pairing().code not in said[0]


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8090", "[::1]:8090"])
def test_no_phone_is_sent_to_itself(desk: StandInDesk, monkeypatch: pytest.MonkeyPatch, host: str) -> None:
    """The address for another phone is one it can reach: never 127.0.0.1, which is the phone itself."""
    monkeypatch.setattr("webui.pages.pairing.local_addresses", lambda: ("fd00::7", "192.0.2.7", "10.0.0.7"))
    client = create_app(desk, hosts=["localhost"]).test_client()
    client.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    desk.say_day()
    words = words_of(Paired(client).send_by(host, "/settings/pair"))
    assert "http://192.0.2.7:80" in words
    assert not re.search(r"//(127\.0|localhost|\[::1)", words)


# ---- the picture's secret


def test_the_picture_brings_a_secret_and_a_tap_pairs(stranger: FlaskClient, desk: StandInDesk) -> None:
    """The picture's link shows one button, using nothing up; the tap pairs, and neither secret nor code fits again."""
    page = stranger.get(f"/pair?key={SECRET}")
    assert (page.status_code, f'name="key" value="{SECRET}"' in page.text) == (200, True)
    assert desk.pairing().code == CODE
    answer = stranger.post("/pair", data={"key": SECRET}, headers={"Origin": ORIGIN})
    assert answer.status_code == 303
    assert stranger.get("/phone").status_code == 200
    for again in ({"key": SECRET}, {"code": CODE}):
        assert stranger.post("/pair", data=again, headers={"Origin": ORIGIN}).status_code == 422


def test_a_wrong_secret_lets_nobody_in(stranger: FlaskClient, desk: StandInDesk) -> None:
    """A secret that does not fit gives no cookie, says what to do, and costs no try of a code."""
    for wrong in ("x", SECRET[:-1], SECRET + "x", "é", "x" * 100_000):
        answer = stranger.post("/pair", data={"key": wrong}, headers={"Origin": ORIGIN})
        assert (answer.status_code, "Set-Cookie" in answer.headers) == (422, False)
        assert say("page.pair-picture-old") in words_of(answer)
    assert desk.pairing().tries == 0


def test_a_try_counts_for_the_address_it_comes_from(stranger: FlaskClient, desk: StandInDesk) -> None:
    """The keeper of codes is told which address a try comes from."""
    for address in ("192.0.2.1", "192.0.2.2"):
        far = {"REMOTE_ADDR": address}
        stranger.post("/pair", data={"code": "00000000"}, headers={"Origin": ORIGIN}, environ_base=far)
    assert desk.pairing().tried_from == ["192.0.2.1", "192.0.2.2"]


# ---- putting a phone out


def test_a_phone_that_was_put_out_may_do_nothing(app: Flask, phone: Paired, desk: StandInDesk) -> None:
    """Its cookie counts no longer, at once: it may not look, act or stop, nor get a stream; the phone beside it may."""
    desk.pairing().code = CODE
    other = app.test_client()
    other.post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    lost = Paired(other)
    assert [lost.look("/").status_code, lost.send("/stop").status_code, desk.stops] == [200, 303, 1]
    desk.say_day()
    assert phone.send("/settings/phones/out", {"name": "phone 2"}).status_code == 303
    refused = [lost.look("/"), lost.look("/live"), lost.send("/stop"), lost.send("/act/close", {"number": 1})]
    assert [answer.status_code for answer in refused] == [403] * 4
    assert (desk.stops, desk.acts) == (1, [])
    assert phone.send("/stop").status_code == 303
    assert phone.look("/").status_code == 200


def test_the_list_is_shown_by_day(phone: Paired, desk: StandInDesk) -> None:
    """By day a paired phone sees each by name and day, and which it is itself; in the dark neither page nor act."""
    assert phone.look("/settings/phones").status_code == 409
    assert phone.send("/settings/phones/out", {"name": "phone 1"}).status_code == 409
    assert desk.phones().out == set()
    desk.phones().seen("older")
    desk.say_day()
    words = words_of(phone.look("/settings/phones"))
    assert "phone 1: paired on 2026-03-01, last seen on 2026-03-01" in words
    assert "phone 2: paired before there was a list, last seen on 2026-03-02" in words
    assert words.count(say("page.phones-this")) == 1
    assert 'href="/settings/phones"' in phone.look("/settings").text


def test_the_phone_in_the_hand_asks_first(app: Flask, phone: Paired, desk: StandInDesk) -> None:
    """One's own phone is put out behind a fold that says what it means, by a button of its own; others at once."""
    desk.pairing().code = CODE
    app.test_client().post("/pair", data={"code": CODE}, headers={"Origin": ORIGIN})
    desk.say_day()
    own, other = re.findall(r"<li>.*?</li>", phone.look("/settings/phones").text, re.DOTALL)
    before, _, fold = own.partition("<details")
    assert ("<form" in before, "<form" in fold) == (False, True)
    assert say("page.phones-own") in fold
    assert say("page.phones-own-sure", name="phone 1") in fold
    assert ("<details" in other, "<form" in other) == (False, True)


def test_putting_out_needs_all_that_an_act_needs(phone: Paired, stranger: FlaskClient, desk: StandInDesk) -> None:
    """Without pairing, token or our own page nobody is put out; a name that is not there is told."""
    desk.say_day()
    way, body = "/settings/phones/out", {"name": "phone 1"}
    assert stranger.post(way, data=body, headers={"Origin": ORIGIN}).status_code == 403
    assert phone.send(way, {**body, "token": "x"}).status_code == 403
    assert phone.send(way, body, Origin="http://evil.example").status_code == 403
    assert desk.phones().out == set()
    assert phone.send(way, {"name": "nobody"}).status_code == 404


def test_a_phone_from_before_the_list_comes_on_it(app: Flask, desk: StandInDesk, phone: Paired) -> None:
    """A cookie that was signed before there was a list counts, and its phone is listed once it has been seen."""
    older = app.test_client()
    with app.app_context():
        older.set_cookie(cookie_name(KEY), _signer(KEY).dumps({"mark": "ab" * 16, "name": "q7w"}))
    assert older.get("/").status_code == 200
    assert "ab" * 16 in desk.phones().known
    assert Paired(older).send("/stop").status_code == 303
