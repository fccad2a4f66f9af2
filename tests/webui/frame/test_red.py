"""How bright a phone's dark page is: five reds, the lowest first, and none untested without being asked twice."""

from __future__ import annotations

import re
from datetime import date

import pytest
from flask.testing import FlaskClient
from tools.phone import Paired, words_of
from tools.stand_in_desk import KEY, StandInDesk

from controller.daemon.phones import FogTest
from controller.words import say
from webui.frame.assets import FOLDER
from webui.frame.red import BRIGHTEST, LEVELS, cookie_name, dimmed, linear, style

SHARES = {1: (0.7, 0.4), 2: (0.7, 0.4), 3: (0.7, 0.4), 4: (0.7, 0.4), 5: (0.83, 0.48)}
ON_BLACK = 0.05
"""What the contrast formula adds to the luminance of either colour (WCAG 2.2, relative luminance)."""


def contrast(one: str, other: str) -> float:
    """The contrast of two colours of a style, as WCAG 2.2 defines it."""

    def luminance(colour: str) -> float:
        digits = colour.removeprefix("#")
        digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
        red, green, blue = (linear(int(digits[at : at + 2], 16)) for at in (0, 2, 4))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + ON_BLACK) / (darker + ON_BLACK)


def _said(level: int) -> dict[str, str]:
    """The colours that the style itself gives a level."""
    rule = ":root" if level == 1 else f'html[data-red="{level}"]'
    body = re.search(re.escape(rule) + r"\{([^}]*)\}", style())
    assert body is not None
    return dict(part.split(":") for part in body[1].split(";"))


def _level(page: str) -> str:
    found = re.search(r'<html [^>]*data-red="(\d)"', page)
    assert found is not None
    return found[1]


def test_the_light_of_a_channel_is_srgb_s() -> None:
    """Known values of IEC 61966-2-1: 0, 255, the end of the straight part, and middle grey, which is 18 hundredths."""
    assert linear(0) == 0
    assert linear(255) == 1
    assert linear(10) == pytest.approx(10 / 255 / 12.92)
    assert linear(118) == pytest.approx(0.1812, abs=1e-4)
    assert linear(188) == pytest.approx(0.5029, abs=1e-4)


@pytest.mark.parametrize("ink", [1, 90, 155, 255])
@pytest.mark.parametrize("share", [0.4, 0.7, 1.0])
def test_a_dimmed_red_is_the_lowest_that_is_bright_enough(ink: int, share: float) -> None:
    """It gives at least that share of the light, and the channel below it does not."""
    found = dimmed(ink, share)
    assert linear(found) >= share * linear(ink)
    assert linear(found - 1) < share * linear(ink)


@pytest.mark.parametrize("level", LEVELS, ids=lambda level: level.number)
def test_softer_words_and_edges_keep_their_share(level: object) -> None:
    """In the style itself: of the ink's light softer words have at least 0.7 and edges 0.4, more on the fifth."""
    number = LEVELS.index(level) + 1  # type: ignore[arg-type]  # pytest names them by attribute
    said = _said(number)
    assert said["--ink"] == ("#5a0000", "#780000", "#9b0000", "#c80000", "#ff0000")[number - 1]
    ink, soft, line = (linear(int(said[name][1:3], 16)) for name in ("--ink", "--soft", "--line"))
    assert all(said[name].endswith("0000") for name in said)
    assert soft >= SHARES[number][0] * ink
    assert line >= SHARES[number][1] * ink


def test_the_brightest_is_read_by_any_eye() -> None:
    """On black words of the fifth level have a contrast of 4.5 : 1 and edges 3 : 1 (WCAG 2.2, 1.4.3 and 1.4.11)."""
    said = _said(BRIGHTEST)
    assert contrast(said["--ink"], "#000") >= 4.5
    assert contrast(said["--soft"], "#000") >= 4.5
    assert contrast(said["--line"], "#000") >= 3


def test_no_style_names_a_red_of_its_own() -> None:
    """Reds come from the levels alone, so that none stays behind when a phone turns them up or down."""
    for path in FOLDER.glob("*.css"):
        assert not re.search(r"#[0-9a-f]{2}0000\b", path.read_text(encoding="utf-8")), path.name


def test_a_new_phone_is_at_the_lowest_and_turns_it_up_itself(phone: Paired, desk: StandInDesk) -> None:
    """Without a choice a page has level 1; what a phone chooses it keeps on every page, and no other phone gets it."""
    assert _level(phone.look("/").text) == "1"
    desk.phones().tested(desk.phones().listed()[0].mark, FogTest(level=3, paper="paper one", day=date(2026, 11, 30)))
    answer = phone.send("/phone/red", {"level": "3", "back": "/"})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith(f"{cookie_name(KEY)}=3;")
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "Max-Age=31536000" in cookie
    for address in ("/", "/phone", "/choose", "/nowhere"):
        assert _level(phone.look(address).text) == "3"
    other = phone.client.application.test_client(use_cookies=False)
    assert _level(other.get("/", headers={"Cookie": phone.cookie()}).text) == "1"


def test_a_level_that_was_not_tested_asks_twice(phone: Paired, desk: StandInDesk) -> None:
    """Brighter than the test, or untested and above the lowest: refused until it is meant; darker is never asked."""
    assert phone.send("/phone/red", {"level": "2"}).status_code == 409
    assert phone.send("/phone/red", {"level": "2", "sure": "1"}).status_code == 303
    assert _level(phone.look("/").text) == "2"
    assert phone.send("/phone/red", {"level": "1"}).status_code == 303
    desk.phones().tested(desk.phones().listed()[0].mark, FogTest(level=2, paper="paper one", day=date(2026, 11, 30)))
    assert phone.send("/phone/red", {"level": "2"}).status_code == 303
    refused = phone.send("/phone/red", {"level": "3"})
    assert refused.status_code == 409
    assert say("page.red-may-fog", level=3) in words_of(refused)
    assert _level(phone.look("/").text) == "2"


def test_both_buttons_stand_where_the_dark_page_is(phone: Paired) -> None:
    """Under “elsewhere” and on the phone's own page, without leaving either."""
    for address in ("/", "/phone"):
        text = phone.look(address).text
        assert say("page.red-darker") in text
        assert say("page.red-sure") in text
        told = phone.send("/phone/red", {"level": "1", "back": address}, Accept="application/json").get_json()
        assert told["red"] == 1
        assert say("page.red-brighter") in told["html"]


@pytest.mark.parametrize("level", ["0", "6", "x", "-1", "1.5", "１"])
def test_a_level_that_is_none_is_refused(phone: Paired, level: str) -> None:
    """It changes nothing, and a sentence says what to do."""
    answer = phone.send("/phone/red", {"level": level, "sure": "1"})
    assert answer.status_code == 422
    assert say("page.red-none") in words_of(answer)
    assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize("said", ["0", "6", "99999999999", "x", "3x", '"3', "", "３"])
def test_a_cookie_that_says_nothing_counts_as_none(phone: Paired, said: str) -> None:
    """Whatever stands in the cookie, a page has one of the five levels."""
    other = phone.client.application.test_client(use_cookies=False)
    headers = {"Cookie": f"{phone.cookie()}; {cookie_name(KEY)}={said}".encode().decode("latin-1")}
    assert _level(other.get("/", headers=headers).text) == "1"


def test_practice_is_bright_until_it_is_to_be_dark(phone_with_practice: Paired) -> None:
    """In a practice darkroom a page has the fifth level unasked; “as dark as the real one” begins at the lowest."""
    phone = phone_with_practice
    assert _level(phone.look("/").text) == "5"
    assert phone.send("/phone/red", {"level": "1", "back": "/phone"}).status_code == 303
    assert _level(phone.look("/").text) == "1"
    assert phone.send("/phone/red", {"level": "2"}).status_code == 303, "nothing can fog here, so nothing asks twice"
    assert phone.send("/phone/red", {"level": ""}).status_code == 303
    assert _level(phone.look("/").text) == "5"


def test_in_practice_pairing_and_start_are_for_a_lit_room(
    phone_with_practice: Paired, phone: Paired, stranger: FlaskClient
) -> None:
    """There both are black on white from the first frame and speak of no phone's light; with real lines never."""
    practice = phone_with_practice
    unpaired = practice.client.application.test_client()
    for page in (unpaired.get("/pair"), unpaired.get("/"), practice.look("/pair"), practice.look("/phone")):
        head = page.text.split("</head>")[0]
        assert 'data-lit-room="1"' in head
        assert '<meta name="color-scheme" content="light">' in head
    assert say("page.phone-dim") not in words_of(practice.look("/phone"))
    assert say("page.phone-leak") not in words_of(practice.look("/phone"))
    assert say("page.pair-heading-practice") in words_of(unpaired.get("/pair"))
    practice.send("/phone/red", {"level": "1"})
    for page in (practice.look("/phone"), practice.look("/pair"), phone.look("/phone"), stranger.get("/pair")):
        head = page.text.split("</head>")[0]
        assert "data-lit-room" not in head
        assert '<meta name="color-scheme" content="dark">' in head
    assert 'data-lit-room="1"' not in practice.look("/").text
