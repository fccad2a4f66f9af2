"""What stands at the enlarger, by day: each thing of it changed by one tap; the enlargers, and a second one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Blueprint, redirect, render_template, request

from controller.enlarger.enlargers import read_enlarger
from controller.enlarger.standing import InCarrier
from controller.errors import ControllerError, Unreadable
from controller.exposure.decimals import typed_text_of
from controller.words import say
from webui.forms.enlarger import (
    CARRIER,
    FIGURES,
    FILTERS,
    KEYS,
    PAIR,
    PAPER,
    PLACES,
    changed_setup,
    enlarger_form_of,
    field_label,
    read_enlarger_form,
    typed_setup,
    typed_standing,
)
from webui.forms.form import NONE, Fields, Refusal, to_correct, told
from webui.frame.context import desk, now, room
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.frame.lists import let_be_put_away, listing
from webui.wording import box_words, carrier_words, paper_and_box, paper_words, setup_words, whole_setup

if TYPE_CHECKING:
    from collections.abc import Mapping

    from flask.typing import ResponseReturnValue

    from controller.enlarger.standing import HowItStands
    from controller.store.versions import Kept

blueprint = Blueprint("enlarger", __name__)

APERTURES: Final = ("2.8", "4", "5.6", "8", "11", "16", "22")
"""The whole stops that lenses have marked on their rings; any other is typed."""


# ---- what stands


@blueprint.get("/enlarger")
@needs_day
def enlarger() -> ResponseReturnValue:
    """Show what stands at the enlarger, and which enlargers there are; or those that were put away."""
    bench, listed = now().bench, listing("enlarger")
    stands = (
        ("carrier", carrier_words(bench), "/enlarger/carrier"),
        ("paper", paper_words(bench), "/enlarger/paper"),
        ("set-up", whole_setup(bench), "/enlarger/set-up"),
        ("filters", " · ".join(name for name in (bench.soft, bench.hard) if name), "/enlarger/set-up#filters"),
    )
    kept = [(each, _figures_of(each)) for each in listed.page.things]
    return render_template("enlarger.html", bench=bench, stands=stands, kept=kept, listed=listed)


@blueprint.get("/enlarger/carrier")
@needs_day
def carrier() -> ResponseReturnValue:
    """Show the negatives that one tap puts into the carrier."""
    return _carrier(Fields("enlarger.label-", {}, CARRIER))


@blueprint.post("/enlarger/carrier")
@waits_for_day
def put_in() -> ResponseReturnValue:
    """Put a negative into the carrier, a listed one or one that was written; or take out the one that is in it."""
    typed = Fields("enlarger.label-", request.form, CARRIER)
    empty = request.form.get("do") == "empty"
    if not typed["title"] and not empty:
        return _carrier(typed, Refusal(say("enlarger.carrier-missing"), "title", 422))
    taken = InCarrier(negative=typed["negative"], title=typed["title"], format=typed["format"])
    try:
        desk().at_enlarger().put_in(_decided(), None if empty else taken)
    except ControllerError as error:
        return _carrier(typed, told({}, error))
    return redirect("/", 303)


@blueprint.get("/enlarger/paper")
@needs_day
def paper() -> ResponseReturnValue:
    """Show the papers and boxes that one tap takes out."""
    bench = now().bench
    return _paper(
        Fields("enlarger.label-", {"title": bench.paper_title, "support": bench.support, "box": bench.box}, PAPER)
    )


@blueprint.post("/enlarger/paper")
@waits_for_day
def take_out_paper() -> ResponseReturnValue:
    """Note which paper is out, and of which box."""
    typed = Fields("enlarger.label-", request.form, PAPER)
    if not typed["title"]:
        return _paper(typed, Refusal(say("enlarger.paper-missing"), "title", 422))
    try:
        desk().at_enlarger().change(
            _decided(),
            paper=typed["paper"] or desk().papers().called(typed["title"]),
            paper_title=typed["title"],
            support=typed["support"] if typed["support"] in ("RC", "FB") else "",
            box=typed["box"],
        )
    except ControllerError as error:
        return _paper(typed, told({}, error))
    return redirect("/", 303)


@blueprint.get("/enlarger/set-up")
@needs_day
def set_up() -> ResponseReturnValue:
    """Show how the enlarger stands, how it stood lately, and a form that is filled in with what is known."""
    return _set_up(typed_standing(now().bench))


@blueprint.post("/enlarger/set-up")
@waits_for_day
def keep_set_up() -> ResponseReturnValue:
    """Note how the enlarger stands now: what was typed otherwise than it stood there."""
    typed = Fields("enlarger.label-", request.form, (*FIGURES, *FILTERS))
    try:
        changes = changed_setup(typed, request.form, now().bench)
        desk().at_enlarger().set_up(_decided(), **changes)
    except ControllerError as error:
        return _set_up(typed.text, told(PLACES, error))
    return redirect("/", 303)


@blueprint.post("/enlarger/loaded")
def take_loaded() -> ResponseReturnValue:
    """Take over what the loaded recipe or strip says of negative, paper and set-up."""
    desk().at_enlarger().take_loaded(_decided())
    return redirect("/", 303)


# ---- enlargers


@blueprint.post("/enlarger/choose")
def choose() -> ResponseReturnValue:
    """Work another enlarger, with its own figures."""
    desk().at_enlarger().choose(_decided(), request.form.get("source", ""))
    return redirect("/", 303)


@blueprint.get("/enlargers/new")
@needs_day
def new() -> ResponseReturnValue:
    """Show the form of an enlarger that is not kept yet; the lag in force is the first one's."""
    lag = "" if now().bench.enlarger else typed_text_of(desk().settings().lamp_lag_seconds)
    return _form({"light-source": "diffuser", "lag-seconds": lag}, "")


@blueprint.get("/enlargers/<source>")
@needs_day
def edit(source: str) -> ResponseReturnValue:
    """Show a kept enlarger in its form."""
    at_enlarger = desk().at_enlarger()
    kept = at_enlarger.enlargers().fetch(source)
    return _form(enlarger_form_of(kept, at_enlarger.lag_of(source, kept)), source)


@blueprint.post("/enlargers/keep")
@waits_for_day
def keep() -> ResponseReturnValue:
    """Keep an enlarger, as a new one or as the next version of the one that was opened; or say what is wrong."""
    typed, source = Fields("enlarger.label-", request.form, (*KEYS, *PAIR)), request.form.get("source", "")
    at_enlarger = desk().at_enlarger()
    before = at_enlarger.enlargers().fetch(source) if source else None
    try:
        at_enlarger.save(read_enlarger_form(typed, before), _decided(), source or None)
    except Unreadable as error:
        return _form(typed.text, source, told({}, error))
    return redirect("/enlarger", 303)


let_be_put_away(
    blueprint, "/enlargers", lambda: desk().at_enlarger().enlargers(), away="/enlarger?undo={id}", out="/enlarger"
)


# ---- pages


def _decided() -> int:
    """Return the snapshot that a form was decided on; one of another run of the service is always an old one."""
    same_run = request.form.get("run", room().run) == room().run
    return request.form.get("number", default=0, type=int) if same_run else 0


def _carrier(typed: Fields, refusal: Refusal = NONE) -> ResponseReturnValue:
    return show(
        "enlarger_carrier.html",
        refusal.status,
        bench=now().bench,
        inside=carrier_words(now().bench),
        negatives=desk().at_enlarger().negatives_lately(),
        typed=typed,
        refusal=refusal,
        to_correct=to_correct(refusal, typed.label),
    )


def _paper(typed: Fields, refusal: Refusal = NONE) -> ResponseReturnValue:
    papers = desk().at_enlarger().papers_lately()
    return show(
        "enlarger_paper.html",
        refusal.status,
        out=paper_words(now().bench),
        box_words=box_words,
        papers=[(each, paper_and_box(each.title, each.support, each.box)) for each in papers],
        typed=typed,
        refusal=refusal,
        to_correct=to_correct(refusal, typed.label),
    )


def _set_up(typed: Mapping[str, str], refusal: Refusal = NONE) -> ResponseReturnValue:
    bench, lately = now().bench, desk().at_enlarger().setups_lately()
    return show(
        "enlarger_setup.html",
        refusal.status,
        bench=bench,
        stands=whole_setup(bench),
        apertures=APERTURES,
        lately=[(typed_setup(each), _setup_called(each)) for each in lately],
        typed=typed,
        refusal=refusal,
        to_correct=to_correct(refusal, lambda name: say(f"enlarger.label-{name}")),
    )


def _form(typed: Mapping[str, str], source: str, refusal: Refusal = NONE) -> ResponseReturnValue:
    return show(
        "enlarger_form.html",
        refusal.status,
        home=f"/enlargers/{source or 'new'}",
        typed={name: typed.get(name, "") for name in (*KEYS, *PAIR)},
        source=source,
        works=source != "" and source == now().bench.enlarger,
        refusal=refusal,
        to_correct=to_correct(refusal, field_label),
    )


# ---- words


def _setup_called(setup: HowItStands) -> str:
    focal = setup.focal_mm
    return setup_words(
        setup.aperture, setup.head_height_mm, "" if focal is None else say("enlarger.lens-of", focal=f"{focal:g}")
    )


def _figures_of(kept: Kept) -> str:
    """Return an enlarger in one line; one that today's software cannot read says so."""
    try:
        known = read_enlarger(kept.body, kept.title)
    except Unreadable as error:
        return str(error)
    lag = desk().at_enlarger().lag_of(kept.id, known)
    lens = "" if known.focal_mm is None else say("enlarger.lens-of", focal=f"{known.focal_mm.normalize():f}")
    lost = "" if lag is None else say("enlarger.lag-of", lag=f"{lag:f}")
    return " · ".join(words for words in (say(f"enlarger.{known.light_source}"), lens, known.lamp, lost) if words)
