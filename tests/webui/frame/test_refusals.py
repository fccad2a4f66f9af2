"""Every no is a sentence with a remedy, on black; and every answer binds the browser."""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tools.phone import ORIGIN, Paired, words_of
from tools.stand_in_desk import StandInDesk
from werkzeug.test import TestResponse

from controller.words import say
from webui.wording import refusal_for

FIRST_FRAME = "html{background:#000;"
EVERYWHERE = ["/", "/now", "/choose", "/sheets", "/phone", "/settings", "/pair", "/health", "/nowhere", "/status.json"]


def _policy(answer: TestResponse) -> dict[str, list[str]]:
    parts = [part.split() for part in answer.headers["Content-Security-Policy"].split(";")]
    return {part[0]: part[1:] for part in parts}


@pytest.mark.parametrize("address", EVERYWHERE)
def test_every_answer_binds_the_browser(phone: Paired, stranger: FlaskClient, address: str) -> None:
    """Nothing is fetched from elsewhere, framed, sniffed or kept, and no address is told to anyone else."""
    for answer in (phone.look(address), stranger.get(address)):
        policy = _policy(answer)
        assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == ["'none'"]
        assert policy["connect-src"] == policy["form-action"] == ["'self'"]
        assert not any("unsafe" in source or "*" in source for sources in policy.values() for source in sources)
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "same-origin"
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert answer.headers["Permissions-Policy"] == "camera=(), microphone=(), geolocation=()"
        assert "img-src" not in policy
        assert "Server" not in answer.headers


def test_only_the_hashed_texts_are_inline(phone: Paired, desk: StandInDesk) -> None:
    """Each inline style and script of a page is named in the policy by its hash, and nothing else is inline."""
    desk.say_day()
    for address in ("/", "/phone", "/settings", "/choose", "/sheets"):
        answer = phone.look(address)
        policy = _policy(answer)
        for tag, source in (("style", "style-src"), ("script", "script-src")):
            inline = [text for text in re.findall(rf"<{tag}[^>]*>(.*?)</{tag}>", answer.text, re.S) if text]
            assert inline
            for text in inline:
                digest = b64encode(hashlib.sha256(text.encode()).digest()).decode()
                assert f"'sha256-{digest}'" in policy[source]
        assert not re.search(r"<[^>]+ (style|on\w+)=", answer.text)


def test_the_first_frame_is_black(phone: Paired, stranger: FlaskClient, desk: StandInDesk) -> None:
    """Before anything is fetched a page is black: style in the head before all else, dark scheme, black bar."""
    desk.say_day()
    for answer in (phone.look("/"), phone.look("/settings"), stranger.get("/pair"), phone.look("/nowhere")):
        head = answer.text.split("</head>")[0]
        assert FIRST_FRAME in head
        assert head.index("<style>") < min(
            (head.index(tag) for tag in ("<link", "<script") if tag in head), default=len(head)
        )
        assert '<meta name="color-scheme" content="dark">' in head
        assert '<meta name="theme-color" content="#000">' in head
        assert 'class="day' not in answer.text.split("<head>")[0]


@pytest.mark.parametrize(
    ("address", "status"), [("/nowhere", 404), ("/sheets/none", 404), ("/stop", 405), ("/a/b", 404)]
)
def test_what_is_not_there_is_said(phone: Paired, address: str, status: int) -> None:
    """404 and 405 are sentences with a way back, on black, and JSON to a script."""
    answer = phone.look(address)
    assert answer.status_code == status
    assert 'href="/"' in answer.text
    assert len(re.search(r'<p class="sentence"[^>]*>(.*?)</p>', answer.text).group(1).split()) > 8  # type: ignore[union-attr]
    told = phone.look(address, Accept="application/json")
    assert told.status_code == status
    assert told.get_json()["refusal"]


def test_a_page_that_is_nowhere_is_not_a_matter_of_time(phone: Paired) -> None:
    """“Not now” would send a printer back to wait: what is not there is said to be nowhere."""
    assert say("page.refused-404-heading") in words_of(phone.look("/nowhere"))
    assert say("page.refused") not in words_of(phone.look("/nowhere"))
    assert say("page.refused") in words_of(phone.look("/stop"))


def test_a_wrong_method_says_which_would_do(phone: Paired) -> None:
    """405 names the methods that the address takes."""
    assert "POST" in phone.look("/stop").headers["Allow"]


@pytest.mark.parametrize(
    ("address", "page"),
    [
        *(("/lamp/paper", "/lamp"), ("/lamp/warm?x=1", "/lamp"), ("/phone/red", "/phone")),
        *(("/settings/pair", "/settings"), ("/settings/phones/out", "/settings/phones"), ("/data/in", "/data")),
        *(("/contrast/hold/keep", "/contrast/hold"), ("/carry/a/keep", "/carry/a"), ("/shelf/a/away", "/shelf/a")),
        *(("/carry/a%0Ab/keep", "/carry/a%0Ab"), ("/carry/%E2%80%94/keep", "/carry/%E2%80%94")),
        *(("/act/load", ""), ("/stop", ""), ("/review", ""), ("/day/used", "")),
    ],
)
def test_where_a_form_was_sent_leads_to_its_page(phone: Paired, address: str, page: str) -> None:
    """An address that takes posts alone, looked at, leads to the page above it; where there is none it is refused."""
    answer = phone.look(address)
    assert (answer.status_code, answer.headers.get("Location", "")) == ((303, page) if page else (405, ""))
    told = phone.look(address, Accept="application/json")
    assert (told.status_code, "Location" in told.headers) == (405, False)


@pytest.mark.parametrize("code", [400, 403, 404, 405, 413, 422, 429, 431, 500, 503])
def test_every_code_has_a_sentence(code: int) -> None:
    """Each refusal names what is wrong and what would do, in more than a few words."""
    assert len(refusal_for(code).split()) > 8
    assert refusal_for(code) != say("page.refused-other")
    assert refusal_for(418) == say("page.refused-other")


def test_a_mistake_of_ours_is_a_sentence_too(phone: Paired, desk: StandInDesk, app: Flask) -> None:
    """When a page raises, the person reads a sentence on black and nothing of the program."""
    desk.recipes().kept = lambda kind: 1 // 0  # type: ignore[method-assign]
    answer = phone.look("/choose")
    assert answer.status_code == 500
    assert say("page.refused-500") in words_of(answer)
    assert "ZeroDivision" not in answer.text
    assert FIRST_FRAME in answer.text


def test_a_day_page_by_night_says_how_to_have_it(phone: Paired, desk: StandInDesk) -> None:
    """409: with a sheet open it says which and how to close it; else it offers “all paper is away”, and leads back."""
    desk.show(open=True, can=("close",), day_refused="Sheet 5 is open. Hold to close it.")
    answer = phone.look("/settings")
    assert answer.status_code == 409
    assert "Sheet 5 is open. Hold to close it." in words_of(answer)
    assert "/act/paper-away" not in answer.text
    desk.show(open=False, can=("paper away",), day_refused="")
    answer = phone.look("/settings")
    assert answer.status_code == 409
    assert 'action="/act/paper-away"' in answer.text
    assert 'name="back" value="/settings"' in answer.text
    sent = phone.send("/act/paper-away", {"number": desk.status().number, "back": "/settings"})
    assert sent.headers["Location"] == "/settings"


def test_stop_is_on_every_page(phone: Paired, desk: StandInDesk) -> None:
    """Every page a paired phone can get, refusals included, carries STOP; while light is possible it is shown."""
    desk.show(stop_possible=True)
    for address in ("/", "/choose", "/sheets", "/phone", "/settings", "/nowhere", "/stop", "/pair"):
        text = phone.look(address).text
        assert re.search(r'<form class="stopper" method="post" action="/stop"[^>]*><button>STOP</button></form>', text)
        assert 'class="stop"' in text
    desk.show(stop_possible=False)
    assert 'class="stop"' not in phone.look("/").text


def test_files_are_kept_for_ever_by_their_content(phone: Paired) -> None:
    """A file's address names its content: the present one may be kept, another one is not there."""
    addresses = re.findall(r'(?:href|src)="(/static/[^"]+)"', phone.look("/").text)
    assert len(addresses) == 3
    for address in addresses:
        answer = phone.look(address)
        assert answer.status_code == 200
        assert "immutable" in answer.headers["Cache-Control"]
        mark = address.split("/")[2]
        assert hashlib.sha256(answer.data).hexdigest().startswith(mark)
        assert phone.look(address.replace(mark, "0" * 16)).status_code == 404
    assert phone.look("/static/x/../app.py").status_code == 404


def test_the_first_page_is_small(phone: Paired, desk: StandInDesk) -> None:
    """All that a first visit fetches, uncompressed, is under 60 kB, and comes from this page alone."""
    for address in ("/", "/practice"):
        text = phone.look(address).text
        whole = len(text.encode()) + sum(
            len(phone.look(file).data) for file in re.findall(r'(?:href|src)="(/static/[^"]+)"', text)
        )
        assert whole < 60_000
        assert not re.search(r'(?:href|src|action)="(?!/|#)', text)


def test_a_post_to_nowhere_is_404(phone: Paired) -> None:
    """Behind the guard, an address that is none is told as such."""
    assert phone.send("/nowhere").status_code == 404
    assert phone.client.post("/nowhere", headers={"Origin": ORIGIN}).status_code == 403


def test_a_lean_machine_says_what_a_page_lacks(
    phone: Paired, desk: StandInDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page whose libraries were left out says which they are and how to have them; other mistakes stay mistakes."""
    desk.say_day()
    for name, status in (("scipy.optimize", 503), ("numpy", 503), ("treadel", 500)):

        def lack(name: str = name) -> None:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

        monkeypatch.setattr(desk, "settings", lack)
        answer = phone.look("/settings")
        assert answer.status_code == status
        assert ("numpy, scipy and pillow" in words_of(answer)) == (status == 503)
