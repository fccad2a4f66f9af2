"""Lists stay short however much is kept: by pages, by searches, and by as many questions as for little."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.history import plan, strip, whole_sheet
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import CRANE, HARD_STRIP, StandInDesk, day_desk

from controller.foot.acts import Load
from controller.store.entries import Entry
from controller.store.said_of_sheets import Picked, Remark
from controller.words import say

HOUR_NS = 3_600_000_000_000
LONGEST_PAGE = 40_000
"""Bytes of a list's page as it stands, before it is compressed."""


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    """A desk by day."""
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    """A paired phone."""
    return Phone(desk)


def fill(desk: StandInDesk, recipes: int, first: int = 0) -> None:
    """Keep so many recipes, a strip to every third of them, and put away one in ten."""
    shelf, away = desk.kept_things, []
    with shelf.together():
        for number in range(first, first + recipes):
            title = f"Pier {number:05d}"
            body = CRANE.replace("Harbour crane, 8x10", title).replace("harbour crane", f"roll {number // 36:03d}")
            kept = shelf.save("recipe", title, body)
            if number % 3 == 0:
                strip_title = f"Strip {number:05d}"
                shelf.save("strip", strip_title, HARD_STRIP.replace("Hard strip over the soft base", strip_title))
            if number % 10 == 9:
                away.append(kept.id)
    for each in away:
        shelf.put_away(each)
    follow(desk)


def work(desk: StandInDesk, sheets: int, evening: int = 12, first: int = 1) -> None:
    """File so many sheets, some of them strips with a pick, `evening` a session."""
    journal = desk.read_journal()
    entries: list[Entry] = []

    def file() -> None:
        journal.append(*entries)
        entries.clear()
        journal._clock.set(journal._clock.now_ns() + 5 * HOUR_NS)  # type: ignore[attr-defined]

    for number in range(first, first + sheets):
        if number % evening == 1 or evening == 1:
            file()
        sheet, of = f"sheet{number}", f"Pier {number:05d}"
        planned = strip("gone") if number % 4 == 0 else plan(source="gone")
        entries += whole_sheet(sheet, number, planned.model_copy(update={"title": of}))
        if number % 4 == 0:
            entries.append(Picked(sheet=sheet, band=2, filter="soft", seconds=6.0))
    file()
    follow(desk)


def follow(desk: StandInDesk) -> None:
    """Let everything be followed that was kept."""
    while not desk.lookups.follow():
        pass


def titles(page: Page, start: str = "/shelf/") -> list[str]:
    """Return the addresses of the things on a list, in their order."""
    return [link for link in page.links if re.fullmatch(f"{start}(?!new)[0-9a-z]+", link)]


def walk(phone: Phone, address: str, start: str = "/shelf/", more: str = "more") -> list[list[str]]:
    """Return what stands on each page of a list, from the first to that which has no more, by its own links."""
    pages = []
    while address:
        page = phone.look(address)
        pages.append(titles(page, start))
        words = {"more": "page.find-more", "older": "page.older"}[more]
        found = re.search(rf'href="([^"]+)"[^>]*rel="next">{re.escape(say(words))}<', page.text)
        address = found[1].replace("&amp;", "&") if found else ""
        assert len(pages) < 200
    return pages


# ---- every thing once, in order


@settings(max_examples=6, deadline=None)
@given(recipes=st.integers(0, 70), words=st.sampled_from(["", "pier", "roll 001", "pier 0000"]), away=st.booleans())
def test_paging_shows_each_thing_once_newest_first(recipes: int, words: str, away: bool) -> None:
    """By "more" and nothing else each recipe that fits is shown just once, the last saved first, twenty a page."""
    with day_desk() as desk:
        desk.lay()
        fill(desk, recipes)
        if recipes > 3:  # an edit makes an old one the newest
            old = desk.kept_things.latest("recipe")[-1]
            desk.kept_things.save("recipe", old.title, old.body + " ", old.id)
        follow(desk)
        asked = f"/shelf?kind=recipe&q={words.replace(' ', '+')}" + ("&away=1" if away else "")
        pages = walk(Phone(desk), asked)
        fits = [
            f"/shelf/{kept.id}"
            for kept in desk.kept_things.latest("recipe", away=away)
            if all(word in f"{kept.title} {kept.body}".lower() for word in words.split())
        ]
        assert [link for page in pages for link in page if link != "/shelf/crane"] == [
            link for link in fits if link != "/shelf/crane"
        ]
        assert all(len(page) == 20 for page in pages[:-1])


@pytest.mark.parametrize("words", ["", "pier"])
def test_what_is_saved_meanwhile_shifts_no_page(phone: Phone, desk: StandInDesk, words: str) -> None:
    """A recipe that is saved between two pages makes the second neither repeat nor leave out one."""
    fill(desk, 50)
    follow(desk)
    before = [link for page in walk(phone, f"/shelf?q={words}") for link in page]
    first = phone.look(f"/shelf?q={words}")
    fill(desk, 5, first=900)
    more = next(link for link in first.links if "below=" in link)
    rest = [link for page in walk(phone, more) for link in page]
    assert titles(first) + rest == before


@settings(max_examples=5, deadline=None)
@given(sheets=st.integers(0, 220), evening=st.sampled_from([1, 3, 12, 45, 150]))
def test_every_sheet_is_reached_by_older_and_back_by_newer(sheets: int, evening: int) -> None:
    """By "older" each sheet is shown just once down to the first, and by "newer" there is a way back to the newest."""
    with day_desk() as desk:
        desk.read_journal()
        work(desk, sheets, evening)
        phone = Phone(desk)
        pages = walk(phone, "/sheets", "/sheets/", more="older")
        seen = [int(link.removeprefix("/sheets/sheet")) for page in pages for link in page]
        assert sorted(seen) == list(range(1, sheets + 1))
        assert [max(map(int, re.findall(r"sheet(\d+)", " ".join(page)))) for page in pages if page] == sorted(
            (max(map(int, re.findall(r"sheet(\d+)", " ".join(page)))) for page in pages if page), reverse=True
        )
        assert all(len(page) <= 100 for page in pages)
        address = f"/sheets?above={2 * 1}"
        for _ in range(len(pages) + 2):
            page = phone.look(address)
            found = re.search(r'href="(/sheets\?above=\d+)"', page.text)
            if not found:
                break
            address = found[1]
        assert titles(page, "/sheets/") == pages[0]


# ---- searches


def test_recipes_are_found_by_title_negative_and_paper(phone: Phone, desk: StandInDesk) -> None:
    """The shelf is searched by beginnings of words of title, negative and paper; what fits none is said."""
    fill(desk, 80)
    for words, count in (("00017", 1), ("roll 001", 20), ("paper one pier 0004", 9), ("PIER", 20)):
        assert len(titles(phone.look(f"/shelf?q={words.replace(' ', '+')}"))) == count
    page = phone.look("/shelf?q=nothing+like+it")
    assert not titles(page)
    assert say("page.find-none") in page.words


def test_sheets_are_found_by_number_title_negative_and_remark(phone: Phone, desk: StandInDesk) -> None:
    """An old sheet is found by its own number first, by its title, its recipe's negative, and what was remarked."""
    journal = desk.read_journal()
    work(desk, 60)
    of_the_crane = plan(source=desk.crane.id, version=1)
    journal.append(*whole_sheet("sheet70", 70, of_the_crane), Remark(sheet="sheet3", text="a little too dark"))
    for words, found in (("7", "sheet7"), ("%23+7", "sheet7"), ("pier+00031", "sheet31"), ("too+dark", "sheet3")):
        assert titles(phone.look(f"/sheets?q={words}"), "/sheets/")[:1] == [f"/sheets/{found}"]
    assert titles(phone.look("/sheets?q=harbour+crane"), "/sheets/") == ["/sheets/sheet70"]
    assert titles(phone.look("/sheets?q=paper+one"), "/sheets/") == ["/sheets/sheet70"]
    pages = walk(phone, "/sheets?q=pier", "/sheets/")
    assert [link for page in pages for link in page] == [f"/sheets/sheet{number}" for number in range(60, 0, -1)]


def test_a_search_says_while_it_cannot_see_all(
    phone: Phone, desk: StandInDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While what is looked through is behind the shelf, a search says so, and the list is whole without it."""
    fill(desk, 30)
    monkeypatch.setattr(desk.lookups, "follow", lambda *_: False)
    assert say("page.find-behind") in phone.look("/shelf?q=pier").words
    pages = walk(phone, "/shelf")
    assert [link for page in pages for link in page] == [
        f"/shelf/{kept.id}" for kept in desk.kept_things.latest("recipe")
    ]


def test_a_search_never_sees_the_dark(phone: Phone, desk: StandInDesk) -> None:
    """The list that is chosen from has ten in all and no field by night; by day a search finds any."""
    fill(desk, 60)
    by_day = phone.look("/choose?q=00003")
    assert (
        next(value for name, value in by_day.fields if name == "source")
        == desk.find().things("recipe", "00003").things[0].id
    )
    assert 'type="search"' in by_day.text
    desk.show(day_until_ns=None)
    by_night = phone.look("/choose?q=00003")
    assert by_night.actions.count("/act/load") == 10
    assert 'type="search"' not in by_night.text


def test_the_dark_list_has_the_last_used_first(phone: Phone, desk: StandInDesk) -> None:
    """What was used lately stands before what is newer, and a strip is always among the ten."""
    fill(desk, 40)
    used = desk.kept_things.latest("recipe")[30]
    desk.recipes().used(used.id)
    words = phone.look("/choose").words
    assert words.index(used.title) < words.index("Pier 00038")
    assert "Strip 00039" in words


def test_an_older_recipe_can_take_a_pick(phone: Phone, desk: StandInDesk) -> None:
    """A pick may go into any recipe: those at hand are offered, any other is found without losing the band."""
    fill(desk, 60)
    desk.work(desk.strip, "print")
    page = phone.look("/pick/print?band=4&between=0")
    old = desk.find().things("recipe", "00003").things[0]
    assert f'value="{old.id}"' not in page.text
    hidden = re.search(r'<form class="find[^>]*action="/pick/print#meaning"[^>]*>(.*?)<label>', page.text, re.DOTALL)
    assert hidden
    asked = "&".join(f"{name}={value}" for name, value in re.findall(r'name="(\w+)" value="(\w+)"', hidden[1]))
    found = phone.look(f"/pick/print?{asked}&q=00003")
    assert f'value="{old.id}"' in found.text
    assert dict(found.fields)["band"] == "4"


# ---- print this again


def test_a_record_prints_again_the_very_version(phone: Phone, desk: StandInDesk) -> None:
    """The record's one big button loads the version its sheet was made by, though newer ones are kept."""
    record = desk.work(desk.crane, "print")
    desk.kept_things.save("recipe", desk.crane.title, desk.crane.body + " ", desk.crane.id)
    page = phone.look(f"/sheets/{record.id}")
    assert f"/shelf/{desk.crane.id}?version=1" in page.links
    assert say("page.again-recipe") in page.words
    fields = [pair for pair in page.fields if pair[0] in ("token", "number", "source", "version")]
    assert phone.send("/act/load", fields).status_code == 303
    act, _ = desk.acts[-1]
    assert act == Load(source=desk.crane.id, version=1)
    assert say("page.again-recipe") not in phone.look(f"/sheets/{record.id}").words, "it is what the next sheet gets"


def test_a_record_without_its_recipe_offers_nothing(phone: Phone, desk: StandInDesk) -> None:
    """A sheet whose recipe is not on this shelf, or while nothing may be loaded, has no such button."""
    record = desk.work(desk.crane, "print")
    desk.records["print"] = record.model_copy(update={"plan": record.plan.model_copy(update={"source": "elsewhere"})})
    page = phone.look("/sheets/print")
    assert "/act/load" not in page.actions
    assert not any(link.startswith("/shelf/elsewhere") for link in page.links)
    desk.records["print"] = record
    desk.show(can=("stop",))
    assert "/act/load" not in phone.look("/sheets/print").actions


# ---- as many questions, as many bytes


@contextmanager
def counted(desk: StandInDesk) -> Iterator[list[str]]:
    """Note every statement that the stores are asked meanwhile."""
    asked: list[str] = []
    connections: list[sqlite3.Connection] = [
        desk.kept_things._connection,
        desk.journal._connection,
        desk.lookups._connection,
    ]
    for each in connections:  # an index of words asks tables of its own, which begins with a comment's mark
        each.set_trace_callback(lambda sql: None if sql.startswith("--") else asked.append(sql))
    yield asked
    for each in connections:
        each.set_trace_callback(None)


PAGES = [
    "/",
    "/now",
    "/choose",
    "/choose?q=pier",
    "/shelf",
    "/shelf?kind=strip",
    "/shelf?q=pier",
    "/shelf?away=1",
    "/sheets",
    "/sheets?q=pier",
    "/sheets?q=12",
    "/pick/strip?band=4",
    "/pick/strip?band=4&q=pier",
    "/contrast",
    "/papers",
    "/settings",
]


@pytest.mark.parametrize("address", PAGES)
def test_as_many_questions_for_much_as_for_little(phone: Phone, desk: StandInDesk, address: str) -> None:
    """A page asks its stores as often with 330 recipes and 330 sheets as with 30: nothing is asked thing by thing."""
    desk.work(desk.strip, "strip")
    records = desk.records["strip"]
    archive = desk._archive
    counts = []
    for recipes in (30, 300):
        fill(desk, recipes, first=1000 * len(counts))
        work(desk, recipes, first=1000 * len(counts) + 1)
        if address.startswith("/pick"):
            desk._archive, desk.records["strip"] = archive, records
        phone.look(address)
        with counted(desk) as asked:
            phone.look(address)
        counts.append(len(asked))
    assert counts[0] == counts[1] < 30


def test_pages_of_two_thousand_recipes_are_small(phone: Phone, desk: StandInDesk) -> None:
    """With 2,000 recipes of long names and 300 sheets no page of a list has more than 40 kB as it stands."""
    fill(desk, 2000)
    work(desk, 300, evening=60)
    follow(desk)
    desk.show(plan=None)
    for address in ("/", "/choose", "/shelf", "/shelf?kind=strip", "/shelf?q=pier", "/shelf?away=1", "/sheets"):
        assert len(phone.look(address).text.encode()) < LONGEST_PAGE, address
    assert len(phone.look("/contrast").text.encode()) < LONGEST_PAGE
    assert len(phone.look("/wall").text.encode()) < 60_000
