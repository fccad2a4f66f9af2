"""Two tests of a test evening, by day: how a paper does in long light, and the developer's least time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from flask import Blueprint, make_response, redirect, render_template, request

from controller.daemon.developer_trial import DeveloperTrial
from controller.daemon.reciprocity_trial import ReciprocityTrial
from controller.errors import ControllerError, Impossible, Unreadable
from controller.exposure.decimals import decimal_within
from controller.exposure.stops import shown
from controller.trials.developer import DeveloperFound
from controller.trials.reciprocity import BANDS, TWELFTHS, Grey, ReciprocityFound, grey_of, narrow, times_ms
from controller.words import say
from webui.forms.form import NONE, Refusal, told
from webui.frame.context import decided_on, desk
from webui.frame.guard import needs_day
from webui.pages.lamp import day
from webui.pictures.tested_sheets import long_exposures_picture, pieces_picture

if TYPE_CHECKING:
    from collections.abc import Mapping

    from flask.typing import ResponseReturnValue

    from controller.daemon.developer_trial import DeveloperView
    from controller.daemon.reciprocity_trial import ReciprocityView
    from controller.daemon.trial_desk import TrialLine
    from controller.trials.results import TrialName
    from webui.pictures import Picture

blueprint = Blueprint("paper_tests", __name__)
READ: Final = tuple(f"density-{band}" for band in range(1, BANDS + 1))
NONE_IS: Final = "none"
_NAMES: Final = ("sheet", "band", "black", "fog", "seconds", *READ)


@blueprint.get("/tests/reciprocity")
@needs_day
def reciprocity() -> ResponseReturnValue:
    """Show the strip, its answer, and what is reckoned with."""
    return _reciprocity({})


@blueprint.get("/tests/developer")
@needs_day
def developer() -> ResponseReturnValue:
    """Show the pieces, their answer, and how long the process develops."""
    return _developer({})


@blueprint.post("/tests/reciprocity/<act>", defaults={"trial": "reciprocity"})
@blueprint.post("/tests/developer/<act>", defaults={"trial": "developer"})
@needs_day
def ask(trial: Literal["reciprocity", "developer"], act: str) -> ResponseReturnValue:
    """Begin a sheet, or take an answer; a refusal stands beside its question, nothing lost."""
    typed = {name: request.form.get(name, "")[:20] for name in _NAMES}
    try:
        _do(trial, act, typed)
    except ControllerError as problem:
        refusal = told({}, problem)
        page = _reciprocity(typed, refusal) if trial == "reciprocity" else _developer(typed, refusal)
        return make_response(page, refusal.status)
    return redirect("/" if act == "begin" else f"/tests/{trial}", 303)


def _do(trial: Literal["reciprocity", "developer"], act: str, typed: Mapping[str, str]) -> None:
    paper, developer_ = desk().trials().part(ReciprocityTrial), desk().trials().part(DeveloperTrial)
    match trial, act:
        case "reciprocity", "begin":
            paper.begin(decided_on())
        case "reciprocity", "eye":
            paper.keep_by_eye(typed["sheet"], *_band(typed["band"]))
        case "reciprocity", "read":
            paper.keep_by_densities(typed["sheet"], [_density(name, typed[name]) for name in READ])
        case "developer", "begin":
            developer_.begin(_seconds("seconds", typed) or 0, decided_on())
        case "developer", "answer":
            developer_.keep(_seconds("black", typed), _seconds("fog", typed))
        case _:
            raise Impossible(say("page.refused-404"))


def _band(text: str) -> tuple[int | Literal["lighter", "darker"], bool]:
    """Return which band was chosen, and whether the place after it was."""
    band, _, between = text.partition(" ")
    match text:
        case "lighter" | "darker":
            return text, False
    if not band.isdecimal():
        raise Unreadable(say("reciprocity.no-choice"), ("band",))
    return int(band), bool(between)


def _density(name: str, text: str) -> float:
    value = decimal_within(text, "0", "4", places=2)
    if value is None:
        raise Unreadable(say("reciprocity.no-density", found=shown(text)), (name,))
    return float(value)


def _seconds(name: str, typed: Mapping[str, str]) -> int | None:
    """Return the seconds of a piece that was chosen; None where none is."""
    text = typed[name]
    if text == NONE_IS:
        return None
    if not text.isdecimal():
        raise Unreadable(say("developer.no-answer"), (name,))
    return int(text)


def _reciprocity(typed: Mapping[str, str], refusal: Refusal = NONE) -> str:
    view = desk().trials().part(ReciprocityTrial).view()
    bands = [(str(band), say("reciprocity.is", band=band)) for band in range(1, len(TWELFTHS) + 1)]
    between = [
        (f"{band} between", say("reciprocity.is-between", band=band, next=band + 1)) for band in range(1, len(TWELFTHS))
    ]
    choices = [each for pair in zip(bands, [*between, None], strict=True) for each in pair if each is not None]
    lights = view.sheet.plan.steps if view.sheet is not None else ()
    line = _line("reciprocity")
    return render_template(
        "reciprocity.html",
        view=view,
        typed=typed,
        refusal=refusal,
        line=line,
        picture=_strip(view, line),
        choices=[*choices, ("lighter", say("reciprocity.all-lighter")), ("darker", say("reciprocity.all-darker"))],
        fields=[(name, n, n == len(lights)) for n, name in enumerate(READ, 1)],
        minutes=0 if view.grey is None else _minutes(view.grey.ms),
        day=day,
    )


def _developer(typed: Mapping[str, str], refusal: Refusal = NONE) -> str:
    view, line = desk().trials().part(DeveloperTrial).view(), _line("developer")
    return render_template(
        "developer.html",
        view=view,
        typed=typed,
        refusal=refusal,
        line=line,
        picture=_pieces(view, line),
        whole=all(record is not None for _, record in view.pieces),
        day=day,
    )


def _line(name: TrialName) -> TrialLine | None:
    line = desk().trials().line(name)
    return line if line.last is not None else None


def _strip(view: ReciprocityView, line: TrialLine | None) -> Picture | str:
    """Draw the strip that waits for its answer, or the last one that has it, or the one that would be made."""
    grey, alike = view.grey, None
    if view.sheet is not None:
        grey = grey_of(view.sheet.plan)
    elif line is not None and line.last is not None and isinstance(found := line.last.body, ReciprocityFound):
        grey = Grey(ms=round(found.seconds * 1000), filter=found.filter, aperture=float(found.aperture))
        alike = found.twelfths
    if grey is None:
        return ""
    down, open_ = f"f/{narrow(grey.aperture)}", f"f/{grey.aperture:g}"
    seconds = [f"{ms / 1000:.1f}" for ms in (*times_ms(grey), grey.ms)]
    said = line.outcome if alike is not None and line is not None else say("reciprocity.drawn", down=down, open=open_)
    return long_exposures_picture(seconds, TWELFTHS, alike, ident="long-exposures", words=(said, down, open_))


def _pieces(view: DeveloperView, line: TrialLine | None) -> Picture:
    """Draw the pieces as they were said to look, or as four that nobody has judged."""
    times = [seconds for seconds, _ in view.pieces]
    found = line.last.body if line is not None and line.last is not None else None
    least, fog, said = None, None, say("developer.drawn")
    if isinstance(found, DeveloperFound) and line is not None and not any(record for _, record in view.pieces):
        least, fog, said = found.least_seconds, found.fog_seconds, line.outcome
    names = [say("developer.piece", seconds=each) for each in times]
    return pieces_picture(times, least, fog, ident="developer-pieces", words=(said, names))


def _minutes(grey_ms: int) -> int:
    """Return how long the strip takes, in whole minutes: its lights, and some seconds a band for the hands."""
    lights = grey_ms * (1 + sum(4 * 2 ** (k / 12) for k in TWELFTHS))
    return max(1, round((lights / 1000 + 12 * BANDS) / 60))
