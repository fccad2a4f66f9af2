"""The practice darkroom on a page: foot switch, lamp, filter drawer, lid and sounds. Not there with real lines."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, abort, current_app, g, redirect, render_template, request

from controller.practice.board import Easel
from controller.practice.probe import sharp_at
from controller.trials.easel_lights import ALIGNMENT
from controller.unpack.unpacker import MOST_BYTES
from controller.words import say
from webui.forms import practice_scene
from webui.forms.form import NONE, Refusal
from webui.frame.context import desk, now
from webui.frame.panel import desk_panel
from webui.frame.practice_sight import filters_at_hand, left_ms, sole_of
from webui.frame.refusals import refuse, wants_json
from webui.pages import practice_lead

if TYPE_CHECKING:
    from collections.abc import Mapping

    from flask.typing import ResponseReturnValue

    from controller.practice.in_carrier import InCarrier
    from controller.practice.prints import PracticePrints
    from controller.practice.switches import PracticeSwitches

blueprint = Blueprint("practice", __name__)

LONGEST_NAME: Final = 40
PROBE_WIDE: Final = 280
"""Pixels across of the baseboard's picture on which the probe is laid: a tap is told in these, script or none."""


@blueprint.get("/practice")
def practice_page() -> ResponseReturnValue:
    """Show the practice darkroom, with what is next beside it."""
    return shown_page()


def shown_page(refusal: Refusal = NONE, typed: Mapping[str, str] | None = None) -> str:
    """Return the page; with the scene as it was typed where something of it was refused."""
    practice = _practice()
    view, tray = practice.view(), practice.prints()
    lead = practice_lead.lead_of(desk(), now(), view, tray)
    stage = practice.stage(now())
    g.pictures = True  # what falls on the baseboard, and the print that is looked at
    return render_template(
        "practice.html",
        said=refusal.words,
        refusal=refusal,
        typed=typed,
        home="/practice" if typed else "",
        tray=tray,
        lead=lead,
        stage=stage,
        easel=tray.easel(stage.lies) if tray else Easel(),
        left_ms=left_ms(now(), desk().now_ns()),
        scene=tray.scene() if tray else None,
        has_own=tray.has_own() if tray else False,
        own_most=MOST_BYTES // 1_000_000,
        faults=practice.faults(),
        label=practice_scene.label,
        choices=practice_scene.CHOICES,
        choice_words=practice_scene.CHOICE_WORDS,
        figures=practice_scene.FIGURES,
        texts=practice_scene.TEXTS,
        first=practice_scene.first(two_carriers=bool(stage.lies.second)),
        deeper=practice_scene.deeper(two_carriers=bool(stage.lies.second)),
        panel=desk_panel(now(), desk()),
        view=view,
        filters=filters_at_hand(now().plan, view.filter_in_drawer),
        part="practice",
        **probe_fields(practice, tray, stage.lies),
    )


@blueprint.post("/practice/contact")
def contact() -> ResponseReturnValue:
    """Close or open the foot contact."""
    closed, number = request.form.get("closed"), request.form.get("tread", type=int)
    page = request.form.get("page", "")
    sole = sole_of(current_app)
    if closed not in {"0", "1"} or number is None or sole is None:
        return refuse(422, say("page.refused-field", fields="closed, tread"))
    sole.tread(page, number, closed=closed == "1")
    return _done()


@blueprint.post("/practice/filter")
def put_filter() -> ResponseReturnValue:
    """Put a filter into the simulated drawer; an empty name takes it out."""
    name = request.form.get("filter", "").strip()
    if len(name) > LONGEST_NAME or not name.isprintable():
        return refuse(422, say("page.refused-field", fields="filter"))
    _practice().put_filter(name)
    return _done()


@blueprint.post("/practice/probe")
def probe() -> ResponseReturnValue:
    """Lay the light sensor where the baseboard's picture was tapped, or put it back beside the easel."""
    practice = _practice()
    if request.form.get("aside"):
        practice.lay_probe(-1.0, -1.0)
        return redirect("/practice#probe", 303)
    x, y = (request.form.get(f"at.{axis}", type=int) for axis in "xy")
    tray = practice.prints()
    if x is None or y is None or tray is None:
        return refuse(422, say("page.refused-field", fields="at.x, at.y"))
    high = _probe_high(tray, practice.stage(now()).lies)
    practice.lay_probe(min(max(x / PROBE_WIDE, 0.0), 1.0), min(max(y / high, 0.0), 1.0))
    return redirect("/practice#probe", 303)


def probe_fields(practice: PracticeSwitches, tray: PracticePrints | None, lies: InCarrier) -> dict[str, object]:
    """Return what the page shows of the probe: where it lies in hundredths of the picture, and the picture's size."""
    place, plan = practice.probe(), now().plan
    looking = plan is not None and plan.source == ALIGNMENT and now().lit is not None
    return {
        "focuser": sharp_at(tray.scene_lying(lies), place) if looking and tray and place else None,
        "probe": None if place is None else tuple(round(100 * share) for share in place),
        "probe_wide": PROBE_WIDE,
        "probe_high": _probe_high(tray, lies) if tray else PROBE_WIDE,
        "measuring": plan is not None and plan.kind == "readings",
    }


def _probe_high(tray: PracticePrints, lies: InCarrier) -> int:
    across, down = tray.scene_lying(lies).paper_mm
    return round(PROBE_WIDE * down / across)


@blueprint.post("/practice/lid")
def lid() -> ResponseReturnValue:
    """Open or shut the paper box."""
    state = request.form.get("lid")
    if state not in {"open", "shut"}:
        return refuse(422, say("page.refused-field", fields="lid"))
    _practice().lid(state == "open")
    return _done()


def _practice() -> PracticeSwitches:
    practice = desk().practice()
    if practice is None:
        abort(404)
    return practice


def _done() -> ResponseReturnValue:
    return {"done": True} if wants_json() else redirect("/practice", 303)
