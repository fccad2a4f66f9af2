"""Which face a page may show: day only on the daemon's word, with no sheet open; dark in every doubt."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, ParamSpec

from flask import g, make_response, render_template, request

from controller.words import say
from webui.refusals import refuse, wants_json
from webui.room import day_allowed, now

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

P = ParamSpec("P")


def needs_day(view: Callable[P, ResponseReturnValue]) -> Callable[P, ResponseReturnValue]:
    """Let a page be seen by day only; by night say which sheet is open and how the day face can be had."""

    @wraps(view)
    def looked(*args: P.args, **kwargs: P.kwargs) -> ResponseReturnValue:
        if not day_allowed():
            return no_day()
        g.needs_day = True  # the page goes inert when the day face ends under it
        return view(*args, **kwargs)

    return looked


def no_day() -> ResponseReturnValue:
    """Return the refusal of a page that is for the lit room."""
    sentence = now().day_refused or say("page.day-asked")
    if wants_json():
        return refuse(409, sentence)
    back = request.full_path.rstrip("?") if request.method == "GET" else "/"
    return make_response(render_template("no_day.html", sentence=sentence, back=back), 409)
