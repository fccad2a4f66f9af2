"""See it before the paper: a negative's scan is brought, two tones are tapped, the print is seen, or 25 of it."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from flask import Blueprint, abort, g, make_response, redirect, request

from controller.daemon.preview_desk import Look
from controller.errors import ControllerError, NotThere
from controller.exposure.decimals import decimal_within
from controller.negatives.sets import reference
from controller.paper.libraries import missing_libraries
from controller.preview.lights import round_a_pair
from controller.unpack.unpacker import MOST_BYTES
from controller.words import say
from webui.forms.form import NONE, Refusal, told
from webui.frame.context import decided_on, desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.incoming import brought
from webui.pages.practice_prints import FORM_BYTES
from webui.pages.proofs import shown_at

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue
    from werkzeug.datastructures import MultiDict

    from controller.daemon.preview_desk import Preview
    from controller.preview.lights import Pair

blueprint = Blueprint("previews", __name__)

HOWS: Final = ("flatbed", "light table")
TOGGLES: Final = ("white", "black", "wet")
"""What may be laid over a print, or how it lies: each on or off."""
_LONGEST_S: Final = 3600


@blueprint.url_value_preprocessor
def _let_scans_in(endpoint: str | None, _values: object) -> None:
    """Take in a scan where one may come; every other page stays with small forms."""
    if endpoint == "negatives.previews.bring":
        request.max_content_length = MOST_BYTES + FORM_BYTES


@blueprint.get("/negatives/<source>/frame/<frame>/preview")
@needs_day
def preview(source: str, frame: str) -> ResponseReturnValue:
    """Show the print as its paper would give it; before that, what is still to be brought or tapped."""
    return _page(source, frame, request.args)


@blueprint.get("/negatives/<source>/frame/<frame>/<which>.preview.png")
@needs_day
def picture(source: str, frame: str, which: str) -> ResponseReturnValue:
    """Give the print, or the grid of 25 round it, as a PNG in true print densities."""
    found = desk().previews().preview(source, frame, _pair(request.args))
    if found is None or which not in ("print", "grid"):
        abort(404)
    look = _look(request.args)
    made = (desk().previews().grid if which == "grid" else desk().previews().print)(found, look)[0]
    answer = make_response(made)
    answer.headers["Content-Type"] = "image/png"
    return answer


@blueprint.post("/negatives/scan")
@waits_for_day
def bring() -> ResponseReturnValue:
    """Take in a scan of the frame that the form names; any other page's body is smaller."""
    source, frame = (request.form.get(name, "") for name in ("set", "frame"))
    how = "light table" if request.form.get("how") == "light table" else "flatbed"
    sent = request.files.get("file")
    file = brought(sent)
    if sent is None or file is None:
        return _page(source, frame, refusal=Refusal(say("preview.no-file"), "file", 422))
    try:
        desk().previews().bring(source, frame, file, (sent.filename or "")[-60:], how)
    except NotThere:
        raise
    except ControllerError as error:
        refusal = told({}, error)
        return _page(source, frame, refusal=Refusal(refusal.words, "file", refusal.status))
    return redirect(_home(source, frame), 303)


@blueprint.post("/negatives/<source>/frame/<frame>/practice-scan")
@waits_for_day
def scan_itself(source: str, frame: str) -> ResponseReturnValue:
    """Let a practice negative be scanned by one tap."""
    try:
        desk().previews().bring_invented(source, frame)
    except NotThere:
        raise
    except ControllerError as error:
        return _page(source, frame, refusal=told({}, error))
    return redirect(_home(source, frame), 303)


@blueprint.post("/negatives/<source>/frame/<frame>/tie")
@waits_for_day
def tie(source: str, frame: str) -> ResponseReturnValue:
    """Keep where the tone that was asked for lies."""
    scan = desk().previews().scan(source, frame)
    size = desk().photographs().size(scan.photograph) if scan else None
    key, typed = request.form.get("tone", ""), request.form.get("density", "")
    x, y = (request.form.get(f"at.{axis}", type=int) for axis in "xy")
    if size is None or x is None or y is None:
        return _page(source, frame, {"tap": key})
    wide, high = shown_at(size)
    # a tap is in the middle of a pixel
    place = min(1.0, max(0.0, (x + 0.5) / wide)), min(1.0, max(0.0, (y + 0.5) / high))
    try:
        desk().previews().tie(source, frame, key, place, decimal_within(typed, 0, 6, places=3))
    except NotThere:
        raise
    except ControllerError as error:
        return _page(source, frame, {"tap": key, "density": typed}, told({}, error))
    return redirect(_home(source, frame), 303)


@blueprint.post("/negatives/<source>/frame/<frame>/forget")
@waits_for_day
def forget(source: str, frame: str) -> ResponseReturnValue:
    """Forget the tones that were tapped."""
    desk().previews().forget(source, frame)
    return redirect(_home(source, frame), 303)


@blueprint.post("/negatives/<source>/frame/<frame>/take")
@waits_for_day
def take(source: str, frame: str) -> ResponseReturnValue:
    """Let the pair in hand be that of the next sheet."""
    asked = {name: request.form.get(name, "") for name in ("soft", "hard")}
    try:
        found = desk().previews().preview(source, frame, _pair(request.form))
        if found is None:
            return redirect(_home(source, frame), 303)
        desk().previews().take(found, decided_on())
    except NotThere:
        raise
    except ControllerError as error:
        return _page(source, frame, asked, told({}, error))
    return redirect("/", 303)


# ---- the page


def _home(source: str, frame: str) -> str:
    return f"/negatives/{source}/frame/{frame}/preview"


def _page(
    source: str, frame: str, asked: MultiDict[str, str] | dict[str, str] | None = None, refusal: Refusal = NONE
) -> ResponseReturnValue:
    asked = asked or {}
    previews, shelf = desk().previews(), desk().negatives()
    found = shelf.negative(reference(source, frame))
    scan = found.frame.scan
    size = desk().photographs().size(scan.photograph) if scan else None
    g.pictures = True
    seen: dict[str, Any] = {}
    if scan is not None and size is not None and len(scan.tones) > 1:
        try:
            seen = _seen(source, frame, asked)
        except NotThere:
            raise
        except ControllerError as error:
            # to look is nothing wrong; what stands there is
            refusal = Refusal(told({}, error).words) if refusal is NONE else refusal
    offers = previews.offers(source, frame) if scan is not None else ()
    return show(
        "preview.html",
        refusal.status,
        home=_home(source, frame),
        kept=found.of,
        one=found.frame,
        scan=scan,
        size=size,
        shown=shown_at(size) if size else None,
        tones=() if scan is None else tuple((float(tone.at[0]), float(tone.at[1])) for tone in scan.tones),
        offers=offers,
        tap=next((each for each in offers if each.key == asked.get("tap")), None),
        typed=asked.get("density", ""),
        reads_itself=previews.is_invented(source, frame),
        hows=HOWS,
        missing=missing_libraries(),
        most=MOST_BYTES // 1_000_000,
        refusal=refusal,
        **{"preview": None, "way": lambda **_: "", **seen},
    )


def _seen(source: str, frame: str, asked: MultiDict[str, str] | dict[str, str]) -> dict[str, Any]:
    """Return what the print's part of the page shows; the picture itself is then at hand."""
    found = desk().previews().preview(source, frame, _pair(asked))
    if found is None:
        return {}
    look, grid = _look(asked), asked.get("grid") == "1"
    _, figures = (desk().previews().grid if grid else desk().previews().print)(found, look)
    return {
        "preview": found,
        "figures": figures,
        "look": look,
        "grid": grid,
        "toggles": tuple((name, getattr(look, name)) for name in TOGGLES if name != "wet" or found.wet_percent),
        "cells": _cells(found) if grid else (),
        "way": lambda **changes: _way(found, look, **changes),
    }


def _cells(found: Preview) -> tuple[tuple[int, int, str, str], ...]:
    """Return of each print of the grid its row, its column, and its pair as it is typed."""
    return tuple(
        (row, column, f"{soft:f}", f"{hard:f}")
        for row, line in enumerate(round_a_pair(found.pair))
        for column, (soft, hard) in enumerate(line)
    )


def _way(found: Preview, look: Look, **changes: object) -> str:
    """Return the query of this page as it is looked at, but for some of it."""
    now: dict[str, object] = {
        "soft": f"{found.pair[0]:f}",
        "hard": f"{found.pair[1]:f}",
        **{name: getattr(look, name) for name in TOGGLES},
    }
    asked = {name: "1" if value is True else value for name, value in (now | changes).items()}
    return "?" + urlencode({name: value for name, value in asked.items() if value not in (None, False, "")})


def _pair(asked: MultiDict[str, str] | dict[str, str]) -> Pair | None:
    """Return the pair that an address names; None where it names none that could be given."""
    soft, hard = (decimal_within(asked.get(name) or "", 0, _LONGEST_S, places=3) for name in ("soft", "hard"))
    if soft is None or hard is None or not (soft or hard):
        return None
    return Decimal(soft), Decimal(hard)


def _look(asked: MultiDict[str, str] | dict[str, str]) -> Look:
    x, y = (decimal_within(asked.get(name) or "", 0, 1) for name in "xy")
    return Look(
        **{name: asked.get(name) == "1" for name in TOGGLES},
        at=None if x is None or y is None else (float(x), float(y)),
    )
