"""Editions by a thumb: begun from a print, its board, numbers, what is out after a restore, certificates, boxes."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from PIL import Image
from pypdf import PdfReader
from tools.negatives import photograph, tree
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.editions.ledger import KIND, read_edition
from controller.negatives.sets import reference
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.edition_rows import BoxCounted, Numbered
from controller.store.records import SheetRecord
from webui.pictures.certificate import KINDS, SIZES, Facts, laid_out, svg_of, wrapped
from webui.pictures.certificate_pdf import pdf_of
from webui.pictures.drawing import width_of

BENCH = AtEnlarger(paper="p1", paper_title="paper one", support="FB", box="A12", magnification=2.0)


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def work(desk: StandInDesk, sheet: str, *, longer_ms: int = 0, lit: bool = True, **bench: str) -> SheetRecord:
    """Put a closed print of the crane into the records, the one that was closed last."""
    record = desk.work(desk.crane, sheet)
    steps = list(record.steps)
    given = steps[0].given_most_ms + longer_ms if lit else 0
    steps[0] = steps[0].model_copy(update={"given_least_ms": given, "given_most_ms": given})
    plan = record.plan.model_copy(update={"bench": BENCH.model_copy(update=bench)})
    desk.records[sheet] = record.model_copy(update={"steps": tuple(steps), "plan": plan})
    desk.show(closed_sheet=sheet)
    return desk.records[sheet]


def send(phone: Phone, address: str, to: str, **fields: str) -> str:
    """Send one of a page's forms as its button does; return where it leads."""
    page = phone.look(address)
    signed = [pair for pair in page.fields if pair[0] in ("token", "number", "run")][:3]
    answer = phone.send(to, [*signed, *fields.items()])
    assert answer.status_code == 303, Page(answer.text).words
    return str(answer.headers["Location"])


def begin(desk: StandInDesk, phone: Phone, size: str = "5", proofs: str = "1") -> str:
    """Begin an edition from a first print; return its address."""
    if "s1" not in desk.records:
        work(desk, "s1")
    led = send(phone, "/editions/new?sheet=s1", "/editions/new", sheet="s1", size=size, proofs=proofs)
    return led.partition("?")[0]


def rows(desk: StandInDesk) -> list[Numbered]:
    return [row.entry for row in desk.journal.of_editions() if isinstance(row.entry, Numbered)]


def give(phone: Phone, board: str) -> str:
    """Press the black button of the board as it stands."""
    page = phone.look(board)
    names = ("sheet", "outcome", "as", "said")
    return send(phone, board, f"{board}/give", **{name: value for name, value in page.fields if name in names})


# ---- the ledger


def test_a_print_that_is_right_leads_to_its_edition_and_to_a_number(desk: StandInDesk, phone: Phone) -> None:
    """Record → begin → board, the print just closed first; one tap gives 1/5, and the record says so."""
    work(desk, "s1")
    assert "/editions/new?sheet=s1" in phone.look("/sheets/s1").links
    board = begin(desk, phone)
    page = phone.look(board)
    assert "Edition of 5 · 1 proof · version 1" in page.words
    assert "+0 stops off the reference print" in page.words
    assert "Sheet 3 is 1/5" in page.words
    assert give(phone, board) == board
    assert [(row.sheet, row.outcome, row.number, row.spread_stops) for row in rows(desk)] == [("s1", "keep", 1, 0.0)]
    assert "Its edition: 1/5" in phone.look("/sheets/s1").words
    assert f"{board}/print/s1" in phone.look(board).links
    assert board in phone.look("/editions").links
    assert [link for link in phone.look("/sheets").links if link == "/editions"]


def test_the_next_print_is_kept_a_proof_or_rejected(desk: StandInDesk, phone: Phone) -> None:
    """What a print becomes is chosen, and the button says just that; a reject keeps its place among the rejects."""
    board = begin(desk, phone)
    give(phone, board)
    work(desk, "s2")
    page = phone.look(board)
    chosen = [link for link in page.links if link.startswith("?sheet=s2&as=")]
    assert chosen == ["?sheet=s2&as=keep-2", "?sheet=s2&as=proof-1", "?sheet=s2&as=reject-0"]
    assert "Sheet 4 is 2/5" in page.words
    proof = f"{board}{chosen[1]}"
    assert "Sheet 4 is proof I" in phone.look(proof).words
    give_as = {name: value for name, value in phone.look(proof).fields if name in ("sheet", "outcome", "as")}
    send(phone, proof, f"{board}/give", **give_as)
    work(desk, "s3")
    rejected = {"sheet": "s3", "outcome": "reject", "as": "0"}
    assert "Reject sheet 5" in phone.look(f"{board}?sheet=s3&as=reject-0").words
    send(phone, board, f"{board}/give", **rejected)
    assert [(row.outcome, row.number) for row in rows(desk)] == [("keep", 1), ("proof", 1), ("reject", 0)]
    words = phone.look(board).words
    assert "Rejected" in words
    assert "No print stands ready" in words


def test_a_print_that_is_off_is_withheld_until_its_figure_is_said(desk: StandInDesk, phone: Phone) -> None:
    """Over a twelfth of a stop the button has the figure in it, and that tap alone gives the number."""
    board = begin(desk, phone)
    give(phone, board)
    work(desk, "s2", longer_ms=2_000)  # log2(12.1 / 10.1) = 0.261
    page = phone.look(board)
    assert "+0.261 stops off: sheet 4 is 2/5 all the same" in page.words
    assert "so its number is withheld" in page.words
    signed = [pair for pair in page.fields if pair[0] in ("token", "number", "run")][:3]
    refused = phone.send(f"{board}/give", [*signed, ("sheet", "s2"), ("outcome", "keep"), ("as", "2")])
    assert refused.status_code == 422
    assert "withheld" in Page(refused.text).words
    assert len(rows(desk)) == 1
    give(phone, board)
    assert [(row.number, row.spread_stops, row.said) for row in rows(desk)[1:]] == [(2, 0.261, True)]


def test_a_print_that_lacks_a_light_cannot_be_compared(desk: StandInDesk, phone: Phone) -> None:
    """Without light in a step there is no figure; the page says why, and the number is withheld."""
    board = begin(desk, phone)
    work(desk, "s2", lit=False)
    words = phone.look(f"{board}?sheet=s2").words
    assert "a step had no light" in words
    assert "Sheet 4 is 1/5 all the same" in words


def test_what_is_typed_wrong_is_said_beside_its_field(desk: StandInDesk, phone: Phone) -> None:
    """Sizes that are none, and an amount that is none, are refused where they stand; nothing is kept."""
    work(desk, "s1")
    page = phone.look("/editions/new?sheet=s1")
    for size, proofs, at in (("0", "0", "size"), ("x", "0", "size"), ("2.5", "0", "size"), ("5", "99", "proofs")):
        answer = phone.send("/editions/new", page.typed(size=size, proofs=proofs))
        assert answer.status_code == 422
        assert list(Page(answer.text).told()) == [at]
    assert desk.kept_things.latest(KIND) == ()
    board = begin(desk, phone)
    typed = [pair for pair in phone.look(board).fields if pair[0] in ("token", "number", "run")][:3]
    answer = phone.send(f"{board}/more", [*typed, ("toner", "selenium"), ("chemistry", "-1")])
    assert answer.status_code == 422
    assert list(Page(answer.text).told()) == ["chemistry"]
    assert dict(Page(answer.text).fields)["toner"] == "selenium"


def test_a_size_may_be_corrected_until_a_number_is_given(desk: StandInDesk, phone: Phone) -> None:
    """The fold that changes it is there while nothing is given, and no longer."""
    board = begin(desk, phone)
    send(phone, board, f"{board}/terms", size="8", proofs="2")
    assert "Edition of 8 · 2 proofs" in phone.look(board).words
    give(phone, board)
    assert f"{board}/terms" not in phone.look(board).actions
    page = phone.look(board)
    signed = [pair for pair in page.fields if pair[0] in ("token", "number", "run")][:3]
    answer = phone.send(f"{board}/terms", [*signed, ("size", "9"), ("proofs", "2")])
    assert answer.status_code == 422
    assert "stays that size" in Page(answer.text).words


def test_what_is_out_is_asked_before_a_number_where_the_records_are_others(desk: StandInDesk, phone: Phone) -> None:
    """A file that was brought asks which numbers are on prints; none that was said is offered again."""
    board = begin(desk, phone)
    give(phone, board)
    text = desk.editions().written(board.removeprefix("/editions/"))
    kept = desk.kept_things.save(KIND, "from another card", text)
    brought = f"/editions/{kept.id}"
    page = phone.look(brought)
    assert "Which numbers are out?" in page.words
    assert f"{brought}/give" not in page.actions
    signed = [pair for pair in page.fields if pair[0] in ("token", "number", "run")][:3]
    answer = phone.send(f"{brought}/are-out", [*signed, ("keep", "2"), ("keep", "3")])
    assert answer.status_code == 303
    work(desk, "s2")
    words = phone.look(f"{brought}?sheet=s2").words
    assert "Sheet 4 is 4/5" in words
    assert "2/5 is written on it" in words


def test_a_large_edition_has_pages_of_numbers(desk: StandInDesk, phone: Phone) -> None:
    """Of 120 numbers fifty stand on a page, the one with the next number first; the page stays light."""
    board = begin(desk, phone, size="120")
    page = phone.look(board)
    assert "50/120" in page.words
    assert "51/120" not in page.words
    assert "?from=51" in page.links
    later = phone.look(f"{board}?from=101")
    assert "101/120" in later.words
    assert "100/120" not in later.words
    assert len(page.text) < 60_000


def test_its_file_has_every_number(desk: StandInDesk, phone: Phone) -> None:
    """`treadle/edition/1` is given as a file of its own, with what was given."""
    board = begin(desk, phone)
    give(phone, board)
    answer = phone.client.get(f"{board}/edition.json")
    assert answer.headers["Content-Disposition"].startswith("attachment")
    found = read_edition(answer.data, "file")
    assert (found.recipe, found.size, found.sheets[0].sheet) == (desk.crane.id, 5, "s1")
    assert json.loads(answer.data)["format"] == "treadle/edition/1"


def test_an_edition_is_put_away_and_comes_back(desk: StandInDesk, phone: Phone) -> None:
    """Put away it is off the list, with a way back; its numbers stay."""
    board = begin(desk, phone)
    assert send(phone, board, f"{board}/away").startswith("/editions?undo=")
    assert board not in phone.look("/editions").links
    assert board in phone.look("/editions?away=1").links
    assert send(phone, "/editions?away=1", f"{board}/out") == board
    assert board in phone.look("/editions").links
    assert board not in phone.look("/editions?away=1").links


# ---- label and certificate


def test_label_and_certificate_are_read_back(desk: StandInDesk, phone: Phone, tmp_path: Path) -> None:
    """Title, number, paper, process, toner, both dates and the photograph are in the PDF, by another reader."""
    desk.keep_pictures_in(tmp_path)
    film = desk.negatives().make(tree())
    frame = film_frame(desk, film.id)
    work(desk, "s1", negative=reference(film.id, frame))
    board = begin(desk, phone)
    (tmp_path / "print.jpg").write_bytes(photograph(900))
    with (tmp_path / "print.jpg").open("rb") as file:
        desk.photographs().of_sheet(desk.record("s1"), file, "print.jpg")
    give(phone, board)
    send(phone, board, f"{board}/more", process="", toner="selenium 1+9", chemistry="")
    page = phone.look(f"{board}/print/s1")
    assert [link for link in page.links if link.endswith((".pdf", ".svg"))] == [
        f"{board}/print/s1/{kind}.{form}" for kind in KINDS for form in ("pdf", "svg")
    ]
    for kind in KINDS:
        answer = phone.client.get(f"{board}/print/s1/{kind}.pdf")
        assert answer.headers["Content-Type"] == "application/pdf"
        (one,) = PdfReader(io.BytesIO(answer.data)).pages
        words = " ".join(one.extract_text().split())
        told = ("Harbour crane, 8x10", "1/5", "paper one, FB · box A12", "Gelatin silver print on fibre-based paper")
        for known in (*told, "selenium 1+9", "2016-03-01", "2024-01-01"):
            assert known in words, (kind, known, words)
        (image,) = one.images
        assert image.image is not None
        assert image.image.size == Image.open(io.BytesIO(photo_of(desk))).size
        width, height = (float(side) * 25.4 / 72 for side in one.mediabox.upper_right)
        assert (round(width), round(height)) == SIZES[kind]  # type: ignore[comparison-overlap]
        assert phone.client.get(f"{board}/print/s1/{kind}.pdf").data == answer.data
        svg = phone.client.get(f"{board}/print/s1/{kind}.svg")
        root = ET.fromstring(svg.data)
        drawn = " ".join("".join(each.itertext()) for each in root.iter("{http://www.w3.org/2000/svg}text"))
        assert "1/5" in drawn
        (held,) = root.iter("{http://www.w3.org/2000/svg}image")
        assert held.attrib["href"].startswith("data:image/jpeg;base64,")
    assert "Signed" in phone.look(f"{board}/print/s1").words


def film_frame(desk: StandInDesk, source: str) -> str:
    return desk.negatives().fetch(source).negatives.frames[0].frame


def photo_of(desk: StandInDesk) -> bytes:
    record = desk.record("s1")
    assert record.photograph is not None
    return desk.photographs().picture(record.photograph.hash)


def test_a_print_without_a_number_has_neither(desk: StandInDesk, phone: Phone) -> None:
    """A reject, another's sheet and a paper that is none are not there."""
    board = begin(desk, phone)
    phone.look(f"{board}/print/s1", status=404)
    give(phone, board)
    phone.look(f"{board}/print/s1/poster.svg", status=404)
    phone.look(f"{board}/print/nowhere", status=404)
    assert "once there is one" in phone.look(f"{board}/print/s1").words


LONG = Facts(
    title="Łódź, ulica Piotrkowska о полудне " * 6,
    number="proof XLVIII",
    lines=tuple((f"name {number}", "words and words " * 9) for number in range(9)),
    signed="Signed",
)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("size", [None, (1600, 1200), (400, 1600), (1600, 90)])
def test_nothing_leaves_its_paper(kind: str, size: tuple[int, int] | None) -> None:
    """However long its words and however its photograph lies, all stands within the margins and over nothing else."""
    found = laid_out(kind, LONG, size)  # type: ignore[arg-type]
    for text in found.texts:
        right = text.x + width_of(text.words, text.size, bold=text.bold)
        assert 0 < text.x < right <= found.width - 6.9
        assert 0 < text.y <= found.height - 3
    if found.photo is not None:
        assert found.photo.x + found.photo.width <= found.width - 6.9
        over = [text for text in found.texts if text.y - text.size < found.photo.y + found.photo.height]
        assert all(text.x >= found.photo.x + found.photo.width for text in over)
    assert svg_of(found, "", "", "t").count("<text") == len(found.texts)


def test_letters_that_a_face_lacks_are_written_plainly() -> None:
    """The PDF of any title can be read: a letter that its face lacks becomes a plain one, or a question mark."""
    facts = Facts(title="Ǻrsta 写真 Łódź", number="1/1", lines=(), signed="Signed")
    (page,) = PdfReader(io.BytesIO(pdf_of(laid_out("label", facts, None), None, "t"))).pages
    words = page.extract_text()
    assert "rsta" in words
    assert "d" in words
    assert wrapped("", 10, 3, 2) == []


# ---- boxes


def test_a_box_is_counted_and_priced(desk: StandInDesk, phone: Phone) -> None:
    """The box that is out is offered; its count and price are kept as a row, and what is wrong is said."""
    assert "No box is known yet" in phone.look("/stock").words
    desk.show(bench=BENCH)
    page = phone.look("/stock")
    assert "paper one · box A12" in page.words
    answer = phone.send("/stock/count", page.typed(sheets_0="twenty", price_0="1.25"))
    assert answer.status_code == 422
    assert list(Page(answer.text).told()) == ["sheets-0"]
    answer = phone.send("/stock/count", page.typed(sheets_0="25", price_0="1.255"))
    assert list(Page(answer.text).told()) == ["price-0"]
    answer = phone.send("/stock/count", page.typed(sheets_0="25", price_0="1.25"))
    assert answer.status_code == 303
    assert "25 sheets left · out now" in phone.look("/stock").words
    (row,) = desk.journal.of_editions()
    assert row.entry == BoxCounted(paper="p1", paper_title="paper one", box="A12", sheets=25, price="1.25")
