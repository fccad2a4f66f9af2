"""The practice darkroom darkens paper: its pages against the real darkroom, with scripts off."""

from __future__ import annotations

import html
import io
import json
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tools.daemon_bench import Bench, bench, until
from tools.densities import densities_of
from tools.phone import ORIGIN, Paired, words_of
from tools.stand_in_desk import StandInDesk

from controller.foot import acts
from controller.practice.in_carrier import InCarrier
from controller.practice.practice_scene import PracticeScene
from controller.practice.stage import Stage
from controller.unpack.unpacker import MOST_BYTES
from controller.words import say
from hardware.practice.faults import PracticeFault
from hardware.practice.log import CardMoved, DodgerMoved, GlowSwitched, NegativeMoved, OpalMoved, PaperMoved
from webui.app import LARGEST_BODY, create_app
from webui.forms.practice_scene import label


def _paired(made: Bench) -> Paired:

    client = create_app(made.desk, hosts=["localhost"]).test_client()
    code = made.desk.pairing().new_code()
    assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
    return Paired(client)


def _form(phone: Paired, address: str, page: str) -> dict[str, str]:
    text = phone.look(page).text
    form = re.search(rf'<form method="post" action="{address}".*?</form>', text, re.S)
    assert form, f"no form for {address}"
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form[0]))


def _day(phone: Paired, made: Bench) -> None:
    until(lambda: "paper away" in made.desk.status().can or None)
    phone.send("/act/paper-away", _form(phone, "/act/paper-away", "/"))
    until(lambda: made.desk.status().day_until_ns)


def _strip(made: Bench) -> str:
    """Work a strip of three bands by foot to its end and return its sheet."""
    made.load(0.2, 0.2, 0.2, kind="strip")
    return _work(made)


def _load_strip_with_setup(made: Bench, step: float = 0.2) -> None:
    """Load a strip that says how the enlarger stands, so that a pick from it becomes a recipe."""
    tree: dict[str, object] = {"format": "treadle/strip/1", "title": "Strip at 620", "filter": "soft", "card": "cover"}
    tree |= {"times": {"kind": "seconds", "step": step, "bands": 3}, "pace": {"kind": "rhythm", "gap_seconds": 1.5}}
    tree |= {"lens": {"focal_mm": 150, "aperture": 8}, "head_height_mm": 620}
    made.do(acts.Load(source=made.desk.recipes().save(json.dumps(tree)).id))


def _work(made: Bench) -> str:
    """Work what is loaded by foot to its end, close it, and return its sheet."""
    made.get_ready()
    made.rest()
    made.press()
    until(lambda: (made.place() == "finished") or None, 20.0, made.place)
    made.rest()
    made.hold()
    until(lambda: (not made.desk.status().open) or None, 5.0, made.place)
    made.rest()
    return made.desk.sheets().sessions[0].sheets[-1].id


@pytest.fixture
def evening(by_real_time: None, tmp_path: Path) -> Iterator[tuple[Bench, Paired]]:
    """A real darkroom on practice lines, and a phone."""
    with bench(tmp_path) as made:
        yield made, _paired(made)


def test_a_strip_is_developed_and_picked_from(evening: tuple[Bench, Paired]) -> None:
    """A closed strip is developed by a plain form; its print has its bands in their greys and leads to each pick."""
    made, phone = evening
    sheet = _strip(made)
    _day(phone, made)
    assert phone.look(f"/practice/print/{sheet}.png").status_code == 404
    answer = phone.send("/practice/develop", _form(phone, "/practice/develop", f"/sheets/{sheet}"))
    assert answer.headers["Location"] == f"/practice/print/{sheet}?wet=1"
    prints = made.desk.practice().prints()  # type: ignore[union-attr]
    kept = prints.made(sheet)  # type: ignore[union-attr]
    assert kept is not None
    assert len(kept.bands) == 3
    shown = densities_of(phone.look(f"/practice/print/{sheet}.png").data)
    means = [float(shown[box.top : box.bottom, box.left : box.right].mean()) for box in kept.bands]
    assert means == sorted(means)
    assert means[0] < means[-1]
    for page in (f"/practice/print/{sheet}", f"/pick/{sheet}"):
        for band in (1, 2, 3):
            assert f'href="/pick/{sheet}?band={band}&amp;between=0#meaning"' in phone.look(page).text
    assert say("practice.is-wet") in words_of(phone.look(f"/practice/print/{sheet}?wet=1"))


def test_a_print_stays_as_it_came_out(evening: tuple[Bench, Paired]) -> None:
    """Once developed, a sheet is not changed by another scene; another process finds it in the data folder."""
    made, phone = evening
    sheet = _strip(made)
    _day(phone, made)
    phone.send("/practice/develop", {"sheet": sheet})
    first = phone.look(f"/practice/print/{sheet}.png")
    before = first.data
    assert first.headers["Cache-Control"] == "private, no-cache"
    kept = {"If-None-Match": first.headers["ETag"]}
    again = phone.look(f"/practice/print/{sheet}.png", **kept)
    assert (again.status_code, again.data) == (304, b""), "a phone that has it is sent nothing"
    alone = phone.look(f"/practice/print/{sheet}.png", **kept, Accept="text/html", **{"Sec-Fetch-Dest": "document"})
    assert (alone.status_code, alone.headers["Location"]) == (303, "/"), "in a tab of its own it would stay white"
    fields = PracticeScene(negative="fence", paper="two").model_dump()
    assert phone.send("/practice/scene", {**fields, "card_late_ms": "0.5"}).status_code == 303
    prints = made.desk.practice().prints()  # type: ignore[union-attr]
    assert prints.scene() == PracticeScene(negative="fence", paper="two", card_late_ms=500)  # type: ignore[union-attr]
    phone.send("/practice/develop", {"sheet": sheet})
    assert phone.look(f"/practice/print/{sheet}.png").data == before


def test_a_fogged_sheet_looks_it(evening: tuple[Bench, Paired]) -> None:
    """Paper that lay under a lit phone comes out grey where no picture came, and the page says so."""
    made, phone = evening
    before = time.monotonic_ns() - 120_000_000_000
    made.room.log_paper(True, before)
    made.room.log_glow("phone", True, before)
    fogged = _strip(made)
    made.room.log_glow("phone", False)
    made.room.log_paper(False)
    clean = _strip(made)
    _day(phone, made)
    for sheet in (clean, fogged):
        phone.send("/practice/develop", {"sheet": sheet})
    lightest = [densities_of(phone.look(f"/practice/print/{sheet}.png").data).min() for sheet in (clean, fogged)]
    assert lightest[1] > lightest[0] + 0.1
    told = say("practice.fogged", density="%").partition("%")[0]
    assert [told in words_of(phone.look(f"/practice/print/{sheet}")) for sheet in (clean, fogged)] == [False, True]


def test_hands_and_faults_reach_the_room(evening: tuple[Bench, Paired]) -> None:
    """What the page's forms do with hands and faults is what the practice darkroom logs and has."""
    made, phone = evening
    for fields in (
        {"what": "paper-out"},
        {"what": "negative-out"},
        {"what": "opal-in"},
        {"what": "card", "of": "cover", "place": "2"},
        {"what": "tool-in", "of": "A", "act": "dodge"},
        {"what": "phone-on"},
    ):
        assert phone.send("/practice/hand", fields).status_code == 303, fields
    kinds = [type(entry) for entry in made.room.log()]
    assert kinds[-6:] == [PaperMoved, NegativeMoved, OpalMoved, CardMoved, DodgerMoved, GlowSwitched]
    assert phone.send("/practice/fault", {"fault": "bulb_dead", "on": "1"}).status_code == 303
    assert made.room.faults() == {PracticeFault.BULB_DEAD}
    page = words_of(phone.look("/practice"))
    for fault in PracticeFault:
        assert say(f"practice.watch-{fault.value.replace('_', '-')}") in page
    phone.send("/practice/fault", {"fault": "bulb_dead", "on": "0"})
    assert not made.room.faults()


def test_pictures_are_seen_in_a_page_and_never_by_themselves(evening: tuple[Bench, Paired]) -> None:
    """What falls on the baseboard, and a print, are shown in a page at any time, and in no tab of their own."""
    made, phone = evening
    sheet = _strip(made)
    phone.send("/practice/develop", {"sheet": sheet})
    for address in ("/practice/board.png", f"/practice/print/{sheet}.png"):
        assert phone.look(address, **{"Sec-Fetch-Dest": "image"}).mimetype == "image/png"
        assert phone.look(address, **{"Sec-Fetch-Dest": "document"}).status_code == 303


def test_what_falls_on_the_baseboard_follows_the_hands(evening: tuple[Bench, Paired]) -> None:
    """White paper is lighter than the bare easel under the same light, and the opal glass takes the picture away."""
    _, phone = evening

    def board() -> np.ndarray:
        with Image.open(io.BytesIO(phone.look("/practice/board.png").data)) as picture:
            return np.asarray(picture, dtype=float)

    bare = board()
    phone.send("/practice/hand", {"what": "paper-out"})
    lying = board()
    assert lying.mean() > bare.mean() + 10
    phone.send("/practice/hand", {"what": "opal-in"})
    assert board()[20:-20, 20:-20].std() < lying[20:-20, 20:-20].std() / 4


def test_the_baseboard_is_asked_for_once_and_only_where_it_can_be_drawn(
    evening: tuple[Bench, Paired], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page tells its script the stage as the live word does, key by key, and of no picture that cannot be had."""
    _, phone = evening

    def told() -> dict[str, str]:
        room = re.search(r'<svg class="room"[^>]*>', phone.look("/practice").text)
        assert room
        return {name: html.unescape(value) for name, value in re.findall(r'data-(\w+)="([^"]*)"', room[0])}

    stage = told()["stage"]
    live = phone.look("/status.json?part=practice").data
    assert list(json.loads(stage)) == list(Stage.model_fields)
    assert json.loads(stage) == json.loads(live)["stage"]
    assert told()["pictures"] == "1"
    monkeypatch.setitem(sys.modules, "PIL", None)
    assert told()["pictures"] == ""


def _lead(phone: Paired) -> str:
    return str(phone.look("/status.json?part=practice").get_json()["lead"])


def _fields(html: str, address: str, nth: int = 0) -> dict[str, str]:
    forms = re.findall(rf'<form method="post" action="{address}".*?</form>', html, re.S)
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', forms[nth]))


def test_a_close_leads_to_the_print_of_ones_own_pick(evening: tuple[Bench, Paired]) -> None:
    """With no white page and no page loaded anew: develop, tap, print from it, develop that, print it again."""
    made, phone = evening
    _load_strip_with_setup(made)
    strip = _work(made)
    assert 'data-touch="trays"' in _lead(phone)
    phone.send("/practice/develop", _fields(_lead(phone), "/practice/develop"), Accept="application/json")
    shown = _lead(phone)
    assert 'data-view="print"' in shown
    assert [f'href="#pick-{band}"' in shown for band in (1, 2, 3, 4)] == [True, True, True, False]
    assert len(re.findall(r'id="pick-[0-9]-between"', shown)) == 2
    chosen = _fields(shown, "/practice/print-from", 2)  # after band 1, and the line between it and band 2
    assert chosen["band"] == "2"
    told = phone.send("/practice/print-from", chosen, Accept="application/json").get_json()
    (pick,) = made.desk.record(strip).picks
    assert told["loaded"]["id"] == pick.recipe
    plan = made.desk.status().plan
    assert plan is not None
    assert (plan.source, plan.version) == (pick.recipe, pick.recipe_version)
    assert 'data-view="enlarger"' in _lead(phone)
    sheet = _work(made)
    phone.send("/practice/develop", _fields(_lead(phone), "/practice/develop"))
    shown = _lead(phone)
    assert f"/practice/print/{sheet}.png" in shown
    made.do(acts.Load(source=made.desk.record(strip).plan.source))
    phone.send("/practice/again", _fields(_lead(phone), "/practice/again"))
    plan = made.desk.status().plan
    assert plan is not None
    assert (plan.source, plan.version) == (pick.recipe, pick.recipe_version)
    assert 'data-view="enlarger"' in _lead(phone)


def test_a_pick_of_the_negative_in_the_carrier_leads_on(evening: tuple[Bench, Paired]) -> None:
    """Where the strip's negative lies in the carrier, a band that is taken leads on as it does by day: no print yet."""
    made, phone = evening
    stands = {"negative": "practice-film:1", "negative_title": "lighthouse", "paper_title": "paper one"}
    made.desk.at_enlarger().change(made.desk.status().number, **stands)
    _load_strip_with_setup(made, 1.0)
    strip = _work(made)
    phone.send("/practice/develop", _fields(_lead(phone), "/practice/develop"), Accept="application/json")
    shown = _lead(phone)
    assert say("shelf.pick-take") in shown
    assert say("practice.print-from") not in shown
    phone.send("/practice/print-from", _fields(shown, "/practice/print-from", 2), Accept="application/json")
    (pick,) = made.desk.record(strip).picks
    plan = made.desk.status().plan
    assert plan is not None
    assert plan.strip is not None
    assert plan.strip.template == "hard over soft"
    assert (plan.steps[0].filter, plan.steps[0].planned_ms) == ("soft", round(1000 * pick.seconds))
    assert 'data-view="enlarger"' in _lead(phone)


def test_the_last_prints_hang_on_the_line(evening: tuple[Bench, Paired]) -> None:
    """Up to three prints hang there, the newest first, as small pictures; what is not developed does not."""
    made, phone = evening
    sheets = [_strip(made) for _ in range(5)]
    for sheet in sheets[:4]:
        phone.send("/practice/develop", {"sheet": sheet})
    hung = re.search(r'data-hung="([^"]*)"', _lead(phone))
    assert hung is not None
    assert hung[1].split() == [sheets[3], sheets[2], sheets[1]]
    whole, small = (
        densities_of(phone.look(f"/practice/print/{sheets[3]}.png{more}").data) for more in ("", "?small=1")
    )
    assert small.size < whole.size / 10
    assert small.mean() == pytest.approx(whole.mean(), abs=0.02)


def test_a_print_is_laid_aside(evening: tuple[Bench, Paired]) -> None:
    """A print that is looked at is laid aside by its button, and by nothing that is refused."""
    made, phone = evening
    sheet = _strip(made)
    phone.send("/practice/develop", {"sheet": sheet})
    for address, fields in (
        ("print-from", {"sheet": sheet, "band": "0"}),
        ("print-from", {"sheet": sheet, "band": "2", "number": "1"}),
        ("again", {"sheet": sheet, "number": "1"}),
        ("again", {"sheet": sheet, "number": str(made.desk.status().number), "run": "another"}),
    ):
        assert phone.send(f"/practice/{address}", fields).status_code in {409, 422}, (address, fields)
        assert 'data-view="print"' in _lead(phone)
    assert made.desk.record(sheet).picks == ()
    phone.send("/practice/aside")
    assert 'data-view="enlarger"' in _lead(phone)


def test_the_card_is_moved_on_by_a_touch(evening: tuple[Bench, Paired]) -> None:
    """A touch moves the strip's card on by a band from where it lies, and it counts as a hand's move."""
    made, phone = evening
    made.load(0.2, 0.2, 0.2, kind="strip")
    for _ in range(3):
        phone.send("/practice/hand", {"what": "card-on"})
    assert [entry.place for entry in made.room.log() if isinstance(entry, CardMoved)] == [2, 1, -1]


def test_the_wall_has_every_sheet(evening: tuple[Bench, Paired]) -> None:
    """Each sheet of the session is a card on the wall: its print where it is developed, and by day alone."""
    made, phone = evening
    one, two = _strip(made), _strip(made)
    assert phone.look("/wall").status_code == 409
    assert "/wall" not in phone.look("/sheets").text
    _day(phone, made)
    phone.send("/practice/develop", {"sheet": two})
    assert 'href="/wall"' in phone.look("/sheets").text
    text = phone.look("/wall").text
    assert text.index(f'href="/sheets/{one}"') < text.index(f'href="/sheets/{two}"')
    assert f"/practice/print/{two}.png" in text
    assert f"/practice/print/{one}.png" not in text
    assert (
        text.count(say("page.outcome-complete") + "</text>") + text.count(say("page.outcome-spoiled") + "</text>") == 2
    )


def test_a_thread_leads_from_a_strip_to_the_print_that_used_its_pick(evening: tuple[Bench, Paired]) -> None:
    """A sheet whose recipe came from a pick says so on the wall and hangs on a thread, with real lines too."""
    made, phone = evening
    _load_strip_with_setup(made)
    strip = _work(made)
    made.do(acts.Pick(sheet=strip, band=2))
    made.do(acts.Load(source=made.desk.record(strip).picks[-1].recipe))
    _work(made)
    _day(phone, made)
    line = made.desk.sheets().sessions[0].sheets[-1]
    assert line.thread.strip is not None
    assert line.thread.strip.id == strip
    for practice in (made.desk.practice, lambda: None):
        made.desk.practice = practice  # type: ignore[method-assign]
        page = phone.look("/wall")
        assert page.text.count(say("wall.from-strip", number=1) + "</text>") == 1
        assert len(re.findall(r'<path d="M[^"]*C[^"]*S', page.text)) == 1
        card = say("wall.light", seconds=f"{line.given_ms / 1000:.1f}")
        assert card in page.text


def test_a_picture_of_ones_own_becomes_the_negative(
    evening: tuple[Bench, Paired], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A picture file is taken as the negative; what is no picture, or too large, is refused and changes nothing."""
    made, phone = evening
    _day(phone, made)
    tray = made.desk.practice().prints()  # type: ignore[union-attr]
    assert tray is not None
    assert f"at most {MOST_BYTES // 1_000_000} MB" in words_of(phone.look("/practice"))
    monkeypatch.setattr("controller.unpack.unpacker.MOST_BYTES", 450_000)
    for bad in (b"no picture", b"x" * 450_001):
        answer = phone.send("/practice/own", {"picture": (io.BytesIO(bad), "own.png")})
        assert answer.status_code == 422
        assert not tray.has_own()
    out = io.BytesIO()
    noise = np.random.default_rng(20).integers(0, 256, (500, 900), dtype=np.uint8)
    noise[:, :450] //= 4
    Image.fromarray(noise).save(out, "PNG")
    assert len(out.getvalue()) > LARGEST_BODY, "no more than any page takes in"
    assert phone.send("/practice/own", {"picture": (io.BytesIO(out.getvalue()), "own.png")}).status_code == 303
    assert tray.scene().negative == "own"
    for thin, dense, fine in (("0.3", "1,9", True), ("1.5", "1.0", False), ("0.2", "4.1", False)):
        answer = phone.send("/practice/scene", {"negative": "own", "own_thin": thin, "own_dense": dense})
        assert answer.status_code == (303 if fine else 422)
    assert (tray.scene().own_thin, tray.scene().own_dense) == (0.3, 1.9)
    (negative,) = tray._negatives(tray.scene(), InCarrier(name="own"))
    drawn = negative.draw(60, 80)
    assert float(drawn[:, 60:].mean() - drawn[:, :20].mean()) > 0.3


def test_every_part_of_the_scene_can_be_chosen(evening: tuple[Bench, Paired]) -> None:
    """Whatever the scene knows has its place on the form, by its name, and comes back as it was kept."""
    made, phone = evening
    _day(phone, made)
    chosen = {"paper": "two", "lamp": "slow", "condenser": "wrong", "lens": "short", "safelight": "unsafe"}
    chosen |= {"card": "uncover", "filter_left": "hard", "phone": "lit"}
    figures = {"safelight_minutes": "20", "focus_ms": "2.5", "card_late_ms": "0.5", "dodger_late_ms": "1"}
    figures |= {"stray_percent": "0.5", "flare_percent": "1", "callier": "1.2", "falloff_percent": "80"}
    figures |= {"relay_on_ms": "20", "relay_off_ms": "15", "forgotten": "A C"}
    assert phone.send("/practice/scene", {"negative": "slip", **chosen, **figures}).status_code == 303
    scene = made.desk.practice().prints().scene()  # type: ignore[union-attr]
    assert scene == PracticeScene.model_validate(
        {"negative": "slip", **chosen, **figures, "focus_ms": 2500, "card_late_ms": 500, "dodger_late_ms": 1000}
    )
    page = phone.look("/practice").text
    assert {name for name in PracticeScene.model_fields if f'name="{name}"' not in page} == {"own_thin", "own_dense"}
    for name, value in figures.items():
        assert f'name="{name}"' in page
        assert f'value="{value}"' in page
    for name, value in chosen.items():
        words = say(f"practice.{name.replace('_', '-')}-{value}")
        assert f'<option value="{value}" selected>{words}' in page


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("card_late_ms", "61", say("practice.scene-figure", label="{}", found="61", least="0", most="60")),
        ("exponent", "0.7", say("practice.scene-figure", label="{}", found="0.7", least="0.8", most="1")),
        ("safelight_times", "many", say("practice.scene-figure", label="{}", found="many", least="0", most="1000")),
        ("forgotten", "A1", say("practice.scene-other", label="{}", found="A1")),
        ("own_dense", "0.1", say("practice.scene-own-range")),
    ],
)
def test_a_wrong_part_of_the_scene_is_named(evening: tuple[Bench, Paired], name: str, typed: str, words: str) -> None:
    """What is out of range is told by its own name and limits, beside all that was typed; nothing of it is kept."""
    made, phone = evening
    _day(phone, made)
    tray = made.desk.practice().prints()  # type: ignore[union-attr]
    before = tray.scene()  # type: ignore[union-attr]
    answer = phone.send("/practice/scene", {"paper": "two", "stray_percent": "0.5", name: typed})
    assert answer.status_code == 422
    assert words.format(label(name)) in words_of(answer)
    for kept, value in (("stray_percent", "0.5"), (name, typed)):
        if not kept.startswith("own_"):
            assert re.search(rf'<input name="{kept}"[^>]* value="{value}"', answer.text), kept
    at = re.findall(r'<input name="(\w+)"[^>]* aria-invalid="true"', answer.text)
    assert at == [] if name.startswith("own_") else at == [name], "where it is told"
    assert '<option value="two" selected>' in answer.text
    assert tray.scene() == before  # type: ignore[union-attr]


def test_bad_fields_are_refused(phone_with_practice: Paired, practice_desk: StandInDesk) -> None:
    """A hand or fault that there is none of is a sentence, and nothing is done."""
    for address, fields in (
        ("/practice/hand", {"what": "juggle"}),
        ("/practice/hand", {"what": "card", "of": "cover", "place": "25"}),
        ("/practice/hand", {"what": "tool-in", "of": "A1", "act": "dodge"}),
        ("/practice/fault", {"fault": "gremlins", "on": "1"}),
    ):
        assert phone_with_practice.send(address, fields).status_code == 422
    practice = practice_desk.practice()
    assert practice is not None
    assert practice.hands == []
