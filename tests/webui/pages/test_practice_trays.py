"""A practice sheet goes through the trays: it comes up, is looked at in the fix, and shows white light before that."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from tools.daemon_bench import Bench, bench, until
from tools.phone import ORIGIN, Paired, words_of

from controller.foot import acts
from controller.practice.practice_scene import PracticeScene
from controller.practice.prints import PracticePrints
from controller.words import say
from webui.app import create_app


@pytest.fixture
def slow(by_real_time: None, tmp_path: Path) -> Iterator[tuple[Bench, Paired]]:
    """A darkroom whose trays go as long as they really do, and a phone."""
    with bench(tmp_path, pace="real") as made:
        yield made, phone_of(made)


def phone_of(made: Bench) -> Paired:
    client = create_app(made.desk, hosts=["localhost"]).test_client()
    code = made.desk.pairing().new_code()
    assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
    return Paired(client)


def prints_of(made: Bench) -> PracticePrints:
    practice = made.desk.practice()
    assert practice is not None
    prints = practice.prints()
    assert prints is not None
    return prints


def closed_sheet(made: Bench) -> str:
    """Work a recipe of one light by foot, close it, and return its sheet."""
    made.load(2.0)
    made.begin_light()
    made.wait_for("finished", seconds=20.0)
    made.rest()
    made.hold()
    until(lambda: (not made.desk.status().open) or None, 5.0, made.place)
    made.rest()
    return made.desk.sheets().sessions[0].sheets[-1].id


def form(phone: Paired, address: str, page: str) -> dict[str, str]:
    found = re.search(rf'<form method="post" action="{address}".*?</form>', phone.look(page).text, re.S)
    assert found, f"no form for {address}"
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', found[0]))


def wet(phone: Paired) -> list[dict[str, object]]:
    """What the page's script is told of the prints in the trays."""
    found = re.search(r'data-wet="([^"]*)"', phone.look("/practice").text)
    assert found
    told: list[dict[str, object]] = json.loads(found[1].replace("&#34;", '"').replace("&quot;", '"'))
    return told


def test_a_print_comes_up_in_the_developer(slow: tuple[Bench, Paired]) -> None:
    """On its way it is not seen; a hold brings it into the developer, where it is, and comes up from nothing."""
    made, phone = slow
    sheet = closed_sheet(made)
    assert made.desk.status().prints[-1].tray == "on its way"
    assert wet(phone) == []
    until(lambda: (made.hold(), made.rest(), made.desk.status().prints[-1].tray == "developer" or None)[-1])
    (seen,) = wet(phone)
    assert (seen["sheet"], seen["where"]) == (sheet, "develops")
    assert seen["share"] == 0
    page = phone.look("/practice").text
    assert f'/practice/coming/{sheet}.png" opacity="0.00"' in page
    assert say("practice.now-in-the-trays", number=1, tray=say("trays.name-developer")) in words_of(
        phone.look("/practice")
    )
    picture = phone.look(f"/practice/coming/{sheet}.png")
    with Image.open(io.BytesIO(picture.data)) as small:
        assert small.width * small.height < 20_000
        low, high = small.getextrema()
        assert low < high


def test_nobody_goes_on_where_the_light_has_to_wait(slow: tuple[Bench, Paired]) -> None:
    """While the print before is not fixed, the next sheet is not offered in the words that tell its light to wait."""
    made, phone = slow
    closed_sheet(made)
    words = words_of(phone.look("/practice"))
    assert made.desk.status().headline == say("trays.place-wait")
    assert say("practice.now-or", words=say("trays.place-wait")) not in words
    assert words.count(say("trays.place-wait")) == 2, "by the enlarger, and on the phone"


def test_a_print_is_looked_at_once_it_is_in_the_fix(slow: tuple[Bench, Paired]) -> None:
    """Before that no page offers it, and whoever asks is told why; nothing of it is kept."""
    made, phone = slow
    sheet = closed_sheet(made)
    assert 'action="/practice/develop"' not in phone.look("/practice").text
    fields = {**form(phone, "/practice/hand", "/practice"), "sheet": sheet}
    refused = phone.send("/practice/develop", fields)
    assert refused.status_code == 409
    assert say("practice.in-the-trays", number=1) in words_of(refused)
    assert prints_of(made).made(sheet) is None


def test_no_paper_in_the_trays_said_untruly_costs_the_print(slow: tuple[Bench, Paired]) -> None:
    """White light may be had at once; the print that lay in the developer is black, and its page says why."""
    made, phone = slow
    sheet = closed_sheet(made)
    assert "paper away" not in made.desk.status().can
    made.do(acts.NoPaperInTrays())
    made.do(acts.PaperAway())
    prints_of(made).develop(sheet)
    lost = prints_of(made).made(sheet)
    assert lost is not None
    assert lost.fog > 1.0
    assert say("practice.fogged", density=f"{lost.fog:.2f}") in words_of(phone.look(f"/practice/print/{sheet}"))


def test_a_hurried_print_is_developed_as_its_process_has_it(by_real_time: None, tmp_path: Path) -> None:
    """Through at once, its rows tell the process's own seconds, and it comes out neither thin nor fogged."""
    with bench(tmp_path, pace="once") as made:
        phone, sheet = phone_of(made), closed_sheet(made)
        until(lambda: made.desk.status().prints == () or None)
        record = made.desk.record(sheet)
        assert [each.tray for each in record.trays][:2] == ["on its way", "developer"]
        assert record.lay_ms("developer") == pytest.approx(90_000, abs=2_000)
        made.do(acts.PaperAway())
        good = prints_of(made).develop(sheet)
        assert good.developer_s == pytest.approx(90, abs=2)
        assert (good.share, good.developer_fog) == (1.0, 0.0)
        assert good.fog < 0.08
        page = words_of(phone.look(f"/practice/print/{sheet}"))
        assert say("practice.thin", seconds="%", share="%").split("%")[0] not in page


def test_a_cold_developer_leaves_blacks_thin(by_real_time: None, tmp_path: Path) -> None:
    """After the usual time in a developer that is 10 °C too cold the print is thin, and its page says what to do."""
    with bench(tmp_path, pace="once") as made:
        phone, prints = phone_of(made), prints_of(made)
        prints.keep_scene(PracticeScene(trays="once", developer="cold"))
        sheet = closed_sheet(made)
        until(lambda: made.desk.status().prints == () or None)
        made.do(acts.PaperAway())
        thin = prints.develop(sheet)
        assert thin.share == pytest.approx(0.8955, abs=0.01)  # by hand: half the usual time
        told = say("practice.thin", seconds=f"{thin.developer_s:.0f}", share=f"{100 * thin.share:.0f}")
        assert told in words_of(phone.look(f"/practice/print/{sheet}"))
