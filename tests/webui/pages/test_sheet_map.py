"""Areas drawn on a print's photograph: its corners told once, a stroke an area, kept with the recipe as one version."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tools.negatives import photograph
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import STEPS, StandInDesk, day_desk, next_step

from controller.recipe.plan import Plan
from controller.recipe.recipe import Recipe
from controller.words import say
from webui.pages.proofs import shown_at

HOME = "/sheets/s1/map"
STROKES = {
    "A": "0.2,0.2 0.6,0.2 0.6,0.4 0.2,0.4",
    "C": "0.4,0.5 0.6,0.5 0.6,0.7 0.4,0.7",
    "B": "0.2,0.7 0.8,0.7 0.8,0.8 0.2,0.8",
}


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    """A desk with a print of the crane that was photographed."""
    with day_desk() as made:
        made.keep_pictures_in(tmp_path / "pictures")
        made.work(made.crane, "s1")
        bring(made, tmp_path, 900)
        yield made


def bring(desk: StandInDesk, folder: Path, side: int) -> None:
    (folder / "print.jpg").write_bytes(photograph(side))
    with (folder / "print.jpg").open("rb") as file:
        desk.photographs().of_sheet(desk.record("s1"), file, "print.jpg")


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def send(phone: Phone, page: Page, address: str = HOME, **fields: str) -> Any:
    own = dict.fromkeys(pair for pair in page.fields if pair[0] in ("token", "number", "run", "done"))
    return phone.send(address, [*own, *fields.items()])


def recipe_of(desk: StandInDesk) -> Recipe:
    return desk.recipes().recipe(desk.crane.id)


def test_every_form_and_way_stays_with_its_page(phone: Phone, desk: StandInDesk) -> None:
    """Whichever page was refused or led to, its forms go to the map's own address."""
    refused = phone.look(f"{HOME}?draw=A")
    fills(phone)
    for page in (refused, phone.look(f"{HOME}?draw=A&done=C:0.4,0.5+0.6,0.5+0.6,0.7")):
        ours = [action for action in page.actions if "/map" in action]
        assert ours
        assert "" not in page.actions
        assert "/corner" not in page.actions
        assert {action.partition("#")[0] for action in ours} <= {HOME, f"{HOME}/corner"}
        assert not [link for link in page.links if link.startswith("?")]


def fills(phone: Phone) -> None:
    assert send(phone, phone.look(HOME), f"{HOME}/corner", corner="none").status_code == 303


def test_a_stroke_an_area_and_no_more(phone: Phone, desk: StandInDesk) -> None:
    """From the record: a way to the first area, corners told by one button, a stroke each, and all is kept at once."""
    record = phone.look("/sheets/s1")
    assert say("preview.draw-on-print", areas="A, C, B") in record.words
    (way,) = [link for link in record.links if link.startswith(HOME)]
    page = phone.look(way)
    assert say("preview.tap-corner", corner=say("negatives.corner-top-left")) in page.words, "where the image lies"
    led = send(phone, page, f"{HOME}/corner", corner="none").location
    for letter, stroke in STROKES.items():
        page = phone.look(led)
        assert say("preview.draw-how", letter=letter) in page.words
        assert recipe_of(desk).tools == (), "nothing is kept by halves"
        led = send(phone, page, draw=letter, points=stroke).location
    assert led == f"/shelf/{desk.crane.id}?version=2&said=kept#map"
    tools = {tool.letter: tool for tool in recipe_of(desk).tools}
    assert {letter: tool.kind for letter, tool in tools.items()} == {"A": "hole", "C": "dodger", "B": "hole"}
    assert [tool.name for tool in tools.values()] == ["sky", "under the cab", "wet stones"]
    assert [len(tool.outline or ()) for tool in tools.values()] == [4, 4, 4]
    assert len(desk.recipes().versions(desk.crane.id)) == 2, "one version, however many areas"
    assert desk.recipes().recipe(desk.crane.id, 1).tools == ()


def test_corners_are_tapped_and_what_is_drawn_lies_on_the_image(phone: Phone, desk: StandInDesk) -> None:
    """Four taps on the photograph's borders; a stroke there is kept as shares of the image between them."""
    size = desk.photographs().size(desk.record("s1").photograph.hash)  # type: ignore[union-attr]
    assert size is not None
    wide, high = shown_at(size)
    page = phone.look(HOME)
    for which, (x, y) in zip(
        ("top-left", "top-right", "bottom-right", "bottom-left"),
        ((0.1, 0.2), (0.9, 0.2), (0.9, 0.8), (0.1, 0.8)),
        strict=True,
    ):
        assert say("preview.tap-corner", corner=say(f"negatives.corner-{which}")) in page.words
        at = {"at.x": f"{x * wide:.0f}", "at.y": f"{y * high:.0f}"}
        led = send(phone, page, f"{HOME}/corner", corner=which, **at).location
        page = phone.look(led)
    assert say("preview.draw-how", letter="A") in page.words, "the last corner leads to the first area"
    waits = phone.look(send(phone, page, draw="A", points="0.1,0.2 0.5,0.2 0.5,0.5 0.1,0.5").location)
    send(phone, waits, do="keep all")
    (tool,) = recipe_of(desk).tools
    drawn = [(float(x), float(y)) for x, y in tool.outline or ()]
    for found, wanted in zip(drawn, ((0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5)), strict=True):
        assert found == pytest.approx(wanted, abs=0.01)
    page = phone.look(HOME)
    (corners,) = {row.corners for row in desk.record("s1").photographs[-1:]}
    assert corners is not None
    found = re.search(r'<polygon points="([^"]*)"', page.text)
    assert found is not None
    first = [float(each) for each in found[1].split()[0].split(",")]
    assert first == pytest.approx([0.1 * wide, 0.2 * high], abs=3), "it is shown where it was drawn"


def test_a_corner_that_folds_is_refused(phone: Phone, desk: StandInDesk) -> None:
    """A sentence says what to tap, and the corners stay."""
    fills(phone)
    page = phone.look(f"{HOME}?corner=top-left")
    answer = send(phone, page, f"{HOME}/corner", corner="top-left", **{"at.x": "279", "at.y": "200"})
    assert answer.status_code == 422
    assert say("store.photo-folds") in Page(answer.text).words
    for figures in ({"at.x": "nan", "at.y": "1"}, {"at.x": "1e300", "at.y": "1"}, {}):
        send(phone, page, f"{HOME}/corner", corner="top-left", **figures)
    assert desk.record("s1").photographs[-1].corners == ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    assert send(phone, page, f"{HOME}/corner", corner="middle", **{"at.x": "1", "at.y": "1"}).status_code == 404


def test_another_photograph_asks_for_its_own_corners(phone: Phone, desk: StandInDesk, tmp_path: Path) -> None:
    """What was told of one says nothing of the next; put back, it is known again."""
    fills(phone)
    before = desk.record("s1").photograph
    bring(desk, tmp_path, 1100)
    assert say("preview.corners-none") in phone.look(HOME).words
    assert before is not None
    desk.photographs().put_back(desk.record("s1"), before.hash)
    assert say("preview.corners-none") not in phone.look(HOME).words


@pytest.mark.parametrize(
    "points", ["0.1,0.1 0.2,0.2", "", "x y z", "0.1,0.1 0.1,0.1 0.1,0.1 0.1,0.1", "0.5,0.5 " * 4000]
)
def test_what_is_no_area_is_refused_and_the_drawn_ones_wait(phone: Phone, desk: StandInDesk, points: str) -> None:
    """A sentence; what was drawn before it is still on the page, and nothing is kept."""
    fills(phone)
    page = phone.look(HOME + "?draw=A")
    waits = phone.look(send(phone, page, draw="A", points=STROKES["A"]).location)
    answer = send(phone, waits, draw="C", points=points)
    assert answer.status_code == 422
    refused = Page(answer.text)
    assert "holds next to nothing" in refused.words
    assert dict(refused.fields)["done"] == dict(waits.fields)["done"]
    assert recipe_of(desk).tools == ()


def test_areas_that_the_recipe_does_not_work_on_are_not_kept(phone: Phone, desk: StandInDesk) -> None:
    """A letter of which the recipe says nothing has no tool to be kept with."""
    fills(phone)
    answer = send(phone, phone.look(HOME), draw="Q", points=STROKES["A"])
    assert answer.status_code == 404
    assert say("recipe.no-area", letter="Q") in Page(answer.text).words
    assert recipe_of(desk).tools == ()


def test_a_letter_is_drawn_anew_and_rubbed_out(phone: Phone, desk: StandInDesk) -> None:
    """One stroke takes the other's place; rubbed out, the tool stays without an outline."""
    fills(phone)
    led = f"{HOME}?draw=A"
    for letter, stroke in STROKES.items():
        led = send(phone, phone.look(led), draw=letter, points=stroke).location
    assert send(phone, phone.look(HOME), draw="A", points=STROKES["B"]).location.startswith("/shelf/")
    (again,) = [tool for tool in recipe_of(desk).tools if tool.letter == "A"]
    assert [float(y) for _, y in again.outline or ()] == [0.7, 0.7, 0.8, 0.8]
    send(phone, phone.look(HOME), draw="A", do="rub")
    assert {tool.letter: tool.outline is not None for tool in recipe_of(desk).tools} == {
        "A": False,
        "C": True,
        "B": True,
    }
    assert say("preview.draw-on-print", areas="A") in phone.look("/sheets/s1").words


def test_the_map_is_on_the_record_and_on_the_review(phone: Phone, desk: StandInDesk) -> None:
    """On the photograph itself, and as the map with its margin list."""
    fills(phone)
    led = f"{HOME}?draw=A"
    for letter, stroke in STROKES.items():
        led = send(phone, phone.look(led), draw=letter, points=stroke).location
    record = phone.look("/sheets/s1")
    assert record.text.count('<polygon class="under"') == 3
    assert say("shelf.map") in record.words
    review = phone.look(led)
    assert 'id="map"' in review.text
    assert any("A · 2" in words for words in review.drawn), "the letter and its step"


def test_the_dark_face_shows_the_next_steps_area(phone: Phone, desk: StandInDesk) -> None:
    """Before the burn its outline, before a base none; in lines that have no colour but the page's own red."""
    fills(phone)
    led = f"{HOME}?draw=A"
    for letter, stroke in STROKES.items():
        led = send(phone, phone.look(led), draw=letter, points=stroke).location
    version = int(parse_qs(urlsplit(led).query)["version"][0])
    plan = desk.recipes().plan(desk.crane.id, version)
    here = {"plan": plan, "open": True, "day_until_ns": None}
    desk.show(next=next_step(2), place="ready", **here)
    page = phone.look("/")
    (shown,) = re.findall(r'<svg class="step-map".*?</svg>', page.text, re.DOTALL)
    assert f'aria-label="{say("page.step-map", letters="A")}"' in shown
    assert shown.count("<polygon") == 1, "no other step's area"
    assert "A+" in shown
    assert not re.search(r"#[0-9a-fA-F]{3}|rgb|style=|fill=|stroke=", shown), "all colour is the level's own"
    desk.show(next=next_step(1), place="ready", **here)
    assert 'class="step-map"' not in phone.look("/").text
    bare = Plan(source=desk.crane.id, version=1, kind="recipe", title="Harbour crane", steps=STEPS)
    desk.show(next=next_step(2), place="ready", **here | {"plan": bare})
    assert 'class="step-map"' not in phone.look("/").text, "nothing is drawn in the first version"


def test_without_a_picture_there_is_nothing_to_draw_on(phone: Phone, desk: StandInDesk) -> None:
    """A print that nobody photographed has no map to draw, and a strip never has."""
    desk.work(desk.strip, "s2")
    desk.work(desk.crane, "s3")
    for sheet in ("s2", "s3"):
        assert say("preview.areas-no-print") in phone.look(f"/sheets/{sheet}/map").words
        assert f"/sheets/{sheet}/map" not in " ".join(phone.look(f"/sheets/{sheet}").links)


def test_it_is_a_page_of_the_day_face(phone: Phone, desk: StandInDesk) -> None:
    """White: neither shown nor sent to while the day face is away."""
    desk.show(day_until_ns=None)
    assert phone.client.get(HOME).status_code == 409
    assert "/sheets/s1/map" not in phone.client.get("/sheets/s1").text


SENT = st.text("0123456789.,:; -eNAC\u00e9\u202e\n\x00", max_size=80)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(points=SENT, done=SENT, draw=SENT, do=st.sampled_from(["", "rub", "keep all", "x"]))
def test_whatever_is_sent_is_answered(
    phone: Phone, desk: StandInDesk, points: str, done: str, draw: str, do: str
) -> None:
    """Nothing that a page, an address or a stranger sends breaks it; a recipe is never left with half an outline."""
    desk.clock_ns += 10**11  # a thumb is not so quick as this test
    desk.say_day()
    desk.photographs().fills(desk.record("s1"))
    page_at = phone.client.get(HOME, query_string={"draw": draw, "points": points, "done": done})
    assert page_at.status_code == 200
    answer = send(phone, Page(page_at.text), draw=draw, points=points, done=done, do=do)
    assert answer.status_code in (303, 404, 422)
    for tool in recipe_of(desk).tools:
        assert tool.outline is None or len(tool.outline) >= 3
