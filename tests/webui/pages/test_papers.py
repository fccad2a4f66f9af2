"""The pages of papers, pressed by a thumb without scripts: a table, a file, a paper's page, another box."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tools.hidden_papers import exposure, paper_one, readings
from tools.shelf_phone import ORIGIN, Page, Pairs, Phone
from tools.stand_in_desk import StandInDesk, day_desk
from werkzeug.datastructures import MultiDict

from controller.backup.export import export
from controller.backup.import_ import import_
from controller.paper.filter_readings import read_filter_csv
from controller.paper.paper import Box, Paper
from controller.paper.readings import Exposure, Reading, read_csv
from controller.paper.written import Written, written_of
from controller.store.folder import DataFolder
from controller.store.shelf import Shelf
from webui.forms.form import Typed
from webui.forms.paper_table import read_table_form, table_form_of

EXAMPLE = Path(__file__).resolve().parents[2] / "paper" / "paper-one.tablet.csv"


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def table(page: Page, exposures: tuple[Exposure, ...] = readings(paper_one()).exposures, **more: str) -> Pairs:
    """Type prints into a table's columns, one after another."""
    typed = dict(page.typed(**more))
    for at, each in enumerate(exposures):
        typed[f"column-{at}-seconds"] = f"{each.soft_seconds or each.hard_seconds:g}"
        for reading in each.readings:
            typed[f"column-{at}-cell-{reading.step}"] = f"{reading.print_density:.2f}"
    return list(typed.items())


def keep(phone: Phone, **more: str) -> str:
    """Keep the demo paper by its table; return its id."""
    answer = phone.send("/papers/new", table(phone.look("/papers/new"), paper="Quay RC", **more), do="keep")
    assert answer.status_code == 303, Page(answer.text).words
    found = re.fullmatch(r"/papers/(\w+)\?said=kept", answer.headers["Location"])
    assert found is not None
    return found[1]


def upload(phone: Phone, content: bytes, name: str = "tablet.csv") -> Page:
    fields = dict(phone.look("/papers").typed())
    data = {**fields, "file": (io.BytesIO(content), name)}
    answer = phone.client.post("/papers/csv", data=data, headers={"Origin": ORIGIN})
    assert answer.status_code in (200, 422), answer.status_code
    return Page(answer.text)


def csv_of(exposures: tuple[Exposure, ...], paper: str = "from a file") -> bytes:
    lines = ["paper,soft_seconds,hard_seconds,step,tablet_density,print_density"]
    for each in exposures:
        for r in each.readings:
            seconds = f"{each.soft_seconds:g},{each.hard_seconds:g}"
            lines.append(f"{paper},{seconds},{r.step},{r.tablet_density},{r.print_density}")
    return "\n".join(lines).encode()


# ---- the table


def test_a_table_becomes_a_paper_with_its_ranges(phone: Phone, desk: StandInDesk) -> None:
    """Typed readings of the demo paper are kept as a paper whose page gives R 141 soft and 61 hard, one tap deeper.

    The true figures, 140.6 and 61.1, are closed forms of the demo paper (derived).
    """
    source = keep(phone, box="blue dot", magnification="2", aperture="8")
    page = phone.client.get(f"/papers/{source}").text
    first, _, deeper = page.partition("<details")
    assert "As near as an eye can tell." in first
    assert "exactly 141" in deeper
    assert "exactly 61" in deeper
    assert " R " not in Page(first).words
    kept = desk.papers().fetch(source)
    assert kept.name == "Quay RC"
    assert kept.box.label == "blue dot"
    assert (kept.setup.magnification, kept.setup.aperture) == (2.0, 8.0)
    assert kept.readings is not None
    assert len(kept.readings.exposures) == 2
    assert source in [each.id for each in desk.papers().kept()]
    assert "Quay RC" in phone.look("/papers").words


def test_looking_keeps_nothing(phone: Phone, desk: StandInDesk) -> None:
    """“Look at it first” shows sentence and curves, and keeps nothing; what was typed still stands."""
    page = phone.look("/papers/new")
    answer = phone.send("/papers/new", table(page, paper="Quay RC"), do="look")
    assert answer.status_code == 200
    assert answer.text.count("<svg") == 1
    assert "Nothing is saved until" in Page(answer.text).words
    assert ("column-0-cell-7", "1.65") in Page(answer.text).fields
    assert not desk.papers().kept()


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("column-0-cell-7", "grey", "Step 7: “grey” is no print density"),
        ("column-1-cell-3", "9", "Step 3: “9” is no print density"),
        ("column-0-seconds", "", "“” is no time here"),
        ("column-0-seconds", "nan", "“nan” is no time here"),
        ("paper", "", "A paper needs a name"),
        ("dated", "yesterday", "“yesterday” is no date"),
        ("aperture", "-8", "“-8” is out of range"),
        ("tablet", "17", "Choose one of the tablets."),
        ("tablet", "own", "A tablet has 2 to"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(
    phone: Phone, desk: StandInDesk, name: str, value: str, words: str
) -> None:
    """Each mistake is named beside its own field, everything typed still stands, and nothing is kept."""
    typed = dict(table(phone.look("/papers/new"), paper="Quay RC"))
    typed[name] = value
    answer = phone.send("/papers/new", typed.items(), do="keep")
    assert answer.status_code == 422
    page = Page(answer.text)
    assert words in page.told()["tablet-own" if value == "own" else name]
    assert ("column-0-cell-9", typed["column-0-cell-9"]) in page.fields
    assert not desk.papers().kept()


def test_readings_out_of_order_are_named_step_by_step(phone: Phone) -> None:
    """A step that reads darker than the one before it is named, and its cell is marked."""
    typed = dict(table(phone.look("/papers/new"), paper="Quay RC"))
    typed["column-0-cell-9"] = "0.60"
    answer = phone.send("/papers/new", typed.items(), do="look")
    assert "step 9" in Page(answer.text).words.lower()
    assert re.search(r'name="column-0-cell-9"[^>]*aria-invalid', answer.text)


def test_an_empty_table_says_what_to_do(phone: Phone) -> None:
    """With nothing read there is one sentence, and no server error."""
    page = phone.press("/papers/new", phone.look("/papers/new"), "keep", status=422, paper="Quay RC")
    assert "Nothing has been read yet" in page.told()["column-0-seconds"]


def test_columns_come_and_go(phone: Phone) -> None:
    """Buttons add a print through soft, hard, both or a filter, and take one out; what is typed stays."""
    page = phone.press("/papers/new", phone.look("/papers/new"), "add filter", paper="Quay RC")
    assert ("column-3-light", "filter") in page.fields
    page = phone.press("/papers/new", page, "drop column 0")
    lights = [value for name, value in page.fields if name.endswith("-light")]
    assert lights == ["hard", "both", "filter"]
    assert ("paper", "Quay RC") in page.fields


def test_mended_readings_become_the_next_version(phone: Phone, desk: StandInDesk) -> None:
    """A kept paper's table shows what was typed; keeping it again with a print more makes version 2."""
    source = keep(phone)
    page = phone.look(f"/papers/{source}/readings")
    assert ("column-1-cell-8", "0.54") in page.fields
    page = phone.press(f"/papers/{source}/readings", page, "add both")
    mixed = exposure(paper_one(), 40.4, 32.0)
    typed = dict(page.typed())
    typed |= {"column-2-seconds": "40.4", "column-2-more": "32"}
    typed |= {f"column-2-cell-{r.step}": f"{r.print_density}" for r in mixed.readings}
    answer = phone.send(f"/papers/{source}/readings", typed.items(), do="keep")
    assert answer.status_code == 303, Page(answer.text).words
    kept = desk.papers().fetch(source)
    assert kept.version == 2
    assert kept.readings is not None
    assert len(kept.readings.exposures) == 3
    assert "2 versions" in phone.look(f"/papers/{source}").words
    assert "exactly 110" in phone.look(f"/papers/{source}").words
    assert "exactly 110" not in phone.look(f"/papers/{source}?version=1").words


def test_single_filters_are_read_in_the_same_table(phone: Phone, desk: StandInDesk) -> None:
    """Prints through single filters are kept beside soft and hard, under their names."""
    page = phone.press("/papers/new", phone.look("/papers/new"), "add filter", paper="Quay RC")
    typed = dict(table(page))
    typed |= {"column-3-seconds": "60", "column-3-filter": "2"}
    typed |= {f"column-3-cell-{r.step}": f"{r.print_density}" for r in exposure(paper_one(), 30.0, 24.0).readings}
    answer = phone.send("/papers/new", typed.items(), do="keep")
    assert answer.status_code == 303, Page(answer.text).words
    kept = desk.papers().fetch(desk.papers().kept()[0].id)
    assert [each.filter for each in kept.filters] == ["2"]


def test_speed_is_absolute_where_the_light_is_known(phone: Phone, desk: StandInDesk) -> None:
    """P = 1000/H_m, lux·seconds at 0.60 over white (from memory): with so many lux it stands one tap deeper."""
    source = keep(phone)
    look = desk.papers().look(source)
    page = phone.client.get(f"/papers/{source}?lux=2,5").text
    for each in look.prints:
        assert f"<td>{1000 / (2.5 * each.speed_seconds):.0f}</td>" in page
    for nothing in ("", "bright", "-1", "1e9"):
        assert "<th>P</th>" not in phone.client.get(f"/papers/{source}?lux={nothing}").text


# ---- a file


def test_a_file_fills_the_table_and_is_kept_from_there(phone: Phone, desk: StandInDesk) -> None:
    """A CSV file is shown as the table with its curves; nothing is kept until “Keep” is pressed."""
    page = upload(phone, csv_of(readings(paper_one()).exposures))
    assert ("column-0-cell-7", "1.65") in page.fields
    assert not desk.papers().kept()
    answer = phone.send("/papers/new", page.typed(), do="keep")
    assert answer.status_code == 303
    assert desk.papers().kept()[0].title == "from a file"


def test_a_file_of_single_filters_fills_the_table_too(phone: Phone, desk: StandInDesk) -> None:
    """A CSV file with filter and seconds instead of soft and hard is a column for each filter, and is kept so."""
    lines = ["paper,filter,seconds,step,tablet_density,print_density"]
    for name, soft, hard in (("2", 30.0, 24.0), ("4", 6.0, 50.0)):
        rows = exposure(paper_one(), soft, hard).readings
        lines += [f"filters,{name},40,{r.step},{r.tablet_density},{r.print_density}" for r in rows]
    page = upload(phone, "\n".join(lines).encode())
    assert ("column-1-filter", "4") in page.fields
    assert phone.send("/papers/new", page.typed(), do="keep").status_code == 303
    kept = desk.papers().fetch(desk.papers().kept()[0].id)
    assert [each.filter for each in kept.filters] == ["2", "4"]


def test_readings_are_taken_out_as_they_are_taken_in(phone: Phone, desk: StandInDesk) -> None:
    """The paper's page leads to its readings as files, each of which reads back to the very readings that are kept."""
    page = phone.look("/papers/new")
    prints = readings(paper_one()).exposures
    page = Page(phone.send("/papers/new", table(page, prints, paper="Quay, “RC”"), do="add filter").text)
    typed = dict(page.typed()) | {"column-3-seconds": "40.5", "column-3-filter": "2"}
    typed |= {f"column-3-cell-{r.step}": f"{r.print_density:.2f}" for r in exposure(paper_one(), 30.0, 24.0).readings}
    assert phone.send("/papers/new", list(typed.items()), do="keep").status_code == 303
    (latest,) = desk.papers().kept()
    kept, links = desk.papers().fetch(latest.id), phone.look(f"/papers/{latest.id}").links
    files = [phone.client.get(link) for link in links if ".csv" in link]
    assert [each.status_code for each in files] == [200, 200]
    assert all(each.mimetype == "text/csv" for each in files)
    assert files[0].headers["Content-Disposition"] == 'attachment; filename="Quay_RC-readings.csv"'
    (again,) = read_csv(files[0].data, "readings.csv")
    assert kept.readings is not None
    assert again == kept.readings
    assert read_filter_csv(files[1].data, "filters.csv").exposures == kept.filters
    back = upload(phone, files[0].data)
    assert ("paper", "Quay, “RC”") in back.fields
    assert phone.client.get(f"/papers/{latest.id}/nothing.csv").status_code == 404


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "has no readings"),
        (b"\xff\xfe\x00", "text"),
        (b"paper;soft\n", "comma"),
        (b"paper,soft_seconds,hard_seconds,step,tablet_density,print_density\nx,1,0,1,0.05,grey\n", "grey"),
        (csv_of(readings(paper_one()).exposures) + b"\nother,80,0,1,0.05,2.1\nother,80,0,2,0.2,2.1", "other"),
    ],
)
def test_a_file_that_is_none_is_one_sentence(phone: Phone, desk: StandInDesk, content: bytes, words: str) -> None:
    """What is no file of readings, or of two papers, is refused in a sentence that names the file."""
    page = upload(phone, content)
    assert words in page.words
    assert not desk.papers().kept()


def test_no_file_is_said(phone: Phone) -> None:
    """Pressing the button without a file says so."""
    answer = phone.client.post("/papers/csv", data=dict(phone.look("/papers").typed()), headers={"Origin": ORIGIN})
    assert answer.status_code == 422
    assert "No file was chosen" in answer.text


# ---- another box, putting away, the dark


def test_another_box_moves_the_speed_and_nothing_else(phone: Phone, desk: StandInDesk) -> None:
    """A pick of 12 s where 10 s were expected makes a slower version 2: by log2(10/12) stops, R as before."""
    source = keep(phone)
    page = phone.look(f"/papers/{source}/box")
    answer = phone.send(f"/papers/{source}/box", page.typed(box="red dot", expected="10", picked="12"), do="keep")
    assert answer.status_code == 303, Page(answer.text).words
    kept = desk.papers().fetch(source)
    assert kept.version == 2
    assert kept.box.label == "red dot"
    assert kept.speeds[-1].soft_stops == pytest.approx(-0.2630, abs=1e-4)
    assert "red dot" in phone.look(f"/papers/{source}").words


def test_another_box_by_one_print_of_the_tablet(phone: Phone, desk: StandInDesk) -> None:
    """One print with both lights, on a box a third of a stop faster, gives that third within a twentieth."""
    source = keep(phone)
    factor = 2.0 ** (1 / 3)
    # what a faster box prints is what the old one prints with more light
    check = exposure(paper_one(), 10.1 * factor, 8.0 * factor)
    typed = dict(phone.look(f"/papers/{source}/box").typed(box="green dot"))
    typed |= {"column-0-seconds": "10.1", "column-0-more": "8"}
    typed |= {f"column-0-cell-{r.step}": f"{r.print_density}" for r in check.readings}
    answer = phone.send(f"/papers/{source}/box", typed.items(), do="keep")
    assert answer.status_code == 303, Page(answer.text).words
    assert desk.papers().fetch(source).speeds[-1].soft_stops == pytest.approx(1 / 3, abs=0.05)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ({}, "expected"),
        ({"expected": "10"}, "picked"),
        ({"expected": "ten", "picked": "12"}, "expected"),
        ({"expected": "10", "picked": "12", "dated": ""}, "dated"),
    ],
)
def test_a_box_that_says_nothing_is_refused_at_its_field(
    phone: Phone, desk: StandInDesk, typed: dict[str, str], name: str
) -> None:
    """Half a pick, or none, is refused beside its field; the paper stays as it is."""
    source = keep(phone)
    page = phone.press(f"/papers/{source}/box", phone.look(f"/papers/{source}/box"), "keep", status=422, **typed)
    assert page.told()[name]
    assert desk.papers().fetch(source).version == 1


def test_a_pick_too_far_off_is_refused(phone: Phone, desk: StandInDesk) -> None:
    """More than six stops is no box: refused in a sentence, nothing kept."""
    source = keep(phone)
    page = phone.press(
        f"/papers/{source}/box",
        phone.look(f"/papers/{source}/box"),
        "keep",
        status=422,
        expected="1",
        picked="100",
    )
    assert "6" in page.words
    assert desk.papers().fetch(source).version == 1


def test_a_paper_is_put_away_and_still_there(phone: Phone, desk: StandInDesk) -> None:
    """A paper that was put away is off the list; its page and versions stay."""
    source = keep(phone)
    page = phone.look(f"/papers/{source}")
    assert phone.send(f"/papers/{source}/away", page.typed()).status_code == 303
    assert not desk.papers().kept()
    assert "Quay RC" in phone.look(f"/papers/{source}").words


def test_an_unknown_paper_is_404(phone: Phone) -> None:
    """A paper that is not there is a sentence with 404, on every page of it."""
    for page in ("", "/readings", "/box"):
        phone.look(f"/papers/nothing{page}", 404)


def test_the_dark_face_shows_none_of_it(desk: StandInDesk, phone: Phone) -> None:
    """Without the day face no page of papers is shown, no picture above all; what is being kept is kept."""
    source = keep(phone)
    typed = table(phone.look("/papers/new"), paper="Kept in the dark")
    desk.show(day_until_ns=None)
    for page in (
        "/papers",
        "/papers/new",
        f"/papers/{source}",
        f"/papers/{source}/box",
        f"/papers/{source}/readings.csv",
    ):
        answer = phone.client.get(page)
        assert answer.mimetype == "text/html"
        assert "<svg" not in answer.text
        assert "column-0" not in answer.text
    answer = phone.send("/papers/new", typed, do="keep")
    assert answer.status_code == 200
    assert "<svg" not in answer.text
    assert any(each.title == "Kept in the dark" for each in desk.papers().kept())


# ---- forms and files go round


densities = st.integers(-5, 300).map(lambda hundredths: hundredths / 100)


@st.composite
def written_papers(draw: st.DrawFn) -> Written:
    lights = draw(
        st.lists(
            st.tuples(st.sampled_from(["soft", "hard", "both"]), st.integers(1, 3000), st.integers(1, 3000)),
            min_size=1,
            max_size=4,
            unique=True,
        )
    )
    exposures = []
    for light, one, other in lights:
        steps = draw(st.sets(st.integers(1, 21), min_size=2))
        rows = tuple(
            Reading(step=step, tablet_density=round(0.05 + 0.15 * (step - 1), 6), print_density=draw(densities))
            for step in sorted(steps)
        )
        soft, hard = {"soft": (one, 0), "hard": (0, one), "both": (one, other)}[light]
        exposures.append(Exposure(soft_seconds=soft / 10, hard_seconds=hard / 10, readings=rows))
    lit = {(each.soft_seconds, each.hard_seconds): each for each in exposures}
    dated = draw(st.dates(date(2000, 1, 1), date(2100, 1, 1)))
    return Written(paper="round", box=Box(dated=dated), exposures=tuple(lit.values()))


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(written_papers())
def test_what_is_kept_is_what_the_form_shows(written: Written) -> None:
    """Readings → table → typed text → readings is the identity."""
    form = table_form_of(written)
    assert form is not None
    typed: Typed = MultiDict({"paper": form.paper, "dated": form.dated, "tablet": form.tablet})
    typed["tablet-own"] = form.tablet_own
    for at, column in enumerate(form.columns):
        for name in ("light", "seconds", "more", "filter", "how", "noises"):
            typed[f"column-{at}-{name}"] = getattr(column, name)
        for step, text in column.cells:
            typed[f"column-{at}-cell-{step}"] = text
    again, wrong = read_table_form(typed).written()
    assert wrong == {}
    assert again == written


def test_papers_go_out_and_come_in(phone: Phone, desk: StandInDesk, tmp_path: Path) -> None:
    """A paper kept by its page is in an export as a file of its own, and an import brings it back as it was."""
    source = keep(phone, box="blue dot")
    kept: Paper = desk.papers().fetch(source)
    data, other = DataFolder(tmp_path / "one"), DataFolder(tmp_path / "two")
    with Shelf.open(data.shelf) as shelf:
        shelf.save("paper", kept.name, desk.papers().get(source).body)
    folder = export(data, tmp_path / "out")
    import_(folder, other)
    with Shelf.open(other.shelf) as shelf:
        bodies = [each.body for each in shelf.latest("paper")]
    assert len(bodies) == 1
    assert written_of(kept) is not None
    assert '"blue dot"' in bodies[0]
