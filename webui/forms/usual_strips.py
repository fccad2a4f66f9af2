"""The usual strips: the five that a printer makes again and again, filled in from what was used last."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Final

from controller.exposure.decimals import decimal_of, typed_text_of
from controller.exposure.stops import fraction_text
from controller.exposure.strip_times import centre_band, stop_totals
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.fields import milliseconds
from controller.recipe.recipe import FilterTime, Flash, Recipe
from controller.recipe.strip import BurnTimes, EvenTimes, SheetTimes, StopTimes, Strip
from controller.recipe.strip_templates import SHORTEST_FLASH_MS, make
from controller.words import say
from webui.forms.flash import flash_fields
from webui.forms.setup import LightLine, light_line, setup_of
from webui.forms.strip import StripForm, strip_form_of
from webui.wording import filter_called, seconds

USUAL: Final = ("first", "finer", "over", "burn", "flash")
"""In the order they are made: find the exposure, refine it, set the blacks over it, burn in; a flash's threshold."""
USUAL_SECONDS: Final = Decimal(12)
"""The middle of a first strip: of 6 to 24 s at a middle aperture most negatives have a right band (common practice)."""
USUAL_FILTER: Final = "2"
THRESHOLD_BANDS: Final = 13
"""Sixths of a stop, a stop to either side."""
_HARD_TO: Final = {"00": "5", "0": "5"}
"""The hard filter that goes with a soft one, by the numbers written on them; any other is called hard."""

Base = tuple[str, Decimal]
"""A filter and its seconds."""


@dataclass(frozen=True)
class LastUsed:
    """What was used last: its title, its set-up as the form has it, and its bases in the order they are given."""

    title: str = ""
    setup: tuple[tuple[str, str], ...] = ()
    bases: tuple[Base, ...] = ()
    filter: str = ""
    """The filter that was worked on last: that of the pick, or of the strip; empty where none is known."""
    flash: Flash | None = None
    """That every strip but the threshold's has under its bands."""


def last_used_of(written: Recipe | Strip, picked: str = "") -> LastUsed:
    """Return what a recipe or strip says for the next strip; `picked` is the filter of a pick that it holds."""
    if isinstance(written, Recipe):
        bases = tuple((light.filter, light.seconds) for light in written.light)
        return LastUsed(written.title, tuple(setup_of(written).items()), bases, picked or bases[0][0], written.flash)
    if isinstance(written.times, SheetTimes):  # whole sheets that were flashed: their time is no print's
        return LastUsed(written.title, tuple(setup_of(written).items()))
    under = tuple((light.filter, light.seconds) for light in written.under if light.filter != written.filter)
    bases = (*under, (written.filter, _middle(written)))
    return LastUsed(written.title, tuple(setup_of(written).items()), bases, written.filter, written.flash)


def _middle(strip: Strip) -> Decimal:
    """Return the seconds of a strip's middle band, as far as it is not picked from yet."""
    match strip.times:
        case StopTimes(centre=centre):
            return centre
        case EvenTimes(step=step, bands=bands):
            return step * centre_band(bands)
        case BurnTimes(base=base):
            return base
        case SheetTimes(seconds=each):
            return each


def usual_strip(which: str, last: LastUsed) -> StripForm:
    """Return the form of a usual strip, filled in to the last field."""
    form = StripForm(title=_title(which, last), **dict(last.setup), **flash_fields(last.flash), under=(), later=())
    known = dict(last.bases)
    match which:
        case "flash":
            return _threshold(form, last)
        case "finer" | "burn":
            name = last.filter or USUAL_FILTER
            time = known.get(name, USUAL_SECONDS)
            if which == "finer":
                under = _lines(_before(name, last.bases))
                return _through(form, name, centre=typed_text_of(time), fineness="1/6", under=under)
            others = tuple(base for base in last.bases if base[0] != name)
            return _through(form, name, kind="burn", base=typed_text_of(time), under=_lines((*others, (name, time))))
        case "over":
            soft, hard = _soft_and_hard(last.bases)
            return _through(form, hard[0], centre=typed_text_of(hard[1]), under=_lines((soft,)))
        case _:
            name = last.bases[0][0] if last.bases else USUAL_FILTER
            return _through(form, name, centre=typed_text_of(USUAL_SECONDS))


def _threshold(form: StripForm, last: LastUsed) -> StripForm:
    """Return a threshold strip without a negative: by sixths around a twentieth of the soft base, stopped down.

    Where the aperture is not known it begins with what a lens stopped far down wants: shorter ones tell nothing.
    """
    soft = _soft_and_hard(last.bases)[0]
    aperture = decimal_of(form.lens_aperture)
    at = AtEnlarger(aperture=float(aperture) if aperture is not None and Decimal("0.5") <= aperture <= 128 else None)
    base = [FilterTime(filter=soft[0], seconds=soft[1])]
    around = None if at.aperture is not None else SHORTEST_FLASH_MS
    made = strip_form_of(make("flash", at, filter_name=soft[0], centre_ms=around, base=base, bands=THRESHOLD_BANDS))
    here = {name: text for name, text in last.setup if not name.startswith("negative")}
    stopped = {"lens_aperture": made.lens_aperture} if made.lens_aperture else {}
    return replace(made, title=form.title, **(here | stopped))  # type: ignore[arg-type]  # texts of the set-up


def _before(name: str, bases: tuple[Base, ...]) -> tuple[Base, ...]:
    names = [filter_name for filter_name, _ in bases]
    return bases[: names.index(name)] if name in names else ()


def _soft_and_hard(bases: tuple[Base, ...]) -> tuple[Base, Base]:
    if len(bases) > 1:
        return bases[0], bases[1]
    soft = bases[0] if bases and bases[0][0] in ("soft", *_HARD_TO) else ("soft", USUAL_SECONDS)
    return soft, (_HARD_TO.get(soft[0], "hard"), soft[1])


def _through(form: StripForm, name: str, **fields: object) -> StripForm:
    line = light_line(name, None)
    return replace(form, filter=line.filter, filter_own=line.filter_own, **fields)  # type: ignore[arg-type]


def _lines(bases: tuple[Base, ...]) -> tuple[LightLine, ...]:
    return tuple(light_line(name, time) for name, time in bases)


def _title(which: str, last: LastUsed) -> str:
    what, negative = say(f"shelf.usual-title-{which}"), dict(last.setup).get("negative_name", "")
    negative = "" if which == "flash" else negative
    return say("shelf.usual-title", what=what, negative=negative) if negative else what


@dataclass(frozen=True)
class Usual:
    """One of the usual strips, as its button shows it."""

    which: str
    name: str
    small: str


def usual_strips(last: LastUsed) -> tuple[Usual, ...]:
    """Return the usual strips as they would be filled in now."""
    return tuple(Usual(which, say(f"shelf.usual-{which}"), _small(usual_strip(which, last))) for which in USUAL)


def _small(form: StripForm) -> str:
    """Return a usual strip's figures in short: "8.5 to 11.9 s, soft"."""
    name = filter_called(form.filter_name)
    if form.kind == "burn":
        most = fraction_text(Fraction(form.step_stops) * (int(form.bands) - 1))
        return say("shelf.usual-over-base", filter=name, base=seconds(milliseconds(Decimal(form.base))), most=most)
    totals = stop_totals(milliseconds(Decimal(form.centre)), Fraction(form.step_stops), int(form.bands))
    return say("shelf.usual-range", least=seconds(totals[0]), most=seconds(totals[-1]), filter=name)


def retitled(form: StripForm, typed: StripForm, last: LastUsed) -> StripForm:
    """Return a usual strip's form under the title that was typed, where one was."""
    own = typed.title and typed.title not in {_title(which, last) for which in USUAL}
    return replace(form, title=typed.title) if own else form
