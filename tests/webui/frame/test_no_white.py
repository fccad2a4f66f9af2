"""What is no page of ours is not shown as one: a browser would show it on white, and keep it after the day."""

from __future__ import annotations

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tools.phone import Paired
from tools.stand_in_desk import StandInDesk

from controller.foot.acts import Load

AS_PAGE = {"Sec-Fetch-Dest": "document", "Accept": "text/html,*/*;q=0.8"}
OLD = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
"""A browser that does not say what it will do with an answer."""
BY_SCRIPT = {"Sec-Fetch-Dest": "empty", "Accept": "*/*"}


@pytest.mark.parametrize("headers", [AS_PAGE, OLD], ids=["said", "unsaid"])
@pytest.mark.parametrize("address", ["/status.json", "/status.json?part=now", "/live", "/manifest.webmanifest"])
@pytest.mark.parametrize("day", [True, False])
def test_what_is_for_scripts_leads_to_the_first_page(
    phone: Paired, desk: StandInDesk, address: str, headers: dict[str, str], day: bool
) -> None:
    """Opened in a tab of its own it is never shown, by day either: the day may end under it."""
    if day:
        desk.say_day()
    answer = phone.client.get(address, headers=headers)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    shown = phone.client.get(address, headers=BY_SCRIPT)
    assert shown.status_code == 200
    shown.close()


def test_a_style_is_no_page_either(app: Flask, phone: Paired) -> None:
    """Nor is any file that belongs to a page."""
    address = app.jinja_env.globals["asset"]("dark.css")  # type: ignore[operator]
    assert phone.client.get(address, headers=AS_PAGE).status_code == 303
    assert phone.client.get(address, headers={"Sec-Fetch-Dest": "style"}).status_code == 200


def test_the_panel_alone_is_no_page(phone: Paired) -> None:
    """`/now` is a part that the live page takes in, without the first black frame around it."""
    answer = phone.client.get("/now", headers=AS_PAGE)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    assert phone.client.get("/now", headers=BY_SCRIPT).status_code == 200


def test_pages_and_refusals_stay(phone: Paired, stranger: FlaskClient) -> None:
    """What is a page of ours comes as it is, in whichever way it is asked for."""
    for address, status in (("/", 200), ("/phone", 200), ("/nowhere", 404), ("/health", 200)):
        assert phone.client.get(address, headers=AS_PAGE).status_code == status
    assert stranger.get("/pair", headers=AS_PAGE).status_code == 200
    assert stranger.get("/status.json", headers=AS_PAGE).status_code == 403


def test_on_a_home_screen_the_page_is_black_before_it_is_there(phone: Paired) -> None:
    """The manifest says so, every page names it, and the policy lets it in."""
    told = phone.client.get("/manifest.webmanifest", headers={"Sec-Fetch-Dest": "manifest"})
    assert told.mimetype == "application/manifest+json"
    made = told.get_json()
    assert made["display"] == "standalone"
    assert made["background_color"] == made["theme_color"] == "#000000"
    page = phone.look("/")
    assert '<link rel="manifest" href="/manifest.webmanifest" crossorigin="use-credentials">' in page.text
    assert '<meta name="apple-mobile-web-app-capable" content="yes">' in page.text
    assert "manifest-src 'self'" in page.headers["Content-Security-Policy"]


def test_a_word_names_what_is_loaded(phone: Paired, desk: StandInDesk) -> None:
    """So that a phone that was overtaken can say what was loaded instead."""
    assert phone.look("/status.json", Accept="*/*").get_json()["loaded"] == {"id": "", "title": ""}
    desk.do(Load(source=desk.crane.id, version=1), desk.status().number)
    told = phone.look("/status.json", Accept="*/*").get_json()["loaded"]
    assert told == {"id": desk.crane.id, "title": desk.crane.title}
