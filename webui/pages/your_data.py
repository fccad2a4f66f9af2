"""All that is kept, by day: backed up now, and taken out as one file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, redirect, render_template, send_file

from webui.frame.context import desk
from webui.frame.guard import needs_day

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("your_data", __name__)


@blueprint.get("/data")
@needs_day
def your_data() -> ResponseReturnValue:
    """Show when the last backup was made, and what may be done."""
    return render_template("your_data.html", view=desk().your_data().view())


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
