"""The last sessions on a wall: every sheet a card in order, with threads from strips to the prints that used them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, g, render_template

from webui.darkened import tray
from webui.faces import needs_day
from webui.pictures import wall_picture
from webui.room import desk

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

sheaf = Blueprint("wall", __name__)

LAST: Final = 5
"""Sessions on the wall."""


@sheaf.get("/wall")
@needs_day
def wall() -> ResponseReturnValue:
    """Show the last sessions' sheets; in the practice darkroom those that are developed as they came out."""
    prints = tray()
    g.pictures = prints is not None  # the page may fetch ours
    sessions = []
    for number, session in enumerate(desk().sessions(LAST)):
        records = sorted((desk().record(sheet.id) for sheet in session.sheets), key=lambda record: record.number)
        here = {record.id for record in records}
        threads = [(sheet.from_strip, sheet.id) for sheet in session.sheets if sheet.from_strip in here]
        made = {each for each in here if prints is not None and prints.made(each) is not None}
        sessions.append((session, wall_picture(records, threads, ident=f"wall-{number}", developed=made)))
    return render_template("wall.html", sessions=sessions)
