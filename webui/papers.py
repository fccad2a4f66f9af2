"""Papers by day: what is kept, a table of readings for a thumb, a file of them, a paper's own page, another box."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from flask import Blueprint, make_response, redirect, render_template, request
from markupsafe import Markup

from controller import wall
from controller.errors import ControllerError, Impossible, Unreadable
from controller.paper.filter_readings import is_filter_table, read_filter_csv
from controller.paper.papers import Box
from controller.paper.readings import read_csv
from controller.paper.written import Written, faults_of, written_of
from controller.paper_shelf import missing_libraries
from controller.words import say
from webui.faces import needs_day
from webui.forms import read_move, typed_text
from webui.papers_form import (
    LIGHTS,
    Column,
    Mistakes,
    TableForm,
    new_table_form,
    read_box,
    read_number,
    read_table_form,
    table_form_of,
)
from webui.refusals import STATUS_OF
from webui.room import day_allowed, desk

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.paper.papers import Paper
    from controller.paper_look import Look

sheaf = Blueprint("papers", __name__)

LARGEST_S: Final = 3600.0
LEAST_LUX, MOST_LUX = 0.001, 100_000.0


@dataclass(frozen=True)
class Said:
    """What a form's page says back: a sentence for the whole, sentences by input, readings that look wrong."""

    words: str = ""
    wrong: Mistakes = field(default_factory=dict)
    doubtful: frozenset[str] = frozenset()
    """The cells that a fault names."""
    faults: tuple[str, ...] = ()
    look: Look | None = None
    status: int = 200


NOTHING: Final = Said()


# ---- what is kept


@sheaf.get("/papers")
@needs_day
def papers() -> ResponseReturnValue:
    """Show the papers that are kept, last kept first."""
    shelf = desk().papers()
    kept = [(each, _box_words(shelf.paper_of(each))) for each in shelf.kept()]
    return render_template("papers.html", kept=kept, missing=missing_libraries(), said=request.args.get("said", ""))


@sheaf.get("/papers/<source>")
@needs_day
def paper(source: str) -> ResponseReturnValue:
    """Show one paper: a plain sentence, its curves, and one tap deeper its figures."""
    shelf, version = desk().papers(), request.args.get("version", type=int)
    kept = shelf.get(source, version)
    if missing := missing_libraries():
        raise Impossible(say("papers.libraries", names=missing))
    look = shelf.look(source, version)
    lux = read_number(typed_text(request.args.get("lux", ""))[:12])
    return render_template(
        "paper.html",
        lux=lux if lux is not None and LEAST_LUX <= lux <= MOST_LUX else None,
        kept=kept,
        latest=shelf.get(source).version,
        look=look,
        picture=Markup(look.picture),  # noqa: S704 - drawn by us, every word in it escaped
        box=_box_words(look.paper),
        off=_steps_off(look.paper),
        versions=shelf.versions(source),
        has_readings=written_of(look.paper) is not None,
        kept_now="said" in request.args,
    )


@sheaf.post("/papers/<source>/away")
def put_away(source: str) -> ResponseReturnValue:
    """Take a paper off the list; its versions stay."""
    desk().papers().put_away(source)
    return redirect("/papers?said=away", 303)


# ---- readings typed into a table


@sheaf.get("/papers/new")
@needs_day
def new() -> ResponseReturnValue:
    """Show an empty table."""
    return _table(new_table_form(wall.now().date()), "")


@sheaf.get("/papers/<source>/readings")
@needs_day
def readings(source: str) -> ResponseReturnValue:
    """Show a kept paper's readings, to mend or to add to: they become its next version."""
    shelf = desk().papers()
    kept = shelf.get(source)
    written = written_of(shelf.paper_of(kept))
    form = table_form_of(written) if written is not None else None
    if form is None:
        raise Impossible(say("papers.no-table", title=kept.title))
    return _table(form, source)


@sheaf.post("/papers/new")
@sheaf.post("/papers/<source>/readings")
def write(source: str = "") -> ResponseReturnValue:
    """Add or take away a column, look, or keep: what each button of the table asks for. Only "keep" keeps."""
    form, asked = read_table_form(request.form), request.form.get("do", "")
    if (move := read_move(asked)) is not None:
        return _table(form.after(move), source)
    if asked not in ("look", "keep"):
        return _table(form, source)
    written, wrong = form.written()
    if written is None:
        return _table(form, source, Said(say("papers.mend"), wrong, status=422))
    said = _seen(form, written)
    if said.status != 200 or asked == "look":
        return _table(form, source, said)
    try:
        kept = desk().papers().save(written, source or None)
    except ControllerError as error:
        return _table(form, source, replace(said, words=str(error), look=None, status=_status(error)))
    return _kept(kept.id)


@sheaf.post("/papers/csv")
def from_file() -> ResponseReturnValue:
    """Put a file's readings into the table, where they can be looked over and kept; nothing is kept yet."""
    sent = request.files.get("file")
    form = new_table_form(wall.now().date())
    if sent is None or not sent.filename:
        return _table(form, "", Said(say("papers.no-file"), status=422))
    try:
        written = _read_file(sent.read(), sent.filename[-80:])
    except ControllerError as error:
        return _table(form, "", Said(str(error), status=_status(error)))
    filled = table_form_of(written)
    if filled is None:
        return _table(form, "", Said(say("papers.two-tablets", file=sent.filename[-80:]), status=422))
    return _table(filled, "", _seen(filled, written))


def _read_file(data: bytes, name: str) -> Written:
    box = Box(dated=wall.now().date())
    try:
        single = is_filter_table(data.decode("utf-8-sig", errors="strict"))
    except UnicodeError:
        single = False  # the reader has the sentence for it
    if single:
        found = read_filter_csv(data, name)
        return Written(paper=found.paper, box=box, filters=found.exposures)
    every = read_csv(data, name)
    if len(every) > 1:
        raise Unreadable(say("paper.command-papers", file=name, papers=", ".join(each.paper for each in every)))
    return Written(paper=every[0].paper, box=box, exposures=every[0].exposures)


def _seen(form: TableForm, written: Written) -> Said:
    """Return how the paper would look, and which readings look wrong; nothing is kept."""
    faults = faults_of(written)
    prints = list(written.prints)
    cells = frozenset(
        f"column-{at}-cell-{step}"
        for exposure, fault in faults
        for at in _columns_of(form, prints.index(exposure))
        for step in fault.steps
    )
    sentences = tuple(fault.sentence for _, fault in faults)
    if missing := missing_libraries():
        return Said(say("papers.libraries", names=missing), doubtful=cells, faults=sentences, status=503)
    try:
        return Said(doubtful=cells, faults=sentences, look=desk().papers().try_out(written))
    except ControllerError as error:
        return Said(str(error), doubtful=cells, faults=sentences, status=_status(error))


def _columns_of(form: TableForm, number: int) -> tuple[int, ...]:
    """Return which column a print of `Written.prints` was typed in: soft and hard first, then single filters."""
    filled = [at for at, column in enumerate(form.columns) if column.filled]
    order = sorted(filled, key=lambda at: form.columns[at].light == "filter")
    return tuple(order[number : number + 1])


def _table(form: TableForm, source: str, said: Said = NOTHING) -> ResponseReturnValue:
    page = render_template(
        "papers_table.html",
        form=form,
        source=source,
        lights=LIGHTS,
        found=said,
        picture=Markup(said.look.picture) if said.look else "",  # noqa: S704 - as above
        missing=missing_libraries(),
    )
    return make_response(page, said.status)


# ---- another box


@sheaf.get("/papers/<source>/box")
@needs_day
def another_box(source: str) -> ResponseReturnValue:
    """Show the form for another box of a paper: a check strip's pick, or a tablet's print read again."""
    kept = desk().papers().get(source)
    column = Column(light="both")
    return _box(source, TableForm(paper=kept.title, dated=wall.now().date().isoformat(), columns=(column,)))


@sheaf.post("/papers/<source>/box")
def take_box(source: str) -> ResponseReturnValue:
    """Take another box's speed from what was typed, as the paper's next version; or say at which field it is wrong."""
    form = read_table_form(request.form)
    expected, picked = (typed_text(request.form.get(name, ""))[:24] for name in ("expected", "picked"))
    typed = {"expected": expected, "picked": picked}
    wrong: Mistakes = {}
    box = read_box(form.box, form.dated, wrong)
    exposures = () if expected or picked else form.exposures(wrong)
    if expected or picked:
        seconds = {name: _seconds(text, name, wrong) for name, text in typed.items()}
    elif not exposures and not wrong:
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
            shelf.respeed_from_pick(source, seconds["expected"], seconds["picked"], box)
    except ControllerError as error:
        return _box(source, form, Said(str(error), status=_status(error)), typed)
    return _kept(source)


def _seconds(text: str, name: str, wrong: Mistakes) -> float:
    value = read_number(text)
    if value is None or not 0.1 <= value <= LARGEST_S:
        wrong[name] = say("papers.wrong-seconds", found=text[:24], least="0.1", most=f"{LARGEST_S:g}")
        return 0.0
    return value


def _box(
    source: str, form: TableForm, said: Said = NOTHING, typed: dict[str, str] | None = None
) -> ResponseReturnValue:
    kept = desk().papers().get(source)
    page = render_template("paper_box.html", kept=kept, source=source, form=form, found=said, typed=typed or {})
    return make_response(page, said.status)


# ---- words


def _kept(source: str) -> ResponseReturnValue:
    """Go to the paper's page; in the dark, where it may not be looked at, say only that it is kept."""
    if day_allowed():
        return redirect(f"/papers/{source}?said=kept", 303)
    return render_template("paper_kept.html", kept=desk().papers().get(source))


def _box_words(paper: Paper) -> str:
    label = paper.box.label
    return say("papers.box-of" if label else "papers.box-dated", label=label, dated=paper.box.dated.isoformat())


def _steps_off(paper: Paper) -> tuple[tuple[str, float, float], ...]:
    from controller.paper_look import steps_off

    return steps_off(paper) if paper.readings is not None else ()


def _status(error: ControllerError) -> int:
    return next((code for kind, code in STATUS_OF if isinstance(error, kind)), 422)
