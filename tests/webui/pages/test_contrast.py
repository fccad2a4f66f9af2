"""The contrast pages, pressed by a thumb without scripts: two tones, one tone held, the negative; nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

import pytest
from tools.fitted_papers import demo
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.foot.acts import Pick
from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.paper import Paper, Setup
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe

READ_AT = Setup(magnification=2.0, aperture=8.0, soft_filter="00", hard_filter="5")
TONES = {"by": "negative", "light-negative": "1.25", "dark-negative": "0.22", "light": "first", "dark": "last"}


@pytest.fixture(scope="module")
def one() -> Paper:
    return demo().model_copy(update={"name": "paper one", "setup": READ_AT})


@pytest.fixture
def desk(one: Paper) -> Iterator[StandInDesk]:
    with day_desk(one) as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def paper_id(desk: StandInDesk) -> str:
    return desk.papers().kept()[0].id


def ask(phone: Phone, page: str = "/contrast", status: int = 200, **typed: Any) -> Page:
    named = {name.replace("_", "-"): value for name, value in typed.items()}
    fields = {"go": "1", "paper": paper_id(phone.desk), **(TONES if page == "/contrast" else {}), **named}
    return phone.look(f"{page}?{urlencode(fields)}", status)


def recipe_of(desk: StandInDesk, source: str) -> Recipe:
    kept = desk.recipes().fetch(source)
    read = read_recipe(kept.body, kept.title)
    assert isinstance(read, Recipe)
    return read


def kept_at(location: str) -> str:
    return location.removeprefix("/shelf/").partition("?")[0]


# ---- two tones


def test_two_lights_print_the_two_tones(phone: Phone, desk: StandInDesk, one: Paper) -> None:
    """The seconds that are kept print both tones where they were wanted, by the paper's own model, within 0.03."""
    page = ask(phone, light_own="0.12", dark_own="1.95")
    answer = phone.send("/contrast/keep", page.typed(title="Quay"))
    assert answer.status_code == 303, answer.text
    made = recipe_of(desk, kept_at(answer.headers["Location"]))
    soft, hard = (float(light.seconds) for light in made.light)
    assert [light.filter for light in made.light] == ["soft", "hard"]
    printed = densities(mixture(one), soft, hard, [1.25, 0.22])
    assert printed == pytest.approx([0.12, 1.95], abs=0.03)
    assert made.filters is not None
    assert (made.filters.soft, made.filters.hard) == ("00", "5")
    assert "negative 1.25" in (made.notes or "")


def test_one_plain_sentence_comes_first(phone: Phone) -> None:
    """The pair and its plain sentence stand before the pictures; R, grade and sensitivity are one tap deeper."""
    answer = phone.client.get(f"/contrast?{urlencode({'go': '1', 'paper': paper_id(phone.desk), **TONES})}").text
    first, _, deeper = answer[answer.index('id="answer"') :].partition("<details")
    assert "Both tones come where you want them. As near as an eye can tell." in first
    assert "grade" not in first
    assert " R " not in first
    for words in ("grade by the handbooks", "One filter alone", "soft +1/12", "hard −1/12"):
        assert words in deeper
    assert answer.count("<svg") == 3


def test_another_set_up_takes_other_seconds(phone: Phone) -> None:
    """At magnification 2.75 instead of 2 every time is (3.75/3)² = 1.5625 times as long, and the page says so."""
    here, there = (ask(phone, magnification=m, aperture="8").words for m in ("2", "2,75"))
    assert "× 1.56" in there
    assert "× 1.56" not in here


def test_out_of_reach_gives_the_nearest_and_says_why(phone: Phone) -> None:
    """A shadow far too light for any filter is called out of reach, with why, and the nearest pair beside it."""
    page = ask(phone, light_negative="0.6", dark_negative="0.5", light="first", dark="last")
    assert "Out of reach; this is the nearest." in page.words
    assert "harder light than the hard filter gives" in page.words
    assert " s hard alone" in page.words
    assert "0.0 s soft +" not in page.words


def test_two_picks_need_no_densitometer(phone: Phone, one: Paper) -> None:
    """By picks alone: 10.1 s soft made the highlight right and 8 s hard over it the shadow; both come right again."""
    page = ask(phone, by="picks", soft_pick="10.1", hard_pick="8")
    assert "Both tones come where you want them." in page.words
    assert "highlight: first tone" in page.words
    assert "shadow: last detail" in page.words


def test_bands_that_were_picked_are_offered(phone: Phone, desk: StandInDesk) -> None:
    """The bands picked lately stand in a list, and one chosen there is taken where no number is typed."""
    desk.work(desk.strip, "hard strip")
    number = phone.desk.status().number
    phone.desk.do(Pick(sheet="hard strip", band=4, recipe=desk.crane.id), number)
    page = phone.look("/contrast?by=picks")
    assert "8.0 s, sheet 3, Hard strip over the soft base" in page.words
    page = ask(phone, by="picks", soft_pick="10.1", hard_picked="8")
    assert "Both tones come" in page.words


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"light_negative": ""}, "light-negative", "missing"),
        ({"dark_negative": "dark"}, "dark-negative", "“dark”"),
        ({"light_negative": "0.1"}, "light-negative", "Swap the two"),
        ({"light_own": "nan"}, "light-own", "“nan”"),
        ({"light": "none"}, "light", "Choose a tone"),
        ({"magnification": "-3"}, "magnification", "“-3”"),
        ({"by": "picks", "soft_pick": "10", "hard_pick": ""}, "hard-pick", "missing"),
        ({"by": "picks", "soft_pick": "10", "hard_pick": "8", "dark_own": "3.5"}, "dark", "black at"),
        ({"paper": "gone"}, "paper", "gone"),
        ({"paper": ""}, "paper", "No paper is chosen"),
    ],
)
def test_a_bad_figure_is_told_at_its_field(phone: Phone, typed: dict[str, str], field: str, words: str) -> None:
    """One sentence at one field, and everything that was typed still stands in the form."""
    page = ask(phone, status=422, **typed)
    assert list(page.told()) == [field]
    assert words in page.told()[field]
    fields = dict(page.fields)
    for name, value in ({name.replace("-", "_"): value for name, value in TONES.items()} | typed).items():
        if name != "paper" and name.replace("_", "-") in fields and value != "none":
            assert fields[name.replace("_", "-")] == value


def test_nothing_is_kept_without_a_name(phone: Phone, desk: StandInDesk) -> None:
    """Without a name and without a recipe nothing is kept, and the sentence stands at the name."""
    page = ask(phone)
    answer = phone.send("/contrast/keep", page.typed())
    assert answer.status_code == 422
    assert "no name" in Page(answer.text).told()["title"]
    assert desk.saves == 0


def test_put_into_a_recipe_is_a_new_version(phone: Phone, desk: StandInDesk) -> None:
    """The two lights take the place of the recipe's bases; its burns and dodges keep their stops."""
    page = ask(phone, magnification="2", aperture="8", recipe=desk.crane.id)
    assert phone.send("/contrast/keep", page.typed(into=desk.crane.id)).status_code == 303
    before, after = (read_recipe(kept.body, "") for kept in reversed(desk.recipes().versions(desk.crane.id)))
    assert isinstance(before, Recipe)
    assert isinstance(after, Recipe)
    assert after.light != before.light
    assert after.local == before.local


def test_another_set_up_is_not_put_into_a_recipe(phone: Phone, desk: StandInDesk) -> None:
    """Seconds for another magnification than the recipe's are refused at that field, and nothing is kept."""
    page = ask(phone, magnification="4", aperture="8")
    answer = phone.send("/contrast/keep", page.typed(into=desk.crane.id))
    assert answer.status_code == 422
    assert "move the recipe to that size" in Page(answer.text).told()["magnification"]
    assert len(desk.recipes().versions(desk.crane.id)) == 1


def test_dry_down_leaves_the_solved_seconds(phone: Phone, desk: StandInDesk) -> None:
    """In a recipe with dry-down, what is left after it are the seconds that were reckoned."""
    body = desk.crane.body.replace('"filters"', '"dry_down_percent": 8, "filters"')
    desk.recipes().save(body, desk.crane.id)
    page = ask(phone, magnification="2", aperture="8")
    phone.send("/contrast/keep", page.typed(into=desk.crane.id))
    steps = desk.recipes().review(desk.recipes().fetch(desk.crane.id).body).steps
    assert f"{steps[0].planned_ms / 1000:.1f} s soft" in page.words


# ---- one tone held


def test_a_held_tone_stays(phone: Phone, desk: StandInDesk, one: Paper) -> None:
    """Much harder with the skin held: skin prints as before within 0.02 of density, the dark tone darker."""
    page = ask(phone, "/contrast/hold", soft_seconds="10.1", hard_seconds="8", held="skin", by_r="-30")
    answer = phone.send("/contrast/hold/keep", page.typed(title="Harder quay"))
    assert answer.status_code == 303, Page(answer.text).told()
    soft, hard = (float(light.seconds) for light in recipe_of(desk, kept_at(answer.headers["Location"])).light)
    mix = mixture(one)
    skin, dark = thinnest(mix, 10.1, 8.0, [mix.dmin + 0.25, mix.dmin + 1.5])
    assert float(densities(mix, soft, hard, skin)) == pytest.approx(mix.dmin + 0.25, abs=0.02)
    assert float(densities(mix, soft, hard, dark)) > mix.dmin + 1.55


def test_a_recipe_brings_its_own_times(phone: Phone, desk: StandInDesk) -> None:
    """Opened from a recipe the form has its paper, its two times and its set-up."""
    fields = dict(phone.look(f"/contrast/hold?recipe={desk.crane.id}").fields)
    assert (fields["soft-seconds"], fields["hard-seconds"]) == ("10.1", "8.0")
    assert (fields["magnification"], fields["aperture"], fields["paper"]) == ("2", "8", paper_id(desk))


def test_no_light_has_no_tone(phone: Phone) -> None:
    """Without seconds there is nothing to hold, said at the field."""
    page = ask(phone, "/contrast/hold", 422, held="skin", by_r="-10")
    assert "Without any exposure" in page.told()["soft-seconds"]


# ---- the negative


def test_a_negative_by_densitometer(phone: Phone, desk: StandInDesk) -> None:
    """0.22 to 1.25 through a diffuser wants R 103, through a condenser of 1.2 R 124; kept in the recipe's notes.

    Source: R = 100 × effective range (ISO 6846, introduction); Q 1.0 and 1.2 from memory.
    """
    diffuse = ask(phone, "/contrast/negative", by="measured", thin="0.22", dense="1.25", source="diffuser")
    assert "1.03 of it reaches the paper: R 100" in diffuse.words
    page = ask(phone, "/contrast/negative", by="measured", thin="0.22", dense="1.25", source="condenser")
    assert "1.24 of it reaches the paper: R 120" in page.words
    assert phone.send("/contrast/negative/keep", page.typed(into=desk.crane.id)).status_code == 303
    assert "negative 0.22 to 1.25: 1.24 reaches the paper, R 120" in (recipe_of(desk, desk.crane.id).notes or "")


def test_a_negative_without_a_densitometer(phone: Phone) -> None:
    """Where both picks fall on one band, the filter's R is the negative's; two equal greys tell it by their times."""
    same = ask(phone, "/contrast/negative", by="filter", first_tone="12", full_black="12", through_own="110")
    assert "1.10 of it reaches the paper: R 110" in same.words
    grey = ask(phone, "/contrast/negative", by="matched", dense_seconds="40", thin_seconds="4")
    assert "1.00 of it reaches the paper: R 100" in grey.words
    own = ask(phone, "/contrast/negative", by="filter", first_tone="12", full_black="12", through="soft light")
    assert "R 140" in own.words


def test_the_printers_own_filters_replace_the_typical_set(phone: Phone, desk: StandInDesk, one: Paper) -> None:
    """Once single filters were read on a paper, answers name those, and the list offers them with their own R."""
    assert one.readings is not None
    soft, hard = one.readings.exposures[:2]
    turned = hard.model_copy(update={"soft_seconds": hard.hard_seconds, "hard_seconds": 0.0, "filter": "four"})
    own = one.model_copy(update={"filters": (soft.model_copy(update={"filter": "one"}), turned)})
    desk.papers().keep(own, paper_id(desk))
    typed = {"by": "measured", "thin": "0.22", "dense": "0.83", "source": "diffuser"}
    page = ask(phone, "/contrast/negative", **typed)
    assert "Start with your filter" in page.words
    assert "typical" not in page.words
    assert "four (R 6" in page.words
    assert "of a typical set" not in ask(phone).words


def test_a_negative_without_range_is_refused(phone: Phone) -> None:
    """Figures that leave no range are refused in a sentence, and stand in the form."""
    page = ask(phone, "/contrast/negative", 422, by="measured", thin="1.25", dense="0.22", source="diffuser")
    assert "leave no range" in page.words
    assert dict(page.fields)["thin"] == "1.25"


# ---- the face, the libraries


def test_the_pages_are_of_the_day(phone: Phone, desk: StandInDesk) -> None:
    """None of these pages is shown in the dark face."""
    desk.show(day_until_ns=None)
    for page in ("/contrast", "/contrast/hold", "/contrast/negative"):
        assert "<svg" not in phone.client.get(page).text
        assert phone.client.get(page).status_code == 409


def test_without_a_paper_the_page_says_what_to_do(desk: StandInDesk, phone: Phone) -> None:
    """With no paper read, the page says to read one."""
    desk.papers().put_away(paper_id(desk))
    assert "No paper is calibrated yet" in phone.look("/contrast").words
