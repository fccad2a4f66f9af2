"""A paper's readings by day: the table for a thumb, a file taken into it, and readings taken out again as a file."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from flask import Blueprint, abort, make_response, redirect, render_template, request
from werkzeug.utils import secure_filename

from controller import wall
from controller.errors import ControllerError, Impossible, Unreadable
from controller.paper.filter_readings import is_filter_table, read_filter_csv, write_filter_csv
from controller.paper.libraries import missing_libraries
from controller.paper.paper import Box
from controller.paper.readings import Readings, read_csv, write_csv
from controller.paper.written import Written, faults_of, written_of
from controller.words import has, say
from webui.forms.form import Mistakes, read_move
from webui.forms.paper_column import LIGHTS
from webui.forms.paper_table import TableForm, new_table_form, read_table_form, table_form_of
from webui.forms.scan import scan_fields
from webui.frame.context import day_allowed, desk, now
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.refusals import status_of
from webui.pictures import curves_picture

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.paper.look import Look
    from controller.paper.paper import Paper

blueprint = Blueprint("table", __name__)


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
_LABELS: Final = {"paper": "name", "tablet-own": "tablet-list"}
"""Where a field's label has another name in the catalogue than the field."""


def wrong_of(wrong: Mistakes) -> tuple[tuple[str, str], ...]:
    """Return the wrong fields and what they are called, in the order in which they were found."""
    return tuple((name, _label(name)) for name in wrong)


def _label(name: str) -> str:
    key = f"papers.{_LABELS.get(name, name)}"
    return say("papers.a-reading" if name.startswith("column-") else key if has(key) else "page.a-field")


# ---- readings typed into a table


@blueprint.get("/papers/new")
@needs_day
def new() -> ResponseReturnValue:
    """Show an empty table."""
    return _table(new_table_form(wall.now().date()), "")


@blueprint.get("/papers/<source>/readings")
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


@blueprint.post("/papers/new")
@blueprint.post("/papers/<source>/readings")
@waits_for_day
def write(source: str = "") -> ResponseReturnValue:
    """Add or take away a column, look, or keep: what each button of the table asks for. Only "keep" keeps."""
    form, asked = read_table_form(request.form), request.form.get("do", "")
    if (move := read_move(asked)) is not None:
        return _table(form.after(move), source)
    if wrong := form.amiss():
        return _table(form, source, Said(say("papers.mend"), wrong, status=422))
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
        return _table(form, source, replace(said, words=str(error), look=None, status=status_of(error)))
    return show_kept(kept.id)


@blueprint.post("/papers/csv")
@waits_for_day
def from_file() -> ResponseReturnValue:
    """Put a file's readings into the table, where they can be looked over and kept; nothing is kept yet."""
    sent = request.files.get("file")
    form = new_table_form(wall.now().date())
    if sent is None or not sent.filename:
        return _table(form, "", Said(say("papers.no-file"), status=422))
    try:
        written = _read_file(sent.read(), sent.filename[-80:])
    except ControllerError as error:
        return _table(form, "", Said(str(error), status=status_of(error)))
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
        return Said(str(error), doubtful=cells, faults=sentences, status=status_of(error))


def _columns_of(form: TableForm, number: int) -> tuple[int, ...]:
    """Return which column a print of `Written.prints` was typed in: soft and hard first, then single filters."""
    filled = [at for at, column in enumerate(form.columns) if column.filled]
    order = sorted(filled, key=lambda at: form.columns[at].light == "filter")
    return tuple(order[number : number + 1])


def give_back(form: TableForm, source: str) -> ResponseReturnValue:
    """Show the table as it was typed where the scan's page, which it was sent to, may not be shown."""
    return _table(form, source, Said(now().day_refused or say("page.day-asked"), status=409))


def _table(form: TableForm, source: str, said: Said = NOTHING) -> ResponseReturnValue:
    return show(
        "papers_table.html",
        said.status,
        to_correct=wrong_of(said.wrong),
        form=form,
        source=source,
        lights=LIGHTS,
        along=scan_fields(request.form),
        found=said,
        picture=curves_picture(said.look.curves, ident="curves") if said.look else "",
        missing=missing_libraries(),
    )


# ---- readings taken out


def files_of(paper: Paper) -> tuple[str, ...]:
    """Return the files that a paper's readings can be taken out as: "readings", "filters", both or none."""
    written = written_of(paper)
    return tuple(_files(written)) if written is not None else ()


@blueprint.get("/papers/<source>/<file>.csv")
@needs_day
def to_file(source: str, file: str) -> ResponseReturnValue:
    """Give a paper's readings as a file, in the form that is taken in; the latest version's unless told."""
    shelf = desk().papers()
    kept = shelf.get(source, request.args.get("version", type=int))
    written = written_of(shelf.paper_of(kept))
    text = _files(written).get(file) if written is not None else None
    if text is None:
        abort(404)
    answer = make_response(text)
    answer.headers["Content-Type"] = "text/csv; charset=utf-8"
    name = secure_filename(f"{kept.title}-{file}.csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _files(written: Written) -> dict[str, str]:
    """Return the text of each file; what was picked by eye alone is no reading of a density, and in none of them."""
    found: dict[str, str] = {}
    if read := tuple(each for each in written.exposures if each.how != "eye"):
        found["readings"] = write_csv([Readings(paper=written.paper, exposures=read)])
    if written.filters:
        found["filters"] = write_filter_csv(written.paper, written.filters)
    return found


def show_kept(source: str) -> ResponseReturnValue:
    """Go to the paper's page; in the dark, where it may not be looked at, say only that it is kept."""
    if day_allowed():
        return redirect(f"/papers/{source}?said=kept", 303)
    return render_template("paper_kept.html", kept=desk().papers().get(source))
