"""Areas for burns and dodges, drawn with a finger: on a sheet's print, or on the scan and the preview of a negative.

One page for both. A finger's stroke is sent whole; without a script corners are tapped one by one, each a link to the
same page with one corner more. What a recipe works on is asked for letter by letter, and kept with it once all of it
is drawn, as one new version; what no recipe works on is kept with its negative.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from string import ascii_uppercase
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from flask import Blueprint, g, redirect, request

from controller.errors import ControllerError, NotThere, Unreadable
from controller.negatives.on_proof import XY, Onto
from controller.negatives.sets import CORNERS
from controller.recipe.outline import MOST_POINTS, Outline, drawn, parse_places, places_text
from controller.words import say
from webui.forms.form import NONE, Refusal, told
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.refusals import refuse, wants_json
from webui.pages.area_grounds import OnFrame, OnSheet
from webui.pages.proofs import shown_at

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue
    from werkzeug.datastructures import MultiDict

    from webui.pages.area_grounds import Canvas, Ground

    Asked = MultiDict[str, str]

blueprint = Blueprint("areas", __name__)

LONGEST_LETTER: Final = 12
MOST_WAITING: Final = 12
"""Outlines that wait in a page's address for those still to be drawn; with more they are kept first."""


@blueprint.get("/negatives/<source>/frame/<frame>/areas")
@needs_day
def areas(source: str, frame: str) -> ResponseReturnValue:
    """Show the picture with its areas, or what is drawn of one so far."""
    return _page(OnFrame(source, frame).canvas(), request.args)


@blueprint.post("/negatives/<source>/frame/<frame>/areas")
@waits_for_day
def change(source: str, frame: str) -> ResponseReturnValue:
    """Keep what was drawn of an area, or rub it out."""
    return _change(OnFrame(source, frame))


@blueprint.get("/sheets/<sheet>/map")
@needs_day
def sheet_map(sheet: str) -> ResponseReturnValue:
    """Show a sheet's print with its areas, or what is drawn of one so far; first the corners of its image."""
    return _page(OnSheet(desk().record(sheet)).canvas(), request.args)


@blueprint.post("/sheets/<sheet>/map")
@waits_for_day
def change_sheet_map(sheet: str) -> ResponseReturnValue:
    """Keep what was drawn of an area, or rub it out."""
    return _change(OnSheet(desk().record(sheet)))


@blueprint.post("/sheets/<sheet>/map/corner")
@waits_for_day
def corner(sheet: str) -> ResponseReturnValue:
    """Set the corner of the image that was tapped on its photograph, or dragged; or let the photograph's own count."""
    record, which = desk().record(sheet), request.form.get("corner", "")
    canvas = OnSheet(record).canvas()
    begin = f"{canvas.home}?{urlencode({'draw': canvas.wanted[0]})}#drawing" if canvas.wanted else canvas.home
    if which == "none":
        desk().photographs().fills(record)
        return redirect(begin, 303)
    x, y = (request.form.get(f"at.{axis}", type=float) for axis in "xy")
    if canvas.size is None or x is None or y is None or not (abs(x) < 1e6 and abs(y) < 1e6):
        return _page(canvas, request.args, which=which)
    wide, high = shown_at(canvas.size)
    try:
        desk().photographs().corner(record, which, (x + 0.5) / wide, (y + 0.5) / high)
    except NotThere:
        raise
    except ControllerError as error:
        if wants_json():
            return refuse(422, str(error))
        return _page(canvas, request.args, Refusal(str(error), "corner", 422), which)
    if wants_json():
        return {"done": True}
    following = CORNERS.index(which) + 1
    return redirect(f"{canvas.home}?corner={CORNERS[following]}" if following < len(CORNERS) else begin, 303)


# ---- what both do


def _change(ground: Ground) -> ResponseReturnValue:
    canvas, form = ground.canvas(), request.form
    letter, waiting = _letter(form), _waiting(form)
    try:
        if form.get("do") == "rub":
            ground.rub(letter)
            return redirect(canvas.home, 303)
        if form.get("do") != "keep all":
            if not letter or not letter.isprintable():
                raise Unreadable(say("page.refused-field", fields="draw"))
            back = Onto(canvas.corners).back
            made = drawn(letter, [back(x, y) for x, y in parse_places(form.get("points", ""))])
            waiting = [*(each for each in waiting if each.letter != letter), made]
            still = [each for each in canvas.wanted if each not in {one.letter for one in waiting}]
            if ground.waits(letter) and still and len(waiting) < MOST_WAITING:
                return redirect(f"{canvas.home}?{_query(still[0], waiting)}#drawing", 303)
        return redirect(ground.keep(waiting) if waiting else canvas.home, 303)
    except NotThere:
        raise
    except ControllerError as error:
        return _page(canvas, form, told({}, error))


def _page(canvas: Canvas, asked: Asked, refusal: Refusal = NONE, which: str = "") -> ResponseReturnValue:
    g.pictures = True
    shown = shown_at(canvas.size) if canvas.size else None
    which = which if which in CORNERS else asked.get("corner", "") if asked.get("corner") in CORNERS else ""
    draw, waiting = _letter(asked), _waiting(asked)
    points = list(parse_places(asked.get("points", "")))[-MOST_POINTS:] if draw else []
    if draw and shown and (tap := _tapped(asked, shown)) is not None:
        points.append(tap)
    done = {each.letter: each.places for each in waiting}
    at = Onto(canvas.corners)
    outlines = {letter: tuple(at(*each) for each in places) for letter, places in (canvas.outlines | done).items()}
    wanted = tuple(letter for letter in canvas.wanted if letter not in done)
    free = next((one for one in ascii_uppercase if one not in outlines and one not in canvas.wanted), None)
    return show(
        "areas.html",
        refusal.status,
        home=canvas.home,
        canvas=canvas,
        shown=shown,
        corner=which or (CORNERS[0] if canvas.asks_corners else ""),
        corners=CORNERS,
        corners_at=" ".join(f"{x:g},{y:g}" for x, y in canvas.corners),
        outlines=tuple((letter, places, _middle(places)) for letter, places in outlines.items() if letter != draw),
        letters=tuple((letter, letter in canvas.own) for letter in sorted(canvas.outlines)),
        wanted=wanted,
        query=_query,
        waiting=waiting,
        waiting_texts=tuple(map(_waiting_text, waiting)),
        free=free if canvas.more else None,
        draw=draw,
        points=points,
        points_text=places_text(points),
        refusal=refusal,
    )


def _letter(asked: Asked) -> str:
    return " ".join(asked.get("draw", "").split())[:LONGEST_LETTER]


def _query(draw: str, waiting: Iterable[Outline] = ()) -> str:
    """Return a page's query: what is drawn next, and what was drawn and waits to be kept with it."""
    return urlencode([("draw", draw), *(("done", _waiting_text(each)) for each in waiting)])


def _waiting_text(outline: Outline) -> str:
    return f"{outline.letter}:{places_text(outline.places)}"


def _waiting(asked: Asked) -> list[Outline]:
    """Return the outlines that wait, in shares of the image; what is none is left out."""
    found: dict[str, Outline] = {}
    for text in asked.getlist("done")[:MOST_WAITING]:
        letter, _, points = text.rpartition(":")
        try:
            found[letter] = drawn(letter, parse_places(points))
        except (ControllerError, ValueError):
            continue
    return list(found.values())


def _tapped(asked: Asked, shown: tuple[int, int]) -> XY | None:
    """Return where a picture was tapped, as shares of it: the middle of that pixel."""
    try:
        x, y = (int(asked.get(f"at.{axis}") or "") for axis in "xy")
    except ValueError:
        return None
    across, down = ((each + 0.5) / side for each, side in zip((x, y), shown, strict=True))
    return min(1.0, max(0.0, across)), min(1.0, max(0.0, down))


def _middle(outline: Sequence[XY]) -> XY:
    """Return where an area's letter stands: in the middle of its corners, on the picture."""
    x, y = (sum(of) / len(outline) for of in zip(*outline, strict=True))
    return min(0.97, max(0.03, x)), min(0.97, max(0.03, y))
