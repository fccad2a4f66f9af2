"""A paper by eye: two steps of two prints, pressed by a thumb without scripts; the sentence first, R one tap deeper."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest
from tools.daemon_bench import bench
from tools.shelf_phone import ORIGIN, Page, Phone, shelf_app
from tools.stand_in_desk import StandInDesk, day_desk

from controller.foot import acts
from controller.paper.emulsions import mixture
from controller.paper.iso import range_of

PICKED = {"soft-told": "15", "soft-black": "6", "hard-told": "9", "hard-black": "5"}


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def ask(phone: Phone, status: int = 200, **typed: str) -> Page:
    named = {name.replace("_", "-"): value for name, value in typed.items()}
    return phone.look(f"/papers/by-eye?{urlencode({'go': '1', **PICKED, **named})}", status)


def test_counting_steps_gives_r(phone: Phone) -> None:
    """Nine steps of 0.15 are R 135 and four R 60: R = 15 × steps on the usual tablet (ISO 6846; derived)."""
    words = ask(phone).words
    assert "Soft: 9 steps, R 140 (counted 135" in words
    assert "Hard: 4 steps, R 60 (counted 60" in words


@pytest.mark.parametrize(
    ("tablet", "counted"),
    [
        ({"tablet": "31"}, "90"),
        ({"tablet": "own", "tablet_count": "15", "tablet_spacing": "0,2"}, "180"),
    ],
)
def test_other_tablets(phone: Phone, tablet: dict[str, str], counted: str) -> None:
    """Nine steps are R 90 on a tablet of 0.10 and R 180 on an own one of 0.20 (derived)."""
    assert (
        f"Soft: 9 steps, R {counted} (counted {counted}" in ask(phone, soft_told="14", soft_black="5", **tablet).words
    )


def test_the_plain_sentence_comes_first(phone: Phone) -> None:
    """Before the first tap there is no R: what the lights work like, which negatives fit, what to start with."""
    text = phone.client.get(f"/papers/by-eye?{urlencode({'go': '1', **PICKED})}").text
    first, _, deeper = text[text.index('id="answer"') :].partition("<details")
    assert "Your soft light works like one filter, " in first
    assert "from 0.60 to 1.35" in first
    assert "start as with filter 2 of a typical set, grade 2" in first
    assert " R " not in first
    assert "grade by the handbooks: 1." in deeper


def test_an_ordinary_negative_may_not_fit(phone: Phone) -> None:
    """Where even soft light is too hard, or hard light too soft, for range 1.05 (from memory), that is said."""
    assert "too long for it even through soft" in ask(phone, soft_told="12").words
    assert "too short for it even through hard" in ask(phone, hard_told="13").words


def test_one_print_alone_is_read(phone: Phone) -> None:
    """One print gives its own R, and the other is asked for."""
    page = ask(phone, hard_told="", hard_black="")
    assert "R 140 (counted 135" in page.words
    assert "Print the tablet through hard light, too" in page.words


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"soft_told": "6", "soft_black": "15"}, "soft-told", "wrong way round"),
        ({"soft_told": "22"}, "soft-told", "“22”"),
        ({"hard_black": ""}, "hard-black", "missing"),
        ({"hard_told": "9.5"}, "hard-told", "whole step"),
        ({"soft_black": "1"}, "soft-black", "twice the light"),
        ({"soft_told": "21"}, "soft-told", "white begins past it"),
        ({"hard_told": "20"}, "hard-told", "changed places"),
        ({"tablet": "own", "tablet_count": "15"}, "tablet-spacing", "missing"),
        ({name.replace("-", "_"): "" for name in PICKED}, "soft-told", "No step has been picked"),
    ],
)
def test_bad_steps_are_told_at_their_field(phone: Phone, typed: dict[str, str], field: str, words: str) -> None:
    """One sentence at one field, and all that was typed still stands in the form."""
    page = ask(phone, 422, **typed)
    assert list(page.told()) == [field]
    assert words in page.told()[field]
    fields = dict(page.fields)
    for name, value in (PICKED | {name.replace("_", "-"): value for name, value in typed.items()}).items():
        assert fields[name] == value


def test_kept_as_a_paper(phone: Phone, desk: StandInDesk) -> None:
    """Kept with its seconds it is a paper whose soft and hard R are those counted, within a step (15)."""
    page = ask(phone)
    answer = phone.send("/papers/by-eye", page.typed(title="Pearl", soft_seconds="80", hard_seconds="60"))
    assert answer.status_code == 303, Page(answer.text).told()
    (kept,) = desk.papers().kept()
    assert answer.headers["Location"] == f"/papers/{kept.id}?said=kept"
    paper = desk.papers().fetch(kept.id)
    assert paper.readings is not None
    assert [each.how for each in paper.readings.exposures] == ["eye", "eye"]
    mix = mixture(paper)
    assert range_of(mix, 1.0, 0.0) == pytest.approx(135.0, abs=15.0)
    assert range_of(mix, 0.0, 1.0) == pytest.approx(60.0, abs=15.0)


@pytest.mark.parametrize(
    ("typed", "field"),
    [({"title": ""}, "title"), ({"soft_seconds": ""}, "soft-seconds"), ({"hard_seconds": "-1"}, "hard-seconds")],
)
def test_nothing_is_half_kept(phone: Phone, desk: StandInDesk, typed: dict[str, str], field: str) -> None:
    """Without a name or its seconds nothing is kept, the sentence stands at the field, the rest stays typed."""
    whole = {"title": "Pearl", "soft_seconds": "80", "hard_seconds": "60"}
    answer = phone.send("/papers/by-eye", ask(phone).typed(**(whole | typed)))
    assert answer.status_code == 422
    page = Page(answer.text)
    assert list(page.told()) == [field]
    assert ("soft-told", "15") in page.fields
    assert not desk.papers().kept()


def test_it_is_of_the_day(phone: Phone, desk: StandInDesk) -> None:
    """In the dark the page is not shown, and nothing is kept."""
    page = ask(phone)
    desk.show(day_until_ns=None)
    assert phone.client.get("/papers/by-eye").status_code == 409
    answer = phone.send("/papers/by-eye", page.typed(title="Pearl", soft_seconds="80", hard_seconds="60"))
    assert answer.status_code == 409
    assert not desk.papers().kept()


@pytest.mark.usefixtures("by_real_time")
def test_on_the_real_darkroom(tmp_path: Path) -> None:
    """The real darkroom keeps what the eye read as a paper of its shelf."""
    with bench(tmp_path) as evening:
        evening.do(acts.PaperAway())
        client = shelf_app(evening.desk).test_client()
        code = evening.desk.pairing().new_code()
        assert client.post("/pair", data={"code": code}, headers={"Origin": ORIGIN}).status_code == 303
        answer = client.get("/papers/by-eye", query_string={"go": "1", **PICKED})
        assert answer.status_code == 200, Page(answer.text).words
        fields = dict(Page(answer.text).typed(title="Pearl", soft_seconds="80", hard_seconds="60"))
        answer = client.post("/papers/by-eye", data=fields, headers={"Origin": ORIGIN})
        assert answer.status_code == 303, Page(answer.text).told()
        assert [kept.title for kept in evening.desk.papers().kept()] == ["Pearl"]
