"""A sheet's record as a page shows it: one line a step, its lights drawn, and the foot beneath."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

from flask import Blueprint, g, render_template, request, url_for

from controller.daemon.into_recipe import offered
from controller.errors import NotThere
from controller.paper.libraries import missing_libraries
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.set_up import SetUp
from controller.store.columns import said_of
from controller.words import say
from hardware.clock import NS_PER_MS
from webui.forms.form import NONE
from webui.frame.context import day_allowed, desk, is_next, now
from webui.frame.form_answers import show
from webui.frame.guard import needs_day
from webui.frame.panel import KINDS
from webui.frame.trays import tray_words
from webui.pages.area_grounds import drawn_on
from webui.pages.practice_prints import print_of, tray
from webui.pages.tests import test_page
from webui.pictures import Block, Picture, Press, TimedLight, plan_blocks, timeline_picture, wall_picture
from webui.pictures.timeline import step_mark
from webui.wording import carrier_words, clock, filter_called, paper_words, seconds, span, texture_of, with_what

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.recipe.plan import Plan
    from controller.store.entries import Photographed
    from controller.store.levels import WrongLight
    from controller.store.records import PartRecord, SheetRecord, StepRecord, TrayRecord
    from controller.store.said_of_sheets import WentIn
    from controller.store.versions import Kept
    from webui.forms.form import Refusal
    from webui.wording import Texture


Fate = Literal["given", "called given", "left out", "held", "to come"]
NEARLY_MS = 50
"""Given and planned count as the same when they read the same."""


@dataclass(frozen=True, slots=True)
class Line:
    """One step of the record."""

    number: int
    mark: str
    name: str
    filter: str
    texture: Texture
    said: tuple[str, ...]
    """What `controller.store.columns` has of it for this place."""
    planned: str
    given: str
    fate: str
    lights: tuple[str, ...]
    takes_in: int = 0
    """The number of a burn that was added and can go into the recipe."""
    went_in: WentIn | None = None
    """The version of the recipe that it went into."""


def stood_of(record: SheetRecord) -> str:
    """Return what stood at the enlarger for a sheet, in one line; empty where nothing is known of it."""
    bench, set_up = record.plan.bench or AtEnlarger(), record.plan.set_up or SetUp()
    times = set_up.magnification if set_up.head_height_mm is not None else None
    size = "" if times is None else say("enlarger.magnification-of", magnification=f"{times:.3g}")
    words = carrier_words(bench), paper_words(bench), set_up.words, size, bench.enlarger_title
    return " · ".join(each for each in words if each)


def lines_of(record: SheetRecord) -> tuple[Line, ...]:
    """Return the record's steps, one line each."""
    return tuple(_line(record, step) for step in record.steps)


def picture_of(record: SheetRecord) -> Picture:
    """Return the sheet's timeline: planned, given, and where the foot came down."""
    blocks = [
        Block(
            step=step.step.number,
            filter=step.step.filter,
            planned_ms=step.step.planned_ms,
            mark=step_mark(step.step),
            lights=tuple(TimedLight(_nominal(step, part), part.why != "complete") for part in step.parts),
        )
        for step in record.steps
    ]
    return timeline_picture(blocks, ident="sheet", title=title_of(record), presses=_presses(record))


@lru_cache(maxsize=4)
def plan_picture(plan: Plan) -> Picture:
    """Return the timeline of a sheet that has had no light yet; that of the same plan is drawn once."""
    return timeline_picture(plan_blocks(plan), ident="plan", title=plan.title)


def kept_of(record: SheetRecord) -> Kept | None:
    """Return the very version that a sheet was made by, where the shelf has it."""
    try:
        kept = desk().recipes().fetch(record.plan.source, record.plan.version)
    except NotThere:
        return None
    return kept if kept.kind in KINDS else None


def title_of(record: SheetRecord) -> str:
    """Return what a sheet is called."""
    return say("page.sheet-title", number=record.number, title=record.plan.title)


@dataclass(frozen=True, slots=True)
class TrayLine:
    """One tray of the record."""

    name: str
    said: tuple[str, ...]
    """How warm it was, when the image first showed, which print of its bath this was."""
    lay: str
    """How long it lay there; empty where nobody knows."""


def trays_of(record: SheetRecord) -> tuple[TrayLine, ...]:
    """Return the trays that the print lay in, one line each; the carrying over is no tray."""
    return tuple(_tray(each) for each in record.trays if each.tray != "on its way")


def _tray(lay: TrayRecord) -> TrayLine:
    said = (
        "" if lay.celsius is None else say("trays.had-celsius", celsius=f"{lay.celsius:g}"),
        "" if lay.appearance_ms is None else say("trays.had-appearance", seconds=clock(lay.appearance_ms)),
        say("trays.had-print", number=lay.prints) if lay.prints else "",
    )
    return TrayLine(
        name=tray_words(lay.tray),
        said=tuple(words for words in said if words),
        lay="" if lay.lay_ms is None else clock(lay.lay_ms),
    )


def trays_end(record: SheetRecord) -> str:
    """Return what became of a print of which no tray tells the end, in words; empty where it went all its way."""
    last = record.trays[-1] if record.trays else None
    if last is None or (last.ended and last.taken_out_by != "page"):
        return ""
    if last.ended:
        return say("trays.had-page")
    still = any(each.number == record.number for each in now().prints)
    return say("trays.had-still" if still else "trays.had-unknown")


def _line(record: SheetRecord, step: StepRecord) -> Line:
    fate = _fate(step)
    told = len(step.parts) > 1 or fate != "given" or any(part.wrong for part in step.parts)
    key = "none" if fate == "to come" and record.closed else fate.replace(" ", "-")
    return Line(
        number=step.step.number,
        mark=step.step.area or str(step.step.number),
        name=step.step.name,
        filter=filter_called(step.step.filter),
        texture=texture_of(step.step.filter),
        said=(*said_of(record, step), *with_what(step.step, record.plan.tools)),
        planned=seconds(step.step.planned_ms),
        given=span(step.given_least_ms, step.given_most_ms),
        fate="" if fate == "given" else say(f"page.fate-{key}"),
        lights=tuple(_part(step, part) for part in step.parts) if told else (),
        takes_in=step.step.number if _takes_in(record, step) else 0,
        went_in=next((each for each in record.went_in if each.step == step.step.number), None),
    )


def _takes_in(record: SheetRecord, step: StepRecord) -> bool:
    """Tell whether a burn that was added may go into the recipe: by itself, and not with all of the sheet before."""
    done = any(each.step in (0, step.step.number) for each in record.went_in)
    return step.added and record.plan.kind == "recipe" and record.closed is not None and not done and bool(step.lit_ms)


def _fate(step: StepRecord) -> Fate:
    if step.left_out:
        return "left out"
    if step.called_given:
        return "called given"
    whole = any(part.why == "complete" and not part.struck for part in step.parts)
    if whole or abs(step.step.planned_ms - step.given_most_ms) < NEARLY_MS:
        return "given"
    return "held" if step.given_most_ms else "to come"


def _part(step: StepRecord, part: PartRecord) -> str:
    if part.struck:
        return say("page.part-struck")
    if part.wrong is not None and part.assumed_ns is None:
        return _wrong(part, part.wrong)
    words = say("page.part", seconds=seconds(_nominal(step, part)), why=say(f"page.why-{part.why}"))
    return f"{words} · {say(f'lamp.seen-{part.seen}')}" if part.seen else words


def _wrong(part: PartRecord, wrong: WrongLight) -> str:
    """Return what became of a light that was far too strong, or came through another filter."""
    least, counts, most = (ns // NS_PER_MS for ns in (wrong.least_ns, wrong.counts_ns or 0, wrong.most_ns))
    return say(
        f"page.part-{wrong.found}",
        lit=seconds(part.most_ns // NS_PER_MS),
        stops=f"{wrong.stops or 0:.1f}",
        filter=filter_called(part.filter),
        seconds=seconds(counts),
        least=seconds(least),
        most=seconds(most),
    )


def _nominal(step: StepRecord, part: PartRecord) -> int:
    """Return a light's share of what its step was given, in ms: by its full light, most, or as it was reckoned."""
    whole = step.full_ns[1]
    return step.given_most_ms * part.reckoned_ns[1] // whole if whole else 0


def _presses(record: SheetRecord) -> tuple[Press, ...]:
    """Return where the foot came down: into which light, or before which step."""
    lights = sorted(
        ((part.on_ns, part.on_ns + part.most_ns, step.step.number) for step in record.steps for part in step.parts),
    )
    found = []
    for foot in record.feet:
        if foot.gesture == "page stop":
            continue
        counted = foot.gesture != "wait"
        inside = next(((on, number) for on, off, number in lights if on <= foot.at_ns <= off), None)
        if inside:
            found.append(Press(inside[1], (foot.at_ns - inside[0]) // NS_PER_MS, counted))
        else:
            last = max((number for *_, number in lights), default=0)
            found.append(Press(next((n for on, _, n in lights if on > foot.at_ns), last + 1), None, counted))
    return tuple(found)


@dataclass(frozen=True)
class Photo:
    """The photograph of a dry print, as its record's page shows it."""

    size: tuple[int, int] | None
    """In pixels; None where there is none to be seen."""
    lost: bool
    """There is one, and it is not here."""
    before: tuple[Photographed, ...]
    """Earlier ones that can be put back, the newest first."""
    missing: str
    """The libraries that reading a photograph needs and that are not installed."""


blueprint = Blueprint("record", __name__)

EARLIER: Final = 6
"""So many earlier photographs are offered."""
LEAST, MOST = 20, 40
"""Sheets on the wall: whole sessions from so many on, and never more than so many."""


@blueprint.get("/wall")
@needs_day
def wall() -> ResponseReturnValue:
    """Show the last sessions' sheets, or older ones; those that were photographed or developed as they came out."""
    below, above = request.args.get("below", type=int), request.args.get("above", type=int)
    shown = desk().sheets(below=below, above=above, least=LEAST, most=MOST)
    sessions = []
    for number, session in enumerate(shown.sessions):
        records = sorted((desk().record(sheet.id) for sheet in session.sheets), key=lambda record: record.number)
        threads = {sheet.id: sheet.thread for sheet in session.sheets}
        pictures = {record.id: seen for record in records if (seen := seen_of(record.id, small_of(record)))}
        sessions.append((session, wall_picture(records, threads, ident=f"wall-{number}", shown=pictures)))
    return render_template("wall.html", sessions=sessions, shown=shown)


@blueprint.get("/sheets/<sheet>")
def record(sheet: str) -> ResponseReturnValue:
    """Show what one sheet was to get, and what it got."""
    return record_page(desk().record(sheet))


def record_page(record: SheetRecord, refusal: Refusal = NONE) -> ResponseReturnValue:
    """Return a sheet's page; a photograph that was refused is told beside its field."""
    kept, day = kept_of(record), day_allowed()
    made = print_of(record.id) if day else None
    photo = photo_of(record) if day and record.closed is not None else None
    drawn = drawn_on(record) if day else None
    edition = desk().editions().of_sheet(record) if day else ("", "")
    return show(
        "record.html",
        refusal.status,
        home=f"/sheets/{record.id}",
        refusal=refusal,
        record=record,
        title=title_of(record),
        stood=stood_of(record),
        lines=lines_of(record),
        trays=trays_of(record),
        trays_end=trays_end(record),
        picture=picture_of(record),
        whole_ms=sum(step.given_most_ms for step in record.steps)
        + (record.plan.flashed.planned_ms if record.plan.flashed else 0),
        pick_way="" if record.plan.strip is None or record.plan.test else url_for("shelf.pick.pick", sheet=record.id),
        test=test_page(record.plan),
        tray=tray() is not None and not record.plan.of_no_sheet and not record.plan.flashes_sheets,
        made=made,
        photo=photo,
        drawn=drawn,
        kept=kept,
        may_look=desk().contrast().can_be_looked_at(record),
        thread=desk().thread(record),
        offered=offered(desk().recipes(), record) if kept else None,
        all_in=next((each for each in record.went_in if each.step == 0), None),
        edition=edition if edition[0] else None,
        may_begin=day and desk().editions().may_begin(record),
        is_next=is_next(record.plan.source, record.plan.version),
    )


def small_of(record: SheetRecord) -> str:
    """Return the hash of the small photograph of a sheet's print; empty where there is none."""
    return record.photograph.small if record.photograph else ""


def seen_of(sheet: str, photograph: str) -> str:
    """Return the address of a small picture of a sheet's print: its photograph, or its practice print; else nothing."""
    if photograph and desk().photographs().size(photograph):
        g.pictures = True  # the page may fetch ours
        return f"/photographs/{photograph}.jpg"
    return f"/practice/print/{sheet}.png" if print_of(sheet) is not None else ""


def photo_of(record: SheetRecord) -> Photo:
    """Return the photograph of a sheet's dry print, with the earlier ones, as a page shows it."""
    photographs, now = desk().photographs(), record.photograph
    size = photographs.size(now.hash) if now is not None else None
    before = [one for one in record.photographs_before[: 2 * EARLIER] if photographs.size(one.small)]
    g.pictures = g.get("pictures") or size is not None or bool(before)
    return Photo(size, now is not None and size is None, tuple(before[:EARLIER]), missing_libraries())
