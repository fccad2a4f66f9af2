"""Work with one filter at a time: a paper's own filter factors for a tone, and another filter with that tone kept."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from flask import Blueprint, make_response, render_template, request

from controller.errors import ControllerError, Impossible, Unreadable
from controller.paper.libraries import missing_libraries
from controller.paper.single_filters import SPEED_POINT, Factor
from controller.paper.tones import tone_words
from controller.words import say
from webui.forms.form import Fields, Shown, shown_of, told
from webui.frame.context import desk
from webui.frame.guard import needs_day

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from controller.paper.filter_factors import Changed
    from controller.paper.single_filters import Filters

blueprint = Blueprint("one_filter", __name__)

ASKED: Final = ("seconds", "from", "to", "tone", "tone-own")
TONES: Final = (SPEED_POINT, "first", "skin", "middle", "dark", "last")
LEAST_STOPS: Final = 0.05
"""Less than this is said to stay."""


@dataclass(frozen=True)
class Found:
    """A paper's filter factors for a tone, and what another filter does where seconds were typed."""

    tone: str = ""
    factors: tuple[Factor, ...] = ()
    changed: Changed | None = None
    sentence: str = ""
    ends: tuple[str, ...] = ()


@blueprint.get("/papers/<source>/filters")
@needs_day
def filters(source: str) -> ResponseReturnValue:
    """Show a paper's filter factors for the chosen tone and, where seconds were typed, those through another filter."""
    kept = desk().papers().get(source)
    if missing := missing_libraries():
        raise Impossible(say("filters.libraries", names=missing))
    found = desk().papers().filters(source)
    fields = Fields("filters.label-", request.args, ASKED)
    shown = _shown(fields, found) if len(found.names) > 1 else Shown[Found]()
    page = render_template(
        "one_filter.html",
        kept=kept,
        typed=fields,
        label=fields.label,
        names=found.names,
        to_print=found.to_print,
        tones=TONES,
        shown=shown.found or Found(),
        refusal=shown.refusal,
    )
    return make_response(page, shown.refusal.status)


def _shown(fields: Fields, filters: Filters) -> Shown[Found]:
    """Return the factors and, where it was asked for, the change; where only that is refused, the factors stay."""
    first = shown_of(lambda: _factors(fields, filters), {})
    if first.found is None or "go" not in request.args or not fields.any("seconds", "to"):
        return first
    try:
        return Shown(_changed(fields, filters, first.found))
    except ControllerError as error:
        return Shown(first.found, told({}, error))


def _factors(fields: Fields, filters: Filters) -> Found:
    before, density, paper = _before(fields, filters), _density(fields, filters), filters.paper
    words = say("filters.tone-at", words=tone_words(density, paper.dmin, paper.dmax), density=f"{density:.2f}")
    return Found(words, filters.factors(before, density))


def _changed(fields: Fields, filters: Filters, found: Found) -> Found:
    before, after = _before(fields, filters), _name(fields, "to", filters)
    if not after:
        raise Unreadable(say("filters.choose-to"), ("to",))
    seconds = float(fields.needed("seconds", "0.1", "3600"))
    try:
        changed = filters.change(before, after, seconds, _density(fields, filters))
    except Impossible as problem:
        raise Impossible(str(problem), ("tone-own",)) from None
    sentence = say("filters.instead", seconds=f"{changed.seconds:.1f}", filter=after, before=f"{seconds:g}", old=before)
    return replace(found, changed=changed, sentence=sentence, ends=_ends(changed))


def _before(fields: Fields, filters: Filters) -> str:
    return _name(fields, "from", filters) or filters.names[0]


def _name(fields: Fields, field: str, found: Filters) -> str:
    if fields[field] and fields[field] not in found.names:
        raise Unreadable(say("filters.no-filter", found=fields[field][:20]), (field,))
    return fields[field]


def _density(fields: Fields, found: Filters) -> float:
    own = fields.figure("tone-own", "0", "4")
    return found.density(float(own) if own is not None else fields["tone"] if fields["tone"] in TONES else SPEED_POINT)


def _ends(changed: Changed) -> tuple[str, ...]:
    """Return what becomes of first tone and full black, in words."""
    ways = [
        (stops, "same" if abs(stops) < LEAST_STOPS else "sooner" if stops > 0 else "later")
        for stops in (changed.low_stops, changed.high_stops)
    ]
    (light, light_way), (dark, dark_way) = ways
    return (
        say(f"filters.light-{light_way}", stops=f"{abs(light):.1f}"),
        say(f"filters.dark-{dark_way}", stops=f"{abs(dark):.1f}"),
    )
