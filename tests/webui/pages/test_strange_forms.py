"""Forms that no page of ours sends: what they ask for is refused in a sentence at its field, and nothing is kept."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date

import pytest
from tools.hidden_papers import paper_one, readings
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.paper.paper import Box
from controller.paper.written import Written

ODD = ("", "zoom 3", "x" * 300, "٣", "-1", "9" * 20, "1e308", "nan", "\x00", "{x}", "%s", "own", "filter", "0")
PAGES = ("/papers/new", "/papers/{paper}/box", "/papers/{paper}/readings", "/papers/by-eye", "/contrast", "/lamp")
ROUNDS = 40


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


@pytest.fixture
def paper(desk: StandInDesk) -> str:
    written = Written(paper="Quay RC", box=Box(dated=date(2026, 5, 1)), exposures=readings(paper_one()).exposures)
    return desk.papers().save(written, None).id


@pytest.mark.parametrize("do", ["", "look", "keep", "strange"])
@pytest.mark.parametrize("place", ["/papers/new", "/papers/{paper}/readings", "/papers/{paper}/box"])
def test_a_light_that_is_none_is_refused_at_its_column(
    desk: StandInDesk, phone: Phone, paper: str, place: str, do: str
) -> None:
    """A column whose light is none of the four is refused beside its seconds, with what was sent and the remedy."""
    address = place.format(paper=paper)
    typed = dict(phone.look(address).fields) | {"column-0-light": "zoom 3\n", "column-0-cell-5": "1.2"}
    answer = phone.send(address, typed.items(), do=do)
    assert answer.status_code == 422
    told = Page(answer.text).told()
    assert "zoom 3 is no light of a print" in told["column-0-seconds"]
    assert "add one for soft" in told["column-0-seconds"]
    assert desk.papers().get(paper).version == 1


def test_another_box_without_a_column_asks_for_one(phone: Phone, paper: str) -> None:
    """The form of another box that brings no column is told what is missing, and has a column to type into."""
    address = f"/papers/{paper}/box"
    typed = {name: text for name, text in phone.look(address).fields if not name.startswith("column-")}
    answer = phone.send(address, typed.items())
    assert answer.status_code == 422
    page = Page(answer.text)
    assert list(page.told()) == ["expected"]
    assert dict(page.fields)["column-0-light"] == "both"


def test_no_field_can_break_a_form(desk: StandInDesk, phone: Phone, paper: str) -> None:
    """Whatever stands in one field of a form, or is missing from it, the answer is no mistake of ours."""
    chance = random.Random(9)
    for place in PAGES:
        address = place.format(paper=paper)
        sent = [pair for pair in phone.look(address).fields if pair[0] != "file"]
        for _ in range(ROUNDS):
            desk.clock_ns += 11_000_000_000  # a phone may post so often
            desk.say_day()
            typed = dict(sent)
            name = chance.choice([each for each in typed if each not in ("token", "number", "run")])
            if chance.random() < 0.3:
                typed = {each: text for each, text in typed.items() if not each.startswith(name.rpartition("-")[0])}
            else:
                typed[name] = chance.choice(ODD)
            do = chance.choice(("look", "keep", "add column", "drop column 9", "up column 3", *ODD))
            answer = phone.send(address, typed.items(), do=do)
            assert answer.status_code < 500, (address, name, typed.get(name), do)
