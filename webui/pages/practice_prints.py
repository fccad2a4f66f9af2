"""The practice darkroom darkens paper: baseboard, hands, faults, the scene, and the tray."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, abort, g, make_response, redirect, render_template, request

from controller.foot.acts import Load, Pick, PutDown
from controller.practice.practice_scene import PracticeScene
from controller.unpack.unpacker import MOST_BYTES
from controller.words import say
from webui.forms.practice_scene import read_scene
from webui.frame.context import day_allowed, decided_on, desk, leads_on, look_again, now
from webui.frame.guard import needs_day
from webui.frame.incoming import brought
from webui.frame.live import loaded_words
from webui.frame.refusals import refuse, wants_json
from webui.pages.practice import shown_page
from webui.pictures.print_views import print_bands, scale_picture

if TYPE_CHECKING:
    from flask import Response
    from flask.typing import ResponseReturnValue
    from markupsafe import Markup

    from controller.practice.printed import Print, WetOrDry
    from controller.practice.prints import PracticePrints
    from controller.practice.switches import PracticeSwitches
    from controller.store.records import SheetRecord

blueprint = Blueprint("practice_prints", __name__)

FOGGED: Final = 0.03
"""Density over paper white, where no picture comes, that the eye sees as grey."""
THIN: Final = 0.97
"""A share of its density that leaves a full black 0.06 short: seen beside a full one."""
ACTS: Final = {"dodge", "burn", "edge burn"}
CARD_WAYS: Final = {"cover", "uncover", "window"}
MOST_BANDS: Final = 24
FORM_BYTES: Final = 100_000


@blueprint.url_value_preprocessor
def _let_pictures_in(endpoint: str | None, _values: object) -> None:
    """Take in a picture where one may come; every other page stays with small forms."""
    if endpoint == "practice_prints.own":
        request.max_content_length = MOST_BYTES + FORM_BYTES


# ---- the baseboard and the hands


@blueprint.get("/practice/board.png")
def board() -> ResponseReturnValue:
    """Give what falls on the baseboard, or would fall, were the lamp lit now."""
    return _png(_prints().board_png(_practice().stage(now())))


@blueprint.post("/practice/hand")
def hand() -> ResponseReturnValue:
    """Do one thing with the hands: paper, negative carrier, opal glass, card, dodger, or a phone laid down lit."""
    what, of = request.form.get("what", ""), request.form.get("of", "")
    practice = _practice()
    match what:
        case "paper-out" | "paper-away":
            practice.paper(what == "paper-out")
        case "negative-in" | "negative-b-in" | "negative-out":
            practice.negative(what != "negative-out", "B" if what == "negative-b-in" else "A")
        case "opal-in" | "opal-out":
            practice.opal(what == "opal-in")
        case "phone-on" | "phone-off":
            practice.phone_lies_lit(what == "phone-on")
        case "card-on":
            practice.move_card_on(now())
        case "card":
            place = request.form.get("place", type=int)
            if of not in CARD_WAYS or place is None or not -1 <= place <= MOST_BANDS:
                return refuse(422, say("practice.card-refused", most=MOST_BANDS))
            practice.card(of, place)
        case "tool-in" | "tool-out":
            act = request.form.get("act", "")
            if act not in ACTS or not 1 <= len(of) <= 6 or not of.isalpha():
                return refuse(422, say("practice.area-refused"))
            practice.tool(of, act, what == "tool-in")
        case _:
            return refuse(422, say("page.refused-field", fields="what"))
    return _done()


@blueprint.post("/practice/fault")
def fault() -> ResponseReturnValue:
    """Break one thing of the practice darkroom, or mend it."""
    name, on = request.form.get("fault", ""), request.form.get("on")
    if on not in {"0", "1"} or name not in dict(_practice().faults()):
        return refuse(422, say("page.refused-field", fields="fault, on"))
    _practice().fault(name, on == "1")
    return _done()


# ---- the scene


@blueprint.post("/practice/scene")
@needs_day
def scene() -> ResponseReturnValue:
    """Keep what lies in the carrier, which paper, and what goes wrong, for sheets developed from now on."""
    chosen = read_scene(request.form)
    if chosen.found is None:
        typed = {name: request.form.get(name, "") for name in PracticeScene.model_fields}
        return shown_page(chosen.refusal, typed), chosen.refusal.status
    _prints().keep_scene(chosen.found)
    return _done("#scene")


@blueprint.post("/practice/own")
@needs_day
def own() -> ResponseReturnValue:
    """Keep a picture of the printer's own as the negative."""
    given = request.files.get("picture")
    file = brought(given)
    if given is None or file is None:
        return refuse(422, say("practice.own-none"))
    _prints().keep_own(file, given.filename or "")
    return _done("#scene")


# ---- the tray


@blueprint.post("/practice/develop")
def develop() -> ResponseReturnValue:
    """Develop a closed sheet, and look at its print: on the practice page, or on a page of its own."""
    sheet = request.form.get("sheet", "")
    record = desk().record(sheet)
    _prints().develop(record.id)
    if wants_json() or not day_allowed():
        return _done()
    return redirect(f"/practice/print/{record.id}?wet=1", 303)


@blueprint.post("/practice/aside")
def aside() -> ResponseReturnValue:
    """Lay the print aside and go back to the enlarger; with "else", choose anew what to print there."""
    if request.form.get("then") == "else" and "put down" in now().can:
        desk().do(PutDown(), decided_on())
    _prints().lay_aside()
    return _done()


@blueprint.post("/practice/print-from")
def print_from() -> ResponseReturnValue:
    """Take a pick over into a recipe, and make what it leads on to the next sheet: as by day, or else that recipe."""
    record, band = desk().record(request.form.get("sheet", "")), request.form.get("band", type=int)
    if band is None or not 1 <= band <= MOST_BANDS:
        return refuse(422, say("page.refused-field", fields="band"))
    pick = Pick(
        sheet=record.id,
        band=band,
        between=request.form.get("between") == "1",
        recipe=desk().next().base_of(record),
        go_on=leads_on(record, now()),
    )
    before = now().plan
    after = desk().do(pick, decided_on()).plan
    taken = desk().record(record.id).picks[-1]
    if taken.recipe and after == before:
        desk().do(Load(source=taken.recipe, version=taken.recipe_version), look_again().number)
    _prints().lay_aside()
    return _loaded()


@blueprint.post("/practice/again")
def again() -> ResponseReturnValue:
    """Make what a sheet was given, that very version, the next sheet."""
    plan = desk().record(request.form.get("sheet", "")).plan
    desk().do(Load(source=plan.source, version=plan.version), decided_on())
    _prints().lay_aside()
    return _loaded()


def _loaded() -> ResponseReturnValue:
    """Say what is loaded now to the phone that chose it, or go back to the practice page."""
    return {"done": True, "loaded": loaded_words(look_again())} if wants_json() else _done()


@blueprint.get("/practice/print/<sheet>")
@needs_day
def print_page(sheet: str) -> ResponseReturnValue:
    """Show a print, wet or dry, with its grey scale and what was read off it."""
    record, made = desk().record(sheet), _prints().made(sheet)
    if made is None:
        return redirect(f"/sheets/{record.id}", 303)
    return render_template(
        "print.html",
        record=record,
        made=made,
        wet="wet" in request.args,
        scale=scale_picture(made),
        fogged=is_fogged(made),
        thin=made.developer_s is not None and made.share < THIN,
        least_fog=FOGGED,
        bands=developed_bands(record, None),
    )


@blueprint.get("/practice/print/<sheet>.png")
def print_png(sheet: str) -> ResponseReturnValue:
    """Give a print's picture, which never changes: a phone keeps it, and asks each time whether it may show it."""
    answer = _png(_prints().png(desk().record(sheet).id, _stand()))
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.add_etag()
    return answer.make_conditional(request)


@blueprint.get("/practice/coming/<sheet>.png")
def coming_png(sheet: str) -> ResponseReturnValue:
    """Give a small picture of what a sheet in the trays comes up to be."""
    return _png(_prints().coming(desk().record(sheet).id))


def _stand() -> WetOrDry:
    return "wet" if "wet" in request.args else "small" if "small" in request.args else "dry"


def is_fogged(made: Print) -> bool:
    """Tell whether light beside the enlarger's picture alone made the paper grey."""
    return made.fog > made.dmin + FOGGED


def print_of(sheet: str) -> Print | None:
    """Return the print of a sheet where this is the practice darkroom and it is developed."""
    prints = tray()
    made = prints.made(sheet) if prints is not None else None
    g.pictures = g.get("pictures") or made is not None  # the page may fetch ours
    return made


def developed_bands(record: SheetRecord, band: int | None) -> Markup | None:
    """Return a practice strip as it came out of the tray, its bands to be tapped; None where it is not developed."""
    made, strip = print_of(record.id), record.plan.strip
    if made is None or strip is None:
        return None
    return print_bands(made, strip, lambda number: f"/pick/{record.id}?band={number}&between=0#meaning", band)


def tray() -> PracticePrints | None:
    """Return the practice darkroom's tray, or None where there is none."""
    practice = desk().practice()
    return practice.prints() if practice is not None else None


def _prints() -> PracticePrints:
    found = tray()
    if found is None:
        abort(404)
    g.pictures = True  # the page may fetch ours
    return found


def _practice() -> PracticeSwitches:
    practice = desk().practice()
    if practice is None:
        abort(404)
    return practice


def _png(content: bytes) -> Response:
    answer = make_response(content)
    answer.headers["Content-Type"] = "image/png"
    return answer


def _done(place: str = "") -> ResponseReturnValue:
    return {"done": True} if wants_json() else redirect(f"/practice{place}", 303)
