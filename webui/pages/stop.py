"""STOP: dark now. It asks for the pairing cookie and Origin, and for nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, redirect

from webui.frame.context import desk
from webui.frame.refusals import wants_json

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("stop", __name__)


@blueprint.post("/stop")
def stop() -> ResponseReturnValue:
    """Darken first, then answer."""
    desk().stop()
    return {"stopped": True} if wants_json() else redirect("/", 303)
