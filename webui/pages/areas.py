"""The areas of a negative, drawn with a finger on its print or its scan: what burns and dodges of a preview go by.

A finger's stroke is sent whole. Without a script corners are tapped one by one: each tap is a link to the same page
with one corner more, and nothing is kept before it is asked for.
"""

from __future__ import annotations

from string import ascii_uppercase
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from flask import Blueprint, g, redirect, request

from controller.errors import ControllerError, NotThere, Unreadable
from controller.negatives.sets import MOST_AREAS, reference
from controller.recipe.outline import MOST_POINTS, drawn, parse_places, places_text
from controller.words import say
from webui.forms.form import NONE, Refusal, told
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.pages.proofs import shown_at

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue
    from werkzeug.datastructures import MultiDict

    from controller.daemon.preview_desk import Preview

blueprint = Blueprint("areas", __name__)

LONGEST_LETTER = 12


@blueprint.get("/negatives/<source>/frame/<frame>/areas")
@needs_day
def areas(source: str, frame: str) -> ResponseReturnValue:
    """Show the picture with its areas, or what is drawn of one so far."""
    return _page(source, frame, request.args)


@blueprint.post("/negatives/<source>/frame/<frame>/areas")
@waits_for_day
def change(source: str, frame: str) -> ResponseReturnValue:
    """Keep what was drawn of an area, or rub it out."""
    letter = " ".join(request.form.get("draw", "").split())[:LONGEST_LETTER]
    shelf = desk().negatives()
    try:
        if request.form.get("do") == "rub":
            shelf.rub_area(source, frame, letter)
        else:
            if not letter or not letter.isprintable():
                raise Unreadable(say("page.refused-field", fields="draw"))
            shelf.draw(source, frame, drawn(letter, parse_places(request.form.get("points", ""))))
    except NotThere:
        raise
    except ControllerError as error:
        return _page(source, frame, request.form, told({}, error))
    return redirect(home(source, frame), 303)


def home(source: str, frame: str) -> str:
    """Return the address of a frame's areas."""
    return f"/negatives/{source}/frame/{frame}/areas"


def _page(
    source: str, frame: str, asked: MultiDict[str, str] | dict[str, str], refusal: Refusal = NONE
) -> ResponseReturnValue:
    previews = desk().previews()
    found = desk().negatives().negative(reference(source, frame))
    scan = found.frame.scan
    size = desk().photographs().size(scan.photograph) if scan else None
    g.pictures = True
    seen = _seen(source, frame)
    own = {each.letter for each in found.frame.areas or ()}
    letters = {each.letter: each.outline for each in previews.areas(source, frame)}
    wanted = seen.not_drawn if seen else ()
    draw = " ".join(asked.get("draw", "").split())[:LONGEST_LETTER]
    shown = shown_at(size) if size else None
    points = list(parse_places(asked.get("points", "")))[-MOST_POINTS:] if draw else []
    if draw and shown and (tap := _tapped(asked, shown)) is not None:
        points.append(tap)
    free = next((one for one in ascii_uppercase if one not in letters and one not in wanted), None)
    return show(
        "areas.html",
        refusal.status,
        home=home(source, frame),
        preview=f"/negatives/{source}/frame/{frame}/preview",
        kept=found.of,
        one=found.frame,
        picture=_picture(source, frame, seen) if seen else f"/negatives/picture/{scan.photograph}.jpg" if scan else "",
        shown=shown,
        outlines=tuple((letter, outline, _middle(outline)) for letter, outline in letters.items() if letter != draw),
        letters=tuple((letter, letter in own) for letter in sorted(letters)),
        wanted=wanted,
        free=free if len(own) < MOST_AREAS else None,
        draw=draw,
        points=points,
        points_text=places_text(points),
        refusal=refusal,
    )


def _tapped(asked: MultiDict[str, str] | dict[str, str], shown: tuple[int, int]) -> tuple[float, float] | None:
    """Return where a picture was tapped, as shares of it: the middle of that pixel."""
    try:
        x, y = (int(asked.get(f"at.{axis}") or "") for axis in "xy")
    except ValueError:
        return None
    across, down = ((each + 0.5) / side for each, side in zip((x, y), shown, strict=True))
    return min(1.0, max(0.0, across)), min(1.0, max(0.0, down))


def _seen(source: str, frame: str) -> Preview | None:
    """Return what the print rests on, where it can be seen already: it is what is drawn on then."""
    try:
        return desk().previews().preview(source, frame)
    except NotThere:
        raise
    except ControllerError:
        return None


def _picture(source: str, frame: str, seen: Preview) -> str:
    pair = urlencode({"soft": f"{seen.pair[0]:f}", "hard": f"{seen.pair[1]:f}"})
    return f"/negatives/{source}/frame/{frame}/print.preview.png?{pair}"


def _middle(outline: Any) -> tuple[float, float]:
    """Return where an area's letter stands: in the middle of its corners, on the picture."""
    x, y = (sum(of) / len(outline) for of in zip(*outline, strict=True))
    return min(0.97, max(0.03, x)), min(0.97, max(0.03, y))
