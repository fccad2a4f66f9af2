"""Trays and baths, by day: what each bath has had, a fresh one by a tap, and every figure of a process."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Final, get_args

from flask import Blueprint, abort, redirect, request

from controller.errors import ControllerError
from controller.trays.development import in_cold_water
from controller.trays.ledger import BathRules
from controller.trays.process import USUAL, BathName, Process, Support
from controller.words import say, say_many
from webui.forms.form import NONE, Fields, Refusal, to_correct, told
from webui.forms.trays import (
    BATHS,
    COLUMNS,
    GROUPS,
    LABELS,
    PROCESS_FIELDS,
    RULE_FIELDS,
    SUPPORTS,
    UNITS,
    field_label,
    read_process_form,
    read_rules_form,
    typed_process,
    typed_rules,
)
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day, waits_for_day
from webui.pictures import tally_picture
from webui.wording import moment

if TYPE_CHECKING:
    from collections.abc import Mapping

    from flask.typing import ResponseReturnValue

    from controller.daemon.tray_shelf import InTray
    from controller.store.records import SheetRecord
    from webui.pictures import Picture

blueprint = Blueprint("trays", __name__)

NAMES: Final[tuple[BathName, ...]] = get_args(BathName)
FRESH: Final = ("litres", "use-by")
TONED: Final = ("toner", "dilution", "minutes", "did")
COLD_C: Final = (18.0, 15.0, 12.0, 10.0)
"""Temperatures at which fix and wash are shown, beside 20 °C."""


@blueprint.get("/trays")
@needs_day
def trays() -> ResponseReturnValue:
    """Show the bath in each tray, and the two processes."""
    return _trays()


@blueprint.post("/trays/fresh")
@waits_for_day
def fresh() -> ResponseReturnValue:
    """Note that a tray has a fresh bath; of two fixes the second moves up, or both are fresh."""
    tray = next((name for name in NAMES if name == request.form.get("tray")), None)
    if tray is None:
        abort(404)
    typed = Fields(LABELS, request.form, FRESH)
    try:
        desk().trays().make_fresh(
            tray, litres=typed["litres"], use_by=typed["use-by"], both=request.form.get("do") == "both"
        )
    except ControllerError as error:
        return _trays(told({}, error), typed, tray)
    return redirect("/trays", 303)


@blueprint.get("/trays/process/<support>")
@needs_day
def process(support: str) -> ResponseReturnValue:
    """Show the process for a support in its form; with the usual figures where these are asked for."""
    known = _support(support)
    usual = bool(request.args.get("usual"))
    return _process(known, typed_process(USUAL[known] if usual else desk().trays().processes()[known]))


@blueprint.post("/trays/process/<support>/keep")
@waits_for_day
def keep_process(support: str) -> ResponseReturnValue:
    """Keep a process; or say what is wrong, and nothing typed is lost."""
    known, typed = _support(support), Fields(LABELS, request.form, PROCESS_FIELDS)
    try:
        desk().trays().keep_process(read_process_form(typed, known))
    except ControllerError as error:
        return _process(known, typed.text, told({}, error))
    return redirect("/trays", 303)


@blueprint.get("/trays/baths")
@needs_day
def rules() -> ResponseReturnValue:
    """Show how long each bath lasts; with the usual figures where these are asked for."""
    return _rules(typed_rules(BathRules() if request.args.get("usual") else desk().trays().rules()))


@blueprint.post("/trays/baths/keep")
@waits_for_day
def keep_rules() -> ResponseReturnValue:
    """Keep how long baths last; or say what is wrong, and nothing typed is lost."""
    typed = Fields(LABELS, request.form, RULE_FIELDS)
    try:
        desk().trays().keep_rules(read_rules_form(typed))
    except ControllerError as error:
        return _rules(typed.text, told({}, error))
    return redirect("/trays", 303)


@blueprint.get("/sheets/<sheet>/toned")
@needs_day
def toned(sheet: str) -> ResponseReturnValue:
    """Show how a print was toned, and a form for one more toning, or one that is said otherwise."""
    record, number = desk().record(sheet), request.args.get("number", default=0, type=int)
    one = next((each for each in record.tonings if each.number == number), None)
    if one is None:
        return _toned(record, {}, 0)
    minutes = "" if one.minutes is None else f"{one.minutes:g}"
    return _toned(record, {"toner": one.toner, "dilution": one.dilution, "minutes": minutes, "did": one.did}, number)


@blueprint.post("/sheets/<sheet>/toned/keep")
@waits_for_day
def keep_toned(sheet: str) -> ResponseReturnValue:
    """Note a toning; or take one back; or say what is wrong, and nothing typed is lost."""
    typed, record = Fields("trays.label-toned-", request.form, TONED), desk().record(sheet)
    number = request.form.get("number", default=0, type=int)
    said = {} if request.form.get("do") == "take back" else typed.text
    try:
        desk().trays().tone(
            sheet,
            toner=said.get("toner", ""),
            dilution=said.get("dilution", ""),
            minutes=said.get("minutes", ""),
            did=said.get("did", ""),
            instead=number,
        )
    except ControllerError as error:
        return _toned(record, typed.text, number, told({}, error))
    return redirect(f"/sheets/{sheet}", 303)


# ---- pages


def _toned(record: SheetRecord, typed: Mapping[str, str], number: int, refusal: Refusal = NONE) -> ResponseReturnValue:
    return show(
        "toned.html",
        refusal.status,
        home=f"/sheets/{record.id}/toned",
        record=record,
        typed={name: typed.get(name, "") for name in TONED},
        number=number,
        refusal=refusal,
        to_correct=to_correct(refusal, lambda name: say(f"trays.label-toned-{name}")),
    )


def _support(text: str) -> Support:
    found = next((support for support in SUPPORTS if support == text), None)
    return found if found is not None else abort(404)


def _trays(refusal: Refusal = NONE, typed: Fields | None = None, at: str = "") -> ResponseReturnValue:
    kept = desk().trays()
    return show(
        "baths.html",
        refusal.status,
        home="/trays",
        trays=[(each, _called(each), _tally(each), _words(each), _pair(each)) for each in kept.in_trays()],
        processes=[(support, _way(process)) for support, process in kept.processes().items()],
        typed=typed or Fields(LABELS, {}, FRESH),
        wrong=at,
        refusal=refusal,
        to_correct=to_correct(refusal, field_label),
    )


def _process(support: Support, typed: Mapping[str, str], refusal: Refusal = NONE) -> ResponseReturnValue:
    kept = desk().trays().processes()[support]
    return show(
        "process.html",
        refusal.status,
        home=f"/trays/process/{support}",
        support=support,
        groups=GROUPS,
        units=UNITS,
        typed=typed,
        way=_way(kept),
        cold=[(f"{celsius:g}", *_cold(kept, celsius)) for celsius in COLD_C],
        refusal=refusal,
        to_correct=to_correct(refusal, field_label),
    )


def _rules(typed: Mapping[str, str], refusal: Refusal = NONE) -> ResponseReturnValue:
    return show(
        "bath_rules.html",
        refusal.status,
        home="/trays/baths",
        baths=BATHS,
        columns=COLUMNS,
        typed=typed,
        field_label=field_label,
        refusal=refusal,
        to_correct=to_correct(refusal, field_label),
    )


# ---- words


def _called(tray: InTray) -> str:
    return say(f"trays.name-{tray.tray.replace(' ', '-')}")


def _words(tray: InTray) -> tuple[str, ...]:
    """Return what is said of a bath, a line each: how old, how much of it, what it had, what it may still have."""
    bath = tray.bath
    if bath is None:
        return (say("trays.nothing-yet"),)
    age = "" if not bath.made else say("trays.moved-up" if bath.moved_up else "trays.made", when=moment(bath.made))
    had = say_many("trays.print", bath.prints)
    if bath.rc + bath.fb and abs(bath.rc + bath.fb - bath.prints) > 0.05:
        had = say("trays.had-area", prints=had, eights=f"{bath.rc + bath.fb:.1f}")
    left = " · ".join(say("trays.left", number=much, support=support) for support, much in tray.left)
    use_by = say("trays.use-by", day=bath.use_by) if bath.use_by else ""
    return tuple(filter(None, (age, say("trays.of-litres", litres=f"{tray.litres:g}"), had, left, use_by)))


def due() -> tuple[str, ...]:
    """Return what is to be done about baths before the next print, a line each; nothing while all will do.

    Nor where it cannot be told: the first page is there to print from, whatever becomes of a count.
    """
    with suppress(ControllerError):
        return tuple(
            say(f"trays.due-{why.replace(' ', '-')}", tray=_called(each))
            for each in desk().trays().in_trays()
            for why in each.why
        )
    return ()


def _pair(tray: InTray) -> str:
    """Return what becomes of two fixes when the first is poured away; empty for any other tray."""
    return "" if tray.tray != "fix 1" else "-up" if tray.moves_up else "-both"


def _tally(tray: InTray) -> Picture | None:
    if tray.bath is None:
        return None
    name = tray.tray.replace(" ", "-")
    words = f"{_called(tray)}: {say_many('trays.print', tray.bath.prints)}"
    return tally_picture(tray.bath.prints, tray.used, ident=f"tally-{name}", words=words)


def _way(process: Process) -> str:
    """Return the way of a print in one line, with when white light may be had after the close."""
    way = " · ".join(
        say("trays.for", tray=say(f"trays.name-{tray.name.replace(' ', '-')}"), seconds=f"{tray.ms / 1000:g}")
        for tray in process.trays
    )
    before = sum(tray.ms for tray in process.trays[: process.first_fix]) / 1000
    return say("trays.way", way=way, seconds=f"{before + process.least_fix_seconds:g}")


def _cold(process: Process, celsius: float) -> tuple[str, str]:
    """Return fix and wash at a temperature, in seconds."""
    colder = in_cold_water(process, celsius)
    return (
        f"{colder.fix_seconds + colder.fix_2_seconds:g}",
        f"{colder.wash_seconds + colder.wash_2_seconds:g}",
    )
