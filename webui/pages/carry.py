"""Carrying a recipe over, by day: one form, every step old and new before anything is kept, then its check strips."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from flask import Blueprint, redirect, render_template, request

from controller.errors import ControllerError, Unreadable
from controller.words import say
from webui.forms.carry import NAMES, NOW, PLACES, carry_wanted, filters_of, lacking, threshold_sheets
from webui.forms.form import Fields, Shown, shown_of, to_correct, told
from webui.frame.context import day_allowed, desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.lists import offered_papers
from webui.pages.reckon import sixths_words
from webui.pictures import Picture, size_picture
from webui.wording import seconds

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.carry.wanted import Preview
    from controller.recipe.strip import Strip

blueprint = Blueprint("carry", __name__)

NOTHING: Final[Shown[Any]] = Shown()


@dataclass(frozen=True)
class Step:
    """One step of the sheet, old and new."""

    name: str
    stops: str
    old: str
    new: str


@blueprint.get("/carry/<source>")
@needs_day
def carry(source: str) -> ResponseReturnValue:
    """Show the form, and every step old and new where something was asked for."""
    fields = Fields("carry.field-", request.args, NAMES)
    if "go" not in request.args:
        return _page(source, fields)
    return _page(source, fields, _preview(source, fields))


@blueprint.post("/carry/<source>/keep")
@waits_for_day
def keep(source: str) -> ResponseReturnValue:
    """Keep the carried recipe with its check strips: as a new version of it, or as a recipe of its own."""
    fields = Fields("carry.field-", request.form, NAMES)
    own = request.form.get("do") == "new"
    try:
        if own and not fields["title"]:
            raise Unreadable(say("contrast.name-it"), ("title",))
        wanted = carry_wanted(fields, desk().recipes().recipe(source, _version(fields)))
        made = desk().carrying().keep(source, _version(fields), wanted, title=fields["title"] if own else "")
    except ControllerError as error:
        return _page(source, fields, Shown(_preview(source, fields).found, told(PLACES, error)))
    page = f"/carried/{made.id}" if day_allowed() else f"/shelf/{made.recipe.id}/kept"
    return redirect(page, 303)


@blueprint.get("/carried/<carried>")
@needs_day
def carried(carried: str) -> ResponseReturnValue:
    """Show what was kept: the recipe, and the check strips to be made next."""
    link = desk().carrying().fetch(carried)
    strips = [desk().recipes().fetch(each.id) for each in link.strips]
    return render_template(
        "carried.html",
        recipe=desk().recipes().fetch(link.recipe.id),
        before=desk().recipes().fetch(link.source.id, link.source.version),
        strips=strips,
        apart=link.apart,
    )


@blueprint.post("/carry/<source>/moved")
@waits_for_day
def carry_moved(source: str) -> ResponseReturnValue:
    """Carry a recipe over what has moved on its paper, as its review showed it, and load its check strip."""
    number, key = request.form.get("number", default=0, type=int), request.form.get("offer", "")
    version = desk().recipes().fetch(source).version
    desk().next().take_moved(source, version, key, number)
    return redirect("/", 303)


def _preview(source: str, fields: Fields) -> Shown[Preview]:
    def look() -> Preview:
        recipe = desk().recipes().recipe(source, _version(fields))
        return desk().carrying().preview(source, _version(fields), carry_wanted(fields, recipe))

    return shown_of(look, PLACES)


def _version(fields: Fields) -> int | None:
    return int(fields["version"]) if fields["version"].isdecimal() else None


def _page(source: str, fields: Fields, shown: Shown[Preview] = NOTHING) -> ResponseReturnValue:
    recipe = desk().recipes().recipe(source, _version(fields))
    kept = desk().recipes().fetch(source, _version(fields))
    preview, refusal = shown.found, shown.refusal
    # A sentence about what the recipe lacks stands where that can be said.
    lacks, at = lacking(recipe), refusal.at
    if (
        preview is None
        and at == "magnification"
        and "now-magnification" in lacks
        and not fields.any("now-magnification")
    ):
        at = "now-magnification"
    refused = replace(refusal, at=at if at in NAMES and (at not in NOW or at in lacks) else "")
    return show(
        "carry.html",
        refusal.status,
        home=f"/carry/{source}",
        to_correct=to_correct(refused, fields.called),
        kept=kept,
        recipe=recipe,
        lacks=lacks,
        typed=fields,
        label=fields.label,
        refusal=refused,
        preview=preview,
        picture=_picture(preview) if preview else None,
        steps=_steps(preview) if preview else (),
        factors=[
            say("carry.factor", filter=each.filter, factor=f"{each.factor:.2f}", stops=sixths_words(each.stops))
            for each in preview.carried.factors
        ]
        if preview
        else (),
        strips=[strip_words(strip) for strip in preview.strips] if preview else (),
        filters=filters_of(recipe),
        papers=offered_papers(fields["from-paper"], fields["to-paper"]),
        sheets=threshold_sheets(),
        title=fields["title"] or say("carry.title", title=kept.title[:180]),
    )


def _steps(preview: Preview) -> tuple[Step, ...]:
    return tuple(
        Step(name=line.name, stops=line.stops or "", old=_seconds(line.old_ms), new=_seconds(line.new_ms))
        for line in preview.carried.lines
    )


def _seconds(ms: int) -> str:
    return say("carry.seconds", seconds=seconds(ms)) if ms else "–"


def _picture(preview: Preview) -> Picture | None:
    """Return the old print and the new one to scale, where their sizes are known and differ."""
    old, new = preview.carried.before.image_mm, preview.carried.recipe.image_mm
    if old is None or new is None or old == new:
        return None
    sides = [(float(image[0]), float(image[1])) for image in (old, new)]
    captions = [
        say(key, long=f"{image[0]:f}", short=f"{image[1]:f}")
        for key, image in (("carry.old-print", old), ("carry.new-print", new))
    ]
    first = preview.carried.factors[0]
    words = say("carry.factor", filter=first.filter, factor=f"{first.factor:.2f}", stops=sixths_words(first.stops))
    return size_picture(sides[0], sides[1], ident="size", words=words, captions=(captions[0], captions[1]))


def strip_words(strip: Strip) -> str:
    """Return a check strip in one line: its filter, and the time it stands around."""
    centre = getattr(strip.times, "centre", None)
    return say("carry.strip", filter=strip.filter, seconds=f"{float(centre or 0):.1f}", bands=strip.times.bands)
