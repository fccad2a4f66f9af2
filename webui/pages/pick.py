"""A pick from a strip in the day face: its bands and the lines between, and what a pick would mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, render_template, request

from controller.errors import Impossible
from controller.recipe.pick import read_pick
from controller.words import say
from webui.frame.context import desk, is_next
from webui.frame.guard import needs_day
from webui.frame.lists import offered_recipes
from webui.pages.practice_prints import developed_bands
from webui.pictures import standing_strip
from webui.pictures.strip import Choice, stops_text

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.recipe.pick import PickMeaning
    from controller.store.records import SheetRecord

blueprint = Blueprint("pick", __name__)


@blueprint.get("/pick/<sheet>")
@needs_day
def pick(sheet: str) -> ResponseReturnValue:
    """Show a strip's sheet to pick from: its bands and the lines between, and what the pick would mean."""
    record = desk().record(sheet)
    strip = record.plan.strip
    if strip is None:
        raise Impossible(say("reckoning.pick-not-a-strip", title=record.plan.title))
    chosen = _chosen(len(strip.totals_ms))
    first = desk().recipes().meaning(record, 1, between=False)
    meaning = desk().recipes().meaning(record, chosen.band, between=chosen.between) if chosen else None
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
        offered=offered_recipes(request.args.get("q", ""), meaning.confirms if meaning else ""),
        uneven=_uneven(record),
        done="done" in request.args,
        recipe_page=_recipe_page(record),
        is_next=_went_into_next(record),
        goes_on=_goes_on(meaning),
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
