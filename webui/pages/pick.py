"""A pick from a strip in the day face: its bands and the lines between, and what a pick would mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, redirect, request

from controller.errors import ControllerError, Impossible
from controller.exposure.decimals import typed_text_of
from controller.foot.acts import Pick
from controller.recipe.pick import read_pick
from controller.words import say
from webui.forms.form import NONE, Fields, Refusal, to_correct, told
from webui.frame.context import decided_on, desk, is_next, leads_on, now
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.lists import offered_recipes
from webui.pages.practice_prints import developed_bands
from webui.pages.tests import test_page
from webui.pictures import standing_strip
from webui.pictures.strip import Choice, stops_text

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue
    from werkzeug.datastructures import MultiDict

    from controller.recipe.pick import PickMeaning
    from controller.recipe.plan import StripPlan
    from controller.store.records import SheetRecord

blueprint = Blueprint("pick", __name__)

FIGURES: Final = {"aperture": "lens-aperture", "head-height": "head-height"}
"""What a strip may not say of its set-up, with its field: called as in the strip's own form."""
_LIMITS: Final = {"aperture": ("0.5", "128"), "head-height": ("0", "10000")}


@blueprint.get("/pick/<sheet>")
@needs_day
def pick(sheet: str) -> ResponseReturnValue:
    """Show a strip's sheet to pick from: its bands and the lines between, and what the pick would mean."""
    record = desk().record(sheet)
    if page := test_page(record.plan):  # a test's strip is answered there
        return redirect(page, 303)
    return _page(record, _chosen(record, request.args), Fields("shelf.", {}, ()))


@blueprint.post("/pick/<sheet>/figures")
@waits_for_day
def with_figures(sheet: str) -> ResponseReturnValue:
    """Take a pick over with what its strip does not say of its set-up, which the strip's next version then says."""
    record = desk().record(sheet)
    chosen = _chosen(record, request.form)
    if chosen is None:
        return redirect(f"/pick/{record.id}", 303)
    fields = Fields("shelf.", request.form, (*FIGURES.values(), "recipe", "title"))
    lacking = desk().recipes().lacking(record)
    # a burn's stops mean the same at any aperture and height: they are asked only where a recipe is made of them
    ask = fields.needed if read_pick(record.plan, chosen.band).kind == "base" else fields.figure
    try:
        said = {name: ask(name, *_LIMITS[name], source=FIGURES[name]) for name in lacking}
        pick = Pick(
            sheet=record.id,
            band=chosen.band,
            between=chosen.between,
            recipe=fields["recipe"],
            title=fields["title"],
            aperture=said.get("aperture"),
            head_height_mm=said.get("head-height"),
        )
        desk().do(pick, decided_on())
    except ControllerError as error:
        return _page(record, chosen, fields, told(FIGURES, error))
    return redirect(f"{_address(record, chosen)}&done=1", 303)


def _page(record: SheetRecord, chosen: Choice | None, typed: Fields, refusal: Refusal = NONE) -> ResponseReturnValue:
    strip = _strip(record)
    first = desk().recipes().meaning(record, 1, between=False)
    meaning = desk().recipes().meaning(record, chosen.band, between=chosen.between) if chosen else None
    picture = standing_strip(
        strip,
        ident="pick",
        address=lambda place: f"{_address(record, place)}#meaning",
        between=lambda band: _between_words(record, band),
        chosen=chosen,
    )
    lacking = desk().recipes().lacking(record)
    into = typed["recipe"] or (desk().next().base_of(record) if meaning else "")
    return show(
        "pick.html",
        refusal.status,
        home=_address(record, chosen) if chosen else f"/pick/{record.id}",
        refusal=refusal,
        to_correct=to_correct(refusal, lambda at: say(f"shelf.{at.removeprefix('lens-')}")),
        lacking=tuple(lacking),
        typed={name: typed[field] or typed_text_of(lacking.get(name)) for name, field in FIGURES.items()},
        into=into,
        title=typed["title"] or (meaning.title if meaning else ""),
        record=record,
        picture=picture,
        bands=developed_bands(record, chosen.band if chosen and not chosen.between else None),
        chosen=chosen,
        meaning=meaning,
        look_for=first.look_for,
        not_offered=first.not_offered,
        offered=offered_recipes(request.args.get("q", ""), (meaning.confirms or into) if meaning else ""),
        uneven=_uneven(record),
        done="done" in request.args,
        recipe_page=_recipe_page(record),
        is_next=_went_into_next(record),
        goes_on=_goes_on(meaning),
        leads_on=_goes_on(meaning) and leads_on(record, now()),
        confirmed=desk().recipes().fetch(meaning.confirms) if meaning is not None and meaning.confirms else None,
    )


def _recipe_page(record: SheetRecord) -> str:
    """Return the recipe that the last pick went into, as its address; empty where it went into none."""
    last = record.picks[-1] if record.picks else None
    return f"/shelf/{last.recipe}?version={last.recipe_version}" if last is not None and last.recipe else ""


def _went_into_next(record: SheetRecord) -> bool:
    """Tell whether the last pick went into the very version that the next sheet gets."""
    last = record.picks[-1] if record.picks else None
    return last is not None and is_next(last.recipe, last.recipe_version)


def _goes_on(meaning: PickMeaning | None) -> bool:
    return meaning is not None and meaning.not_offered is None


def _strip(record: SheetRecord) -> StripPlan:
    if record.plan.strip is None:
        raise Impossible(say("reckoning.pick-not-a-strip", title=record.plan.title))
    return record.plan.strip


def _chosen(record: SheetRecord, asked: MultiDict[str, str]) -> Choice | None:
    band, between = asked.get("band", 0, type=int), asked.get("between") == "1"
    return Choice(band, between) if 1 <= band <= len(_strip(record).totals_ms) - between else None


def _address(record: SheetRecord, chosen: Choice) -> str:
    return f"/pick/{record.id}?band={chosen.band}&between={chosen.between:d}"


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
