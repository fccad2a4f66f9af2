"""The pages of contact sheets, pressed by a thumb without scripts: a film in one act, pencils, a photograph."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from tools.negatives import fill, photograph, tree
from tools.shelf_phone import ORIGIN, Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.backup.export import export
from controller.backup.import_ import import_
from controller.negatives.layouts import LAYOUTS
from controller.negatives.sets import CORNERS, LOOKS, MARKS, NegativeSet, read_negatives
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.shelf import Shelf
from controller.words import say
from hardware.clock import ManualClock
from webui.forms.negatives import in_short
from webui.pages import negatives as pages
from webui.pages.negatives import PENCILS

LONGEST_PAGE = 60_000
"""Bytes of a page as it stands, before it is compressed."""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    with day_desk() as made:
        made.keep_pictures_in(tmp_path / "pictures")
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def make(phone: Phone, **typed: str) -> str:
    """Make a contact sheet by its form; return its address."""
    answer = phone.send("/negatives/new", phone.look("/negatives/new").typed(**typed))
    assert answer.status_code == 303, Page(answer.text).told()
    return answer.headers["Location"]


def kept(desk: StandInDesk, address: str) -> NegativeSet:
    return desk.negatives().fetch(address.removeprefix("/negatives/")).negatives


def bring(phone: Phone, address: str, content: bytes, name: str = "proof.jpg") -> Any:
    page = phone.look(address)
    fields: dict[str, Any] = dict(page.typed())
    fields["file"] = (io.BytesIO(content), name)
    fields["set"] = address.removeprefix("/negatives/")
    return phone.client.post("/negatives/proof", data=fields, headers={"Origin": ORIGIN}, buffered=True)


# ---- one act


def test_a_film_is_two_taps_and_nothing_typed(phone: Phone, desk: StandInDesk) -> None:
    """“Make a contact sheet” and “make it”: a whole film is kept, of today, as its format usually lies."""
    page = phone.look("/negatives")
    assert "/negatives/new" in page.links
    made = kept(desk, make(phone))
    assert made.date == date.today()  # noqa: DTZ011 - as the page has it
    assert (made.frame_format, made.rows, made.columns) == ("24x36", 6, 6)
    assert [one.frame for one in made.frames] == [str(number) for number in range(1, 37)]


def test_the_next_film_is_proposed_as_the_last(phone: Phone, desk: StandInDesk) -> None:
    """What was typed once for a film is there for the next one: film, format, lay-out and development."""
    typed = {"film": "slow film", "development": "1+1, 9 min", "name": "roll 7"}
    make(phone, **typed, format="6x6", lie="grid", rows="3", columns="4", first="0", count="12")
    again = kept(desk, make(phone))
    assert again.set == "roll 8"
    assert (again.film, again.development, again.frame_format) == ("slow film", "1+1, 9 min", "6x6")
    assert (again.rows, again.columns) == (3, 4)
    assert [one.frame for one in again.frames] == [str(number) for number in range(12)]


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda one: one.format)
def test_each_format_is_one_tap(phone: Phone, desk: StandInDesk, layout: Any) -> None:
    """The usual rows and columns of a format come with its tap."""
    made = kept(desk, make(phone, format=layout.format))
    assert (made.rows, made.columns, len(made.frames)) == (layout.rows, layout.columns, layout.frames)


def test_frames_may_be_listed(phone: Phone, desk: StandInDesk) -> None:
    """A list makes just these frames, in a format of one's own, without rows."""
    made = kept(desk, make(phone, format="own", format_own="6 × 12", lie="list", list="1 to 3, 5A"))
    assert made.frame_format == "6x12"
    assert [one.frame for one in made.frames] == ["1", "2", "3", "5A"]
    assert made.rows is None


@pytest.mark.parametrize(
    ("typed", "at", "words"),
    [
        ({"name": ""}, "name", "missing"),
        ({"name": "n" * 201}, "name", "1 to 200 characters"),
        ({"day": ""}, "day", "missing"),
        ({"day": "2026-02-31"}, "day", "must be a day"),
        ({"day": "yesterday"}, "day", "such as 2026-11-30"),
        ({"film": "f" * 201}, "film", "1 to 200"),
        ({"film": "a\nb"}, "film", "on one line"),
        ({"format": "own", "format_own": "f" * 21, "lie": "list", "list": "1"}, "format-own", "20"),
        ({"format": "own"}, "lie", "say how many rows"),
        ({"format": "7x7"}, "lie", "say how many rows"),
        ({"lie": "grid"}, "rows", "whole number from 1 to 20"),
        ({"lie": "grid", "rows": "3"}, "columns", "whole number"),
        ({"lie": "grid", "rows": "0", "columns": "3"}, "rows", "whole number"),
        ({"lie": "grid", "rows": "2.5", "columns": "3"}, "rows", "whole number"),
        ({"lie": "grid", "rows": "21", "columns": "3"}, "rows", "whole number"),
        ({"lie": "grid", "rows": "20", "columns": "20"}, "rows", "more than 80 frames"),
        ({"lie": "grid", "rows": "2", "columns": "2", "count": "5"}, "count", "from 1 to 4"),
        ({"lie": "grid", "rows": "2", "columns": "2", "count": "many"}, "count", "whole number"),
        ({"lie": "grid", "rows": "2", "columns": "2", "first": "A"}, "first", "film’s edge"),
        ({"lie": "list"}, "list", "No frame is listed"),
        ({"lie": "list", "list": "1 to 200"}, "list", "no span"),
        ({"lie": "list", "list": "4 to 2"}, "list", "no span"),
        ({"lie": "list", "list": "1, 1"}, "list", "such a frame already"),
        ({"lie": "list", "list": "1:2"}, "list", "as on the film’s edge"),
        ({"lie": "list", "list": "1 2 3", "rows": "1", "columns": "2"}, "rows", "only 2 places"),
        ({"lie": "list", "list": "1", "rows": "2"}, "columns", "both rows and columns"),
        ({"lie": "list", "list": "1", "rows": "x", "columns": "2"}, "rows", "number"),
        ({"development": "d" * 201}, "development", "1 to 200"),
        ({"notes": "n" * 4001}, "notes", "4000"),
    ],
)
def test_what_is_wrong_is_said_at_its_field(
    phone: Phone, desk: StandInDesk, typed: dict[str, str], at: str, words: str
) -> None:
    """A refusal stands beside the field it belongs to, all that was typed stays, and nothing is kept."""
    fields = phone.look("/negatives/new").typed(**typed)
    answer = phone.send("/negatives/new", fields)
    assert answer.status_code == 422
    page = Page(answer.text)
    (place, said), *more = page.told().items()
    assert (place, more) == (at, []), page.told()
    assert words in said
    assert said.endswith(".")
    for name, value in typed.items():
        if name not in ("format", "lie"):
            assert (name.replace("_", "-"), value.replace("\n", " ")) in [
                (field, text.replace("\n", " ")) for field, text in page.fields
            ]
    assert not desk.kept_things.holds("negatives")


def test_corrections_keep_the_marks(phone: Phone, desk: StandInDesk) -> None:
    """The form of a contact sheet shows all of it; corrected, its frames keep what was said of them."""
    address = make(phone, format="6x6", film="slow film")
    phone.send(f"{address}/mark", phone.look(f"{address}?pencil=mark+print").typed(), frame="3")
    page = phone.look(f"{address}/edit")
    assert ("list", "1 to 12") in page.fields
    answer = phone.send(f"{address}/edit", page.typed(name="roll 1", list="00, 1 to 12", rows="", columns=""))
    assert answer.headers["Location"] == address
    made = kept(desk, address)
    assert (made.set, len(made.frames), made.frame("3").mark, made.film) == ("roll 1", 13, "print", "slow film")
    assert phone.send(f"{address}/edit", page.typed(list="", rows="", columns="")).status_code == 422


def test_spans_are_written_in_short() -> None:
    """Frames that follow one another stand as a span, and a list reads back as the frames that it was made of."""
    assert in_short([str(number) for number in range(1, 37)]) == "1 to 36"
    assert in_short(["00", "0", "1", "2", "5A", "7", "8"]) == "00 to 2, 5A, 7 to 8"


# ---- the contact sheet


def test_a_tap_with_a_pencil_marks(phone: Phone, desk: StandInDesk) -> None:
    """Each pencil does with one tap what it says, and comes back to the contact sheet with the pencil still in hand."""
    address = make(phone, format="6x6")
    for pencil in PENCILS:
        page = phone.look(f"{address}?pencil={pencil.replace(' ', '+').replace('/', '%2F')}")
        assert [button["value"] for button in page.buttons if button.get("name") == "frame"] == [
            str(number) for number in range(1, 13)
        ]
        answer = phone.send(f"{address}/mark", page.typed(), frame="7")
        assert answer.status_code == 303
        assert answer.headers["Location"].startswith(f"{address}?pencil=")
        assert phone.client.get(answer.headers["Location"]).status_code == 200
        one = kept(desk, address).frame("7")
        kind, _, value = pencil.partition(" ")
        assert value in ((one.mark, one.look) if value else ("",))
        assert kind in ("mark", "look") or (one.mark, one.look) == (None, None)


def test_without_a_pencil_a_tap_opens(phone: Phone) -> None:
    """A frame leads to its own page, and says all that stands on it to ears as well."""
    address = make(phone, format="6x6")
    phone.send(f"{address}/frame/2", phone.look(f"{address}/frame/2").typed(title="quay at dawn"))
    phone.send(f"{address}/mark", phone.look(f"{address}?pencil=look+1%2F3").typed(), frame="2")
    phone.send(f"{address}/mark", phone.look(f"{address}?pencil=mark+no").typed(), frame="2")
    page = phone.look(address)
    assert [f"{address}/frame/{number}" in page.links for number in (1, 12, 13)] == [True, True, False]
    (second,) = re.findall(rf'<a class="at" id="f-2" href="{address}/frame/2">(.*?)</a>', page.text, re.DOTALL)
    assert Page(second).words.split() == ["frame", "2", "+1/3", "no", "quay", "at", "dawn"]
    assert phone.look(f"{address}?pencil=nonsense").buttons == page.buttons


@pytest.mark.parametrize("typed", [{"pencil": "x"}, {"pencil": "mark yes"}, {"pencil": "look 5"}, {"frame": "99"}, {}])
def test_no_other_pencil_does_anything(phone: Phone, desk: StandInDesk, typed: dict[str, str]) -> None:
    """Another pencil, mark, look or frame is refused in a sentence and changes nothing."""
    address = make(phone, format="6x6")
    page = phone.look(f"{address}?pencil=mark+print")
    fields = [(name, typed.get(name, value)) for name, value in page.typed()]
    answer = phone.send(f"{address}/mark", fields, **({"frame": typed.get("frame", "1")} if typed else {}))
    assert answer.status_code in (404, 422)
    assert desk.negatives().fetch(address.removeprefix("/negatives/")).version == 1


def test_put_away_and_out_again(phone: Phone) -> None:
    """A contact sheet that is put away is off the list and comes back by one tap."""
    address = make(phone, name="roll 3")
    token = phone.look(f"{address}/edit").typed()[:3]
    answer = phone.send(f"{address}/away", token)
    page = phone.look(answer.headers["Location"])
    assert address not in page.links
    assert f"{address}/out" in page.actions
    assert address in phone.look("/negatives?away=1").links
    assert phone.send(f"{address}/out", token).headers["Location"] == address
    assert address in phone.look("/negatives").links


# ---- the photograph


def test_frames_are_cut_out_of_the_photograph_and_tapped_on_it(phone: Phone, desk: StandInDesk) -> None:
    """A photograph that is brought stands on its own page, cut by rows and columns, each part a way to its frame."""
    address = make(phone, format="6x6")
    answer = bring(phone, address, photograph())
    assert answer.headers["Location"] == f"{address}/proof", Page(answer.text).told()
    page = phone.look(f"{address}/proof")
    assert [link for link in page.links if "/frame/" in link] == [
        f"{address}/frame/{number}" for number in range(1, 13)
    ]
    assert page.text.count("<polygon") == 12
    sheet = phone.client.get(address)
    assert sheet.text.count('class="cut"') == 12
    assert sheet.text.count("<image") == 1, "the photograph is fetched once"
    assert "img-src 'self'" in sheet.headers["Content-Security-Policy"]
    (source,) = set(re.findall(r"/photographs/[0-9a-f]{64}\.jpg", sheet.text))
    picture = phone.client.get(source)
    assert (picture.mimetype, Image.open(io.BytesIO(picture.data)).size) == ("image/jpeg", (1200, 900))
    assert "immutable" in picture.headers["Cache-Control"]
    assert [row.kind for row in (one.entry for one in desk.journal.rows())] == ["photographed"]
    assert 'class="cut"' in phone.look(f"{address}/frame/5").text


def test_corners_are_tapped_one_after_the_other(phone: Phone, desk: StandInDesk) -> None:
    """Four taps set four corners where the photograph was touched; a tap that folds the field is refused beside it."""
    address = make(phone, format="6x6")
    bring(phone, address, photograph())
    where = f"{address}/proof?corner={CORNERS[0]}"
    for x, y in ((28, 21), (251, 21), (251, 188), (28, 188)):
        page = phone.look(where)
        assert 'width="280" height="210"' in page.text
        answer = phone.send(f"{address}/corner", page.typed(), **{"at.x": str(x), "at.y": str(y)})
        assert answer.status_code == 303
        where = answer.headers["Location"]
    assert where == f"{address}/proof"
    proof = kept(desk, address).proof
    assert proof is not None
    assert proof.corners is not None
    assert [tuple(map(float, one)) for one in proof.corners] == pytest.approx(
        [pytest.approx(one, abs=0.004) for one in ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))]
    )
    page = phone.look(f"{address}/proof?corner=top-left")
    folded = phone.send(f"{address}/corner", page.typed(), **{"at.x": "279", "at.y": "209"})
    assert folded.status_code == 422
    assert "go round as a clock does" in Page(folded.text).told()["corner"]
    whole = phone.send(f"{address}/corner", phone.look(f"{address}/proof").typed(corner="none"))
    assert whole.status_code == 303
    assert kept(desk, address).proof == proof.model_copy(update={"corners": None})


def test_a_dragged_corner_is_answered_in_short(phone: Phone, desk: StandInDesk) -> None:
    """A script hears that a corner is kept, to a fraction of a pixel, or why not; what is no place changes nothing."""
    address = make(phone, format="6x6")
    bring(phone, address, photograph())
    page = phone.look(f"{address}/proof?corner=top-left")
    said = {"Origin": ORIGIN, "Accept": "application/json"}

    def drag(x: str, y: str) -> Any:
        fields = dict(page.typed()) | {"at.x": x, "at.y": y}
        return phone.client.post(f"{address}/corner", data=fields, headers=said)

    assert drag("27.75", "20.5").get_json() == {"done": True}
    proof = kept(desk, address).proof
    assert proof is not None
    assert proof.corners is not None
    assert tuple(map(float, proof.corners[0])) == pytest.approx((28.25 / 280, 0.1), abs=1e-4)
    folded = drag("279", "209")
    assert (folded.status_code, folded.get_json()["refusal"]) == (422, say("negatives.corner-folds"))
    for x, y in (("nan", "3"), ("inf", "3"), ("", "3"), ("a", "b")):
        drag(x, y)
    assert kept(desk, address).proof == proof


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "No photograph was chosen"),
        (b"no picture at all", "no picture that can be read"),
        (photograph(80, 60), "too small"),
    ],
)
def test_what_is_no_photograph_is_said_beside_it(phone: Phone, desk: StandInDesk, content: bytes, words: str) -> None:
    """A refusal stands at the field of the file; nothing is kept, and the contact sheet is as it was."""
    address = make(phone, format="6x6")
    answer = bring(phone, address, content, "odd.jpg")
    assert answer.status_code == 422
    assert words in Page(answer.text).told()["file"]
    assert kept(desk, address).proof is None
    assert desk.negatives().fetch(address.removeprefix("/negatives/")).version == 1


def test_a_photograph_that_is_gone_is_said(phone: Phone, desk: StandInDesk) -> None:
    """Without its file a contact sheet shows its numbers, says what is missing, and takes another photograph."""
    address = make(phone, format="6x6")
    bring(phone, address, photograph())
    proof = kept(desk, address).proof
    assert proof is not None
    desk.photographs()._pictures.drop(proof.photograph)
    for page in (phone.look(address), phone.look(f"{address}/proof")):
        assert say("store.picture-gone") in page.words
        assert "/negatives/proof" in page.actions
    assert phone.client.get(f"/photographs/{proof.photograph}.jpg").status_code == 404
    assert phone.client.get("/photographs/x.jpg").status_code == 404
    assert bring(phone, address, photograph()).status_code == 303


# ---- one negative


def test_a_negatives_own_page(phone: Phone, desk: StandInDesk) -> None:
    """Title and notes are kept, marks and looks are a tap each and come back here, the neighbours are a tap away."""
    address = make(phone, format="6x6")
    own = f"{address}/frame/2"
    answer = phone.send(own, phone.look(own).typed(title="quay at dawn", notes="Gulls.\nWants a soft sky."))
    assert answer.headers["Location"] == own
    for pencil in (*(f"mark {mark}" for mark in MARKS), *(f"look {look}" for look in LOOKS)):
        page = phone.look(own)
        answer = phone.send(f"{address}/mark", page.typed()[:4], pencil=pencil, frame="2", back="negative")
        assert answer.headers["Location"] == own
    one = kept(desk, address).frame("2")
    assert (one.title, one.notes, one.mark, one.look) == ("quay at dawn", "Gulls.\nWants a soft sky.", "no", "1")
    page = phone.look(own)
    assert {f"{address}/frame/1", f"{address}/frame/3"} <= set(page.links)
    assert [button["value"] for button in page.buttons if "aria-pressed" in button] == ["mark no", "look 1"]
    assert say("negatives.life-none") in page.words
    phone.look(f"{address}/frame/99", 404)


@pytest.mark.parametrize(
    ("typed", "at"),
    [({"title": "t" * 201}, "title"), ({"title": "a\u202eb"}, "title"), ({"notes": "n" * 4001}, "notes")],
)
def test_a_title_that_cannot_be_is_said_beside_it(phone: Phone, typed: dict[str, str], at: str) -> None:
    """What is wrong with title or notes stands at its field, and what was typed stays."""
    address = make(phone, format="6x6")
    own = f"{address}/frame/2"
    answer = phone.send(own, phone.look(own).typed(**typed))
    assert answer.status_code == 422
    ((place, said),) = Page(answer.text).told().items()
    assert (place, f"“{at}”" in said) == (at, True), said
    assert set(typed.items()) <= set(Page(answer.text).fields)


def test_its_life_leads_to_recipes(phone: Phone, desk: StandInDesk) -> None:
    """A recipe that names the negative is a tap away from it."""
    address = make(phone, format="6x6")
    own = f"{address}/frame/2"
    phone.send(own, phone.look(own).typed(title="harbour crane"))
    assert f"/shelf/{desk.crane.id}" in phone.look(own).links


# ---- lists, and how much there may be


def test_a_search_finds_films_and_negatives(phone: Phone) -> None:
    """One search looks through films, frames, titles and notes; what is not there is said."""
    address = make(phone, name="roll 5", film="kitchen film", format="6x6")
    phone.send(f"{address}/frame/4", phone.look(f"{address}/frame/4").typed(title="ferry at noon"))
    assert address in phone.look("/negatives?q=kitchen").links
    found = phone.look("/negatives?q=ferry")
    assert f"{address}/frame/4" in found.links
    assert "roll 5 · frame 4<" in found.text
    assert say("page.find-none") in phone.look("/negatives?q=nowhere").words


def test_every_page_is_short_however_much_there_is(phone: Phone, desk: StandInDesk) -> None:
    """With 800 negatives, and 80 frames on one sheet with a photograph, no page is longer than 60 kB."""
    assert fill(desk.kept_things, 72) >= 790
    frames = [
        {"frame": str(number), "title": f"{'titles ' * 30}{number}"[-200:].strip(), "mark": "print", "look": "1/3"}
        for number in range(80)
    ]
    large = desk.negatives().make(tree(900, frames=frames, rows=8, columns=10))
    bring(phone, f"/negatives/{large.id}", photograph(rows=8, columns=10))
    here = f"/negatives/{large.id}"
    first = phone.look("/negatives")
    following = [link for link in first.links if "below=" in link]
    assert len(following) == 1
    addresses = (
        *("/negatives", "/negatives?q=quay", "/negatives?q=film", following[0], "/negatives/new", here),
        *(f"{here}?pencil=mark+print", f"{here}/frame/7", f"{here}/edit", f"{here}/proof"),
        f"{here}/proof?corner=top-left",
    )
    long = {address: len(phone.look(address).text.encode()) for address in addresses}
    assert max(long.values()) <= LONGEST_PAGE, long


def test_each_page_asks_as_little_for_much_as_for_little(phone: Phone, desk: StandInDesk) -> None:
    """A list's page is answered by as many questions to the shelf for 400 films as for 40."""
    asked: list[str] = []
    fill(desk.kept_things, 40)
    phone.look("/negatives")
    desk.kept_things._connection.set_trace_callback(asked.append)
    counts = []
    for more in (0, 360):
        fill(desk.kept_things, more)
        while desk.negatives().page().behind:
            pass
        asked.clear()
        phone.look("/negatives")
        counts.append(len(asked))
    desk.kept_things._connection.set_trace_callback(None)
    assert counts[0] == counts[1], counts


def test_an_import_on_an_empty_folder_gives_the_same_pages(phone: Phone, desk: StandInDesk, tmp_path: Path) -> None:
    """What was exported and imported elsewhere shows the same pages, photographs as well."""
    here = DataFolder(tmp_path / "here")
    with Shelf.open(here.shelf) as shelf, Journal.open(here.journal, ManualClock(), Stamp("boot", "0", 1)):
        address = make(phone, name="roll 5", format="6x6", film="kitchen film")
        bring(phone, address, photograph())
        phone.send(f"{address}/frame/4", phone.look(f"{address}/frame/4").typed(title="ferry at noon"))
        shelf.take_in(*desk.kept_things.everything())
    (tmp_path / "pictures").rename(here.pictures)
    there = DataFolder(tmp_path / "there")
    import_(export(here, tmp_path / "out"), there)

    def bare(page: Page) -> str:
        return re.sub(r'value="[^"]*"|data-run="\w+"|data-number="\d+"|data-drafts-done="[^"]*"', "", page.text)

    desk.keep_pictures_in(here.pictures)
    with day_desk() as other, Shelf.open(there.shelf) as shelf:
        other.kept_things.take_in(*shelf.everything())
        other.keep_pictures_in(there.pictures)
        phone_there = Phone(other)
        for place in ("/negatives", address, f"{address}/frame/4", f"{address}/proof", "/negatives?q=ferry"):
            assert bare(phone_there.look(place)) == bare(phone.look(place)), place
        (source,) = set(re.findall(r"/photographs/[0-9a-f]{64}\.jpg", phone.look(address).text))
        assert phone_there.client.get(source).data == phone.client.get(source).data != b""


def test_an_older_version_says_so(phone: Phone) -> None:
    """A contact sheet as it stood before leads to how it stands now."""
    address = make(phone, format="6x6")
    phone.send(f"{address}/mark", phone.look(f"{address}?pencil=mark+no").typed(), frame="1")
    assert address in phone.look(f"{address}?version=1").links
    assert say("negatives.older", latest=2) in phone.look(f"{address}?version=1").words
    phone.look(f"{address}?version=9", 404)


def test_a_file_brought_by_itself_leads_to_its_page(desk: StandInDesk) -> None:
    """Among what came in, a set of negatives has a page that is there."""
    from webui.pages.your_data import PAGE_OF

    assert PAGE_OF["negatives"] == "/negatives/"
    assert pages.blueprint.name == "negatives"
    made = desk.negatives().make(tree())
    assert read_negatives(made.body, "x").set == "film 12"
