"""Contact sheets by day: lists and searches, a film made in one act, its frames with their marks, one negative."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from flask import Blueprint, g, redirect, render_template, request

from controller import wall
from controller.daemon.negative_lists import in_carrier
from controller.errors import ControllerError, NotThere
from controller.negatives.layouts import LAYOUTS, shown_format
from controller.negatives.sets import LOOKS, MARKS, reference
from controller.words import say
from webui.forms.form import NONE, Place, Refusal, to_correct, told, typed_text
from webui.forms.negatives import SetForm, form_of, format_choices, proposed_form, usual_words
from webui.frame.context import desk, now
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.pages import areas, previews, proofs
from webui.pages.life import IN_A_ROW, row_of
from webui.pictures.contact_sheet import cut_out, look_words, sheet_view

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.daemon.negative_lists import SetsPage
    from controller.negatives.sets import NegativeSet

blueprint = Blueprint("negatives", __name__)
blueprint.register_blueprint(proofs.blueprint)
blueprint.register_blueprint(areas.blueprint)
blueprint.register_blueprint(previews.blueprint)

RUB_OUT = "rub-out"
PENCILS = (*(f"mark {mark}" for mark in MARKS), *(f"look {look}" for look in LOOKS), RUB_OUT)
"""What a tap on a frame of the contact sheet may do, once a pencil is taken up."""


# ---- lists


@dataclass(frozen=True)
class Listed:
    """A page of the list of contact sheets, as `frame.lists.Listing` is of other lists."""

    words: str
    away: bool
    below: str
    page: SetsPage
    undo: Undo | None

    def way(self, **changes: str | None) -> str:
        """Return the address, without its path, of another page of this list."""
        asked = {"q": self.words, "away": "1" if self.away else "", **changes}
        return "?" + urlencode({name: value for name, value in asked.items() if value})


@dataclass(frozen=True)
class Undo:
    """A contact sheet that was put away just now."""

    id: str
    title: str


@blueprint.get("/negatives")
@needs_day
def negatives() -> ResponseReturnValue:
    """Show the contact sheets, newest day first, a page at a time; those searched for; or those put away."""
    words, away = request.args.get("q", "").strip(), "away" in request.args
    below, undo = request.args.get("below", ""), request.args.get("undo", "")
    page = desk().negatives().page(words, below=below, away=away)
    listed = Listed(words, away, below, page, _undo(undo) if undo else None)
    return render_template("negatives.html", listed=listed, shown_format=shown_format, look_words=look_words)


def _undo(source: str) -> Undo | None:
    try:
        return Undo(source, desk().negatives().fetch(source).negatives.set)
    except ControllerError:
        return None


# ---- a film in one act


@blueprint.get("/negatives/new")
@needs_day
def new() -> ResponseReturnValue:
    """Show the form of a new contact sheet, with what is known proposed."""
    return _form(proposed_form(desk().negatives().proposal(wall.now().astimezone().date())))


@blueprint.post("/negatives/new")
@waits_for_day
def make() -> ResponseReturnValue:
    """Make a whole contact sheet of what was typed; or say at which field it is wrong."""
    form = SetForm.read(request.form)
    try:
        kept = desk().negatives().make(form.tree(), form.place_name)
    except ControllerError as error:
        return _form(form, refusal=_refused(error))
    return redirect(f"/negatives/{kept.id}", 303)


@blueprint.get("/negatives/<source>/edit")
@needs_day
def edit(source: str) -> ResponseReturnValue:
    """Show what stands for the whole contact sheet, to be corrected."""
    return _form(form_of(desk().negatives().fetch(source).negatives), source)


@blueprint.post("/negatives/<source>/edit")
@waits_for_day
def correct(source: str) -> ResponseReturnValue:
    """Keep what was corrected; a frame that stays keeps its marks and words."""
    form = SetForm.read(request.form)
    try:
        desk().negatives().change(source, form.tree(), form.place_name)
    except ControllerError as error:
        return _form(form, source, _refused(error))
    return redirect(f"/negatives/{source}", 303)


def _refused(error: ControllerError) -> Refusal:
    refusal = told({}, error)
    return Refusal(refusal.words, SetForm.beside(error.place), refusal.status)


def _form(form: SetForm, source: str = "", refusal: Refusal = NONE) -> ResponseReturnValue:
    return show(
        "negatives_form.html",
        refusal.status,
        form=form,
        source=source,
        refusal=refusal,
        to_correct=to_correct(refusal, form.label),
        formats=format_choices(),
        usual=[(one.format, usual_words(one)) for one in LAYOUTS],
    )


# ---- a contact sheet, and its pencils


@blueprint.get("/negatives/<source>")
@needs_day
def contact_sheet(source: str) -> ResponseReturnValue:
    """Show the frames as they lie; with a pencil taken up, a tap marks one."""
    kept = desk().negatives().fetch(source, request.args.get("version", type=int))
    pencil = request.args.get("pencil", "")
    g.pictures = True
    return render_template(
        "contact_sheet.html",
        drawn=proofs.is_drawn(kept.id),
        kept=kept,
        one=kept.negatives,
        under=_under(kept.negatives),
        view=sheet_view(kept.negatives, proofs.size_of(kept)),
        pencil=pencil if pencil in PENCILS else "",
        marks=MARKS,
        looks=LOOKS,
        look_words=look_words,
        rub_out=RUB_OUT,
        lost=kept.negatives.proof is not None and proofs.size_of(kept) is None,
    )


@blueprint.post("/negatives/<source>/mark")
@waits_for_day
def mark(source: str) -> ResponseReturnValue:
    """Do to a frame what the pencil does, and come back to the page it was done on."""
    frame, pencil = request.form.get("frame", ""), request.form.get("pencil", "")
    shelf = desk().negatives()
    what, _, value = pencil.partition(" ")
    match what:
        case "look":
            shelf.look(source, frame, value)
        case "mark":
            shelf.mark(source, frame, value)
        case _ if pencil == RUB_OUT:
            shelf.rub_out(source, frame)
        case _:
            raise NotThere(say("negatives.no-pencil"))
    if request.form.get("back") == "negative":
        return redirect(f"/negatives/{source}/frame/{frame}", 303)
    return redirect(f"/negatives/{source}?{urlencode({'pencil': pencil})}#f-{frame}", 303)


@blueprint.post("/negatives/<source>/away")
def put_away(source: str) -> ResponseReturnValue:
    """Take a contact sheet off the list; its versions stay."""
    desk().negatives().put_away(source)
    return redirect(f"/negatives?undo={source}", 303)


@blueprint.post("/negatives/<source>/out")
def take_out(source: str) -> ResponseReturnValue:
    """Put a contact sheet back on the list."""
    desk().negatives().take_out(source)
    return redirect(f"/negatives/{source}", 303)


# ---- one negative


@blueprint.get("/negatives/<source>/frame/<frame>")
@needs_day
def negative(source: str, frame: str) -> ResponseReturnValue:
    """Show one negative: its title, notes, mark and look, and what was made of it."""
    return _negative(source, frame)


@blueprint.post("/negatives/<source>/frame/<frame>")
@waits_for_day
def write(source: str, frame: str) -> ResponseReturnValue:
    """Keep a negative's title and notes; or say at which field they are wrong."""
    title, notes = (typed_text(request.form.get(name, "")) for name in ("title", "notes"))
    try:
        desk().negatives().write(source, frame, title, notes, _called)
    except NotThere:
        raise
    except ControllerError as error:
        refusal = told({}, error)
        at = str(error.place[-1]) if error.place else ""
        return _negative(source, frame, (title, notes), Refusal(refusal.words, at, refusal.status))
    return redirect(f"/negatives/{source}/frame/{frame}", 303)


def _called(place: Place) -> str:
    """Return what a field of a negative's page is called: the last key of its place."""
    return f"“{say(f'negatives.label-{place[-1]}')}”" if place and place[-1] in ("title", "notes") else ""


def _negative(
    source: str, frame: str, typed: tuple[str, str] | None = None, refusal: Refusal = NONE
) -> ResponseReturnValue:
    shelf = desk().negatives()
    found = shelf.negative(reference(source, frame))
    kept, one = found.of.negatives, found.frame
    names = [each.frame for each in kept.frames]
    at = names.index(one.frame)
    size = proofs.size_of(found.of)
    cuts = {cut.frame.frame: cut for cut in cut_out(kept, size)}
    life = shelf.life(reference(source, frame), below=request.args.get("below", 0, type=int), limit=IN_A_ROW)
    g.pictures = True
    return show(
        "negative.html",
        refusal.status,
        kept=found.of,
        one=one,
        title=typed[0] if typed else one.title or "",
        notes=typed[1] if typed else one.notes or "",
        under=_under(kept),
        cut=cuts.get(one.frame),
        size=size,
        before=names[at - 1] if at else "",
        after=names[at + 1] if at + 1 < len(names) else "",
        marks=MARKS,
        looks=LOOKS,
        look_words=look_words,
        rub_out=RUB_OUT,
        drawn=proofs.is_drawn(source),
        life=life,
        row=row_of(life),
        put_in=None if now().bench.negative == reference(source, frame) else in_carrier(source, kept, one),
        refusal=refusal,
        to_correct=to_correct(refusal, lambda name: say(f"negatives.label-{name}")),
    )


def _under(kept: NegativeSet) -> str:
    """Return the line below a contact sheet's name: its day, film, format and development."""
    words = (kept.date.isoformat(), kept.film, shown_format(kept.frame_format or ""), kept.development)
    return " · ".join(filter(None, words))
