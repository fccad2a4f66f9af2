"""All that is kept, by day: backed up now, taken out as one file, and brought in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, redirect, render_template, request, send_file

from controller.words import say
from webui.frame.context import desk
from webui.frame.guard import needs_day
from webui.frame.incoming import brought

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("your_data", __name__)

LARGEST_FILE: Final = 64_000_000
"""Bytes of a file, with its form."""
LISTED: Final = 100
"""So many of what came in are listed."""
PAGE_OF: Final = {"recipe": "/shelf/", "strip": "/shelf/", "paper": "/papers/", "negatives": "/negatives/"}
"""Where a thing that came in is seen, by its kind."""


@blueprint.url_value_preprocessor
def _let_files_in(endpoint: str | None, _values: object) -> None:
    """Take in an export where one may come; every other page stays with small forms."""
    if endpoint == "your_data.bring_in":
        request.max_content_length = LARGEST_FILE


@blueprint.get("/data")
@needs_day
def your_data() -> ResponseReturnValue:
    """Show when the last backup was made, and what may be done."""
    return _page(say("data.no-file") if request.args.get("none") else "")


@blueprint.post("/data/backup")
@needs_day
def back_up() -> ResponseReturnValue:
    """Make a backup now."""
    desk().your_data().back_up()
    return redirect("/data", 303)


@blueprint.post("/data/out")
@needs_day
def take_out() -> ResponseReturnValue:
    """Make the file that everything is taken out in."""
    desk().your_data().take_out()
    return redirect("/data#out", 303)


@blueprint.get("/data/out.zip")
@needs_day
def taken_out() -> ResponseReturnValue:
    """Send that file: the server sends it piece by piece by itself, and no thread waits for a slow phone."""
    path = desk().your_data().taken_out()
    return send_file(
        path, mimetype="application/zip", as_attachment=True, download_name=path.name, conditional=False, etag=False
    )


@blueprint.post("/data/in")
@needs_day
def bring_in() -> ResponseReturnValue:
    """Bring in one file, or an export in a zip."""
    sent = request.files.get("file")
    file = brought(sent)
    if sent is None or file is None:
        return redirect("/data?none=1#in", 303)
    desk().your_data().bring(file, (sent.filename or "")[-60:])
    return redirect("/data#in", 303)


def _page(refused: str = "") -> str:
    view = desk().your_data().view()
    # of each thing the last version that came
    things = {one.id: one for one in view.brought.kept} if view.brought is not None else {}
    return render_template(
        "your_data.html",
        view=view,
        refused=refused,
        things=list(things.values())[:LISTED],
        more=max(0, len(things) - LISTED),
        page_of=PAGE_OF,
    )
