"""What stands at the enlarger, by a thumb without scripts: lists that one tap takes from, small forms, enlargers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from tools.fitted_papers import demo
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.errors import WrongMoment
from controller.foot.acts import StandAtEnlarger
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.set_up import SetUp
from controller.store.entries import StoodAtEnlarger
from webui.frame.offers import Offered

PAGES = ("/enlarger", "/enlarger/carrier", "/enlarger/paper", "/enlarger/set-up", "/enlargers/new")


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk(demo().model_copy(update={"name": "paper three"})) as made:
        made.show(can=("load", "paper away", "at the enlarger"))
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def stand(desk: StandInDesk, **known: Any) -> AtEnlarger:
    """Have something stand at the enlarger, as if it had been said."""
    bench = AtEnlarger(**known)
    desk.journal.append(StoodAtEnlarger(bench=bench))
    return desk.show(bench=bench).bench


def signed(phone: Phone, address: str) -> list[tuple[str, str]]:
    """Return the hidden fields that the first form of a page is signed with."""
    return [pair for pair in phone.look(address).fields if pair[0] in ("token", "number", "run")][:3]


def tap(phone: Phone, address: str, to: str, **fields: str) -> Page:
    """Send one of a page's small forms, as its button does; it leads to the first page."""
    answer = phone.send(to, [*signed(phone, address), *((k.replace("_", "-"), v) for k, v in fields.items())])
    assert answer.status_code == 303, Page(answer.text).words
    assert answer.headers["Location"] == "/"
    return phone.look("/")


# ---- the first page


def test_the_first_page_begins_with_what_stands(desk: StandInDesk, phone: Phone) -> None:
    """Carrier, paper, set-up and enlarger come first, each a way to another one; what is not known says so."""
    page = phone.look("/")
    assert page.words.count("not said") == 4
    assert [link for link in page.links if link.startswith("/enlarger")] == [
        *("/enlarger/carrier", "/enlarger/paper", "/enlarger/set-up", "/enlarger")
    ]
    stand(desk, negative_title="pier", paper_title="paper one", support="RC", box="12", aperture=8, head_height_mm=620)
    words = phone.look("/").words
    for known in ("pier", "paper one, RC · box 12", "f/8 · 620 mm"):
        assert known in words
    assert words.rindex("In the carrier") < words.rindex("pier") < words.rindex("Choose on the page")


def test_what_a_loaded_recipe_says_otherwise_is_one_line_and_one_tap(desk: StandInDesk, phone: Phone) -> None:
    """The recipe's own paper, height and aperture are named; the tap takes them, and the line is gone."""
    stand(desk, negative_title="harbour crane", paper_title="paper two", aperture=11, head_height_mm=620, focal_mm=150)
    desk.show(plan=desk.recipes().plan("crane"), place="ready")
    words = phone.look("/").words
    assert "The recipe says: paper one, RC · f/8." in words
    words = tap(phone, "/", "/enlarger/loaded").words
    assert "The recipe says" not in words
    assert (desk.status().bench.paper_title, desk.status().bench.aperture) == ("paper one", 8)


@pytest.mark.parametrize(("carrier", "first"), [("pier", True), ("harbour crane", False)])
def test_what_is_next_for_another_negative_comes_first(
    desk: StandInDesk, phone: Phone, monkeypatch: pytest.MonkeyPatch, carrier: str, first: bool
) -> None:
    """With a recipe of another negative still loaded, the offer for the one in the carrier stands above its steps."""
    offer = Offered("k", "first strip", "First strip, soft", (), "", in_dark=True)
    monkeypatch.setattr("webui.frame.panel.offered_of", lambda of, status: offer)
    stand(desk, negative_title=carrier, paper_title="paper one", aperture=8, head_height_mm=620, focal_mm=150)
    desk.show(plan=desk.recipes().plan("crane"), place="ready", headline="Press to begin.")
    page = phone.look("/")
    main = page.text[page.text.index("<main") :]
    assert main.count(offer.words) == 1
    assert (main.index(offer.words) < main.index("Press to begin.")) == first
    assert main.index("<h1") < main.index("<h2")


def test_while_a_sheet_is_open_nothing_is_offered_to_take(desk: StandInDesk, phone: Phone) -> None:
    """Where the change would be refused, the line is not there."""
    desk.show(plan=desk.recipes().plan("crane"), place="ready", can=("close",), open=True, sheet="s", sheet_number=3)
    assert "The recipe says" not in phone.look("/").words


# ---- one tap


def test_a_negative_is_put_in_by_one_tap(desk: StandInDesk, phone: Phone) -> None:
    """The list has what recipes name; any other is written once, and is in the list from then on."""
    page = phone.look("/enlarger/carrier")
    assert ("title", "harbour crane") in page.fields
    words = tap(phone, "/enlarger/carrier", "/enlarger/carrier", title="harbour crane", format="4x5").words
    assert "harbour crane, 4x5" in words
    tap(phone, "/enlarger/carrier", "/enlarger/carrier", title="pier", format="24x36")
    assert next(value for name, value in phone.look("/enlarger/carrier").fields if name == "title") == "pier"
    tap(phone, "/enlarger/carrier", "/enlarger/carrier", do="empty")
    assert desk.status().bench.negative_title == ""


def test_a_paper_is_taken_out_by_one_tap_and_another_box_is_one_field(desk: StandInDesk, phone: Phone) -> None:
    """Papers of the shelf and of recipes are listed, with box and support; the form is filled with what is out."""
    page = phone.look("/enlarger/paper")
    kept = desk.papers().kept()[0]
    assert ("paper", kept.id) in page.fields
    tap(phone, "/enlarger/paper", "/enlarger/paper", paper=kept.id, title=kept.title, support="RC", box="12")
    page = phone.look("/enlarger/paper")
    assert page.fields[-3:] == [("title", kept.title), ("box", "12"), ("support", "RC")]
    assert "paper three, RC · box 12" in page.words
    assert page.words.count("box of the tests") == 1
    assert "box box" not in page.words
    tap(phone, "/enlarger/paper", "/enlarger/paper", title=kept.title, support="RC", box="13")
    bench = desk.status().bench
    assert (bench.paper, bench.paper_title, bench.support, bench.box) == (kept.id, kept.title, "RC", "13")


@pytest.mark.parametrize(("address", "words"), [("carrier", "which negative"), ("paper", "which paper")])
def test_what_has_no_name_is_asked_for(phone: Phone, address: str, words: str) -> None:
    """An empty name is refused beside its field, and what else was typed still stands there."""
    answer = phone.send(
        f"/enlarger/{address}", [*signed(phone, f"/enlarger/{address}"), ("format", "6x6"), ("box", "9")]
    )
    assert answer.status_code == 422
    page = Page(answer.text)
    assert words in page.told()["title"]
    assert {("format", "6x6"), ("box", "9")} & set(page.fields)


def test_an_aperture_is_one_tap_and_changes_nothing_else(desk: StandInDesk, phone: Phone) -> None:
    """A whole stop is a button of its own."""
    before = stand(desk, paper_title="p", head_height_mm=620, magnification=2.04082, aperture=8)
    tap(phone, "/enlarger/set-up", "/enlarger/set-up", aperture="5.6")
    assert desk.status().bench == before.model_copy(update={"aperture": 5.6})


def test_a_set_up_of_lately_is_one_tap(desk: StandInDesk, phone: Phone) -> None:
    """How the enlarger stood before is listed, the last first; one tap takes all of it."""
    stand(desk, head_height_mm=500, aperture=11, magnification=1.5, focal_mm=80)
    stand(desk, head_height_mm=620, aperture=8)
    page = phone.look("/enlarger/set-up")
    assert "f/11 · 500 mm · 80 mm lens" in page.words
    tap(
        phone, "/enlarger/set-up", "/enlarger/set-up", head_height="500", aperture="11", magnification="1.5", focal="80"
    )
    bench = desk.status().bench
    assert (bench.head_height_mm, bench.aperture, bench.magnification, bench.focal_mm) == (500, 11, 1.5, 80)


def form(page: Page, **changes: str) -> list[tuple[str, str]]:
    """Return the big form's fields, the last of each name, with some typed over."""
    last = dict(page.fields) | {name.replace("_", "-"): value for name, value in changes.items()}
    return list(last.items())


def test_the_form_is_filled_with_what_is_known_and_keeps_what_was_not_touched(desk: StandInDesk, phone: Phone) -> None:
    """A field left as it stood changes nothing, however it was rounded; an emptied one is not known any more."""
    before = stand(desk, head_height_mm=620, magnification=2.04082, aperture=8, focal_mm=150, soft="00", hard="5")
    page = phone.look("/enlarger/set-up")
    assert ("magnification", "2.041") in page.fields
    answer = phone.send("/enlarger/set-up", form(page, focal=""))
    assert answer.status_code == 303
    assert desk.status().bench == before.model_copy(update={"focal_mm": None})


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        ({"head-height": "high"}, "head-height"),
        ({"aperture": "0"}, "aperture"),
        ({"magnification": "1000"}, "magnification"),
        ({"focal": "-80"}, "focal"),
        ({"soft": "a name that is too long"}, "soft"),
    ],
)
def test_a_figure_that_is_none_is_refused_beside_its_field(
    desk: StandInDesk, phone: Phone, typed: dict[str, str], at: str
) -> None:
    """Nothing is changed, what was typed stands there still, and the line above the bar names the field."""
    before = stand(desk, head_height_mm=620, aperture=8)
    answer = phone.send("/enlarger/set-up", form(phone.look("/enlarger/set-up"), **typed))
    page = Page(answer.text)
    assert answer.status_code == 422
    assert list(page.told()) == [at]
    assert set(typed.items()) <= set(page.fields)
    assert desk.status().bench == before


def test_what_was_decided_on_an_old_page_is_refused(desk: StandInDesk, phone: Phone) -> None:
    """A page of another snapshot, or of another run of the service, changes nothing."""
    old = signed(phone, "/enlarger/carrier")
    tap(phone, "/enlarger/carrier", "/enlarger/carrier", title="pier")
    assert phone.send("/enlarger/carrier", [*old, ("title", "stones")]).status_code == 409
    other_run = [(name, "other" if name == "run" else value) for name, value in signed(phone, "/enlarger/carrier")]
    assert phone.send("/enlarger/carrier", [*other_run, ("title", "stones")]).status_code == 409
    assert desk.status().bench.negative_title == "pier"


def test_a_refusal_of_the_darkroom_is_said(desk: StandInDesk, phone: Phone) -> None:
    """With a sheet open the sentence stands on the page, and nothing is changed."""
    fields = [*signed(phone, "/enlarger/carrier"), ("title", "stones")]
    desk.refuse = WrongMoment("Sheet 3 is open, and what stands at the enlarger belongs to it.")
    answer = phone.send("/enlarger/carrier", fields)
    assert answer.status_code == 409
    assert "belongs to it" in Page(answer.text).words


def test_the_act_itself_has_one_shape_from_page_to_journal(desk: StandInDesk, phone: Phone) -> None:
    """The verb takes all that stands, as its row has it; what is none is refused and not taken."""
    bench = AtEnlarger(paper_title="paper two", aperture=5.6)
    fields = signed(phone, "/enlarger/carrier")
    answer = phone.send("/act/at-the-enlarger", [*fields, ("bench", bench.model_dump_json())])
    assert answer.status_code == 303
    assert desk.acts[-1][0] == StandAtEnlarger(bench=bench)
    for wrong in ("", "{", "[]", '{"aperture": 0}', '{"other": 1}'):
        fields = signed(phone, "/enlarger/carrier")
        assert phone.send("/act/at-the-enlarger", [*fields, ("bench", wrong)]).status_code == 422
    assert desk.status().bench == bench


# ---- what begins with it


def test_a_new_recipe_and_strip_begin_with_what_stands(desk: StandInDesk, phone: Phone) -> None:
    """Negative, paper, set-up and filters stand in the form; nothing is typed twice."""
    stand(desk, negative_title="pier", paper_title="paper one", support="FB", head_height_mm=620, aperture=8, soft="00")
    for kind in ("recipe", "strip"):
        fields = dict(phone.look(f"/shelf/new/{kind}").fields)
        known = ("negative-name", "paper-name", "paper-support", "head-height", "lens-aperture", "filters-soft")
        assert [fields[name] for name in known] == ["pier", "paper one", "FB", "620", "8", "00"]


def test_a_record_says_how_its_sheet_stood(desk: StandInDesk, phone: Phone) -> None:
    """Carrier, paper and box, set-up and enlarger stand in one line, as it was set up; what was set up says when."""
    record = desk.work(desk.crane, "s1")
    set_up = "head 620 · f/8 · 150 mm · 4x5 carrier · easel 240 × 192 · 2×"
    assert f"At the enlarger: {set_up}" in phone.look("/sheets/s1").words
    assert "set up" not in phone.look("/sheets/s1").words
    bench = AtEnlarger(
        negative_title="pier", paper_title="paper one", box="12", aperture=8, magnification=2.04082, focal_mm=150
    )
    desk.records["s1"] = record.model_copy(update={"plan": record.plan.standing(bench)})
    words = phone.look("/sheets/s1").words
    assert f"At the enlarger: pier · paper one · box 12 · {set_up}" in words
    desk.records["s1"] = record.model_copy(update={"set_up": record.opened})
    assert f"At the enlarger: {set_up} · set up" in phone.look("/sheets/s1").words
    bare = record.plan.model_copy(update={"wants": SetUp()})
    desk.records["s1"] = record.model_copy(update={"plan": bare})
    assert "At the enlarger" not in phone.look("/sheets/s1").words


# ---- enlargers


def keep(phone: Phone, source: str = "new", **typed: str) -> Any:
    page = phone.look(f"/enlargers/{source}")
    return phone.send("/enlargers/keep", form(page, **typed))


def test_the_first_enlarger_is_worked_and_a_second_is_chosen_by_one_tap(desk: StandInDesk, phone: Phone) -> None:
    """The list says which one is in use; the other's button makes it so, with its lens."""
    assert "None yet" in phone.look("/enlarger").words
    assert keep(phone, name="attic", focal_mm="150").status_code == 303
    assert desk.status().bench.enlarger_title == "attic"
    assert keep(phone, name="cellar", focal_mm="80", light_source="condenser").status_code == 303
    assert desk.status().bench.enlarger_title == "attic"
    page = phone.look("/enlarger")
    assert "In use" in page.words
    (other,) = [value for name, value in page.fields if name == "source"]
    tap(phone, "/enlarger", "/enlarger/choose", source=other)
    assert (desk.status().bench.enlarger_title, desk.status().bench.focal_mm) == ("cellar", 80)
    assert "condenser · 80 mm lens" in phone.look("/enlarger").words


def test_one_measured_print_size_gives_the_column(desk: StandInDesk, phone: Phone) -> None:
    """Height and magnification of one print give the offset; it stands in its field when the page is opened again."""
    assert keep(phone, name="attic", focal_mm="150", known_height="620", known_magnification="2").status_code == 303
    source = desk.status().bench.enlarger
    assert ("column-offset-mm", "55.0") in phone.look(f"/enlargers/{source}").fields


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        ({"name": ""}, "name"),
        ({"name": "x", "focal_mm": "long"}, "focal-mm"),
        ({"name": "x", "lag_seconds": "2"}, "lag-seconds"),
        ({"name": "x", "callier": "9"}, "callier"),
        ({"name": "x", "known_height": "620"}, "known-magnification"),
        ({"name": "x", "known_height": "620", "known_magnification": "2"}, "focal-mm"),
    ],
)
def test_an_enlarger_that_is_not_right_is_refused_beside_its_field(
    desk: StandInDesk, phone: Phone, typed: dict[str, str], at: str
) -> None:
    """The sentence stands at the field, what was typed stays, and nothing is kept."""
    answer = keep(phone, **typed)
    assert answer.status_code == 422
    assert list(Page(answer.text).told()) == [at]
    assert desk.at_enlarger().enlargers().kept() == ()


def test_an_enlarger_is_put_away_and_taken_out_again(desk: StandInDesk, phone: Phone) -> None:
    """What was put away is offered to be taken back at once, and from the list of those put away."""
    keep(phone, name="attic")
    (kept,) = desk.at_enlarger().enlargers().kept()
    page = phone.look(f"/enlargers/{kept.id}")
    assert phone.send(f"/enlargers/{kept.id}/away", form(page)).headers["Location"] == f"/enlarger?undo={kept.id}"
    assert desk.at_enlarger().enlargers().kept() == ()
    assert "attic" in phone.look("/enlarger?away=1").words
    assert phone.send(f"/enlargers/{kept.id}/out", form(page)).status_code == 303
    assert len(desk.at_enlarger().enlargers().kept()) == 1


def test_there_is_a_way_from_the_first_page_to_every_page(phone: Phone) -> None:
    """Each page is led to by a link of another one, from the first page on."""
    seen, ahead = {"/"}, ["/"]
    while ahead:
        for link in phone.look(ahead.pop()).links:
            if link.startswith("/enlarger") and (plain := link.split("#")[0].split("?")[0]) not in seen:
                seen.add(plain)
                ahead.append(plain)
    assert set(PAGES) <= seen
