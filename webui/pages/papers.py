"""Papers by day: what is kept, a paper's own page, another box of it. Its readings are `paper_table`'s."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from flask import Blueprint, render_template, request

from controller import wall
from controller.errors import ControllerError, Impossible
from controller.exposure.decimals import decimal_within
from controller.paper.libraries import missing_libraries
from controller.paper.written import written_of
from controller.words import say
from webui.forms.form import Fields, Mistakes, read_amount
from webui.forms.paper_column import Column
from webui.forms.paper_table import TableForm, read_box, read_table_form
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.lists import let_be_put_away, listing
from webui.frame.refusals import status_of
from webui.pages import paper_table
from webui.pages.paper_table import NOTHING, Said, show_kept, wrong_of
from webui.pictures import curves_picture

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.paper.paper import Paper

blueprint = Blueprint("papers", __name__)
blueprint.register_blueprint(paper_table.blueprint)

PICK: Final = ("expected", "picked")
SECONDS: Final = (0.1, 3600.0)
_BOX_COLUMNS: Final = (Column(light="both"),)
"""One print of the tablet, through soft and hard filter."""
LUX: Final = ("0.001", "100000")


# ---- what is kept


@blueprint.get("/papers")
@needs_day
def papers() -> ResponseReturnValue:
    """Show the papers that are kept, last kept first, a page at a time; those searched for; or those put away."""
    listed = listing("paper")
    kept = [(each, _box_words(desk().papers().paper_of(each))) for each in listed.page.things]
    return render_template("papers.html", kept=kept, listed=listed, missing=missing_libraries())


@blueprint.get("/papers/<source>")
@needs_day
def paper(source: str) -> ResponseReturnValue:
    """Show one paper: a plain sentence, its curves, and one tap deeper its figures."""
    shelf, version = desk().papers(), request.args.get("version", type=int)
    kept = shelf.get(source, version)
    if missing := missing_libraries():
        raise Impossible(say("papers.libraries", names=missing))
    look = shelf.look(source, version)
    lux = decimal_within(request.args.get("lux", ""), *LUX)
    return render_template(
        "paper.html",
        lux=None if lux is None else float(lux),
        kept=kept,
        latest=shelf.get(source).version,
        look=look,
        picture=curves_picture(look.curves, ident="curves"),
        box=_box_words(look.paper),
        off=_steps_off(look.paper),
        versions=shelf.versions(source),
        has_readings=written_of(look.paper) is not None,
        files=paper_table.files_of(look.paper),
        kept_now="said" in request.args,
        away=shelf.is_away(source),
    )


let_be_put_away(blueprint, "/papers", lambda: desk().papers(), away="/papers?undo={id}", out="/papers/{id}")


# ---- another box


@blueprint.get("/papers/<source>/box")
@needs_day
def another_box(source: str) -> ResponseReturnValue:
    """Show the form for another box of a paper: a check strip's pick, or a tablet's print read again."""
    kept = desk().papers().get(source)
    return _box(source, TableForm(paper=kept.title, dated=wall.now().date().isoformat(), columns=_BOX_COLUMNS))


@blueprint.post("/papers/<source>/box")
@waits_for_day
def take_box(source: str) -> ResponseReturnValue:
    """Take another box's speed from what was typed, as the paper's next version; or say at which field it is wrong."""
    form = read_table_form(request.form)
    form = form if form.columns else replace(form, columns=_BOX_COLUMNS)
    typed = Fields("papers.", request.form, PICK)
    wrong: Mistakes = {}
    box = read_box(form.box, form.dated, wrong)
    by_pick = typed.any(*PICK)
    exposures = () if by_pick else form.exposures(wrong)
    wrong |= form.amiss()
    key = "papers.wrong-seconds"
    seconds = [read_amount(typed[name], name, key, *SECONDS, wrong) or 0.0 for name in PICK if by_pick]
    if not exposures and not by_pick and not wrong:
        wrong["expected"] = say("papers.box-nothing")
    if wrong or box is None:
        return _box(source, form, Said(say("papers.mend"), wrong, status=422), typed)
    if missing := missing_libraries():
        return _box(source, form, Said(say("papers.libraries", names=missing), status=503), typed)
    shelf = desk().papers()
    try:
        if exposures:
            shelf.respeed(source, exposures, box)
        else:
            shelf.respeed_from_pick(source, seconds[0], seconds[1], box)
    except ControllerError as error:
        return _box(source, form, Said(str(error), status=status_of(error)), typed)
    return show_kept(source)


def _box(source: str, form: TableForm, said: Said = NOTHING, typed: Fields | None = None) -> ResponseReturnValue:
    kept = desk().papers().get(source)
    return show(
        "paper_box.html",
        said.status,
        kept=kept,
        source=source,
        form=form,
        found=said,
        typed=typed or {},
        to_correct=wrong_of(said.wrong),
    )


# ---- words


def _box_words(paper: Paper) -> str:
    label = paper.box.label
    return say("papers.box-of" if label else "papers.box-dated", label=label, dated=paper.box.dated.isoformat())


def _steps_off(paper: Paper) -> tuple[tuple[str, float, float], ...]:
    from controller.paper.look import steps_off

    return steps_off(paper) if paper.readings is not None else ()
