"""The page of readings at the easel: spots on the curve, wishes by − and +, the pair, and what it becomes."""

from __future__ import annotations

import json
import re
from datetime import date

import pytest
from tools.fitted_papers import demo
from tools.history import plan
from tools.phone import Paired, words_of
from tools.stand_in_desk import StandInDesk

from controller.foot.acts import Load
from controller.lamp.history import LampView
from controller.paper.paper import Reference
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.easel_rows import SpotRead, SpotsTaken
from controller.store.entries import SheetPlanned
from controller.store.levels import GainRatio, GainsMeasured
from controller.store.said_of_sheets import Looked
from controller.words import say

REFERENCE = Reference(
    level=48_210.0, sensor="practice", gain="high", filter="soft", box="box of the tests", date=date(2026, 3, 2)
)
SPOTS = {"highlight": 2711.0, "shadow": 29_050.0}


def _spot(desk: StandInDesk, name: str, level: float, **more: object) -> SpotRead:
    values = {"gain": "high", "sensor": "practice", "dark": 60.0, "filter": "soft", "readings": "r1"}
    return SpotRead.model_validate({"spot": name, "level": level, "bench": desk.status().bench, **values, **more})


@pytest.fixture
def at_easel(desk: StandInDesk) -> StandInDesk:
    """The demo paper is out, with its reference; a probe is fitted; two spots are measured."""
    kept = desk.papers().keep(demo().model_copy(update={"reference": REFERENCE}))
    bench = AtEnlarger(paper=kept.id, paper_title=kept.title, negative_title="Pier", magnification=2.0, aperture=8.0)
    desk.say_day()
    desk.show(bench=bench)
    desk.bench.shown = LampView(lag_ms=0.0, operate_ms=0.0, release_ms=0.0, sensor="ready")
    desk.spots.measured = [_spot(desk, name, level) for name, level in SPOTS.items()]
    return desk


def test_the_pair_stands_large_with_both_spots(at_easel: StandInDesk, phone: Paired) -> None:
    """The worked example's spots on the demo paper: its pair for 0.12 and 1.95 is 8.7 + 9.0 s (from the trials)."""
    shown = phone.look("/easel?highlight=0.12&shadow=1.95")
    assert shown.status_code == 200
    assert re.findall(r"<b>([\d.]+)</b></p>", shown.text) == ["8.7", "9.0"]
    words = words_of(shown)
    assert "1.25 in the negative" in words
    assert "0.22 in the negative" in words
    assert "Use for the next sheet" in words
    assert shown.text.count("&#34;name&#34;") == 2 or shown.text.count("&quot;name&quot;") == 2


def test_minus_and_plus_wish_another_tone_without_a_script(at_easel: StandInDesk, phone: Paired) -> None:
    """Each is a link that carries all wishes; more shadow takes more hard light."""
    shown = phone.look("/easel?highlight=0.12&shadow=1.95").text
    darker = re.search(r'href="(/easel\?[^"]*)"[^>]*aria-label="shadow darker"', shown)
    assert darker is not None
    address = darker[1].replace("&amp;", "&")
    assert "highlight=0.12" in address
    after = phone.look(address.split("#")[0]).text
    assert float(re.findall(r"<b>([\d.]+)</b></p>", after)[1]) > 9.0


def test_one_tap_makes_it_the_next_sheet(at_easel: StandInDesk, phone: Paired) -> None:
    """The recipe has both lights, the paper and the set-up; it is loaded, and the taken spots leave a row."""
    answer = phone.send("/easel/use", {"highlight": "0.12", "shadow": "1.95", "number": at_easel.status().number})
    assert answer.status_code == 303, words_of(answer)
    load = at_easel.acts[-1][0]
    assert isinstance(load, Load)
    recipe = at_easel.recipes().recipe(load.source)
    assert [(each.filter, str(each.seconds)) for each in recipe.light] == [("soft", "8.7"), ("hard", "9.0")]
    assert (recipe.title, str(recipe.magnification)) == ("Pier", "2.0")
    assert not recipe.local


def test_what_was_seen_is_used_though_the_moment_has_passed(at_easel: StandInDesk, phone: Paired) -> None:
    """A snapshot goes by while the page is looked at: the pair that it shows is used, and another than that is not."""
    old = at_easel.status().number
    at_easel.show(headline="Something else.")
    asked = {"highlight": "0.12", "shadow": "1.95", "number": old}
    assert phone.send("/easel/use", asked | {"soft": "8.7", "hard": "8.9"}).status_code == 409
    assert phone.send("/easel/use", asked).status_code == 409
    assert not [act for act, _ in at_easel.acts if isinstance(act, Load)]
    assert phone.send("/easel/use", asked | {"soft": "8.7", "hard": "9.0"}).status_code == 303
    assert isinstance(at_easel.acts[-1][0], Load)


def test_the_usual_pair_is_used_as_it_was_seen(at_easel: StandInDesk, phone: Paired) -> None:
    """Nobody wished anything, and the moment passes: what the form sends back comes to the seconds that stand above."""
    shown = phone.look("/easel").text
    pair = re.findall(r"<b>([\d.]+)</b></p>", shown)
    form = re.search(r'<form[^>]*action="/easel/use".*?</form>', shown, re.S)
    assert form is not None
    sent = dict(re.findall(r'name="(highlight|shadow|soft|hard)" value="([^"]*)"', form[0]))
    assert [sent["soft"], sent["hard"]] == pair
    old = at_easel.status().number
    at_easel.show(headline="Something else.")
    answer = phone.send("/easel/use", sent | {"number": old})
    assert answer.status_code == 303, words_of(answer)
    load = at_easel.acts[-1][0]
    assert isinstance(load, Load)
    assert [str(each.seconds) for each in at_easel.recipes().recipe(load.source).light] == pair


def test_a_further_spot_becomes_a_burn_by_one_tap(at_easel: StandInDesk, phone: Paired) -> None:
    """A sky of 1.45 wished at 0.15 is burnt through soft by 0.90 stop: eleven twelfths in the recipe."""
    at_easel.spots.measured.append(_spot(at_easel, "A", 1710.0))
    asked = "highlight=0.12&shadow=1.95&A=0.15"
    assert "burn through soft, +0.90 stop, 7.5 s" in words_of(phone.look(f"/easel?{asked}"))
    fields = dict(pair.split("=") for pair in asked.split("&")) | {"number": at_easel.status().number}
    assert phone.send("/easel/use-works", fields).status_code == 303
    load = at_easel.acts[-1][0]
    assert isinstance(load, Load)
    (burn,) = at_easel.recipes().recipe(load.source).local
    assert (burn.act, burn.filter, burn.stops, burn.what) == ("burn", "soft", "11/12", "A")


def test_another_gain_counts_by_the_measured_ratio(at_easel: StandInDesk, phone: Paired) -> None:
    """Spots through max against a reference at high: the same densities, with the ratio, its day and its error said."""
    step = GainRatio(low="high", ratio=22.6, uncertain=0.004)
    at_easel.spots.ratios = [(GainsMeasured(sensor="practice", ratios=(step,)), "2026-11-30")]
    at_easel.spots.measured = [_spot(at_easel, name, level * 22.6, gain="max") for name, level in SPOTS.items()]
    shown = words_of(phone.look("/easel?highlight=0.12&shadow=1.95"))
    assert "1.25 in the negative" in shown
    assert "22.6 times, as measured on this sensor (2026-11-30), ± 0.4 %" in shown
    at_easel.spots.measured = [_spot(at_easel, name, level, doubt=0.02) for name, level in SPOTS.items()]
    shown = words_of(phone.look("/easel?highlight=0.12&shadow=1.95"))
    assert "1.25 in the negative, unsure by 0.02: few counts" in shown
    assert "as measured on this sensor" not in shown


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"sensor": "tsl2591"}, "was measured by practice, high, the spots by tsl2591, high"),
        ({"gain": "max"}, "nobody measured how these compare"),
        ({"filter": "hard"}, "through soft, and hard is in"),
    ],
)
def test_spots_that_do_not_fit_the_reference_are_refused(
    at_easel: StandInDesk, phone: Paired, change: dict[str, str], says: str
) -> None:
    """Another sensor, gain or filter than the reference's: no seconds, a sentence, and nothing is made of it."""
    at_easel.spots.measured = [_spot(at_easel, name, level, **change) for name, level in SPOTS.items()]
    shown = phone.look("/easel")
    assert says in words_of(shown)
    assert "Use for the next sheet" not in shown.text
    answer = phone.send("/easel/use", {"number": at_easel.status().number})
    assert answer.status_code == 422
    assert says in words_of(answer)


@pytest.mark.parametrize(
    ("level", "says"),
    [
        ({"highlight": 29_050.0, "shadow": 2711.0}, "must be denser in the negative"),
        ({"highlight": 0.01, "shadow": 2711.0}, "which no negative has"),
    ],
)
def test_spots_that_are_no_negative_are_refused(
    at_easel: StandInDesk, phone: Paired, level: dict[str, float], says: str
) -> None:
    """A shadow denser than the highlight, or a probe that lay in the dark."""
    at_easel.spots.measured = [_spot(at_easel, name, each) for name, each in level.items()]
    assert says in words_of(phone.look("/easel"))


def test_a_reference_older_than_the_box_is_refused(at_easel: StandInDesk, phone: Paired) -> None:
    """The box was read after the reference was measured: it is to be measured again."""
    old = REFERENCE.model_copy(update={"date": date(2026, 2, 28)})
    source = at_easel.status().bench.paper
    at_easel.papers().keep(demo().model_copy(update={"reference": old}), source)
    assert "Measure the reference again" in words_of(phone.look("/easel"))


def test_spots_of_another_set_up_are_refused(at_easel: StandInDesk, phone: Paired) -> None:
    """The lens was opened after the spots were measured: what they say holds no more."""
    at_easel.show(bench=at_easel.status().bench.model_copy(update={"aperture": 5.6}))
    assert "set up differently" in words_of(phone.look("/easel"))


def test_spots_of_another_negative_are_not_shown(at_easel: StandInDesk, phone: Paired) -> None:
    """With another negative in the carrier its own spots are asked for."""
    at_easel.show(bench=at_easel.status().bench.model_copy(update={"negative_title": "Jug"}))
    shown = words_of(phone.look("/easel"))
    assert "soft, seconds" not in shown
    assert "Measure spots" in shown


def test_a_measured_empty_light_becomes_the_reference(at_easel: StandInDesk, phone: Paired) -> None:
    """One tap keeps it in the paper's own file, with the box, the filter and the set-up."""
    at_easel.spots.measured.append(_spot(at_easel, "empty light", 50_000.0, what="reference"))
    assert "Measured now: 50000 counts" in words_of(phone.look("/easel"))
    assert phone.send("/easel/keep", {"number": at_easel.status().number}).status_code == 303
    kept = at_easel.papers().get(at_easel.status().bench.paper)
    reference = json.loads(kept.body)["reference"]
    assert set(reference) == {"level", "sensor", "gain", "filter", "setup", "box", "date"}
    assert (reference["level"], reference["filter"], reference["setup"]["aperture"]) == (50_000.0, "soft", 8.0)
    assert "Measured now" not in words_of(phone.look("/easel"))


def test_what_is_missing_is_said(desk: StandInDesk, phone: Paired) -> None:
    """No read paper out, no probe, no reference: each a sentence, and no button that leads nowhere."""
    assert phone.look("/easel").status_code == 409
    desk.say_day()
    assert "not calibrated, or none is out" in words_of(phone.look("/easel"))
    kept = desk.papers().keep(demo())
    desk.show(bench=AtEnlarger(paper=kept.id, paper_title=kept.title))
    shown = words_of(phone.look("/easel"))
    assert "No probe answers" in shown
    assert "Measure spots" not in shown


@pytest.mark.parametrize("another", [False, True])
def test_a_verdict_on_another_paper_teaches_nothing(at_easel: StandInDesk, phone: Paired, another: bool) -> None:
    """Both papers' boxes say the same, or nothing: what was printed on the one says nothing of the other's speed."""
    paper = "another" if another else at_easel.status().bench.paper
    tones = {"light_density": 1.25, "dark_density": 0.22, "light_wanted": 0.12, "dark_wanted": 1.95}
    at_easel.journal.append(
        SheetPlanned(sheet="s1", number=1, plan=plan(source="r", version=1)),
        SpotsTaken(recipe="r", version=1, paper=paper, box=REFERENCE.box, soft_seconds=8.7, hard_seconds=9.0, **tones),
        Looked(sheet="s1", light=-2, dark=-2),
    )
    taught = say("easel.offset", offset="").split(" of ")[0].strip() in words_of(phone.look("/easel"))
    assert taught is not another


def test_another_filter_in_the_drawer_is_refused_before_any_light(at_easel: StandInDesk, phone: Paired) -> None:
    """Hard is in, as was said last, and the reference was read through soft: no spot is measured."""
    at_easel.show(filter_in="hard")
    answer = phone.send("/easel/spots", {"number": at_easel.status().number})
    assert "Put soft in and measure the spots again" in words_of(answer)
    assert at_easel.bench.asked == []


def test_begun_from_the_page(at_easel: StandInDesk, phone: Paired) -> None:
    """Both buttons load readings; a refusal stands on the page."""
    for act in ("spots", "reference", "reference-hard"):
        answer = phone.send(f"/easel/{act}", {"number": at_easel.status().number})
        assert "It cannot be loaded here." in words_of(answer)
        assert at_easel.bench.asked[-1] == ("readings", f"readings:{act.partition('-')[0]}")


def test_strange_wishes_are_as_if_they_were_not_there(at_easel: StandInDesk, phone: Paired) -> None:
    """What is no density changes nothing; a wish past the paper's black says so."""
    plain = phone.look("/easel").text
    odd = phone.look("/easel?highlight=nan&shadow=<b>&Z=1&%00=2")
    assert odd.status_code == 200
    assert re.findall(r"<b>([\d.]+)</b></p>", odd.text) == re.findall(r"<b>([\d.]+)</b></p>", plain)
    assert "2.10" in words_of(phone.look("/easel?shadow=3.5"))


def test_each_spot_is_marked_by_its_own_letter(at_easel: StandInDesk, phone: Paired) -> None:
    """A spot called A is A on the curve and in the table; the first two have small letters that no other can have."""
    at_easel.spots.measured = [_spot(at_easel, name, level) for name, level in {**SPOTS, "A": 1710.0}.items()]
    shown = phone.look("/easel?highlight=0.12&shadow=1.95").text
    assert re.findall(r"<tr><th><b>(\w)</b>", shown) == ["h", "s", "A"]
    assert re.findall(r"<text[^>]*>([hsABC])</text>", shown) == ["h", "s", "A"]
