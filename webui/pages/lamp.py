"""The lamp in the day face: its lag found three ways, its check against a stored light, its warming up."""

from __future__ import annotations

import math
from datetime import datetime
from typing import TYPE_CHECKING, Final

from flask import Blueprint, make_response, redirect, render_template, request

from controller.errors import ControllerError, Impossible
from controller.exposure.decimals import decimal_of
from controller.exposure.stops import shown
from controller.lamp.history import CheckLine, in_words
from controller.words import say
from webui.forms.form import Fields
from webui.frame.context import desk
from webui.frame.guard import needs_day
from webui.frame.refusals import status_of
from webui.pictures import Picture, Point, lamp_checks_picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    from flask.typing import ResponseReturnValue

blueprint = Blueprint("lamp", __name__)

FIGURES: Final = {
    "long": ("8", 1000),
    "pulses": ("8", 1),
    "first": ("0", 1000),
    "step": ("0.04", 1000),
    "trains": ("7", 1),
}
"""The paper test's fields: what stands in each at first, and how many of the reckoning's units one of it is."""
_NAMES: Final = {"long": "long_ms", "pulses": "pulses", "first": "first_ms", "step": "step_ms", "trains": "trains"}
_MOST_LINES: Final = 12


@blueprint.get("/lamp")
@needs_day
def lamp() -> ResponseReturnValue:
    """Show everything that is known of the lamp."""
    return _page()


@blueprint.post("/lamp/<act>")
@needs_day
def ask(act: str) -> ResponseReturnValue:
    """Load a check, or take what one found; a refusal stands on the page, and nothing typed is lost."""
    typed = Fields("lamp.label-", request.form, (*FIGURES, "lag"))
    try:
        _do(act, typed)
    except ControllerError as problem:
        return make_response(_page(str(problem), typed), status_of(problem))
    return redirect("/lamp", 303)


def _do(act: str, typed: Fields) -> None:
    bench, decided = desk().lamp(), request.form.get("number", default=0, type=int)
    match act:
        case "paper":
            bench.begin_paper_test(decided, **figures(typed))
        case "sensor" | "reference" | "gains":
            bench.begin_by_sensor(act, decided)
        case "warm":
            bench.begin_warm_up(decided)
        case "take-paper":
            band, _, between = request.form.get("band", "").partition(" ")
            bench.take_paper(int(band) if band.isdecimal() and len(band) < 3 else 0, between=bool(between))
        case "take-sensor":
            bench.take_found()
        case "take-typed":
            bench.take_typed(_figure(typed["lag"], "0.12"))
        case "new-bulb":
            bench.new_bulb()
        case _:
            raise Impossible(say("page.refused-404"))


def figures(typed: Fields) -> dict[str, int]:
    """Return the paper test's figures as the reckoning has them; raises `Impossible` for what is no figure."""
    return {
        _NAMES[name]: round(_figure(typed[name] or first, first) * times) for name, (first, times) in FIGURES.items()
    }


def _figure(text: str, such: str) -> float:
    found = decimal_of(text)
    if found is None:
        raise Impossible(say("lamp.no-number", found=shown(text), such=such))
    return float(found)


def _page(refusal: str = "", typed: Fields | None = None) -> str:
    view = desk().lamp().view()
    return render_template(
        "lamp.html",
        view=view,
        fields={name: (typed[name] if typed else "") or first for name, (first, _) in FIGURES.items()},
        refusal=refusal,
        most=_MOST_LINES,
        compared=compared,
        chart=chart(view.checks),
        day=day,
        lag=lambda ms: f"{float(ms) / 1000:.3f}",
        give=lambda ms: f"{max(1, math.ceil(float(ms))) / 1000:.3f}",
    )


def compared(check: CheckLine) -> str:
    """Return a check in words: "a sixth of a stop weaker than on 3 May"."""
    if check.stops is None:
        return say("lamp.is-reference")
    how = in_words(check.stops)
    when = day(check.since, check.wall)
    return say("lamp.compared", how=how, day=when) if when else say("lamp.compared-some-day", how=how)


def chart(checks: Sequence[CheckLine]) -> Picture | None:
    """Draw the checks (newest first) of the newest one's sensor; None before there are two whose day is known."""
    known = [
        (at, check) for check in reversed(checks) if check.sensor == checks[0].sensor and (at := _moment(check.wall))
    ]
    if len(known) < 2:
        return None
    points = [
        Point(day=at.timestamp() / 86_400, stops=check.stops or 0.0, reference=check.stops is None)
        for at, check in known
    ]
    first, last = day(known[0][1].wall, known[-1][1].wall), day(known[-1][1].wall)
    sentence = say("lamp.chart", checks=len(points), first=first, last=last, now=compared(known[-1][1]))
    return lamp_checks_picture(points, ident="lamp-checks", words=(sentence, first, last, say("lamp.chart-ring")))


def _moment(wall: str) -> datetime | None:
    try:
        return datetime.fromisoformat(wall)
    except ValueError:
        return None


def day(wall: str, beside: str = "") -> str:
    """Return a wall time as day and month where this machine stands; empty where the clock was not set.

    The year is named where the time that it stands `beside` is of another one.
    """
    at = _moment(wall)
    if at is None:
        return ""
    at = at.astimezone() if at.tzinfo else at
    month, other = say(f"lamp.month-{at.month}"), _moment(beside)
    if other is None or other.year == at.year:
        return say("lamp.day", day=at.day, month=month)
    return say("lamp.day-year", day=at.day, month=month, year=at.year)
