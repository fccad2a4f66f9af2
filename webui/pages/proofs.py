"""The photograph of a contact sheet: brought by the phone, its corners tapped or dragged, frames opened by taps."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Final

from flask import Blueprint, abort, g, make_response, redirect, request

from controller.daemon.photographs import MOST_PHOTOGRAPH_BYTES
from controller.errors import ControllerError, NotThere
from controller.negatives.layouts import places
from controller.negatives.on_proof import WHOLE
from controller.negatives.sets import CORNERS, reference
from controller.paper.libraries import missing_libraries
from controller.picture.contact_sheets import lying_on
from controller.words import say
from webui.forms.form import NONE, Refusal, told
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.incoming import brought
from webui.frame.refusals import refuse, wants_json
from webui.pages.photographs import MOST_BODY_BYTES
from webui.pictures.contact_sheet import cut_out, said_of

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.daemon.negative_lists import SetKept
    from controller.negatives.sets import NegativeSet

blueprint = Blueprint("proofs", __name__)

WIDE: Final = 280
"""Pixels: as wide as a photograph is where corners are tapped, so that it fits a page 320 wide."""
TALL: Final = 900


@blueprint.url_value_preprocessor
def _let_photographs_in(endpoint: str | None, _values: object) -> None:
    """Take in a photograph where one may come; every other page stays with small forms."""
    if endpoint == "negatives.proofs.bring":
        request.max_content_length = MOST_BODY_BYTES


@blueprint.get("/negatives/<source>/proof")
@needs_day
def proof(source: str) -> ResponseReturnValue:
    """Show the photograph: a tap opens a frame, or sets the corner that was asked for."""
    return _page(source, request.args.get("corner", ""))


@blueprint.post("/negatives/proof")
@waits_for_day
def bring() -> ResponseReturnValue:
    """Take a photograph in for the contact sheet that the form names; any other page's body is smaller."""
    source, sent = request.form.get("set", ""), request.files.get("file")
    file = brought(sent)
    if sent is None or file is None:
        return _page(source, refusal=Refusal(say("negatives.no-file"), "file", 422))
    try:
        desk().negatives().photograph(source, file, (sent.filename or "")[-60:])
    except NotThere:
        raise
    except ControllerError as error:
        refusal = told({}, error)
        return _page(source, refusal=Refusal(refusal.words, "file", refusal.status))
    return redirect(f"/negatives/{source}/proof", 303)


@blueprint.post("/negatives/<source>/corner")
@waits_for_day
def corner(source: str) -> ResponseReturnValue:
    """Set the corner that was tapped, and ask for the next, or that was dragged; or let the photograph's own count."""
    which, shelf = request.form.get("corner", ""), desk().negatives()
    if which == "none":
        shelf.whole_picture(source)
        return redirect(f"/negatives/{source}/proof", 303)
    kept = shelf.fetch(source)
    size = size_of(kept)
    x, y = (request.form.get(f"at.{axis}", type=float) for axis in "xy")
    if size is None or x is None or y is None or not (isfinite(x) and isfinite(y)):
        return _page(source, which)
    wide, high = shown_at(size)
    try:
        # a tap is in the middle of a pixel
        shelf.corner(source, which, (x + 0.5) / wide, (y + 0.5) / high)
    except NotThere:
        raise
    except ControllerError:
        if wants_json():
            return refuse(422, say("negatives.corner-folds"))
        return _page(source, which, Refusal(say("negatives.corner-folds"), "corner", 422))
    if wants_json():
        return {"done": True}
    following = CORNERS.index(which) + 1
    query = f"?corner={CORNERS[following]}" if following < len(CORNERS) else ""
    return redirect(f"/negatives/{source}/proof{query}", 303)


@blueprint.get("/negatives/<source>/frame/<frame>.png")
@needs_day
def drawn(source: str, frame: str) -> ResponseReturnValue:
    """Give the small picture of an invented negative, in the practice darkroom."""
    if desk().practice() is None:
        abort(404)
    from controller.picture.thumbnails import thumbnail  # numpy and Pillow

    answer = make_response(thumbnail(reference(source, frame)))
    answer.headers["Content-Type"] = "image/png"
    answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer


def is_drawn(source: str) -> bool:
    """Tell whether a set's negatives are invented ones, with pictures of their own."""
    return desk().practice() is not None and lying_on(source) is not None


def size_of(kept: SetKept) -> tuple[int, int] | None:
    """Return the size of a contact sheet's photograph; None where there is none, or it is not here."""
    proof = kept.negatives.proof
    return desk().photographs().size(proof.photograph) if proof else None


def shown_at(size: tuple[int, int]) -> tuple[int, int]:
    """Return how large a photograph is shown where corners are tapped."""
    scale = min(WIDE / size[0], TALL / size[1])
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def _page(source: str, which: str = "", refusal: Refusal = NONE) -> ResponseReturnValue:
    kept = desk().negatives().fetch(source)
    size = size_of(kept)
    g.pictures = True
    return show(
        "proof.html",
        refusal.status,
        home=f"/negatives/{source}/proof",
        kept=kept,
        one=kept.negatives,
        size=size,
        shown=shown_at(size) if size else None,
        cuts=cut_out(kept.negatives, size),
        said_of=said_of,
        corner=which if which in CORNERS else "",
        corners=CORNERS,
        at=_corners_of(kept.negatives),
        grid=places(kept.negatives),
        missing=missing_libraries(),
        most=MOST_PHOTOGRAPH_BYTES // 1_000_000,
        refusal=refusal,
    )


def _corners_of(kept: NegativeSet) -> str:
    """Return the corners of the frames' field as shares of the photograph: "0,0 1,0 1,1 0,1"."""
    set_ = kept.proof.corners if kept.proof else None
    return " ".join(f"{float(x):g},{float(y):g}" for x, y in set_ or WHOLE)
