"""One filter at a time, pressed by a thumb without scripts: factors of the paper's own, and a tone that is kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import numpy as np
import pytest
from tools.daemon_bench import bench
from tools.hidden_papers import BOX, exposure, paper_one, readings
from tools.shelf_phone import ORIGIN, Page, Phone, shelf_app
from tools.stand_in_desk import StandInDesk, day_desk

from controller.foot import acts
from controller.paper import filter_factors
from controller.paper.paper import Paper
from controller.paper.readings import Exposure
from controller.paper.written import Written, fitted

LIGHTS = {"1": (64.0, 6.0), "3": (20.0, 32.0), "5": (0.0, 60.0)}
"""Three filters, as so much soft and hard light of the demo paper at once."""


def through(name: str) -> Exposure:
    """The demo paper's print through a filter, its seconds the sum of what the filter lets through."""
    soft, hard = LIGHTS[name]
    made = exposure(paper_one(), soft, hard)
    return made.model_copy(update={"soft_seconds": soft + hard, "hard_seconds": 0.0, "filter": name})


@pytest.fixture(scope="module")
def own() -> Paper:
    return fitted(Written(paper="paper one", box=BOX, filters=tuple(through(name) for name in LIGHTS)))


@pytest.fixture
def desk(own: Paper) -> Iterator[StandInDesk]:
    with day_desk(own) as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def ask(phone: Phone, status: int = 200, **typed: str) -> Page:
    named = {name.rstrip("_").replace("_", "-"): value for name, value in typed.items()}
    source = phone.desk.papers().kept()[0].id
    return phone.look(f"/papers/{source}/filters?{urlencode({'go': '1', **named})}", status)


def seconds_in(page: Page) -> float:
    found = re.search(r"([0-9.]+) s through (?:1|3|5) instead", page.words)
    assert found, page.words
    return float(found[1])


def light_for(name: str, density: float) -> float:
    """Seconds through a filter that print this density without a negative, by the hidden paper's own formula."""
    soft, hard = LIGHTS[name]
    cut = np.linspace(0.0, 4.0, 8001)
    printed = paper_one().densities(soft, hard, cut)
    return float((soft + hard) * 10.0 ** -np.interp(-density, -printed, cut))


@pytest.mark.parametrize("density", [0.2, 0.65, 1.4])
@pytest.mark.parametrize(("before", "after"), [("1", "5"), ("5", "3")])
def test_the_tone_is_kept(phone: Phone, before: str, after: str, density: float) -> None:
    """The new seconds print the chosen density on the hidden paper as the old ones did, within 2 % of time."""
    page = ask(phone, seconds="10", from_=before, to=after, tone_own=str(density))
    assert seconds_in(page) == pytest.approx(10.0 * light_for(after, density) / light_for(before, density), rel=0.02)


def test_a_factor_is_no_constant(phone: Phone) -> None:
    """From filter 1 to 5 the factor of a light tone and of a dark one differ as the paper's curves do."""
    light, dark = (ask(phone, from_="1", tone_own=density) for density in ("0.2", "1.6"))
    factors = [float(re.findall(r"× ([0-9.]+)", page.words)[-1]) for page in (light, dark)]
    true = [light_for("5", density) / light_for("1", density) for density in (0.2, 1.6)]
    assert factors == pytest.approx(true, rel=0.03)
    assert factors[0] > 1.5 * factors[1]
    assert "None is a constant of the filter" in light.words


def test_first_the_table_at_the_speed_point(phone: Phone) -> None:
    """Before anything is typed the factors stand there for 0.60 over white, the filter itself at 1."""
    page = phone.look(f"/papers/{phone.desk.papers().kept()[0].id}/filters")
    assert "0.65" in page.words
    assert page.words.count("×") == 3
    assert "× 1.00" in page.words


def test_what_becomes_of_the_ends(phone: Phone) -> None:
    """To a harder filter with the middle kept, first tone comes later and black sooner, said in words."""
    words = ask(phone, seconds="10", from_="1", to="5", tone="middle").words
    assert "First tone comes" in words
    assert "later: lights get lighter" in words
    assert "sooner: darks get darker" in words


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"seconds": "ten", "to": "5"}, "seconds", "“ten”"),
        ({"to": "5"}, "seconds", "missing"),
        ({"seconds": "10"}, "to", "No filter to change to"),
        ({"seconds": "10", "to": "7"}, "to", "not calibrated on this paper"),
        ({"seconds": "10", "to": "5", "tone_own": "3"}, "tone-own", "outside what the readings reach"),
        ({"tone_own": "-1"}, "tone-own", "“-1”"),
    ],
)
def test_a_bad_figure_is_told_at_its_field(phone: Phone, typed: dict[str, str], field: str, words: str) -> None:
    """One sentence at one field, and what was typed still stands in the form."""
    page = ask(phone, 422, **typed)
    assert list(page.told()) == [field]
    assert words in page.told()[field]
    for name, value in typed.items():
        if (name, value) != ("to", "7"):
            assert (name.replace("_", "-"), value) in page.fields


def test_soft_and_hard_alone_count_as_filters(phone: Phone, desk: StandInDesk) -> None:
    """A paper read through soft and hard has the factor between the two, and says how to have the others."""
    desk.papers().keep(fitted(Written(paper="two", box=BOX, exposures=readings(paper_one()).exposures)))
    source = next(kept.id for kept in desk.papers().kept() if kept.title == "two")
    page = phone.look(f"/papers/{source}/filters?go=1&seconds=10&from=soft&to=hard")
    assert "s through hard instead of 10 s through soft" in page.words
    assert "for the filters between, print the tablet through each" in page.words


def test_with_one_print_it_says_which_to_print(phone: Phone, desk: StandInDesk) -> None:
    """With one filter read alone there is no factor but one sentence: what to print."""
    desk.papers().keep(fitted(Written(paper="alone", box=BOX, filters=(through("3"),))))
    source = next(kept.id for kept in desk.papers().kept() if kept.title == "alone")
    page = phone.look(f"/papers/{source}/filters")
    assert "Only 3 has been calibrated alone, so print the tablet through the filter you would change to" in page.words
    assert "×" not in page.words


def test_it_is_of_the_day(phone: Phone, desk: StandInDesk) -> None:
    """In the dark the page is not shown, and a paper that is not kept has none."""
    assert phone.client.get("/papers/gone/filters").status_code == 404
    desk.show(day_until_ns=None)
    assert phone.client.get(f"/papers/{desk.papers().kept()[0].id}/filters").status_code == 409


@pytest.mark.usefixtures("by_real_time")
def test_on_the_real_darkroom(tmp_path: Path, own: Paper) -> None:
    """The real darkroom's paper gives its factors."""
    with bench(tmp_path) as evening:
        evening.do(acts.PaperAway())
        kept = evening.desk.papers().keep(own)
        client = shelf_app(evening.desk).test_client()
        code = evening.desk.pairing().new_code()
        assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
        typed = {"go": "1", "seconds": "10", "from": "1", "to": "5", "tone-own": "0.65"}
        answer = client.get(f"/papers/{kept.id}/filters", query_string=typed)
        assert answer.status_code == 200
        assert seconds_in(Page(answer.text)) == pytest.approx(
            10.0 * light_for("5", 0.65) / light_for("1", 0.65), rel=0.02
        )


def test_a_paper_s_curves_are_drawn_once(phone: Phone, own: Paper, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page draws the curves of a kept version once, and anew where another version is kept."""
    drawn: list[int] = []
    real = filter_factors.curves_of
    monkeypatch.setattr(filter_factors, "curves_of", lambda paper: (drawn.append(paper.version), real(paper))[1])
    pages = [ask(phone, seconds="10", from_="1", to="5") for _ in range(3)]
    assert len(drawn) == 1
    assert len({seconds_in(page) for page in pages}) == 1
    source = phone.desk.papers().kept()[0].id
    phone.desk.papers().keep(own.model_copy(update={"name": "paper one, another box"}), source)
    ask(phone, seconds="10", from_="1", to="5")
    assert len(drawn) == 2
    assert drawn[1] == drawn[0] + 1
