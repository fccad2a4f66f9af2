"""The safelight's and the phone's test, by day: the grey, the sheet, what its quarters show; the phone's at its red."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, cast, get_args

from flask import Blueprint, make_response, redirect, render_template, request

from controller.daemon.fog_trials import FogTrials
from controller.errors import ControllerError, Impossible, Unreadable
from controller.exposure.decimals import decimal_within
from controller.trials.phone import PhoneFound
from controller.trials.safelight import Minutes, SafelightFound
from controller.words import say
from webui.forms.form import NONE, Refusal, told
from webui.frame.context import decided_on, desk
from webui.frame.device import device
from webui.frame.guard import needs_day
from webui.frame.red import LEVELS, red, remember, take_level
from webui.pages.lamp import day
from webui.pictures.fog_strips import MINUTES, fog_strips_picture

if TYPE_CHECKING:
    from collections.abc import Mapping

    from flask.typing import ResponseReturnValue

    from controller.trials.results import TrialResult
    from controller.trials.safelight import Answer, Glow

blueprint = Blueprint("fog", __name__)

GREYS: Final = ("0.15", "0.30", "0.40", "0.60")
"""Densities that a grey can be said to have by eye; common practice."""
STRIPS: Final = ("after", "before", "alone")
"""What is asked of each of the three strips, in their order: its grey came first, it came last, it has none."""
QUARTERS: Final = ("7", "3", "1", "0", "mixed")


@blueprint.get("/tests/<any(safelight, phone):glow>")
@needs_day
def fog(glow: Glow) -> ResponseReturnValue:
    """Show how a test stands: what is to be done next, and what was found."""
    return _page(glow, {})


@blueprint.post("/tests/<any(safelight, phone):glow>/<any(grey, band, begin, answer):act>")
@needs_day
def ask(glow: Glow, act: str) -> ResponseReturnValue:
    """Begin the grey strip or the sheet, or take an answer; a refusal stands beside its question, nothing lost."""
    typed = {name: request.form.get(name, "")[:20] for name in ("band", "tone", "density", "level", *STRIPS)}
    try:
        level = _do(glow, act, typed)
    except ControllerError as problem:
        refusal = told({"grey": "tone"}, problem)
        return make_response(_page(glow, typed, refusal), refusal.status)
    answer = make_response(redirect("/" if act in ("grey", "begin") else f"/tests/{glow}", 303))
    if level:
        take_level(level)
        remember(answer, level)
    return answer


def _do(glow: Glow, act: str, typed: Mapping[str, str]) -> int:
    """Carry out an act; return the level of red that this phone stands at from now on, 0 where it stays."""
    part = desk().trials().part(FogTrials)
    match act:
        case "grey":
            part.begin_grey(decided_on())
        case "band":
            band = int(typed["band"]) if typed["band"].isdecimal() else 0
            part.keep_grey(band, _density(typed))
        case "begin":
            level = _level(typed["level"]) if glow == "phone" else 0
            part.begin(glow, decided_on(), level)
            return level
        case _:
            answers = [_answer(typed, strip) for strip in ("before", "after", "alone")]
            if glow == "safelight":
                part.answer_safelight(*answers)
            else:
                # a phone is never left brighter than what it has just been found safe for
                part.answer_phone(*_phone(), *answers)
                tested = desk().phones().fog_test(_phone()[0])
                safe = tested.level if tested is not None else 1
                return safe if red().level > safe else 0
    return 0


def _density(typed: Mapping[str, str]) -> float:
    text = typed["density"].strip() or typed["tone"]
    value = decimal_within(text, "0", "4", places=2)
    if value is None:
        raise Unreadable(say("trials.no-tone"), ("tone",))
    return float(value)


def _level(text: str) -> int:
    if text not in {str(level.number) for level in LEVELS}:
        raise Impossible(say("page.red-none"), ("level",))
    return int(text)


def _answer(typed: Mapping[str, str], strip: str) -> Answer:
    said = typed[strip]
    if said not in QUARTERS:
        raise Unreadable(say("trials.no-answer"), (strip,))
    if said == "mixed":
        return "mixed"
    return cast("Minutes", next(minutes for minutes in get_args(Minutes) if str(minutes) == said))


def _phone() -> tuple[str, str]:
    this = device()
    assert this is not None  # the guard lets nobody else in
    return this.mark, this.name


def _last(glow: Glow) -> TrialResult | None:
    return desk().trials().last(glow, _phone()[0] if glow == "phone" else None)


def _page(glow: Glow, typed: Mapping[str, str], refusal: Refusal = NONE) -> str:
    view, last = desk().trials().part(FogTrials).view(glow), _last(glow)
    lines = desk().trials().lines({"phone": _phone()})
    tested = red().tested
    body = last.body if last is not None and isinstance(last.body, SafelightFound | PhoneFound) else None
    same = None if body is None else (body.after, body.before, body.alone)
    picture = fog_strips_picture(
        [say(f"trials.strip-{strip}") for strip in STRIPS],
        [say(f"trials.quarter-{minutes}") if minutes else say("trials.covered") for minutes in MINUTES],
        same,
        ident="fog-strips",
        words=say("trials.strips-alt"),
    )
    return render_template(
        "fog.html",
        view=view,
        refusal=refusal,
        typed=typed,
        line=next(line for line in lines if line.trial == glow) if last is not None else None,
        home=f"/tests/{glow}",
        picture=picture,
        minutes="" if body is None else f"{body.safe_minutes:g}",
        greys=GREYS,
        strips=STRIPS,
        quarters=QUARTERS,
        levels=[level.number for level in LEVELS],
        level=typed.get("level") or str(red().level if red().chosen else tested.level if tested else 1),
        day=day,
    )
