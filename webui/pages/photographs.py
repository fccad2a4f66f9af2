"""Photographs: each by its hash, and those of dry prints as they are brought, replaced, taken away and put back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, make_response, redirect, request

from controller.daemon.photographs import MOST_PHOTOGRAPH_BYTES
from controller.errors import ControllerError, NotThere
from controller.words import say
from webui.forms.form import Refusal, told
from webui.frame.context import desk
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.incoming import brought
from webui.pages.record import record_page

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("photographs", __name__)

MOST_BODY_BYTES: Final = MOST_PHOTOGRAPH_BYTES + 4_000_000
"""With its form; a little more than is taken, so that the refusal has a sentence of its own."""
PLACE: Final = "#photograph"


@blueprint.url_value_preprocessor
def _let_photographs_in(endpoint: str | None, _values: object) -> None:
    """Take in a photograph where one may come; every other page stays with small forms."""
    if endpoint == "photographs.bring":
        request.max_content_length = MOST_BODY_BYTES


@blueprint.get("/photographs/<name>.jpg")
@needs_day
def picture(name: str) -> ResponseReturnValue:
    """Give a kept photograph, by its hash: it never changes, so that a browser may keep it."""
    answer = make_response(desk().photographs().picture(name))
    answer.headers["Content-Type"] = "image/jpeg"
    answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer


@blueprint.post("/sheets/photograph")
@waits_for_day
def bring() -> ResponseReturnValue:
    """Take a photograph in for the sheet that the form names; any other page's body is smaller."""
    record, sent = desk().record(request.form.get("sheet", "")), request.files.get("file")
    file = brought(sent)
    if sent is None or file is None:
        return record_page(record, Refusal(say("page.photo-no-file"), "file", 422))
    try:
        desk().photographs().of_sheet(record, file, (sent.filename or "")[-60:])
    except ControllerError as error:
        refusal = told({}, error)
        return record_page(record, Refusal(refusal.words, "file", refusal.status))
    return redirect(f"/sheets/{record.id}{PLACE}", 303)


@blueprint.post("/sheets/<sheet>/photograph/away")
@waits_for_day
def take_away(sheet: str) -> ResponseReturnValue:
    """Show no photograph of a sheet any more; it stays on file."""
    desk().photographs().take_away(desk().record(sheet))
    return redirect(f"/sheets/{sheet}{PLACE}", 303)


@blueprint.post("/sheets/<sheet>/photograph/back")
@waits_for_day
def put_back(sheet: str) -> ResponseReturnValue:
    """Show an earlier photograph of a sheet again."""
    record = desk().record(sheet)
    try:
        desk().photographs().put_back(record, request.form.get("photograph", ""))
    except NotThere as error:
        return record_page(record, Refusal(str(error), "file", 404))
    return redirect(f"/sheets/{sheet}{PLACE}", 303)
