"""From the table of readings to a scan and back, with plain forms: whatever was typed on either page comes along."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tools.hidden_papers import exposure, paper_one, readings
from tools.scans import CORNERS, ScanPhone, of_form, own_list, scanned
from tools.shelf_phone import ORIGIN, Page
from tools.stand_in_desk import StandInDesk

from controller.daemon.scans import KEPT_NS
from controller.paper.readings import MOST_EXPOSURES
from webui.frame.guard import ACTS_WITHIN_NS

HEAD = {
    "paper": "Quay “RC” <b> & 'pearl'",
    "box": "blue dot; 3",
    "dated": "2026-02-28",
    "magnification": "2,5",
    "aperture": "8",
    "head-height": "412",
    "soft-filter": "00 & y",
    "hard-filter": "5",
}
"""All that is typed at the head of the table and of how the enlarger stood."""
SIGNED = {"token", "number", "run", "once"}
"""What each painting of a form makes anew; nobody types it."""
TO_SCAN, BACK, READ, ON = "a print from a scan", "Back to the table", "Read the print", "Right: to the table"
CLOSER = "closer"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    made = StandInDesk()
    made.lay_scans(tmp_path / "scans")
    made.say_day()
    yield made
    made.scans().close()
    made.kept_things.close()


@pytest.fixture
def phone(desk: StandInDesk) -> ScanPhone:
    return ScanPhone(desk)


class Shown:
    """A page as a browser without scripts has it: what each of its buttons would send, and to where."""

    def __init__(self, phone: ScanPhone, answer: Any) -> None:
        self.phone, self.status, self.page = phone, answer.status_code, Page(answer.text)
        self._whole: str = answer.text
        self._forms: list[str] = re.findall(r"<form.*?</form>", answer.text, re.S)

    def fields(self, words: str) -> dict[str, str]:
        """The fields of the form that has this button."""
        return self._fields(self._button(words)[0])

    def press(self, words: str, scan: bytes = b"", **typed: str) -> Shown:
        """Press a button after typing over fields of its form (dashes as underscores)."""
        form, button = self._button(words)
        wanted = {name.replace("_", "-"): text for name, text in typed.items()}
        fields = self._fields(form)
        assert wanted.keys() <= fields.keys(), wanted.keys() - fields.keys()
        sent: dict[str, Any] = fields | wanted
        if button.get("name"):
            sent[button["name"]] = button.get("value", "")
        attributes = _attributes(form.partition(">")[0])
        where = button.get("formaction", attributes["action"]).partition("#")[0]
        if button.get("formenctype", attributes.get("enctype", "")).startswith("multipart"):
            sent["file"] = (io.BytesIO(scan), "scan.png" if scan else "")
        return Shown(self.phone, self.phone.client.post(where, data=sent, headers={"Origin": ORIGIN}))

    def _button(self, words: str) -> tuple[str, dict[str, str]]:
        """The form that a button belongs to, and the button's attributes."""
        found = re.search(rf"<button([^>]*)>{re.escape(words)}</button>", self._whole)
        assert found is not None, f"no button {words!r} on: {self.page.words}"
        button = _attributes(found[1])
        own = f'id="{button["form"]}"' if "form" in button else found[0]
        return next(form for form in self._forms if own in form), button

    @staticmethod
    def _fields(form: str) -> dict[str, str]:
        return of_form(Page(form), first=False)


def _attributes(tag: str) -> dict[str, str]:
    return dict(re.findall(r'([a-z-]+)="([^"]*)"', tag))


def look(phone: ScanPhone, address: str) -> Shown:
    return Shown(phone, phone.client.get(address))


def corners() -> dict[str, str]:
    return {name.replace("-", "_"): at for name, at in CORNERS.items()}


def typed_head() -> dict[str, str]:
    return {name.replace("-", "_"): text for name, text in HEAD.items()}


def hard_typed() -> dict[str, str]:
    """The demo paper's hard print as it is typed into the second column."""
    read = exposure(paper_one(), 0.0, 60.0)
    return {f"column_1_cell_{r.step}": f"{r.print_density:.2f}" for r in read.readings} | {"column_1_seconds": "60"}


def test_to_a_scan_and_back_with_its_print(phone: ScanPhone, desk: StandInDesk) -> None:
    """Name, box, date, set-up and a typed print come back with the scan's print beside them; kept only by “Keep”."""
    page = look(phone, "/papers/new").press(TO_SCAN, **typed_head(), **hard_typed(), column_0_seconds="80")
    assert "One print has been read" in page.page.words
    page = page.press("Bring it in", scan=scanned())
    assert page.fields(READ)["seconds"] == "80"  # what was typed over the soft column, which waits for this print
    page = page.press(READ, **corners()).press(ON)
    fields = page.fields(TO_SCAN)
    assert {name: fields[name] for name in HEAD} == HEAD
    assert [fields[f"column-{at}-how"] for at in range(3)] == ["scan", "densitometer", "densitometer"]
    assert "column-3-light" not in fields
    assert not desk.papers().kept()
    page = page.press("Save this paper")
    assert page.status == 303, page.page.told()
    kept = desk.papers().fetch(desk.papers().kept()[0].id)
    assert (kept.name, kept.box.label, kept.box.dated.isoformat()) == (HEAD["paper"], HEAD["box"], HEAD["dated"])
    assert (kept.setup.magnification, kept.setup.aperture, kept.setup.head_height_mm) == (2.5, 8.0, 412.0)
    assert (kept.setup.soft_filter, kept.setup.hard_filter) == (HEAD["soft-filter"], HEAD["hard-filter"])
    assert kept.readings is not None
    assert sorted((e.soft_seconds, e.hard_seconds, e.how) for e in kept.readings.exposures) == [
        (0.0, 60.0, "densitometer"),
        (80.0, 0.0, "scan"),
    ]


def test_a_kept_papers_readings_go_to_a_scan_and_come_back_as_its_next_version(
    phone: ScanPhone, desk: StandInDesk
) -> None:
    """From a kept paper's readings the way leads back to them, and what is kept then is its version 2."""
    page = look(phone, "/papers/new")
    typed = {f"column_0_cell_{r.step}": f"{r.print_density:.2f}" for r in readings(paper_one()).exposures[0].readings}
    assert page.press("Save this paper", **typed_head(), **typed, **hard_typed(), column_0_seconds="80").status == 303
    (first,) = desk.papers().kept()
    page = look(phone, f"/papers/{first.id}/readings").press(TO_SCAN)
    page = page.press("Bring it in", scan=scanned((40.4, 32.0)))
    page = page.press(READ, **corners(), light="both", seconds="40.4", more="32").press(ON)
    assert page.press("Save this paper").status == 303
    (kept,) = desk.papers().kept()
    assert (kept.id, kept.version) == (first.id, 2)
    paper = desk.papers().fetch(kept.id)
    assert paper.readings is not None
    assert [each.how for each in paper.readings.exposures] == ["densitometer", "densitometer", "scan"]
    assert (paper.box.label, paper.setup.aperture) == (HEAD["box"], 8.0)


def test_half_a_scan_waits_while_the_table_is_gone_back_to(phone: ScanPhone) -> None:
    """Back at the table without reading, and to the scan again: all that was typed and set of the scan still stands."""
    page = look(phone, "/papers/new").press(TO_SCAN, **typed_head()).press("Bring it in", scan=scanned())
    half = corners() | {
        "scale": "own",
        "scale_own": "0.05 <1> “x”\n0.3",
        "light": "both",
        "seconds": "4",
        "more": "3,5",
    }
    half |= {"left_out": ["3", "17"], "print_last": "", "filter": "2"}
    before = page.press(CLOSER, **half)
    table = before.press(BACK)
    assert {name: table.fields(TO_SCAN)[name] for name in HEAD} == HEAD
    again = table.press("a print with both", paper="Other name").press(TO_SCAN)
    fields, earlier = again.fields(READ), before.fields(READ)
    for name, text in half.items():
        assert fields[name.replace("_", "-")] == text
    assert fields["scan"] == earlier["scan"]
    assert fields["paper"] == "Other name"
    assert "column-3-light" in fields


def test_only_what_is_one_prints_own_goes_with_it(phone: ScanPhone) -> None:
    """Once a print is in the table, the next begins at the same scan and grey scale, without the first one's place."""
    page = look(phone, "/papers/new").press(TO_SCAN, column_0_seconds="80", column_1_seconds="60")
    page = page.press("Bring it in", scan=scanned()).press(READ, **corners(), left_out=["3"]).press(ON)
    fields = page.press(TO_SCAN).fields(READ)
    assert fields["scale-first"] == CORNERS["scale-first"]
    assert (fields["print-first"], fields["print-last"]) == ("", "")
    assert (fields["light"], fields["seconds"]) == ("hard", "60")  # the table's next print without readings


def test_a_step_left_out_of_the_list_travels_with_the_list(phone: ScanPhone) -> None:
    """A tablet's list with a step left out goes to the scan and back as it was typed, and no row is made up for it."""
    page = look(phone, "/papers/new").press(TO_SCAN, tablet="own", tablet_own=own_list((5,)))
    page = page.press("Bring it in", scan=scanned(labels=(5,))).press(READ, **corners(), seconds="80").press(ON)
    fields = page.fields(TO_SCAN)
    assert (fields["tablet"], fields["tablet-own"]) == ("own", own_list((5,)))
    assert "column-0-cell-5" not in fields
    assert float(fields["column-0-cell-6"]) == pytest.approx(paper_one().densities(80.0, 0.0, [0.8])[0], abs=0.05)


def test_other_seconds_make_a_column_of_their_own(phone: ScanPhone) -> None:
    """A column that says 75 s does not take a print of 80 s: it stands by, and the print comes after the others."""
    page = look(phone, "/papers/new").press(TO_SCAN, column_0_seconds="75").press("Bring it in", scan=scanned())
    fields = page.press(READ, **corners(), seconds="80").press(ON).fields(TO_SCAN)
    assert [fields[f"column-{at}-seconds"] for at in range(4)] == ["75", "", "", "80"]
    assert [fields[f"column-{at}-light"] for at in range(4)] == ["soft", "hard", "both", "soft"]


def test_a_full_table_refuses_one_print_more(phone: ScanPhone) -> None:
    """With twelve prints in the table a further one is refused in a sentence, and the twelve come back whole."""
    page = look(phone, "/papers/new")
    for _ in range(MOST_EXPOSURES - 3):
        page = page.press("another hard print", tablet="31")
    full = {f"column_{at}_seconds": f"{50 + at}" for at in range(MOST_EXPOSURES)}
    full |= {f"column_{at}_cell_{step}": "1.5" for at in range(MOST_EXPOSURES) for step in range(1, 32)}
    page = page.press(TO_SCAN, **full)
    assert f"{MOST_EXPOSURES} prints have been read" in page.page.words
    page = page.press("Bring it in", scan=scanned())
    assert page.status == 200  # a whole table comes along with a file
    page = page.press(READ, **corners(), seconds="80")
    assert page.status == 422
    assert "The table is full" in page.page.told()[""]
    fields = page.press(BACK).fields(TO_SCAN)
    for name, text in full.items():
        assert fields[name.replace("_", "-")] == text


def test_a_scan_that_is_gone_takes_nothing_with_it(phone: ScanPhone, desk: StandInDesk) -> None:
    """An hour later the scan is gone and said to be; the table, and all that was typed, is not."""
    page = look(phone, "/papers/new").press(TO_SCAN, **typed_head()).press("Bring it in", scan=scanned())
    table = page.press(BACK)
    desk.clock_ns += KEPT_NS
    desk.say_day()
    page = table.press(TO_SCAN, column_2_seconds="7")
    assert page.status == 404
    assert "Bring it in again" in page.page.words
    fields = page.press(BACK).fields(TO_SCAN)
    assert {name: fields[name] for name in HEAD} == HEAD
    assert fields["column-2-seconds"] == "7"


def test_in_the_dark_the_table_is_given_back(phone: ScanPhone, desk: StandInDesk) -> None:
    """Sent to a scan when the day has ended, the table comes back as it was typed, with why, and no scan is shown."""
    page = look(phone, "/papers/new")
    desk.show(day_until_ns=None)
    page = page.press(TO_SCAN, **typed_head(), column_0_cell_4="1.9")
    assert page.status == 409, page.page.told()
    assert page.page.words.count("Readings")
    fields = page.fields(TO_SCAN)
    assert {name: fields[name] for name in HEAD} == HEAD
    assert fields["column-0-cell-4"] == "1.9"
    assert "scan.png" not in page.page.words
    desk.say_day()
    assert page.press(TO_SCAN).status == 200


@pytest.mark.parametrize("source", ["../../act", "//else.where/x", 'x" onclick="y', "a" * 40, "?x"])
def test_no_strange_address_is_gone_back_to(phone: ScanPhone, source: str) -> None:
    """A paper that cannot be one is none: the way back leads to a new table."""
    sent = of_form(look(phone, "/papers/new").page) | {"source": source}
    answer = phone.client.post("/papers/scan", data=sent, headers={"Origin": ORIGIN})
    assert 'formaction="/papers/new"' in answer.text
    assert source not in answer.text


@pytest.mark.parametrize(("name", "text"), [("tablet", "17"), ("mark", "the moon"), ("light", "blue"), ("zoom", "9")])
def test_a_choice_that_is_not_offered_is_no_error(phone: ScanPhone, name: str, text: str) -> None:
    """A choice that no list offers, with a print read already, shows the page all the same, never an error of ours."""
    page = look(phone, "/papers/new").press(TO_SCAN, **hard_typed()).press("Bring it in", scan=scanned())
    page = page.press(READ, **{name: text})
    assert page.status in (200, 422)
    assert page.press(READ, **corners(), seconds="80").status in (200, 422)


typed_words = st.text(st.characters(codec="utf-8", exclude_categories=("C",)), max_size=20).map(str.strip)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_there_and_back_changes_nothing(phone: ScanPhone, data: st.DataObject) -> None:
    """Whatever stands in the table's inputs, to the scan's page and back is the identity on every one of them."""
    phone.desk.clock_ns += ACTS_WITHIN_NS  # or it would be too often
    phone.desk.say_day()
    page = look(phone, "/papers/new")
    start = {name: text for name, text in page.fields(TO_SCAN).items() if name not in SIGNED}
    names = [name for name in start if name not in ("dated", "tablet") and not name.endswith(("-light", "-how"))]
    some = data.draw(st.lists(st.sampled_from(names), max_size=12, unique=True))
    typed = {name.replace("-", "_"): data.draw(typed_words, name) for name in some}
    wanted = start | {name.replace("_", "-"): text for name, text in typed.items()}
    there = page.press(TO_SCAN, **typed)
    back = there.press(BACK).fields(TO_SCAN)
    assert {name: back.get(name) for name in wanted} == wanted
