"""The shelf in the day face: recipes and strips to keep, make, edit, review and load."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from flask import Blueprint, abort, make_response, redirect, render_template, request

from controller.errors import ControllerError, Impossible, NotThere, Unreadable
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from controller.words import say
from webui.forms.flash import USUAL_SHEETS, levels_of, opal_unknown, sheets_to_flash, with_level
from webui.forms.form import LONGEST_FIELD, NONE, Move, Refusal, Typed, read_move, to_correct
from webui.forms.recipe import EDGES, RecipeForm, new_recipe_form, read_recipe_form, recipe_form_of
from webui.forms.setup import FILTERS, STOPS, setup_of, stops_words
from webui.forms.strip import StripForm, read_strip_form, strip_form_of
from webui.forms.usual_strips import USUAL, LastUsed, last_used_of, retitled, usual_strip, usual_strips
from webui.frame.context import day_allowed, desk, is_next, now
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.lists import let_be_put_away, listing
from webui.frame.panel import KINDS
from webui.frame.refusals import status_of
from webui.pages import pick
from webui.pages.review import Look, Written, look_at, small_print

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.picture.map_areas import PrintAreas
    from controller.recipe.plan import Plan
    from controller.store.versions import Kept

blueprint = Blueprint("shelf", __name__)
blueprint.register_blueprint(pick.blueprint)

AnyForm = RecipeForm | StripForm
_LISTS: Final = {"filters": FILTERS, "edges": EDGES, "all_stops": STOPS, "stops_words": stops_words}
"""What the lists of a form offer."""


@dataclass(frozen=True)
class Card:
    """One line of the shelf."""

    kept: Kept
    under: str


@blueprint.get("/shelf")
@needs_day
def shelf() -> ResponseReturnValue:
    """Show what is kept of a kind, newest first, a page at a time; what is searched for; or what was put away."""
    kind = request.args.get("kind", "recipe")
    if kind not in KINDS:
        abort(404)
    listed = listing(kind)
    return render_template("shelf.html", listed=listed, cards=[Card(kept, _under(kept)) for kept in listed.page.things])


@blueprint.get("/shelf/new/<kind>")
@needs_day
def new(kind: str) -> ResponseReturnValue:
    """Show a form in which nothing stands but what stands at the enlarger."""
    if kind not in KINDS:
        abort(404)
    stands = setup_of(desk().at_enlarger().setting())
    if kind == "recipe":
        return _page(new_recipe_form(stands), source="")
    known: dict[str, Any] = {name: text for name, text in stands.items() if text}
    try:
        form = usual_strip("first", _last_used(), desk().recipes().longest_ms())
    except Impossible:  # the longest light is shorter than any such strip: its buttons are not there either
        form = StripForm()
    return _page(replace(form, **known), source="")


@blueprint.get("/shelf/<source>")
@needs_day
def review(source: str) -> ResponseReturnValue:
    """Show what a sheet of this recipe or strip gets, before any light."""
    return _review(desk().recipes().fetch(source, _version()))


@blueprint.post("/shelf/<source>/flash-sheets")
@waits_for_day
def flash_sheets(source: str) -> ResponseReturnValue:
    """Keep a plan that flashes so many sheets beforehand, as a recipe's flash is; nothing else is changed."""
    kept = desk().recipes().fetch(source, _version())
    written, typed = desk().recipes().written(kept), request.form.get("sheets", "").strip()[:LONGEST_FIELD]
    try:
        made = desk().recipes().save(sheets_to_flash(written, typed))
    except ControllerError as error:
        return _review(kept, sheets=typed, refused=Refusal(str(error), "sheets", status_of(error, 409)))
    return go_to_kept(made)


def _review(kept: Kept, *, sheets: str = USUAL_SHEETS, refused: Refusal = NONE) -> ResponseReturnValue:
    written = desk().recipes().written(kept)
    look, refusal = _look(kept.body, written)
    return show(
        "review.html",
        refused.status,
        home=f"/shelf/{kept.id}",
        flash=written.flash if isinstance(written, Recipe) else None,
        sheets=sheets,
        refused_sheets=refused.words,
        kept=kept,
        latest=desk().recipes().fetch(kept.id).version,
        look=look,
        refusal=refusal,
        under=small_print(written),
        is_next=is_next(kept.id, kept.version),
        away=desk().recipes().is_away(kept.id),
        said=_said(is_next(kept.id, kept.version)),
    )


@blueprint.get("/shelf/<source>/edit")
@needs_day
def edit(source: str) -> ResponseReturnValue:
    """Show a kept recipe or strip in its form, or a copy of it that is not kept yet."""
    kept = desk().recipes().fetch(source, _version())
    form = _form_of(desk().recipes().written(kept))
    if "copy" in request.args:
        return _page(replace(form, title=say("shelf.copy-of", title=form.title)), source="")
    return _page(form, source=source)


@blueprint.get("/shelf/<source>/versions")
@needs_day
def versions(source: str) -> ResponseReturnValue:
    """Show every version, newest first."""
    return render_template("shelf_versions.html", versions=desk().recipes().versions(source), source=source)


@blueprint.get("/shelf/<source>/kept")
def kept(source: str) -> ResponseReturnValue:
    """Say that something was kept; for the dark face, where its review may not be looked at."""
    return render_template("shelf_kept.html", kept=desk().recipes().fetch(source, _version()))


@blueprint.post("/shelf/write/<kind>")
@waits_for_day
def write(kind: str) -> ResponseReturnValue:
    """Add or take away a line, look, or keep: what each button of a form asks for. Only "keep" keeps."""
    form = _typed(kind, request.form)
    asked, source = request.form.get("do", ""), request.form.get("source", "")
    move = read_move(asked)
    if move is not None:
        after = form.after(move)
        return _page(after, source=source, opened=_opened_by(move, after))
    if isinstance(form, StripForm) and asked == "turn":
        return _page(form.turned(), source=source, opened="making")
    if isinstance(form, StripForm) and asked.removeprefix("usual ") in USUAL:
        last, longest_ms = _last_used(), desk().recipes().longest_ms()
        try:
            filled = usual_strip(asked.removeprefix("usual "), last, longest_ms)
        except Impossible as error:
            return _page(form, source=source, refusal=_refusal(error, form))
        return _page(retitled(filled, form, last, longest_ms), source=source)
    if asked.startswith("level "):
        try:
            level = with_level(asked[6:], form.magnification, form.head_height, form.lens_aperture)
        except Impossible as error:
            refusal = Refusal(str(error), "flash-seconds", status_of(error, 409))
            return _page(form, source=source, refusal=refusal, opened="flash")
        return _page(replace(form, **level), source=source, opened="flash")  # type: ignore[arg-type]  # its own fields
    if asked not in ("keep", "keep new"):
        return _page(form, source=source)
    look, refusal = _look_typed(form)
    if look is None:
        return _page(form, source=source, refusal=refusal)
    try:
        kept = desk().recipes().save(form.text(), source if source and asked == "keep" else None)
    except ControllerError as error:
        return _page(form, source=source, refusal=_refusal(error, form))
    return go_to_kept(kept)


@blueprint.post("/review")
def review_typed() -> ResponseReturnValue:
    """Return the review of what is typed so far, for the page that is being typed on; keeps nothing."""
    form = _typed(request.form.get("written", ""), request.form)
    look, refusal = _look_typed(form)
    part = render_template("shelf_live.html", form=form, look=look, refusal=refusal, waiting=refusal, **_LISTS)
    return make_response(part, 200 if look is not None else refusal.status)


let_be_put_away(
    blueprint, "/shelf", lambda: desk().recipes(), away="/shelf?kind={kind}&undo={id}", out="/shelf/{id}?said=out"
)


def go_to_kept(kept: Kept) -> ResponseReturnValue:
    """Lead to the review of what was kept, or in the dark to the page that says it was."""
    page = f"/shelf/{kept.id}" if day_allowed() else f"/shelf/{kept.id}/kept"
    return redirect(f"{page}?version={kept.version}&said=kept", 303)


def _page(form: AnyForm, *, source: str, refusal: Refusal | None = None, opened: str = "") -> ResponseReturnValue:
    """Show a form as it was typed, with what it would give; a refusal stands beside its field.

    `opened` is the fold that is worked on: "local-2", "making".
    """
    kind = "recipe" if isinstance(form, RecipeForm) else "strip"
    look, found = _look_typed(form)
    # An untouched form is no mistake: it is only told what is missing once it was to be kept.
    told = refusal or NONE
    last = _last_used() if kind == "strip" and not source else None
    return show(
        f"{kind}.html",
        told.status,
        home=f"/shelf/{source}/edit" if source else f"/shelf/new/{kind}",
        kind=kind,
        form=form,
        source=source,
        look=look,
        refusal=told,
        waiting=found,
        opened=opened,
        usual=usual_strips(last, desk().recipes().longest_ms()) if last is not None else (),
        levels=levels_of(form.paper_name),
        usual_from=last.title if last is not None else "",
        to_correct=to_correct(told, form.label),
        **_LISTS,
    )


def _look_typed(form: AnyForm) -> tuple[Look | None, Refusal]:
    """Return what a form would give, or why it gives nothing."""
    text = form.text()
    try:
        kind = "recipe" if isinstance(form, RecipeForm) else "strip"
        written = desk().recipes().read(text, say(f"shelf.this-{kind}"), form.place_name)
        desk().at_enlarger().must_agree(written)
        return _with_advice(look_at(desk().recipes().review(text), written, bench=now().bench), written), NONE
    except (Unreadable, Impossible) as error:
        return None, _refusal(error, form)


def _look(body: str, written: Written) -> tuple[Look | None, Refusal]:
    try:
        plan = desk().recipes().review(body)
        areas = _areas_of(plan, written)
        return _with_advice(look_at(plan, written, areas=areas, bench=now().bench), written), NONE
    except (Unreadable, Impossible) as error:
        return None, Refusal(str(error), status=422)


def _with_advice(look: Look, written: Written) -> Look:
    """Return a look with what is to be known of a flash: on a paper that is not read, or through an unknown opal."""
    flash, said = written.flash, list(look.advice)
    if flash is None:
        return look
    paper = (written.paper.name if written.paper else None) or ""
    if isinstance(written, Recipe) and not desk().contrast().paper_called(paper):
        said.append(say("shelf.flash-unread"))
    if opal_unknown(flash.way, paper):
        said.append(say("shelf.flash-opal-unknown"))
    return replace(look, advice=tuple(said))


def _refusal(error: ControllerError, form: AnyForm) -> Refusal:
    at = form.beside(error.place)
    return Refusal(form.no_number(at) or str(error), at, status_of(error, 409))


def _typed(kind: str, typed: Typed) -> AnyForm:
    if kind not in KINDS:
        abort(404)
    return read_recipe_form(typed) if kind == "recipe" else read_strip_form(typed)


def _form_of(written: Written) -> AnyForm:
    return recipe_form_of(written) if isinstance(written, Recipe) else strip_form_of(written)


def _opened_by(move: Move, after: AnyForm) -> str:
    """Return the line of local work that a button of a line leaves open: the new one, or the one that was moved."""
    if not isinstance(after, RecipeForm) or move.kind != "local" or move.verb == "drop":
        return "hands" if move.kind in ("tools", "hands") else ""
    return f"local-{len(after.work) - 1 if move.verb == 'add' else max(0, move.line - 1)}"


def _last_used() -> LastUsed:
    """Return what was used last: what the last sheet was picked into, else what is loaded, else the newest kept."""
    sheets = [sheet for session in desk().sheets(least=1, most=1).sessions for sheet in session.sheets]
    last = max(sheets, key=lambda sheet: sheet.number, default=None)
    plan = desk().record(last.id).plan if last is not None else None
    loaded = now().plan
    tried: list[tuple[str, int | None, str]] = []
    if last is not None and plan is not None and (loaded is None or loaded.source == plan.source):
        tried += [(pick.recipe, pick.recipe_version, pick.filter) for pick in last.picks[-1:] if pick.recipe]
    tried += [(each.source, each.version, "") for each in (loaded, plan) if each is not None]
    tried += [(kept.id, kept.version, "") for kind in KINDS for kept in desk().recipes().kept(kind, 1)]
    for source, version, picked in tried:
        try:
            written = desk().recipes().written(desk().recipes().fetch(source, version))
        except (NotThere, Unreadable):
            continue
        return last_used_of(written, picked, _picked_from(plan) if picked else None)
    return LastUsed()


def _picked_from(plan: Plan | None) -> Strip | None:
    """Return the strip that a sheet was made by; None where the shelf has it no more."""
    with suppress(NotThere, Unreadable):
        if plan is not None:
            written = desk().recipes().written(desk().recipes().fetch(plan.source, plan.version))
            return written if isinstance(written, Strip) else None
    return None


def _under(kept: Kept) -> str:
    """Return the small print of a kept thing; one that today's software cannot read has none."""
    try:
        return small_print(desk().recipes().written(kept))
    except Unreadable as error:
        return str(error)


def _version() -> int | None:
    return request.args.get("version", type=int)


def _said(is_next: bool) -> str:
    """Return the sentence that an act left behind."""
    match request.args.get("said"):
        case "kept":
            return say("shelf.said-kept-next" if is_next else "shelf.said-kept")
        case "out":
            return say("shelf.said-out")
    return ""


def _areas_of(plan: Plan, written: Written) -> PrintAreas | None:
    return desk().previews().maps.of_recipe(plan, written) if isinstance(written, Recipe) else None
