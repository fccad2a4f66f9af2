"""Readings from a flatbed scan: grey scale and print marked in the picture, densities looked over, then the table."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from flask import Blueprint, abort, g, make_response, request

from controller import wall
from controller.daemon.scans import ZOOMS
from controller.errors import ControllerError, Impossible, Unreadable
from controller.paper.faults import look_over
from controller.paper.libraries import missing_libraries
from controller.paper.readings import MOST_EXPOSURES
from controller.unpack.unpacker import MOST_BYTES
from controller.words import say
from webui.forms.form import NONE, Mistakes, Refusal, told
from webui.forms.paper_column import LIGHTS, column_of
from webui.forms.paper_table import TableForm
from webui.forms.scan import CORNERS, ONE_PRINT, PLACES, TABLET, ScanForm, clicked, lists, read_scan_form
from webui.frame.context import day_allowed, desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day
from webui.frame.incoming import brought
from webui.pages import paper_table

if TYPE_CHECKING:
    from collections.abc import Collection

    from flask.typing import ResponseReturnValue

    from controller.daemon.scans import Scan
    from controller.paper.readings import Exposure
    from controller.paper.scan import PatchBox

blueprint = Blueprint("scan", __name__)

FORM_BYTES: Final = 1_000_000
FORM_PARTS: Final = 2_000
"""Inputs that come with a scan: a whole table of readings has 12 prints of up to 99 steps."""
_FACES: Final = ("day", "dark")


@dataclass(frozen=True)
class Found:
    """What was read: the table with the print in it, its rows for the eye, what is wrong, where the patches lie."""

    table: TableForm
    exposure: Exposure
    left_out: tuple[int, ...]
    faults: tuple[str, ...]
    boxes: tuple[PatchBox, ...]


@blueprint.url_value_preprocessor
def _let_scans_in(endpoint: str | None, _values: object) -> None:
    """Take in a scan where one may come; every other page stays with small forms."""
    if endpoint == "scan.work":
        request.max_content_length, request.max_form_parts = MOST_BYTES + FORM_BYTES, FORM_PARTS


@blueprint.get("/papers/scan")
@needs_day
def scan() -> ResponseReturnValue:
    """Show the form that takes a scan in."""
    return _page(_typed())


@blueprint.get("/papers/scan/<source>/<face>.png")
@needs_day
def picture(source: str, face: str) -> ResponseReturnValue:
    """Give the picture to click on: greys by day, dim reds for a page that has to stay dark."""
    if face not in _FACES:
        abort(404)
    answer = make_response(desk().scans().picture(source, "day" if face == "day" else "dark", _zoom(request.args)))
    answer.headers["Content-Type"] = "image/png"
    return answer


@blueprint.post("/papers/scan")
def work() -> ResponseReturnValue:
    """Do what a button of the scan's page asks for; in the dark a table that came along is given back as it was."""
    form = _typed()
    if not day_allowed() and form.table.columns:
        return paper_table.give_back(form.table, form.source)
    return _work(form)


@needs_day
def _work(form: ScanForm) -> ResponseReturnValue:
    """Take a scan in, set the corner that was clicked, read the print, or begin another."""
    asked = request.form.get("do", "")
    try:
        if asked == "bring":
            return _page(_brought(form))
        if not form.scan:
            return _page(form)
        kept = desk().scans().find(form.scan)
        if asked.startswith("zoom "):
            return _page(replace(form, zoom=asked.removeprefix("zoom ")), kept)
        if asked == "another":
            return _page(replace(form, print_first="", print_last="", mark="print-first"), kept)
        if (at := clicked(request.form, kept, _zoom(form.named()))) is not None:
            return _page(form.click(*at), kept)
        return _page(form, kept, _read(form) if asked == "read" else None)
    except ControllerError as error:
        return _page(form, refusal=told({}, error))


# ---- taking in, and reading


def _typed() -> ScanForm:
    return read_scan_form(request.form, wall.now().date())


def _brought(form: ScanForm) -> ScanForm:
    sent = request.files.get("file")
    file = brought(sent)
    if sent is None or file is None:
        raise Unreadable(say("scan.no-file"), ("file",))
    try:
        kept = desk().scans().keep(file, (sent.filename or "")[-60:])
    except Unreadable as problem:
        raise Unreadable(str(problem), ("file",)) from None
    # What belongs to a place in the old picture does not come along.
    first: dict[str, Any] = {
        name.replace("-", "_"): text for name, text in ScanForm().named().items() if name in PLACES
    }
    return replace(form, **first | {"scan": kept.id})


def _read(form: ScanForm) -> Found:
    """Return the print's densities; an error's place is the field to look at."""
    from controller.paper.scan import find_patches, read_scan

    tablet, densities = form.tablet_densities(), form.scale_densities()
    scale, prints = form.row("scale", len(densities)), form.row("print", len(tablet))
    left_out = {step for step, density in enumerate(tablet, 1) if density is None}
    boxes: list[PatchBox] = []
    with desk().scans().levels(form.scan) as (kept, levels):
        for kind, row, passed in (("scale", scale, set()), ("print", prints, left_out)):
            try:
                there = find_patches(levels, row, kept.name, passed)
            except Unreadable as problem:
                raise Unreadable(str(problem), (f"{kind}-first",)) from None
            boxes += there.values()
        # The seconds are the table's affair: any will do for the densities.
        read = read_scan(levels, scale, densities, prints, tablet, soft_seconds=1.0, hard_seconds=0.0, name=kept.name)
    column = replace(
        column_of(read.exposure), light=form.light, seconds=form.seconds, more=form.more, filter=form.filter
    )
    wrong: Mistakes = {}
    exposures = replace(form.table, columns=(column,)).exposures(wrong)
    for name, words in wrong.items():
        raise Unreadable(words, (name.removeprefix("column-0-"),))
    table = form.table.with_print(column)
    if table is None:
        raise Impossible(say("scan.table-full", most=MOST_EXPOSURES))
    steps = set(range(1, len(tablet) + 1)) - set(there)
    faults = (*read.faults, *_faults(exposures[0], tuple(there)))
    return Found(table, exposures[0], tuple(sorted(steps)), faults, tuple(boxes))


def _faults(exposure: Exposure, steps: Collection[int]) -> list[str]:
    """Return what is wrong with the print itself; an end past the grey scale is no fault of its light."""
    read = [each.step for each in exposure.readings]
    untold = {"no-black": min(read) > min(steps), "no-white": max(read) < max(steps)}
    return [fault.sentence for fault in look_over(exposure) if not untold.get(fault.problem, False)]


# ---- the page


def _page(
    form: ScanForm, kept: Scan | None = None, found: Found | None = None, refusal: Refusal = NONE
) -> ResponseReturnValue:
    if kept is None and form.scan:
        try:
            kept = desk().scans().find(form.scan)
        except ControllerError as error:
            form, refusal = replace(form, scan=""), told({}, error)
    g.pictures = True  # the browser may fetch our own picture for this page
    zoom = _zoom(form.named())
    return show(
        "scan.html",
        refusal.status,
        typed=form.named(),
        label=lambda name: say(f"scan.label-{name}"),
        form=form,
        scan=kept,
        zoom=zoom,
        zooms=ZOOMS,
        size=kept.shown(zoom) if kept is not None else (0, 0),
        corners=CORNERS,
        tablet_stands=form.tablet_stands and refusal.at not in TABLET,
        lights=LIGHTS,
        found=found,
        brought=tuple(form.unseen()),
        handed=tuple(replace(form, table=found.table).without(*ONE_PRINT)) if found is not None else (),
        bringing=tuple(form.without(*PLACES)),
        missing=missing_libraries(),
        refusal=refusal,
        tablets=lists()["tablets"],
        scales=lists()["scales"],
    )


def _zoom(typed: dict[str, str]) -> int:
    return next((zoom for zoom in ZOOMS if str(zoom) == typed.get("zoom")), ZOOMS[0])
