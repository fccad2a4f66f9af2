"""A whole evening on the real darkroom: a paper, two tones, a recipe, a larger print, its check strip, its pick."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from tools.daemon_bench import Bench, bench, until
from tools.fitted_papers import demo
from tools.shelf_phone import ORIGIN, Page

from controller.foot import acts
from controller.paper.paper import Setup
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe
from webui.app import create_app

pytestmark = pytest.mark.usefixtures("by_real_time")


class Hand:
    """A paired phone without scripts, beside a real darkroom."""

    def __init__(self, evening: Bench) -> None:
        self.desk = evening.desk
        self.client: FlaskClient = create_app(evening.desk, hosts=["localhost"]).test_client()
        code = evening.desk.pairing().new_code()
        assert self.client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303

    def look(self, address: str, **query: str) -> Page:
        named = {name.replace("_", "-"): value for name, value in query.items()}
        answer = self.client.get(address, query_string=named)
        assert answer.status_code == 200, Page(answer.text).words
        return Page(answer.text)

    def press(self, address: str, page: Page, **typed: str) -> str:
        """Press a button of a form; return where it leads."""
        do = typed.pop("do", "")
        answer = self.client.post(
            address, data=dict(reversed(page.typed(**typed))) | {"do": do}, headers={"Origin": ORIGIN}
        )
        assert answer.status_code == 303, Page(answer.text).words
        return answer.headers["Location"].partition("?")[0]

    def recipe(self, source: str) -> Recipe:
        kept = self.desk.recipes().fetch(source)
        read = read_recipe(kept.body, kept.title)
        assert isinstance(read, Recipe)
        return read


@pytest.fixture
def evening(tmp_path: Path) -> Iterator[Bench]:
    with bench(tmp_path) as opened:
        yield opened


def work_strip(evening: Bench, bands: int) -> str:
    """Give every band by foot and close the sheet; return its id."""
    for _ in range(bands):
        evening.begin_light()
        evening.wait_for("ready", "finished", seconds=10.0)
    evening.wait_for("finished")
    sheet = evening.desk.status().sheet
    evening.rest()
    evening.hold()
    evening.wait_for("nothing chosen")
    return sheet


def test_from_a_paper_to_a_confirmed_larger_print(evening: Bench) -> None:
    """Solved, kept, burned, carried to a bigger size, its check strip worked by foot and picked: bases corrected alone.

    The burn keeps its stops, soft and hard keep their ratio, and the pick is the soft base to the tenth.
    """
    at = Setup(magnification=2.0, aperture=8.0, soft_filter="00", hard_filter="5")
    paper = evening.desk.papers().keep(demo().model_copy(update={"setup": at}))
    until(lambda: evening.try_to(acts.PaperAway()) or None)  # once the print is fixed
    hand = Hand(evening)

    tones = {"light_negative": "1.25", "dark_negative": "0.22", "light": "first", "dark": "last"}
    solved = hand.look("/contrast", go="1", paper=paper.id, magnification="2", aperture="2.8", **tones)
    assert "Both tones come where you want them." in solved.words
    source = hand.press("/contrast/keep", solved, title="Quay").removeprefix("/shelf/")
    text = json.loads(evening.desk.recipes().fetch(source).body)
    text |= {
        "head_height_mm": 400,
        "local": [{"area": "A", "act": "burn", "filter": "hard", "stops": "1 1/3"}],
    }
    text["lens"]["focal_mm"] = 150
    evening.desk.recipes().save(json.dumps(text), source)

    shown = hand.look(f"/carry/{source}", go="1", magnification="2.75")
    assert "× 1.56" in shown.words
    carried = hand.press(f"/carry/{source}/keep", shown, do="new", title="Quay, larger").removeprefix("/carried/")
    link = evening.desk.carrying().fetch(carried)
    before = hand.recipe(link.recipe.id)
    assert [float(light.seconds) for light in before.light] == pytest.approx(
        [float(light.seconds) * 1.5625 for light in hand.recipe(source).light], abs=0.051
    )

    hand.press("/act/load", hand.look(f"/shelf/{link.strips[0].id}"))
    sheet = work_strip(evening, 5)
    until(lambda: evening.try_to(acts.PaperAway()) or None)  # once the print is fixed
    pick = hand.look(f"/pick/{sheet}", band="2", between="0")
    assert "check strip of “Quay, larger”" in pick.words
    hand.press("/act/pick", pick)

    after = hand.recipe(link.recipe.id)
    assert evening.desk.recipes().fetch(link.recipe.id).version == 2
    (picked,) = evening.desk.record(sheet).picks
    assert picked.recipe == link.recipe.id
    assert float(after.light[0].seconds) == picked.seconds
    ratio = picked.seconds / float(before.light[0].seconds)
    assert 0.8 < ratio < 0.95
    assert float(after.light[1].seconds) == pytest.approx(float(before.light[1].seconds) * ratio, abs=0.051)
    assert after.local == before.local
