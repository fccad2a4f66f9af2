"""A recipe's printing map in the practice darkroom has its areas' outlines; elsewhere it stays as it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tools.daemon_bench import Bench, bench, until
from tools.phone import ORIGIN, Paired, words_of

import controller
from controller.practice.practice_scene import PracticeScene
from controller.words import say
from webui.app import create_app

pytestmark = pytest.mark.usefixtures("by_real_time")

SAMPLE = Path(controller.__file__).parent / "samples" / "5-harbour-crane.recipe.json"


def _by_day(made: Bench) -> Paired:
    client = create_app(made.desk, hosts=["localhost"]).test_client()
    code = made.desk.pairing().new_code()
    assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
    phone = Paired(client)
    until(lambda: "paper away" in made.desk.status().can or None)
    phone.send("/act/paper-away", {"number": str(made.desk.status().number)})
    until(lambda: made.desk.status().day_until_ns)
    return phone


def _map(text: str) -> str:
    found = re.search(r'<svg[^>]*aria-label="Printing map.*?</svg>', text, re.S)
    assert found
    return found[0]


def test_a_map_is_outlined_on_the_negative_in_the_carrier(tmp_path: Path) -> None:
    """The map follows the practice negative that is chosen, says which it is, and is plain for one's own picture."""
    with bench(tmp_path) as made:
        phone = _by_day(made)
        source = made.desk.recipes().save(SAMPLE.read_text()).id
        page = phone.look(f"/shelf/{source}")
        crane = _map(page.text)
        assert "A · 2" in crane
        assert say("shelf.map-ground", negative=say("practice.negative-crane")) in words_of(page)
        fields = PracticeScene(negative="fence").model_dump()
        assert phone.send("/practice/scene", fields).status_code == 303
        page = phone.look(f"/shelf/{source}")
        assert "A · 2" in _map(page.text)
        assert _map(page.text) != crane
        assert say("shelf.map-ground", negative=say("practice.negative-fence")) in words_of(page)
        phone.send("/practice/scene", {**fields, "negative": "proof"})
        page = phone.look(f"/shelf/{source}")
        assert "A · 2" not in _map(page.text)
        assert say("shelf.map-ground", negative="%").partition("%")[0] not in words_of(page)


def test_with_real_lines_the_map_stays_plain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where there is no practice darkroom nobody knows where an area lies: the map is as it was."""
    with bench(tmp_path) as made:
        phone = _by_day(made)
        kept = made.desk.recipes().save(SAMPLE.read_text())
        monkeypatch.setattr(made.desk, "practice", lambda: None)
        monkeypatch.setattr(made.desk.previews().maps, "_practice", None)
        text = phone.look(f"/shelf/{kept.id}").text
        assert "A · 2" not in _map(text)
