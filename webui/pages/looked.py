"""How did it look? By day: two rows of words, what comes of them before it is kept, and the way on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, render_template, request
from markupsafe import Markup

from controller.contrast.how_it_looked import Looks
from controller.errors import Impossible, NotThere, Unreadable
from controller.words import say
from webui.frame.context import desk
from webui.frame.guard import needs_day
from webui.frame.looks import LOOKS, changes_of
from webui.pages.practice_prints import print_of
from webui.pages.record import photo_of
from webui.pictures import Face

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.contrast.how_it_looked import Wish
    from controller.store.records import SheetRecord

blueprint = Blueprint("looked", __name__)


@blueprint.get("/looked/<sheet>")
@needs_day
def looked(sheet: str) -> ResponseReturnValue:
    """Ask how a closed sheet looked, and show what would come of it; nothing is kept."""
    record = desk().record(sheet)
    strip = record.plan.kind == "strip"
    # of a strip's picked band the highlight is right: that is why it was picked
    light, dark = _chosen("light", 0 if strip else None), _chosen("dark", None)
    looks = None if light is None or dark is None else Looks(light=light, dark=dark)
    found, why = None, ""
    try:
        found = desk().contrast().looked(record, looks or Looks(light=0, dark=0))
    except Impossible as problem:
        why = str(problem)
    lights = found.lights if found is not None and looks is not None else None
    was, will_be = (getattr(lights, name, None) for name in ("was", "will_be"))
    return render_template(
        "looked.html",
        record=record,
        strip=strip,
        light=light,
        dark=dark,
        found=found if looks is not None else None,
        why=why,
        changes=changes_of(found.looked.changes) if found is not None else (),
        sentences=getattr(lights, "sentences", ()),
        patches=_patches(was, will_be),
        made=print_of(record.id),
        photo=photo_of(record),
        **_figures_of(record),
    )


def _figures_of(record: SheetRecord) -> dict[str, str]:
    """Return the recipe that a sheet was made by, or went into, and its calibrated paper: for contrast by figures."""
    picked = next((pick.recipe for pick in reversed(record.picks) if pick.recipe), "")
    source = record.plan.source if record.plan.kind == "recipe" else picked
    try:
        return {"recipe": source, "paper": desk().contrast().paper_for(source) if source else ""}
    except (NotThere, Unreadable):
        return {"recipe": "", "paper": ""}


def _chosen(row: str, usual: int | None) -> int | None:
    value = request.args.get(row, type=int)
    return value if value in LOOKS else usual


def _patches(was: Wish | None, will_be: Wish | None) -> tuple[tuple[str, Markup, Markup], ...]:
    """Return of each tone its name, its grey as it was and its grey as it will be; nothing without a curve."""
    if was is None or will_be is None:
        return ()
    return tuple(
        (say(f"page.looked-{tone}"), _grey(getattr(was, tone)), _grey(getattr(will_be, tone)))
        for tone in ("light", "dark")
    )


def _grey(density: float) -> Markup:
    return Markup(
        '<svg class="patch" viewBox="0 0 60 60" role="img" aria-label="{}">'
        '<rect width="60" height="60" fill="{}"/></svg>'
    ).format(say("page.looked-patch", density=f"{max(0.0, density):.2f}"), Face.DAY.grey(density))
