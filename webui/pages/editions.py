"""Editions, by day: their list, one begun from a print, its board of places, and one number after another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from flask import Blueprint, g, make_response, redirect, render_template, request

from controller.editions.alike import figure
from controller.editions.ledger import roman
from controller.editions.ledger import told as told_of
from controller.errors import ControllerError, NotThere
from controller.words import say
from webui.forms.form import NONE, Fields, Refusal, to_correct, told
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.lists import let_be_put_away, listing

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.daemon.edition_desk import Board
    from controller.editions.ledger import Given, Outcome

blueprint = Blueprint("editions", __name__)

PLACES: Final = 50
"""Numbers on one page of the board."""
REJECTED: Final = 24
"""Rejected prints on the board, the last ones."""
MOST_UNSEEN: Final = 4
"""So many numbers that are out on a print nobody here knows are offered to be found on one."""
USUAL_SIZE: Final = "5"
TERMS: Final = ("size", "proofs")
MORE: Final = ("process", "toner", "chemistry")
OUTCOMES: Final[tuple[Outcome, ...]] = ("keep", "proof", "reject")


@dataclass(frozen=True, slots=True)
class Place:
    """One number of the board."""

    words: str
    sheet: str
    """The print that has it; empty where it is free, or out on a print that nobody here knows."""
    number: int
    """The running number of its sheet; 0 where that is not known."""
    given: bool
    spread: str
    twice: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """What a print that stands ready may become."""

    outcome: str
    words: str
    """"3/5", "proof I", "rejected"."""
    number: int

    @property
    def key(self) -> str:
        """What tells it from the others of one print."""
        return f"{self.outcome}-{self.number}"


@blueprint.get("/editions")
@needs_day
def editions() -> ResponseReturnValue:
    """Show the editions, the last changed first; those searched for; or those put away."""
    return render_template("editions.html", listed=listing("edition"))


@blueprint.get("/editions/new")
@needs_day
def new() -> ResponseReturnValue:
    """Ask how many prints an edition has, for the print that it is begun from; or say why none can be."""
    return _new(Fields("editions.label-", {"size": USUAL_SIZE, "proofs": "0"}, TERMS), request.args.get("sheet", ""))


@blueprint.post("/editions/new")
@waits_for_day
def begin() -> ResponseReturnValue:
    """Begin an edition from a print."""
    typed, sheet = Fields("editions.label-", request.form, TERMS), request.form.get("sheet", "")
    try:
        source = desk().editions().begin(sheet, *_terms(typed))
    except NotThere:
        raise
    except ControllerError as error:
        return _new(typed, sheet, told({}, error))
    return redirect(f"/editions/{source}?sheet={sheet}", 303)


@blueprint.get("/editions/<source>")
@needs_day
def edition(source: str) -> ResponseReturnValue:
    """Show an edition's board: what is given, and what stands ready to be looked at."""
    return _board(source)


@blueprint.post("/editions/<source>/give")
@waits_for_day
def give(source: str) -> ResponseReturnValue:
    """Give a print its number, or none for ever."""
    sheet, outcome = request.form.get("sheet", ""), request.form.get("outcome", "")
    found = next((each for each in OUTCOMES if each == outcome), None)
    if found is None:
        return _board(source, Refusal(say("editions.number-gone"), "", 422))
    number = request.form.get("as", default=0, type=int)
    try:
        desk().editions().give(source, sheet, found, number, request.form.get("said", ""))
    except NotThere:
        raise
    except ControllerError as error:
        return _board(source, told({}, error))
    return redirect(f"/editions/{source}", 303)


@blueprint.post("/editions/<source>/are-out")
@waits_for_day
def say_out(source: str) -> ResponseReturnValue:
    """Say which numbers are out, after a restore or on a new card."""
    keeps, proofs = (set(request.form.getlist(name, type=int)) for name in ("keep", "proof"))
    try:
        desk().editions().say_out(source, keeps, proofs)
    except NotThere:
        raise
    except ControllerError as error:
        return _board(source, told({}, error))
    return redirect(f"/editions/{source}", 303)


@blueprint.post("/editions/<source>/terms")
@waits_for_day
def change(source: str) -> ResponseReturnValue:
    """Change how many prints an edition has, while nothing of it is given."""
    typed = Fields("editions.label-", request.form, TERMS)
    try:
        desk().editions().change(source, *_terms(typed))
    except NotThere:
        raise
    except ControllerError as error:
        return _board(source, told({}, error), typed)
    return redirect(f"/editions/{source}", 303)


@blueprint.post("/editions/<source>/more")
@waits_for_day
def more(source: str) -> ResponseReturnValue:
    """Keep what the certificate says of the prints, and what their chemistry costs."""
    typed = Fields("editions.label-", request.form, MORE)
    try:
        chemistry = typed.figure("chemistry", "0", "1000000")
        desk().editions().say_more(source, typed["process"], typed["toner"], chemistry)
    except NotThere:
        raise
    except ControllerError as error:
        return _board(source, told({}, error), typed)
    return redirect(f"/editions/{source}", 303)


@blueprint.get("/editions/<source>/edition.json")
@needs_day
def file(source: str) -> ResponseReturnValue:
    """Give an edition with all its numbers as a file of its own."""
    answer = make_response(desk().editions().written(source))
    answer.headers["Content-Type"] = "application/json"
    answer.headers["Content-Disposition"] = f'attachment; filename="{source}.edition.json"'
    return answer


let_be_put_away(
    blueprint, "/editions", lambda: desk().editions().kept(), away="/editions?undo={id}", out="/editions/{id}"
)


def _terms(typed: Fields) -> tuple[int, int]:
    found = []
    for name, least, most in (("size", "1", "250"), ("proofs", "0", "50")):
        value = typed.figure(name, least, most) if name == "proofs" else typed.needed(name, least, most)
        if value is not None and value != int(value):
            raise typed.no_figure(name, typed[name], least, most)
        found.append(int(value or 0))
    return found[0], found[1]


def _new(typed: Fields, sheet: str, refusal: Refusal = NONE) -> ResponseReturnValue:
    record = desk().record(sheet)
    begun = desk().editions().begun(record.plan.source, record.plan.version)
    if begun and not refusal.words:
        return redirect(f"/editions/{begun}?sheet={sheet}", 303)
    may = desk().editions().may_begin(record)
    return show(
        "edition_new.html",
        refusal.status if refusal.words or may else 422,
        home=f"/editions/new?sheet={sheet}",
        record=record,
        may=may,
        typed=typed,
        refusal=refusal,
        to_correct=to_correct(refusal, typed.called),
    )


def _board(source: str, refusal: Refusal = NONE, typed: Fields | None = None) -> ResponseReturnValue:
    of = desk().editions()
    sheet = request.values.get("sheet", "")
    board = of.board(source, first=sheet, below=request.args.get("below", type=int))
    first = board.ready[0] if board.ready and board.sure else None
    choices = _choices(board) if first else ()
    wanted = request.args.get("as", f"{request.form.get('outcome', '')}-{request.form.get('as', '')}")
    chosen = next((each for each in choices if each.key == wanted), choices[0] if choices else None)
    ledger = board.ledger
    edition, kept = ledger.edition, ledger.kept
    least = _least(board, request.args.get("from", default=0, type=int))
    g.pictures = any(each.photograph for each in board.ready)
    fields = Fields("editions.label-", {}, ())
    return show(
        "edition.html",
        refusal.status,
        home=f"/editions/{source}",
        board=board,
        edition=edition,
        first=first,
        off=figure(first.alike) if first else "",
        choices=choices,
        chosen=chosen,
        places=tuple(_place(board, kept.get(n, ()), f"{n}/{edition.size}") for n in _window(least, edition.size)),
        earlier=max(1, least - PLACES) if least > 1 else 0,
        later=least + PLACES if least + PLACES <= edition.size else 0,
        proofs=tuple(_place(board, one, told_of(edition, one[0])) for one in ledger.proofs.values()),
        rejected=ledger.rejected[-REJECTED:][::-1],
        rejects=len(ledger.rejected),
        free=tuple(n for n in range(1, edition.size + 1) if n not in kept),
        free_proofs=tuple(n for n in range(1, edition.proofs + 1) if n not in ledger.proofs),
        cost=of.cost(source),
        changeable=not kept and not ledger.proofs,
        typed=typed.text if typed else {},
        figure=figure,
        told_of=told_of,
        refusal=refusal,
        to_correct=to_correct(refusal, (typed or fields).called),
    )


def _choices(board: Board) -> tuple[Choice, ...]:
    """Return what the first print may become: the next number, the next proof, nothing; or what is out unseen."""
    ledger = board.ledger
    found: list[Choice] = []
    if (number := ledger.next("keep")) is not None:
        found.append(Choice("keep", say("editions.number", number=number, size=ledger.edition.size), number))
    if (number := ledger.next("proof")) is not None:
        found.append(Choice("proof", say("editions.proof", number=roman(number)), number))
    found += (
        Choice("keep", say("editions.has-number", number=number, size=ledger.edition.size), number)
        for number in ledger.without_sheet("keep")[:MOST_UNSEEN]
    )
    return (*found, Choice("reject", say("editions.rejected"), 0))


def _least(board: Board, wanted: int) -> int:
    """Return the first number of the page of the board that is asked for, or on which the next number stands."""
    at = wanted or board.ledger.next("keep") or 1
    at = min(max(1, at), board.ledger.edition.size)
    return (at - 1) // PLACES * PLACES + 1


def _window(least: int, size: int) -> range:
    return range(least, min(size, least + PLACES - 1) + 1)


def _place(board: Board, given: tuple[Given, ...], words: str) -> Place:
    one = next((each for each in given if each.sheet), given[0] if given else None)
    sheet = one.sheet if one and one.sheet in board.numbers else ""
    spread = "" if one is None or one.spread_stops is None else f"{float(one.spread_stops):+.3f}".replace("-", "−")
    return Place(words, sheet, board.numbers.get(sheet, 0), one is not None, spread, len(given) > 1)
