"""Areas of a negative, drawn on its picture: kept with it, burnt and dodged by their letters in its preview."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tools.densities import densities_of
from tools.preview_scans import file_of, fitted_one, light_through, ties_of
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.negatives.sets import KIND, MOST_AREAS, read_negatives, read_tree, write_negatives
from controller.recipe.at_enlarger import AtEnlarger
from controller.words import say
from webui.pages.proofs import shown_at

HOME = "/negatives/{}/frame/2/areas"
SQUARE = "0.1,0.1 0.5,0.1 0.5,0.5 0.1,0.5"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    """A desk with paper one out, and a set of two sheets of 4×5."""
    with day_desk(fitted_one()) as made:
        made.keep_pictures_in(tmp_path / "pictures")
        paper = made.papers().kept()[0]
        made.show(bench=AtEnlarger(paper=paper.id, paper_title=paper.title, support="FB"))
        yield made


@pytest.fixture
def source(desk: StandInDesk, tmp_path: Path) -> str:
    """The id of the set; its frame 2 is the crane, scanned, and two of its tones are known."""
    frames = [{"frame": "1"}, {"frame": "2", "title": "harbour crane"}]
    tree = {"format": "treadle/negatives/1", "set": "sheets", "date": "2026-03-01", "frame_format": "4x5"}
    made = read_tree({**tree, "frames": frames}, "made")
    kept = desk.kept_things.save(KIND, made.set, write_negatives(made)).id
    scan = tmp_path / "crane.tif"
    scan.write_bytes(file_of(light_through("crane", 360, 450), "TIFF 16"))
    with scan.open("rb") as file:
        desk.previews().bring(kept, "2", file, "crane.tif", "flatbed")
    for tie in ties_of("crane"):
        desk.previews().tie(kept, "2", "read", (tie.x, tie.y), Decimal(str(tie.density)))
    return kept


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def send(phone: Phone, source: str, page: Page, **fields: str) -> Any:
    own = {name: value for name, value in page.fields if name in ("token", "number", "run")}
    return phone.send(HOME.format(source), list((own | fields).items()))


def print_of(phone: Phone, source: str) -> np.ndarray:
    answer = phone.client.get(f"/negatives/{source}/frame/2/print.preview.png")
    assert answer.status_code == 200
    return densities_of(answer.data)


def test_a_drawn_area_is_burnt_in_the_print_that_is_seen(phone: Phone, desk: StandInDesk, source: str) -> None:
    """The recipe's A, C and B are named as not drawn; A drawn over a corner is worked on there and nowhere else."""
    home = HOME.format(source)
    assert say("preview.not-drawn", areas="A, C, B") in phone.look(home.replace("areas", "preview")).words
    page = phone.look(home)
    assert say("preview.draw", letter="A") in page.words
    before = print_of(phone, source)
    waits = phone.look(send(phone, source, page, draw="A", points=SQUARE).location)
    assert say("preview.draw-how", letter="C") in waits.words, "the next that the recipe works on is asked for"
    assert np.array_equal(print_of(phone, source), before), "it waits to be kept with the others"
    assert send(phone, source, waits, do="keep all", done=dict(waits.fields)["done"]).location == home
    after = print_of(phone, source)
    moved = np.abs(after - before)
    height, width = moved.shape
    inside = moved[round(0.2 * height) : round(0.4 * height), round(0.2 * width) : round(0.4 * width)]
    assert inside.mean() > 0.02
    assert moved[round(0.7 * height) :, round(0.7 * width) :].max() < 0.005
    assert say("preview.not-drawn", areas="C, B") in phone.look(home.replace("areas", "preview")).words
    page = phone.look(home)
    assert 'class="area"' in page.text
    assert say("preview.rub-area", letter="A") in page.words
    assert [tool.letter for tool in desk.recipes().recipe(desk.crane.id).tools] == ["A"]
    assert send(phone, source, page, draw="A", do="rub").location == home
    assert np.array_equal(print_of(phone, source), before)


def test_corners_are_tapped_one_by_one_without_a_script(phone: Phone, desk: StandInDesk, source: str) -> None:
    """Each tap is a link to one corner more; nothing is kept before three are there and the button is pressed."""
    home = HOME.format(source)
    scan = desk.previews().scan(source, "2")
    assert scan is not None
    size = desk.photographs().size(scan.photograph)
    assert size is not None
    wide, high = shown_at(size)
    page = phone.look(f"{home}?draw=Z")
    points = ""
    for x, y in ((0.2, 0.2), (0.7, 0.2), (0.5, 0.6)):
        assert say("preview.draw-keep", letter="Z") not in page.words
        page = phone.look(f"{home}?draw=Z&points={points.replace(' ', '+')}&at.x={x * wide:.0f}&at.y={y * high:.0f}")
        found = re.findall(r'name="points" value="([^"]*)"', page.text)
        assert found[0] == found[1]
        points = found[0]
    assert len(points.split()) == 3
    assert desk.negatives().fetch(source).negatives.frame("2").areas is None
    assert send(phone, source, page, draw="Z", points=points).status_code == 303
    (kept,) = desk.negatives().fetch(source).negatives.frame("2").areas or ()
    assert kept.letter == "Z", "no recipe works on it, so it is the negative's own"
    assert np.allclose(kept.places, ((0.2, 0.2), (0.7, 0.2), (0.5, 0.6)), atol=0.01)


def test_a_letter_is_drawn_anew_in_its_place(phone: Phone, desk: StandInDesk, source: str) -> None:
    """One outline a letter, read from its file as it was kept; the frame's title, scan and tones stay."""
    page = phone.look(HOME.format(source))
    for points in (SQUARE, "0.5,0.5 0.9,0.5 0.9,0.9"):
        send(phone, source, page, draw="Z", points=points)
    send(phone, source, page, draw="sky", points=SQUARE)
    body = desk.kept_things.get(source).body
    frame = read_negatives(body, "kept").frame("2")
    assert [(each.letter, len(each.points)) for each in frame.areas or ()] == [("Z", 3), ("sky", 4)]
    assert write_negatives(read_negatives(body, "kept")) == body
    assert frame.title == "harbour crane"
    assert frame.scan is not None
    assert len(frame.scan.tones) == 2


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"draw": "A", "points": "0.1,0.1 0.2,0.2"}, "holds next to nothing"),
        ({"draw": "A", "points": ""}, "holds next to nothing"),
        ({"draw": "", "points": SQUARE}, "draw"),
        ({"draw": "\u202eA", "points": SQUARE}, ""),
    ],
)
def test_what_is_no_area_is_refused(
    phone: Phone, desk: StandInDesk, source: str, fields: dict[str, str], says: str
) -> None:
    """A sentence, and nothing is kept."""
    answer = send(phone, source, phone.look(HOME.format(source)), **fields)
    assert answer.status_code == 422
    assert says in Page(answer.text).words
    assert desk.negatives().fetch(source).negatives.frame("2").areas is None


def test_there_is_room_for_so_many(phone: Phone, desk: StandInDesk, source: str) -> None:
    """One more than a frame has room for is refused with what to do; those there stay."""
    page = phone.look(HOME.format(source))
    for n in range(MOST_AREAS):
        assert send(phone, source, page, draw=f"a{n}", points=SQUARE).status_code == 303
    answer = send(phone, source, page, draw="more", points=SQUARE)
    assert answer.status_code == 422
    assert "Rub one out first" in Page(answer.text).words
    assert len(desk.negatives().fetch(source).negatives.frame("2").areas or ()) == MOST_AREAS


def test_without_a_scan_the_page_says_what_to_bring(phone: Phone, source: str) -> None:
    """There is nothing to draw on: a link leads to where a scan is brought."""
    page = phone.look(HOME.format(source).replace("frame/2", "frame/1"))
    assert say("preview.areas-no-scan") in page.words
    assert 'type="image"' not in page.text


def test_it_is_a_page_of_the_day_face(phone: Phone, desk: StandInDesk, source: str) -> None:
    """White: neither shown nor sent to while the day face is away."""
    desk.show(day_until_ns=None)
    assert phone.client.get(HOME.format(source)).status_code == 409
