"""One numbered print, by day: its label and its certificate, to be looked at, and taken out as SVG or PDF."""

from __future__ import annotations

import base64
from contextlib import suppress
from typing import TYPE_CHECKING

from flask import Blueprint, g, make_response, render_template

from controller import wall
from controller.editions.ledger import told
from controller.errors import ControllerError, NotThere
from controller.words import say
from webui.frame.context import desk
from webui.frame.guard import needs_day
from webui.pictures.certificate import KINDS, Facts, laid_out, svg_of
from webui.pictures.certificate_pdf import may_be_drawn, pdf_of
from webui.wording import paper_words

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.editions.ledger import Edition, Given
    from controller.store.records import SheetRecord
    from webui.pictures.certificate import Kind

blueprint = Blueprint("numbered", __name__)

FORMS = {"svg": "image/svg+xml", "pdf": "application/pdf"}


@blueprint.get("/editions/<source>/print/<sheet>")
@needs_day
def numbered(source: str, sheet: str) -> ResponseReturnValue:
    """Show the label and the certificate of a numbered print."""
    edition, given, record = desk().editions().of_print(source, sheet)
    facts, size = facts_of(source, edition, given, record), _size(record)
    photo = f"/photographs/{record.photograph.hash}.jpg" if record.photograph and size else ""
    g.pictures = bool(photo)
    return render_template(
        "numbered.html",
        source=source,
        record=record,
        facts=facts,
        photo=photo,
        papers=tuple((kind, _svg(kind, facts, size, photo, record)) for kind in KINDS),
        pdf=may_be_drawn(),
    )


@blueprint.get("/editions/<source>/print/<sheet>/<kind>.svg")
@needs_day
def as_svg(source: str, sheet: str, kind: str) -> ResponseReturnValue:
    """Give a label or a certificate as SVG, the photograph in it."""
    facts, record, known, photo = _asked(source, sheet, kind)
    href = f"data:image/jpeg;base64,{base64.b64encode(photo).decode()}" if photo else ""
    return _file(_svg(known, facts, _size(record) if photo else None, href, record).encode(), facts, known, "svg")


@blueprint.get("/editions/<source>/print/<sheet>/<kind>.pdf")
@needs_day
def as_pdf(source: str, sheet: str, kind: str) -> ResponseReturnValue:
    """Give a label or a certificate as PDF."""
    facts, record, known, photo = _asked(source, sheet, kind)
    layout = laid_out(known, facts, _size(record) if photo else None)
    return _file(pdf_of(layout, photo, _title(facts)), facts, known, "pdf")


def facts_of(source: str, edition: Edition, given: Given, record: SheetRecord) -> Facts:
    """Return what is known of a print: nothing here is typed but process and toner, and these once for all."""
    bench = record.plan.bench
    paper = paper_words(bench) if bench else ""
    support = bench.support if bench and bench.support else ""
    process = edition.process or say(f"editions.process-{support.lower()}" if support else "editions.process-usual")
    known = (
        ("paper", paper),
        ("process", process),
        ("toner", edition.toner or ""),
        ("negative", _negative_day(record)),
        ("print", _day(record)),
        ("sheet", say("editions.sheet", number=record.number)),
    )
    return Facts(
        title=desk().editions().kept().get(source).title,
        number=told(edition, given),
        lines=tuple((say(f"editions.says-{name}"), words) for name, words in known if words),
        signed=say("editions.says-signed"),
    )


def _negative_day(record: SheetRecord) -> str:
    negative = record.plan.bench.negative if record.plan.bench else ""
    with suppress(ControllerError):
        return desk().negatives().negative(negative).of.negatives.date.isoformat() if negative else ""
    return ""


def _day(record: SheetRecord) -> str:
    """Return the day on which a print was made, where the clock was set."""
    if not record.opened.synchronised:
        return ""
    return wall.moment(record.opened.wall).astimezone().date().isoformat()


def _size(record: SheetRecord) -> tuple[int, int] | None:
    return desk().photographs().size(record.photograph.hash) if record.photograph else None


def _svg(kind: Kind, facts: Facts, size: tuple[int, int] | None, photo: str, record: SheetRecord) -> str:
    alt = say("page.photo-alt", number=record.number, title=facts.title)
    return svg_of(laid_out(kind, facts, size if photo else None), photo, alt, _title(facts))


def _title(facts: Facts) -> str:
    return f"{facts.title}, {facts.number}"


def _asked(source: str, sheet: str, kind: str) -> tuple[Facts, SheetRecord, Kind, bytes | None]:
    known = next((each for each in KINDS if each == kind), None)
    if known is None:
        raise NotThere(say("editions.no-print"))
    edition, given, record = desk().editions().of_print(source, sheet)
    photo = None
    if record.photograph:
        with suppress(NotThere):
            photo = desk().photographs().picture(record.photograph.hash)
    return facts_of(source, edition, given, record), record, known, photo


def _file(body: bytes, facts: Facts, kind: Kind, form: str) -> ResponseReturnValue:
    answer = make_response(body)
    answer.headers["Content-Type"] = FORMS[form]
    number = "".join(letter if letter.isalnum() else "-" for letter in facts.number)
    answer.headers["Content-Disposition"] = f'attachment; filename="{kind}-{number}.{form}"'
    return answer
