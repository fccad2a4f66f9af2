"""How did it look? Two rows of words, what comes of them, and the act; asked after a print closed last."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from tools.fitted_papers import demo
from tools.shelf_phone import Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.foot.acts import Looked
from controller.words import say

SEVEN = ("far too light", "clearly too light", "a little light", "right", "a little dark", "clearly too dark")


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        made.work(made.crane, "print")
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def test_what_comes_of_a_look_is_seen_before_it_is_kept(phone: Phone, desk: StandInDesk) -> None:
    """Seven words a tone; with both said the new times stand there, with their stops and greys; one act takes them."""
    page = phone.look("/looked/print")
    for words in SEVEN:
        assert page.words.count(words) >= 2
    assert say("page.looked-next") not in page.words
    told = phone.look("/looked/print?light=-1&dark=0")
    assert say("page.looked-next") in told.words
    assert "stop)" in told.words
    assert told.text.count('class="patch"') == 4
    version = desk.recipes().fetch(desk.crane.id).version
    fields = [(name, value) for name, value in told.fields if name in {"token", "number", "run"}]
    sent = [*dict(fields).items(), ("sheet", "print"), ("light", "-1"), ("dark", "0"), ("back", "/")]
    assert phone.send("/act/looked", sent).location == "/"
    assert (Looked(sheet="print", light=-1, dark=0), desk.acts[-1][1]) == desk.acts[-1]
    kept = desk.recipes().fetch(desk.crane.id)
    assert kept.version == version + 1
    assert json.loads(kept.body)["light"][0]["seconds"] > 10.1, "a light highlight wants more"
    assert say("page.looked-said", light="a little light", dark="right") in phone.look("/sheets/print").words


def test_a_sheet_that_cannot_be_judged_says_why(phone: Phone, desk: StandInDesk) -> None:
    """A strip without a pick is no print: the page says what to do instead, and its record does not ask."""
    desk.work(desk.strip, "strip")
    page = phone.look("/looked/strip")
    assert say("contrast.looked-no-pick") in page.words
    assert 'class="seven"' not in page.text
    assert '/looked/strip"' not in phone.look("/sheets/strip").text


def test_the_panel_asks_after_the_print_that_was_closed_last(phone: Phone, desk: StandInDesk) -> None:
    """In the dark a fold with two rows, by day the page; once it is said, what came of it stands there instead."""
    number = desk.records["print"].number
    desk.show(closed_sheet="print", can=("load",))
    ask = say("page.looked-ask", number=number)
    assert ask in phone.look("/now").words
    desk.show(closed_sheet="print", open=True, can=())
    assert ask not in phone.look("/now").words


def test_contrast_by_figures_is_folded_behind_it(phone: Phone, desk: StandInDesk) -> None:
    """Pages that want figures stand in one fold here, with the sheet's recipe; neither list nor recipe has them."""
    ways = [f"/contrast{page}?recipe={desk.crane.id}&paper=" for page in ("/hold", "", "/negative")]
    page = phone.look("/looked/print")
    assert [link for link in page.links if link.startswith("/contrast")] == ways
    assert page.text.index('<details class="group" id="by-figures">') < page.text.index(say("contrast.to-hold"))
    for way in ways:
        assert phone.look(way).text.count('<a href="/sheets" aria-current="true">') == 1
    for address in (
        "/",
        "/shelf",
        "/shelf?kind=strip",
        f"/shelf/{desk.crane.id}",
        "/papers",
        "/sheets",
        "/sheets/print",
    ):
        assert not [link for link in phone.look(address).links if link.startswith("/contrast")], address


def test_with_a_calibrated_paper_its_filters_are_there_too() -> None:
    """Where the recipe's paper is calibrated it is filled in, and working with one filter is the fourth way."""
    with day_desk(demo().model_copy(update={"name": "paper one"})) as made:
        made.work(made.crane, "print")
        phone, paper = Phone(made), made.papers().kept()[0].id
        links = phone.look("/looked/print").links
        assert f"/contrast/hold?recipe={made.crane.id}&paper={paper}" in links
        assert f"/papers/{paper}/filters" in links
        assert f"/contrast?recipe=&paper={paper}" in phone.look(f"/papers/{paper}").links


def test_a_sheet_whose_recipe_is_gone_has_the_fold(phone: Phone, desk: StandInDesk) -> None:
    """A strip without a pick, and a sheet of another darkroom, have the ways without a recipe."""
    desk.work(desk.strip, "strip")
    assert "/contrast?recipe=&paper=" in phone.look("/looked/strip").links
