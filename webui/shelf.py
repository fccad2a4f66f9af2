"""The shelf in the day face: recipes and strips to keep, make, edit, review and load; and a pick from a strip."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final, Literal

from flask import Blueprint, abort, g, make_response, redirect, render_template, request

from controller.errors import ControllerError, Impossible, Unreadable
from controller.printing.picks import read_pick
from controller.reading import read_recipe
from controller.recipes import Recipe
from controller.words import say
from webui.darkened import developed_bands
from webui.faces import needs_day
from webui.forms import FILTERS, STOPS, Typed, read_move, stops_words
from webui.line_names import line_name
from webui.outlined import areas_of
from webui.pictures import standing_strip
from webui.pictures.strip import Choice, stops_text
from webui.recipe_form import RecipeForm, new_recipe_form, read_recipe_form, recipe_form_of
from webui.refusals import status_of
from webui.review import Look, Written, look_at, small_print
from webui.room import day_allowed, desk, now
from webui.strip_form import StripForm, read_strip_form, strip_form_of
from webui.work_form import EDGES

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.picks import PickMeaning
    from controller.records import SheetRecord
    from controller.shelf import Kept

sheaf = Blueprint("shelf", __name__)

Kind = Literal["recipe", "strip"]
KINDS: Final[tuple[Kind, ...]] = ("recipe", "strip")
AnyForm = RecipeForm | StripForm
_LISTS: Final = {"filters": FILTERS, "edges": EDGES, "all_stops": STOPS, "stops_words": stops_words}
"""What the lists of a form offer."""


@dataclass(frozen=True)
class Refusal:
    """A sentence, and the input it belongs to; empty where it is about the whole."""

    words: str = ""
    at: str = ""
    status: int = 200


@dataclass(frozen=True)
class Card:
    """One line of the shelf."""

    kept: Kept
    under: str


@sheaf.get("/shelf")
@needs_day
def shelf() -> ResponseReturnValue:
    """Show what is kept, last used first."""
    cards = {kind: [Card(kept, _under(kept)) for kept in desk().kept(kind)] for kind in KINDS}
    return render_template("shelf.html", cards=cards, said=_said())


@sheaf.get("/shelf/new/<kind>")
@needs_day
def new(kind: str) -> ResponseReturnValue:
    """Show an empty form."""
    if kind not in KINDS:
        abort(404)
    return _page(new_recipe_form() if kind == "recipe" else StripForm(), source="")


@sheaf.get("/shelf/<source>")
@needs_day
def review(source: str) -> ResponseReturnValue:
    """Show what a sheet of this recipe or strip gets, before any light."""
    kept = desk().fetch(source, _version())
    written = read_recipe(kept.body, kept.title)
    look, refusal = _look(kept.body, written)
    return render_template(
        "review.html",
        kept=kept,
        latest=desk().fetch(source).version,
        look=look,
        refusal=refusal,
        under=small_print(written),
        is_next=_is_next(kept),
        said=say("shelf.said-kept-next") if _is_next(kept) and _said() else _said(),
    )


@sheaf.get("/shelf/<source>/edit")
@needs_day
def edit(source: str) -> ResponseReturnValue:
    """Show a kept recipe or strip in its form, or a copy of it that is not kept yet."""
    kept = desk().fetch(source, _version())
    form = _form_of(read_recipe(kept.body, kept.title))
    if "copy" in request.args:
        return _page(replace(form, title=say("shelf.copy-of", title=form.title)), source="")
    return _page(form, source=source)


@sheaf.get("/shelf/<source>/versions")
@needs_day
def versions(source: str) -> ResponseReturnValue:
    """Show every version, newest first."""
    return render_template("shelf_versions.html", versions=desk().versions(source), source=source)


@sheaf.get("/shelf/<source>/kept")
def kept(source: str) -> ResponseReturnValue:
    """Say that something was kept; for the dark face, where its review may not be looked at."""
    return render_template("shelf_kept.html", kept=desk().fetch(source, _version()))


@sheaf.post("/shelf/write/<kind>")
def write(kind: str) -> ResponseReturnValue:
    """Add or take away a line, look, or keep: what each button of a form asks for. Only "keep" keeps."""
    form = _typed(kind, request.form)
    asked, source = request.form.get("do", ""), request.form.get("source", "")
    move = read_move(asked)
    if move is not None:
        return _page(form.after(move), source=source)
    if asked == "turn" and isinstance(form, StripForm):
        return _page(form.turned(), source=source)
    if asked not in ("keep", "keep new"):
        return _page(form, source=source)
    look, refusal = _look_typed(form)
    if look is None:
        return _page(form, source=source, refusal=refusal)
    try:
        kept = desk().save(form.text(), source if source and asked == "keep" else None)
    except ControllerError as error:
        return _page(form, source=source, refusal=_refusal(error, form))
    page = f"/shelf/{kept.id}" if day_allowed() else f"/shelf/{kept.id}/kept"
    return redirect(f"{page}?version={kept.version}&said=kept", 303)


@sheaf.post("/review")
def review_typed() -> ResponseReturnValue:
    """Return the review of what is typed so far, for the page that is being typed on; keeps nothing."""
    form = _typed(request.form.get("written", ""), request.form)
    look, refusal = _look_typed(form)
    part = render_template("shelf_live.html", form=form, look=look, refusal=refusal, waiting=refusal, **_LISTS)
    return make_response(part, 200 if look is not None else refusal.status)


@sheaf.post("/shelf/<source>/away")
def put_away(source: str) -> ResponseReturnValue:
    """Take it off the list; its versions and sheets stay."""
    desk().put_away(source)
    return redirect("/shelf?said=away", 303)


@sheaf.get("/pick/<sheet>")
@needs_day
def pick(sheet: str) -> ResponseReturnValue:
    """Show a strip's sheet to pick from: its bands and the lines between, and what the pick would mean."""
    record = desk().record(sheet)
    strip = record.plan.strip
    if strip is None:
        raise Impossible(say("reckoning.pick-not-a-strip", title=record.plan.title))
    chosen = _chosen(len(strip.totals_ms))
    first = desk().pick_meaning(sheet, 1, False)
    meaning = desk().pick_meaning(sheet, chosen.band, chosen.between) if chosen else None
    picture = standing_strip(
        strip,
        ident="pick",
        address=lambda place: f"?band={place.band}&between={place.between:d}#meaning",
        between=lambda band: _between_words(record, band),
        chosen=chosen,
    )
    return render_template(
        "pick.html",
        record=record,
        picture=picture,
        bands=developed_bands(record, chosen.band if chosen and not chosen.between else None),
        chosen=chosen,
        meaning=meaning,
        look_for=first.look_for,
        not_offered=first.not_offered,
        recipes=desk().kept("recipe"),
        uneven=_uneven(record),
        done="done" in request.args,
        recipe_page=_recipe_page(record),
        is_next=_went_into_next(record),
        goes_on=_goes_on(meaning),
        confirmed=desk().fetch(meaning.confirms) if meaning is not None and meaning.confirms else None,
    )


def _recipe_page(record: SheetRecord) -> str:
    """Return the recipe that the last pick went into, as its address; empty where it went into none."""
    last = record.picks[-1] if record.picks else None
    return f"/shelf/{last.recipe}?version={last.recipe_version}" if last is not None and last.recipe else ""


def _went_into_next(record: SheetRecord) -> bool:
    """Tell whether the last pick went into the very version that the next sheet gets."""
    last, plan = record.picks[-1] if record.picks else None, now().plan
    return last is not None and plan is not None and (plan.source, plan.version) == (last.recipe, last.recipe_version)


def _goes_on(meaning: PickMeaning | None) -> bool:
    return meaning is not None and meaning.not_offered is None


def _chosen(bands: int) -> Choice | None:
    band, between = request.args.get("band", 0, type=int), request.args.get("between") == "1"
    return Choice(band, between) if 1 <= band <= bands - between else None


def _between_words(record: SheetRecord, band: int) -> str:
    found = read_pick(record.plan, band, between=True)
    return stops_text(found.stops) if found.kind == "burn" else f"{found.seconds:.1f} s"


def _uneven(record: SheetRecord) -> tuple[str, ...]:
    """Return the lights that did not come as planned: a band picked from them would mean something else."""
    return tuple(
        step.step.name
        for step in record.steps
        if not step.added and abs(step.given_most_ms - step.step.planned_ms) > max(100, step.step.planned_ms // 17)
    )


def _page(form: AnyForm, *, source: str, refusal: Refusal | None = None) -> ResponseReturnValue:
    """Show a form as it was typed, with what it would give; a refusal stands beside its field."""
    g.needs_day = True  # also after a button was pressed: what is typed waits while the day face is away
    kind = "recipe" if isinstance(form, RecipeForm) else "strip"
    look, found = _look_typed(form)
    # An untouched form is no mistake: it is only told what is missing once it was to be kept.
    told = refusal or Refusal()
    page = render_template(
        f"{kind}.html", kind=kind, form=form, source=source, look=look, refusal=told, waiting=found, **_LISTS
    )
    return make_response(page, told.status)


def _look_typed(form: AnyForm) -> tuple[Look | None, Refusal]:
    """Return what a form would give, or why it gives nothing."""
    text = form.text()
    try:
        longest_ms = round(desk().settings().longest_light_seconds * 1000)
        kind = "recipe" if isinstance(form, RecipeForm) else "strip"
        written = read_recipe(
            text, say(f"shelf.this-{kind}"), longest_ms=longest_ms, line_names=partial(line_name, form)
        )
        return look_at(desk().review(text), written), Refusal()
    except (Unreadable, Impossible) as error:
        return None, _refusal(error, form)


def _look(body: str, written: Written) -> tuple[Look | None, Refusal]:
    try:
        plan = desk().review(body)
        return look_at(plan, written, areas=areas_of(plan, written)), Refusal()
    except (Unreadable, Impossible) as error:
        return None, Refusal(str(error), status=422)


def _refusal(error: ControllerError, form: AnyForm) -> Refusal:
    return Refusal(str(error), form.beside(error.place), status_of(error, 409))


def _typed(kind: str, typed: Typed) -> AnyForm:
    if kind not in KINDS:
        abort(404)
    return read_recipe_form(typed) if kind == "recipe" else read_strip_form(typed)


def _form_of(written: Written) -> AnyForm:
    return recipe_form_of(written) if isinstance(written, Recipe) else strip_form_of(written)


def _under(kept: Kept) -> str:
    """Return the small print of a kept thing; one that today's software cannot read has none."""
    try:
        return small_print(read_recipe(kept.body, kept.title))
    except Unreadable as error:
        return str(error)


def _version() -> int | None:
    return request.args.get("version", type=int)


def _is_next(kept: Kept) -> bool:
    """Tell whether this very version is what the next sheet gets."""
    plan = now().plan
    return plan is not None and (plan.source, plan.version) == (kept.id, kept.version)


def _said() -> str:
    """Return the sentence that an act left behind."""
    return say(f"shelf.said-{request.args['said']}") if request.args.get("said") in ("kept", "away") else ""
