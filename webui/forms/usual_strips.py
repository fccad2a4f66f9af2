"""The usual strips: the five that a printer makes again and again, by the templates of strips.

What a strip of each kind is made of, `controller.recipe.strip_templates` alone says. Here it is given what the form
knows: what was used last, where nothing stands in the carrier or a printer makes a strip of another thing.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from controller.errors import Impossible
from controller.exposure.decimals import decimal_of
from controller.exposure.stops import fraction_text
from controller.exposure.strip_times import centre_band
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_strip import totals_ms
from controller.recipe.fields import LONGEST_MS, milliseconds
from controller.recipe.recipe import FilterTime, Flash, Recipe
from controller.recipe.strip import BurnTimes, EvenTimes, SheetTimes, StopTimes, Strip
from controller.recipe.strip_templates import HARD, SHORTEST_FLASH_MS, SOFT, make
from controller.words import say
from webui.forms.setup import setup_of
from webui.forms.strip import StripForm, strip_form_of
from webui.wording import filter_called, seconds

if TYPE_CHECKING:
    from controller.recipe.plan import Template

USUAL: Final[dict[str, Template]] = {
    "first": "first",
    "finer": "finer",
    "over": "hard over soft",
    "burn": "burn",
    "flash": "flash",
}
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
    strip: Strip | None = None
    """The strip that was picked from, or that was used last, which a finer one follows."""
    flash: Flash | None = None
    """That every strip but the threshold's has under its bands."""


def last_used_of(written: Recipe | Strip, picked: str = "", strip: Strip | None = None) -> LastUsed:
    """Return what a recipe or strip says for the next strip.

    `picked` is the filter of a pick that a recipe holds, `strip` what it was picked from.
    """
    setup = tuple(setup_of(written).items())
    if isinstance(written, Recipe):
        bases = tuple((light.filter, light.seconds) for light in written.light if written.base(light.filter) is light)
        return LastUsed(written.title, setup, bases, picked or bases[0][0], strip, written.flash)
    if isinstance(written.times, SheetTimes):  # whole sheets that were flashed: their time is no print's
        return LastUsed(written.title, setup)
    under = tuple((light.filter, light.seconds) for light in written.under if light.filter != written.filter)
    bases = (*under, (written.filter, _middle(written)))
    return LastUsed(written.title, setup, bases, written.filter, written, written.flash)


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


def usual_strip(which: str, last: LastUsed, longest_ms: int = LONGEST_MS) -> StripForm:
    """Return the form of a usual strip, filled in to the last field.

    Raises:
        Impossible: no such strip can be made; the sentence says what to do.
    """
    made = strip_form_of(_made(which, last, longest_ms))
    setup: dict[str, Any] = dict(last.setup)
    if USUAL[which] == "flash":  # without the negative, and with the lens stopped down as it says
        setup = {name: text for name, text in setup.items() if not name.startswith("negative")}
        setup |= {"lens_aperture": made.lens_aperture} if made.lens_aperture else {}
    return replace(made, **setup)


def _made(which: str, last: LastUsed, longest_ms: int) -> Strip:
    template, known = USUAL[which], dict(last.bases)
    if template == "flash":
        return _threshold(last, longest_ms)
    at = AtEnlarger(negative_title=dict(last.setup).get("negative_name", ""))
    name = last.filter or USUAL_FILTER
    time = known.get(name, USUAL_SECONDS)
    match template:
        case "finer":
            before = _followed(last, name, time, at, longest_ms)
            over_all = sum(light.seconds for light in (*before.under, *before.after) if light.filter == name)
            centre_ms = milliseconds(time) - milliseconds(Decimal(over_all))
            return make(template, at, last=before, centre_ms=centre_ms, flash=last.flash, longest_ms=longest_ms)
        case "hard over soft":
            soft, hard = _soft_and_hard(last.bases)
            centre = milliseconds(hard[1]) if hard[1] else None
            base = _lights((soft,))
            more: dict[str, Any] = {"flash": last.flash, "longest_ms": longest_ms}
            return make(template, at, filter_name=hard[0], base=base, centre_ms=centre, **more)
        case "burn":
            base = _lights(last.bases or ((name, time),))
            return make(template, at, filter_name=name, base=base, flash=last.flash, longest_ms=longest_ms)
    through, centre_ms = last.bases[0][0] if last.bases else USUAL_FILTER, milliseconds(USUAL_SECONDS)
    return make(template, at, filter_name=through, centre_ms=centre_ms, flash=last.flash, longest_ms=longest_ms)


def _threshold(last: LastUsed, longest_ms: int) -> Strip:
    """Return a threshold strip without a negative: by sixths around a twentieth of the soft base, stopped down.

    Where the aperture is not known it begins with what a lens stopped far down wants: shorter ones tell nothing.
    """
    soft = _soft_and_hard(last.bases)[0]
    aperture = decimal_of(dict(last.setup).get("lens_aperture", ""))
    at = AtEnlarger(aperture=float(aperture) if aperture is not None and Decimal("0.5") <= aperture <= 128 else None)
    around = None if at.aperture is not None else SHORTEST_FLASH_MS
    more: dict[str, Any] = {"base": _lights((soft,)), "bands": THRESHOLD_BANDS, "longest_ms": longest_ms}
    return make("flash", at, filter_name=soft[0], centre_ms=around, **more)


def _followed(last: LastUsed, name: str, time: Decimal, at: AtEnlarger, longest_ms: int) -> Strip:
    """Return the strip that a finer one follows; where none through that filter is known, as a first one would be."""
    strip = last.strip
    if strip is not None and strip.filter == name and not isinstance(strip.times, BurnTimes):
        return strip
    names = [filter_name for filter_name, _ in last.bases]
    under = _lights(last.bases[: names.index(name)] if name in names else ())
    first = make("first", at, filter_name=name, centre_ms=milliseconds(time), longest_ms=longest_ms)
    return first.model_copy(update={"under": under})


def _soft_and_hard(bases: tuple[Base, ...]) -> tuple[Base, Base]:
    """Return the soft base, and the hard one; its seconds are 0 where the template is to say where it begins."""
    if len(bases) > 1:
        return bases[0], bases[1]
    soft = bases[0] if bases and bases[0][0] in (SOFT, *_HARD_TO) else (SOFT, USUAL_SECONDS)
    return soft, (_HARD_TO.get(soft[0], HARD), Decimal(0))


def _lights(bases: tuple[Base, ...]) -> tuple[FilterTime, ...]:
    return tuple(FilterTime(filter=name, seconds=time) for name, time in bases)


@dataclass(frozen=True)
class Usual:
    """One of the usual strips, as its button shows it."""

    which: str
    name: str
    small: str


def usual_strips(last: LastUsed, longest_ms: int = LONGEST_MS) -> tuple[Usual, ...]:
    """Return the usual strips as they would be filled in now; one that cannot be made is left out."""
    found = []
    for which in USUAL:
        with suppress(Impossible):
            found.append(Usual(which, say(f"shelf.usual-{which}"), _small(_made(which, last, longest_ms))))
    return tuple(found)


def _small(strip: Strip) -> str:
    """Return a usual strip's figures in short: "8.5 to 11.9 s, soft"."""
    name, times = filter_called(strip.filter), strip.times
    if isinstance(times, BurnTimes):
        most = fraction_text(Fraction(times.step) * (times.bands - 1))
        return say("shelf.usual-over-base", filter=name, base=seconds(milliseconds(times.base)), most=most)
    totals = [total for total in totals_ms(times) if total]
    return say("shelf.usual-range", least=seconds(totals[0]), most=seconds(totals[-1]), filter=name)


def retitled(form: StripForm, typed: StripForm, last: LastUsed, longest_ms: int = LONGEST_MS) -> StripForm:
    """Return a usual strip's form under the title that was typed, where one was."""
    proposed = set()
    for which in USUAL:
        with suppress(Impossible):
            proposed.add(_made(which, last, longest_ms).title)
    return replace(form, title=typed.title) if typed.title and typed.title not in proposed else form
