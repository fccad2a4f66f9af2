"""A test evening, by day: what is tested, when it was, when it is due, what it changed; each test has its own page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, redirect, render_template, request

from controller.daemon.trial_desk import INTERVALS, ORDER
from controller.trials.safelight import GREY
from controller.words import say
from webui.frame.context import desk
from webui.frame.device import device
from webui.frame.guard import needs_day
from webui.frame.red import red
from webui.frame.refusals import refuse
from webui.pages.lamp import day

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.daemon.trial_desk import TrialLine
    from controller.recipe.plan import Plan
    from controller.trials.results import TrialName

blueprint = Blueprint("tests", __name__)


@blueprint.get("/tests")
@needs_day
def tests() -> ResponseReturnValue:
    """Show every test, with how it stands."""
    this = device()
    of: dict[TrialName, tuple[str, str]] = {} if this is None else {"phone": (this.mark, this.name)}
    why: dict[TrialName, str] = {"phone": "trials.phone-brighter"} if red().asks_twice(red().level) else {}
    lines = desk().trials().lines(of, why)
    return render_template("tests.html", lines=lines, intervals=INTERVALS, due=due_words, day=day)


@blueprint.post("/tests/interval")
@needs_day
def interval() -> ResponseReturnValue:
    """Have a test due again after another time."""
    name, said = request.form.get("trial", ""), request.form.get("days", "")
    if name not in ORDER or said not in {"", *map(str, INTERVALS)}:
        return refuse(422, say("trials.no-interval"))
    desk().trials().set_interval(name, int(said) if said else None)
    return redirect(f"/tests#{name}", 303)


@blueprint.post("/tests/back")
@needs_day
def take_back() -> ResponseReturnValue:
    """Let a test's last result count no more, and have what it set as it was before."""
    name = request.form.get("trial", "")
    if name not in ORDER:
        return refuse(422, say("trials.no-result"))
    this = device()
    of = this.mark if this is not None and name == "phone" else None
    desk().trials().take_back(name, request.form.get("id", ""), of)
    return redirect(f"/tests#{name}", 303)


def test_page(plan: Plan) -> str:
    """Return the page of the test that a plan is a sheet of; empty where it is of none."""
    name = "safelight" if plan.test == GREY else plan.test
    return f"/tests/{name}" if name in ORDER else "/tests" if name else ""


def due_words(line: TrialLine) -> str:
    """Return how a test stands, in words: "due since 3 May", "next on 30 November 2027"."""
    stands = line.due
    if stands.state == "never":
        return say("trials.due-never")
    if stands.why:
        return say(stands.why)
    if stands.day is None:
        return say("trials.due-by-change")
    assert line.last is not None
    when = day(stands.day.isoformat(), line.last.at)
    return say(f"trials.due-{stands.state}", day=when)
