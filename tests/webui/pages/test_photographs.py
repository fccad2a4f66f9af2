"""The photograph of a dry print on its record's page, brought and taken away by a thumb without scripts."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tools.negatives import photograph
from tools.shelf_phone import ORIGIN, Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.words import say


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    with day_desk() as made:
        made.keep_pictures_in(tmp_path / "pictures")
        made.work(made.crane, "print")
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def bring(phone: Phone, content: bytes, name: str = "print.jpg", sheet: str = "print") -> Any:
    fields: dict[str, Any] = dict(phone.look("/sheets/print").typed())
    fields |= {"file": (io.BytesIO(content), name), "sheet": sheet}
    return phone.client.post("/sheets/photograph", data=fields, headers={"Origin": ORIGIN}, buffered=True)


def signed(page: Page) -> list[tuple[str, str]]:
    """Return what signs a form of a page; each of its forms has that once."""
    return list(dict(pair for pair in page.fields if pair[0] in ("token", "number", "run")).items())


def shown(page: Page) -> list[str]:
    """Return the addresses of the photographs that a page shows large."""
    return re.findall(r'<figure class="photograph[^>]*><img src="(/photographs/[0-9a-f]{64}\.jpg)"', page.text)


def test_it_is_brought_shown_replaced_taken_away_and_put_back(phone: Phone, desk: StandInDesk) -> None:
    """Every way is a button of the record's page; what was before is offered again."""
    page = phone.look("/sheets/print")
    assert "/sheets/photograph" in page.actions
    assert shown(page) == []
    answer = bring(phone, photograph())
    assert (answer.status_code, answer.headers["Location"]) == (303, "/sheets/print#photograph")
    (first,) = shown(phone.look("/sheets/print"))
    assert phone.client.get(first).data.startswith(b"\xff\xd8")
    assert say("page.photo-alt", number=3, title="Harbour crane, 8x10") in phone.look("/sheets/print").text
    bring(phone, photograph(900, 1200))
    page = phone.look("/sheets/print")
    (second,) = shown(page)
    assert second != first
    away = phone.send("/sheets/print/photograph/away", page.typed())
    assert away.status_code == 303
    page = phone.look("/sheets/print")
    assert shown(page) == []
    assert page.actions.count("/sheets/print/photograph/back") == 2
    (before,) = (one.hash for one in desk.record("print").photographs_before if one.hash in first)
    back = phone.send("/sheets/print/photograph/back", signed(page), photograph=before)
    assert back.status_code == 303
    assert shown(phone.look("/sheets/print")) == [first]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", say("page.photo-no-file")),
        (b"GIF89a" + bytes(400), "odd.jpg is no picture that can be read"),
        (photograph(80, 80), "odd.jpg is too small"),
    ],
)
def test_what_is_no_photograph_is_said_beside_it(phone: Phone, desk: StandInDesk, content: bytes, words: str) -> None:
    """The page comes back with the sentence at its field, in the fold that is open; nothing is kept."""
    answer = bring(phone, content, "odd.jpg")
    assert answer.status_code in (413, 422)
    page = Page(answer.text)
    assert words in page.words
    assert 'aria-describedby="file-no"' in page.text
    assert 'id="photograph" open' in page.text
    assert desk.record("print").photographs == ()


def test_what_there_is_not_is_told(phone: Phone, desk: StandInDesk) -> None:
    """Another sheet, another photograph and a picture that is gone: each its own sentence."""
    assert bring(phone, photograph(), sheet="nothing").status_code == 404
    assert phone.client.get(f"/photographs/{'0' * 64}.jpg").status_code == 404
    assert phone.client.get("/photographs/x.jpg").status_code == 404
    page = phone.look("/sheets/print")
    assert phone.send("/sheets/print/photograph/back", signed(page), photograph="0" * 64).status_code == 404
    bring(phone, photograph())
    for picture in list(desk.photographs()._pictures.each()):
        desk.photographs()._pictures.drop(picture)
    page = phone.look("/sheets/print")
    assert say("store.picture-gone") in page.words
    assert shown(page) == []


def test_by_night_there_is_none(phone: Phone, desk: StandInDesk) -> None:
    """The record can be looked at in the dark: neither photograph nor form is in it, nor can a picture be had."""
    bring(phone, photograph())
    (address,) = shown(phone.look("/sheets/print"))
    desk.show(day_until_ns=None)
    text = phone.client.get("/sheets/print").text
    assert "/photographs/" not in text
    assert "/sheets/photograph" not in text
    assert phone.client.get(address).status_code == 409


def test_an_open_sheet_is_not_asked(phone: Phone, desk: StandInDesk) -> None:
    """A sheet that is open has no fold for a photograph."""
    desk.work(desk.crane, "open", closed=None, outcome="open")
    assert "/sheets/photograph" not in phone.look("/sheets/open").actions


def test_the_page_may_fetch_it(phone: Phone) -> None:
    """The page's policy lets our pictures in only where it shows one."""
    assert "img-src" not in phone.client.get("/sheets/print").headers["Content-Security-Policy"]
    bring(phone, photograph())
    assert "img-src 'self'" in phone.client.get("/sheets/print").headers["Content-Security-Policy"]


def test_the_wall_and_the_look_show_it(phone: Phone, desk: StandInDesk) -> None:
    """On the wall its small one stands in the sheet's card; where one is asked how it looked, the large one."""
    bring(phone, photograph())
    kept = desk.record("print").photograph
    assert kept is not None
    assert f'<image href="/photographs/{kept.small}.jpg"' in phone.look("/wall").text
    assert shown(phone.look("/looked/print")) == [f"/photographs/{kept.hash}.jpg"]
    desk.photographs()._pictures.drop(kept.small)
    assert kept.small not in phone.look("/wall").text
