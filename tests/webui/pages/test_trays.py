"""Trays and baths: what each bath has had, a fresh one by a tap, and the figures of a process."""

from __future__ import annotations

import pytest
from tools.phone import Paired, words_of
from tools.stand_in_desk import StandInDesk

from controller.errors import StoreTrouble
from controller.store.tray_rows import BathMade, TrayEntered
from controller.trays.ledger import BathRules
from controller.trays.process import USUAL
from webui.forms.trays import PROCESS_FIELDS, RULE_FIELDS, typed_process, typed_rules


def had(desk: StandInDesk, tray: str, prints: int, **more: object) -> None:
    """Lay so many prints into a tray."""
    for number in range(prints):
        desk.journal.append(TrayEntered(sheet=f"t{number}", number=number, tray=tray, at_ns=1, **more))  # type: ignore[arg-type]


def made(desk: StandInDesk) -> list[BathMade]:
    """Return the baths that were noted."""
    return [row.entry for row in desk.journal.rows(kinds=("bath",)) if isinstance(row.entry, BathMade)]


@pytest.mark.parametrize("address", ["/trays", "/trays/process/RC", "/trays/baths"])
def test_the_pages_are_for_the_day_face(desk: StandInDesk, phone: Paired, address: str) -> None:
    """With paper out, they say how the day face can be had."""
    assert phone.look(address).status_code == 409
    desk.say_day()
    assert phone.look(address).status_code == 200


def test_each_tray_of_the_processes_has_its_bath(desk: StandInDesk, phone: Paired) -> None:
    """With a stroke a print, what it may still have of each support, and why it is to be poured away."""
    desk.say_day()
    desk.journal.append(BathMade(tray="developer", bath="a", litres=1.0, use_by="2020-01-01"))
    had(desk, "developer", 12)
    had(desk, "fix", 81, support="RC")
    page = phone.look("/trays")
    words = words_of(page)
    assert "12 prints · 76 more of 8×10 RC · 38 more of 8×10 FB · use by 2020-01-01" in words
    assert "Past its date. Pour it away, and make a fresh bath." in words
    assert "Used up. Pour it away, and make a fresh bath." in words
    for tray in ("stop bath", "first fix", "second fix", "wash aid"):
        assert f"{tray} Nothing in it yet." in words
    assert page.text.count("<path") >= 12 + 81


def test_a_fresh_bath_is_one_tap(desk: StandInDesk, phone: Paired) -> None:
    """As much as before; or with other litres and a date of its own."""
    desk.say_day()
    desk.journal.append(BathMade(tray="developer", bath="a", litres=1.5))
    assert phone.send("/trays/fresh", {"tray": "developer"}).status_code == 303
    assert phone.send("/trays/fresh", {"tray": "stop", "litres": "0,8", "use-by": "2027-03-31"}).status_code == 303
    _, developer, stop = made(desk)
    assert (developer.tray, developer.litres, developer.use_by) == ("developer", 1.5, "")
    assert (stop.tray, stop.litres, stop.use_by) == ("stop", 0.8, "2027-03-31")
    assert developer.bath != stop.bath


def test_two_fixes_take_turns_by_a_tap(desk: StandInDesk, phone: Paired) -> None:
    """First both are fresh; then the second moves up; both can be made fresh at any time."""
    desk.say_day()
    phone.send("/trays/fresh", {"tray": "fix 1"})
    first, second = made(desk)
    assert "Second fix moved up, a fresh second" in words_of(phone.look("/trays"))
    phone.send("/trays/fresh", {"tray": "fix 1"})
    up, fresh = made(desk)[2:]
    assert (up.tray, up.bath, up.moved_up, up.changes) == ("fix 1", second.bath, True, 1)
    assert (fresh.tray, fresh.changes) == ("fix 2", 1)
    phone.send("/trays/fresh", {"tray": "fix 1", "do": "both"})
    assert [(row.tray, row.changes) for row in made(desk)[4:]] == [("fix 1", 0), ("fix 2", 0)]
    assert first.bath not in {row.bath for row in made(desk)[1:]}


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"tray": "fix", "litres": "much"}, "“much” is no number of litres from 0.1 to 100"),
        ({"tray": "fix", "litres": "0"}, "“0” is no number of litres"),
        ({"tray": "fix", "use-by": "31.3.27"}, "“31.3.27” is no date"),
    ],
)
def test_what_is_no_litres_or_no_date_is_told(
    desk: StandInDesk, phone: Paired, fields: dict[str, str], told: str
) -> None:
    """Beside its tray, and nothing is noted."""
    desk.say_day()
    answer = phone.send("/trays/fresh", fields)
    assert told in words_of(answer)
    assert made(desk) == []
    assert phone.send("/trays/fresh", {"tray": "the bath tub"}).status_code == 404


def test_a_process_is_changed_figure_by_figure(desk: StandInDesk, phone: Paired) -> None:
    """What is kept is what was typed; the usual figures can be had again; the other support's stay."""
    desk.say_day()
    typed = typed_process(USUAL["FB"]) | {"factor": "15", "developer-seconds": "135", "notes": "1 + 9"}
    assert phone.send("/trays/process/FB/keep", typed).status_code == 303
    kept = desk.trays().processes()
    assert (kept["FB"].factor, kept["FB"].developer_seconds, kept["FB"].notes) == (15.0, 135.0, "1 + 9")
    assert kept["RC"] == USUAL["RC"]
    assert 'value="135"' in phone.look("/trays/process/FB").text
    assert 'value="150"' in phone.look("/trays/process/FB?usual=1").text
    assert phone.look("/trays/process/PE").status_code == 404


def test_the_process_says_its_way_and_when_white_light_may_be_had(desk: StandInDesk, phone: Paired) -> None:
    """160 s after the close for RC and 265 s for FB by the usual figures; twice the fix at 10 °C."""
    desk.say_day()
    assert "White light 160 s after the close." in words_of(phone.look("/trays/process/RC"))
    words = words_of(phone.look("/trays/process/FB"))
    assert "White light 265 s after the close." in words
    assert "10 °C 360 s 1200 s" in words


@pytest.mark.parametrize(
    ("field", "text", "told"),
    [
        ("developer-seconds", "long", "“in the developer”"),
        ("developer-seconds", "5", "10 to 900"),
        ("celsius", "9", "10 to 35"),
        ("least-fix-seconds", "500", "180 s"),
        ("fix-seconds", "", "“in the fix, or first fix”"),
    ],
)
def test_a_figure_that_cannot_be_stands_as_it_was_typed(
    desk: StandInDesk, phone: Paired, field: str, text: str, told: str
) -> None:
    """With what is wrong beside it, and nothing is kept."""
    desk.say_day()
    answer = phone.send("/trays/process/FB/keep", typed_process(USUAL["FB"]) | {field: text})
    page = answer
    assert told in words_of(page)
    assert f'name="{field}" value="{text}"' in page.text
    assert desk.trays().processes() == USUAL


def test_how_long_baths_last_is_changed_too(desk: StandInDesk, phone: Paired) -> None:
    """What is left empty is not counted; what cannot be is told, and nothing is kept."""
    desk.say_day()
    typed = typed_rules(BathRules())
    assert phone.send("/trays/baths/keep", typed | {"fix-rc": "", "two-fixes-days": "7"}).status_code == 303
    kept = desk.trays().rules()
    assert (kept.fix.rc, kept.fix.fb, kept.two_fixes.days, kept.changes) == (0.0, 40.0, 7, 4)
    answer = phone.send("/trays/baths/keep", typed | {"fix-litres": ""})
    assert "“One fix, in the tray”" in words_of(answer)
    assert desk.trays().rules() == kept
    assert 'value="80"' in phone.look("/trays/baths?usual=1").text


def test_every_figure_of_the_models_has_a_field() -> None:
    """None is left out of a form, or it could not be changed."""
    assert {name.replace("-", "_") for name in PROCESS_FIELDS} | {"support"} == set(type(USUAL["RC"]).model_fields)
    baths = {name.rpartition("-")[0] for name in RULE_FIELDS if name.endswith(("litres", "-rc", "-fb", "days"))}
    assert {name.replace("-", "_") for name in {*baths, "changes", "fix-without-aid"}} == set(BathRules.model_fields)


def test_a_toning_is_told_on_the_sheets_page(desk: StandInDesk, phone: Paired) -> None:
    """With what it did; it can be said otherwise, and taken back."""
    desk.say_day()
    desk.work(desk.crane, "s1")
    fields = {"toner": "selenium", "dilution": "1 + 9", "minutes": "4", "did": "deeper"}
    assert phone.send("/sheets/s1/toned/keep", fields).location == "/sheets/s1"
    assert "Toned: selenium, 1 + 9, 4 min: deeper" in words_of(phone.look("/sheets/s1"))
    assert 'value="1 + 9"' in phone.look("/sheets/s1/toned?number=1").text
    phone.send("/sheets/s1/toned/keep", fields | {"minutes": "8", "number": "1"})
    assert "Toned: selenium, 1 + 9, 8 min: deeper" in words_of(phone.look("/sheets/s1"))
    phone.send("/sheets/s1/toned/keep", {"number": "1", "do": "take back"})
    assert "Toned" not in words_of(phone.look("/sheets/s1"))


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"toner": ""}, "Write which toner it was"),
        ({"toner": "gold", "minutes": "long"}, "“long” is no number of minutes"),
        ({"toner": "gold", "number": "3"}, "Nothing like that was said"),
    ],
)
def test_a_toning_that_cannot_be_is_told(desk: StandInDesk, phone: Paired, fields: dict[str, str], told: str) -> None:
    """And nothing is noted, nothing typed lost."""
    desk.say_day()
    desk.work(desk.crane, "s1")
    answer = phone.send("/sheets/s1/toned/keep", fields | {"did": "warmer"})
    assert told in words_of(answer)
    assert "warmer" in answer.text
    assert desk.record("s1").toned == ()
    assert phone.look("/sheets/nowhere/toned").status_code == 404


def test_the_first_page_says_by_day_what_is_to_be_poured_away(desk: StandInDesk, phone: Paired) -> None:
    """With a way to the trays; never beside paper, and nothing while all will do."""
    desk.say_day()
    had(desk, "fix", 79, support="RC")
    assert "Pour away" not in words_of(phone.look("/"))
    had(desk, "fix", 1, support="RC")
    page = phone.look("/")
    assert "Pour away, and make fresh: fix, used up" in words_of(page)
    assert page.text.count('href="/trays"') == 1
    desk.show(day_until_ns=None)
    assert "Pour away" not in words_of(phone.look("/"))


def test_the_first_page_is_there_whatever_becomes_of_the_count(
    desk: StandInDesk, phone: Paired, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Baths that cannot be looked up keep nobody from printing; their own page says why."""

    def away() -> None:
        raise StoreTrouble("The journal cannot be read.")

    desk.say_day()
    monkeypatch.setattr(desk.trays(), "in_trays", away)
    assert phone.look("/").status_code == 200
    assert phone.look("/trays").status_code == 503
