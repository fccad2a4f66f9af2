"""Strips by template: what a printer makes next, with everything taken from the enlarger and from the last pick.

Seven: a first strip; a finer one around a pick; hard over soft, with a band of soft light alone; every band in the same
place of the picture; burns over a base; the threshold for a flash, without a negative; a contact proof. Each comes as
fine as its times allow: where two bands would come out alike to 0.1 s, or a light too long, it is made coarser.
Figures without a source are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import ceil, log2
from typing import Final

from controller.errors import Impossible
from controller.exposure.size import aperture_factor
from controller.exposure.stops import fraction_text, parse_more_stops, round_ms, seconds_text
from controller.exposure.strip_times import CardWay
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_strip import compile_strip, totals_ms
from controller.recipe.fields import LONGEST_MS
from controller.recipe.pick import Pick
from controller.recipe.plan import Template
from controller.recipe.recipe import Filters, FilterTime, Flash, Lens, Negative, Paper
from controller.recipe.strip import BurnTimes, EvenTimes, StopTimes, Strip, Times
from controller.words import say

STEPS: Final = tuple(map(Fraction, ("1/12", "1/6", "1/3", "1/2", "1")))
"""From fine to coarse."""
THIRD, SIXTH, TWELFTH = Fraction(1, 3), Fraction(1, 6), Fraction(1, 12)
HARD_TO_SOFT: Final = Fraction(2, 3)
"""Where a hard strip begins, of the soft base it lies over: about R 110 with a classic pair of filters."""
FLASH_TO_SOFT: Final = Fraction(1, 20)
"""Where a threshold is looked for, of the soft pick: a highlight's density of 1.3 is not in the way."""
SHORTEST_FLASH_MS: Final = 4000
"""Below this the sixths of a threshold strip are too short to be told apart: the lens is stopped down."""
FULL_STOPS: Final = ("1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32", "45")
"""As a lens's ring has them (ISO 517)."""
SMALLEST: Final = "22"
PROOF_STEP_S: Final = Decimal(3)
PROOF_FILTER: Final = "2"
SOFT, HARD = "soft", "hard"
_LONGEST_TITLE: Final = 200
_LONGEST_FILTER: Final = 12
_SHORTEST_MS: Final = 100


@dataclass(frozen=True)
class _Bands:
    """A strip in stops, to be made as fine as its times allow; `finer_than` is the step that it has to be under."""

    centre_ms: int
    step: Fraction
    bands: int
    none_first: bool = False
    finer_than: Fraction | None = None


def make(
    template: Template,
    at: AtEnlarger,
    *,
    centre_ms: int | None = None,
    filter_name: str = "",
    base: Sequence[FilterTime] = (),
    last: Strip | None = None,
    flash: Flash | None = None,
    step: Fraction | None = None,
    bands: int | None = None,
    longest_ms: int = LONGEST_MS,
) -> Strip:
    """Return the strip of a template as it would be made with what stands at the enlarger; it can be compiled.

    `centre_ms` is the middle band's time: the estimate of a first strip, the pick to be finer around, the proof's
    standard. `base` are the print's lights in their order: under a hard strip, around a burn strip. `last` is the strip
    that was picked from, whose flash is that of the next. `flash` lies under all but the threshold and the proof.
    `step` in stops and `bands` are the template's own unless told.

    Raises:
        Impossible: the template wants what was not given, or no strip can be made of it; the sentence says what to do.
    """
    made = _make(template, at, centre_ms, filter_name, base, last, step, bands, longest_ms)
    under = flash if flash is not None else last.flash if last is not None else None
    if under is None or template in ("flash", "proof"):
        return made
    flashed = made.model_copy(update={"flash": under})
    compile_strip(flashed, source="", version=1, longest_ms=longest_ms)
    return flashed


def _make(
    template: Template,
    at: AtEnlarger,
    centre_ms: int | None,
    filter_name: str,
    base: Sequence[FilterTime],
    last: Strip | None,
    step: Fraction | None,
    bands: int | None,
    longest_ms: int,
) -> Strip:
    match template:
        case "first":
            if centre_ms is None:
                raise Impossible(say("recipe.template-no-centre"))
            wanted = _Bands(centre_ms, step or THIRD, bands or 7)
            return _finest(template, at, filter_name or SOFT, wanted, longest_ms)
        case "finer" | "same place":
            if last is None or centre_ms is None:
                raise Impossible(say("recipe.template-no-pick"))
            wanted = _around(last, centre_ms) if template == "finer" else _Bands(centre_ms, step or THIRD, bands or 5)
            return _finest(
                template,
                at,
                last.filter,
                wanted,
                longest_ms,
                card="window" if template == "same place" else last.card,
                under=last.under,
                after=last.after,
            )
        case "hard over soft":
            hard = filter_name or HARD
            under = tuple(light for light in base if light.filter != hard)
            if not under:
                raise Impossible(say("recipe.template-no-base"))
            centre = centre_ms or round_ms(int(under[0].seconds * 1000) * HARD_TO_SOFT)
            wanted = _Bands(max(centre, _SHORTEST_MS), step or THIRD, (bands or 7) + 1, none_first=True)
            return _finest(template, at, hard, wanted, longest_ms, under=under)
        case "burn":
            return _burn(at, filter_name, base, step or THIRD, bands or 5, longest_ms)
        case "flash":
            return _flash(at, filter_name or SOFT, centre_ms, base, bands, longest_ms)
        case "proof":
            proof = filter_name or PROOF_FILTER
            if centre_ms is not None:
                return _finest(template, at, proof, _Bands(centre_ms, step or THIRD, bands or 7), longest_ms)
            times = EvenTimes(kind="seconds", step=PROOF_STEP_S, bands=bands or 7)
            return _strip(template, at, proof, times)


def own_centre_ms(last: Strip, pick: Pick) -> int:
    """Return the time that a strip's own bands had where it was picked, without what lies over all of it."""
    over_all = sum(light.seconds for light in (*last.under, *last.after) if light.filter == last.filter)
    return round(pick.seconds * 1000) - int(over_all * 1000)


# ---- how fine


def fineness_of(times: Times, centre_ms: int) -> Fraction:
    """Return how many stops apart the bands of a strip are where this time is picked; of even seconds, to a twelfth."""
    if isinstance(times, StopTimes | BurnTimes):
        return parse_more_stops(times.step)
    pairs = list(pairwise(totals_ms(times)))
    beside = [pair for pair in pairs if pair[0] <= centre_ms <= pair[1]]
    less, more = beside[0] if beside else pairs[0 if centre_ms < pairs[0][0] else -1]
    apart = log2(more / less)
    return max(TWELFTH, Fraction(round(12 * apart), 12))


def can_be_finer(times: Times, centre_ms: int) -> bool:
    """Tell whether a strip finer than this one, around this time, would still show a difference: twelfths do not."""
    return not isinstance(times, BurnTimes) and fineness_of(times, centre_ms) > TWELFTH


def _around(last: Strip, centre_ms: int) -> _Bands:
    """Return bands half as far apart or less, that reach one of the last strip's steps to either side."""
    if not can_be_finer(last.times, centre_ms):
        raise Impossible(say("recipe.template-finest"))
    wide = min(fineness_of(last.times, centre_ms), Fraction(1))
    step = max((each for each in STEPS if each <= wide / 2), default=TWELFTH)
    return _Bands(centre_ms, step, 2 * ceil(wide / step) + 1, finer_than=wide)


def _ways(wanted: _Bands) -> Iterator[StopTimes]:
    """Give the wanted bands, then coarser ones over the same reach or less, then fewer."""
    own = wanted.bands - wanted.none_first
    reach = wanted.step * (own // 2)
    for step in (wanted.step, *(each for each in STEPS if each > wanted.step)):
        if wanted.finer_than is not None and step >= wanted.finer_than:
            return
        for sides in dict.fromkeys((min(own // 2, max(1, int(reach / step))), 2, 1)):
            if sides <= own // 2:
                bands = 2 * sides + 1 if step != wanted.step or sides != own // 2 else own
                yield StopTimes(
                    kind="stops",
                    centre=Decimal(wanted.centre_ms) / 1000,
                    step=fraction_text(step),
                    bands=bands + wanted.none_first,
                    **({"none_first": True} if wanted.none_first else {}),
                )


def _finest(
    template: Template,
    at: AtEnlarger,
    filter_name: str,
    wanted: _Bands,
    longest_ms: int,
    *,
    card: CardWay = "cover",
    under: tuple[FilterTime, ...] = (),
    after: tuple[FilterTime, ...] = (),
) -> Strip:
    """Return the first of the ways that compiles.

    Raises:
        Impossible: none does: the centre is too short, or too long.
    """
    if not _SHORTEST_MS <= wanted.centre_ms <= longest_ms:
        seconds = {"seconds": seconds_text(wanted.centre_ms), "longest": seconds_text(longest_ms)}
        raise Impossible(say("recipe.template-centre", **seconds))
    ways = _ways(wanted)
    strips = (_strip(template, at, filter_name, times, card=card, under=under, after=after) for times in ways)
    return _first_that_compiles(strips, longest_ms)


def _first_that_compiles(strips: Iterator[Strip], longest_ms: int) -> Strip:
    """Return it; where none does, the first one's problem is told."""
    problem: Impossible | None = None
    for strip in strips:
        try:
            compile_strip(strip, source="", version=1, longest_ms=longest_ms)
        except Impossible as error:
            problem = problem or error
        else:
            return strip
    raise problem or Impossible(say("recipe.template-finest"))


# ---- the templates that need more


def _burn(
    at: AtEnlarger, filter_name: str, base: Sequence[FilterTime], step: Fraction, bands: int, longest_ms: int
) -> Strip:
    burnt = next((light for light in base if light.filter == (filter_name or base[0].filter)), None) if base else None
    if burnt is None:
        raise Impossible(say("recipe.template-no-base"))
    place = list(base).index(burnt) + 1
    steps = map(fraction_text, (step, *(coarser for coarser in STEPS if coarser > step)))
    ways = (BurnTimes(kind="burn", base=burnt.seconds, step=each, bands=bands) for each in steps)
    under, after = tuple(base[:place]), tuple(base[place:])
    strips = (_strip("burn", at, burnt.filter, times, under=under, after=after) for times in ways)
    return _first_that_compiles(strips, longest_ms)


def _flash(
    at: AtEnlarger,
    filter_name: str,
    centre_ms: int | None,
    base: Sequence[FilterTime],
    bands: int | None,
    longest_ms: int,
) -> Strip:
    """Return a threshold strip by sixths; around an estimate it reaches a stop either way, and may be stopped down."""
    if centre_ms is not None:
        return _finest("flash", at, filter_name, _Bands(centre_ms, SIXTH, bands or 7), longest_ms)
    through = next((light for light in base if light.filter == filter_name), base[0] if base else None)
    if through is None:
        raise Impossible(say("recipe.template-no-base"))
    estimate_ms = max(_SHORTEST_MS, round_ms(int(through.seconds * 1000) * FLASH_TO_SOFT))
    stopped, centre_ms = _stopped_down(at, estimate_ms)
    return _finest("flash", stopped, filter_name, _Bands(centre_ms, SIXTH, bands or 13), longest_ms)


def _stopped_down(at: AtEnlarger, centre_ms: int) -> tuple[AtEnlarger, int]:
    """Return the enlarger at the widest full stop at which the centre is long enough, and the centre there."""
    if at.aperture is None:
        return at, centre_ms
    for marked in FULL_STOPS:
        if centre_ms >= SHORTEST_FLASH_MS or Fraction(marked) > Fraction(SMALLEST):
            break
        if Fraction(marked) > Fraction(str(at.aperture)):
            centre_ms = round_ms(centre_ms * aperture_factor(Fraction(str(at.aperture)), Fraction(marked)))
            at = at.model_copy(update={"aperture": float(marked)})
    return at, centre_ms


# ---- what every strip says


def _strip(
    template: Template,
    at: AtEnlarger,
    filter_name: str,
    times: Times,
    *,
    card: CardWay = "cover",
    under: tuple[FilterTime, ...] = (),
    after: tuple[FilterTime, ...] = (),
) -> Strip:
    said = {name: lights for name, lights in (("under", under), ("after", after)) if lights}
    return Strip.model_validate(
        {
            "title": _title(template, at, filter_name, under),
            "filter": filter_name,
            "times": times,
            "card": card,
            "pace": "press",
            "template": template,
            **said,
            **_setting(template, at),
        }
    )


def _title(template: Template, at: AtEnlarger, filter_name: str, under: tuple[FilterTime, ...]) -> str:
    seconds = seconds_text(int(under[0].seconds * 1000)) if under else ""
    # a lone number says nothing; the words of a contact proof say by themselves that it is a filter's
    numbered = filter_name[:1].isdigit() and template != "proof"
    called = say("recipe.template-filter", filter=filter_name) if numbered else filter_name
    title = say(f"recipe.template-{template.replace(' ', '-')}", filter=called, seconds=seconds)
    negative = "" if template in ("flash", "proof") else at.negative_title
    whole = say("recipe.template-of", title=title, negative=negative) if negative else title
    return whole if len(whole) <= _LONGEST_TITLE else title


def _setting(template: Template, at: AtEnlarger) -> dict[str, object]:
    """Return how the enlarger stands, as a strip has it; what is not known is not said."""
    said: dict[str, object] = {}
    if at.negative_title and template not in ("flash", "proof"):
        told = {"name": at.negative_title} | ({"format": at.negative_format} if at.negative_format else {})
        said["negative"] = Negative.model_validate(told)
    if at.paper_title:
        said["paper"] = Paper.model_validate({"name": at.paper_title} | ({"support": at.support} if at.support else {}))
    lens = {"focal_mm": _figure(at.focal_mm, 3), "aperture": _figure(at.aperture, 3)}
    if any(value is not None for value in lens.values()):
        said["lens"] = Lens.model_validate({name: value for name, value in lens.items() if value is not None})
    if at.head_height_mm is not None:
        said["head_height_mm"] = _figure(at.head_height_mm, 3)
    if at.magnification is not None and template != "proof":
        said["magnification"] = _figure(at.magnification, 6)
    written = {name: value for name, value in ((SOFT, at.soft), (HARD, at.hard)) if value}
    if written and all(len(value) <= _LONGEST_FILTER for value in written.values()):
        said["filters"] = Filters.model_validate(written)
    return said


def _figure(value: float | None, places: int) -> Decimal | None:
    """Return a figure as one would type it."""
    if value is None:
        return None
    typed = round(value, places)
    return Decimal(int(typed)) if typed == int(typed) else Decimal(str(typed))
