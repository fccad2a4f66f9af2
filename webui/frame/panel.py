"""The panel "what is next": one snapshot turned into at most four items and the acts that make sense now."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from controller.recipe.plan import StepKind
from controller.words import say
from webui.frame.looks import looking_of
from webui.frame.offers import offered_of
from webui.frame.step_map import step_map_of
from webui.frame.trays import safe_of, trays_of
from webui.wording import (
    asked_words,
    called,
    carrier_words,
    filter_called,
    paper_words,
    seconds,
    setup_words,
    texture_of,
)

if TYPE_CHECKING:
    from controller.daemon.desk import Desk
    from controller.enlarger.standing import Differs
    from controller.foot.status import NextStep, PlaceName, Status
    from controller.store.versions import Kept
    from webui.frame.looks import Looking
    from webui.frame.offers import Offered
    from webui.frame.step_map import StepMap
    from webui.frame.trays import Safe, Trays
    from webui.wording import Texture

KeptOf = Callable[[Literal["recipe", "strip"]], Sequence["Kept"]]

DiffersOf = Callable[[], Sequence["Differs"]]

ELSEWHERE: Final[frozenset[PlaceName]] = frozenset(
    {
        *("nothing chosen", "set-up asked", "waiting", "finished"),
        *("white light?", "white-light warning", "focus light", "fault"),
    }
)
"""Places where the next step is not what the printer is busy with."""
BASES: Final = frozenset({StepKind.BASE, StepKind.PART, StepKind.OPEN, StepKind.RUNNING})
"""Steps whose filter has a base, on which stops can be reckoned."""
STOPS: Final = ("1/4", "1/2", "1")
SECONDS: Final = ("1", "2", "4", "8")
KINDS: Final[tuple[Literal["recipe", "strip"], ...]] = ("recipe", "strip")
FEW: Final = 5
"""Recipes and strips on the panel itself; the rest are one tap away."""
STRIPS: Final = 2
"""Of these so many are strips, where there are any: an evening begins with one, however many recipes are kept."""


@dataclass(frozen=True, slots=True)
class Amount:
    """One choice of "one more burn": as the form sends it, and as it is read."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that may be loaded."""

    id: str
    version: int
    title: str
    kind: Literal["recipe", "strip"]
    loaded: bool


@dataclass(frozen=True, slots=True)
class Stands:
    """One thing that stands at the enlarger: what it is, how it is read, and the page where another is chosen."""

    name: Literal["carrier", "paper", "set-up", "enlarger"]
    words: str
    """Empty where it is not known."""
    page: str


@dataclass(frozen=True, slots=True)
class Panel:
    """What one glance takes in. Empty text is an item that is not there."""

    sheet: str
    safe: Safe | None
    """The safe minutes that the paper has left, with their bar."""
    trays: Trays
    """The prints in the trays, and when white light may come."""
    lead: str
    leads: Literal["put", "count", "verb"]
    """What of the next step is the largest: the filter to be put in, a band's count, or the verb with its area."""
    over: str
    """Small words above the largest."""
    big: str
    sub: str
    filter: str
    """Empty where it is the largest."""
    texture: Texture | Literal[""]
    light: str
    left_of: str
    hands: tuple[str, ...]
    set_up: tuple[str, ...]
    """What is to be set before the sheet: head, f-number, lens, carrier, easel. Empty where nothing is asked."""
    given: str
    burn_filters: tuple[str, ...]
    burn_filter: str
    """The one that is chosen beforehand: what is in the drawer, as far as it is known."""
    burn_areas: tuple[str, ...]
    burn_amounts: tuple[Amount, ...]
    choices: tuple[Choice, ...]
    more_choices: bool
    stands: tuple[Stands, ...]
    """What stands at the enlarger."""
    differs: str
    """What the recipe or strip that is loaded says otherwise."""
    elsewhere: bool = False
    """What is loaded is of another negative than is in the carrier: what is offered for that comes first by day."""
    offer: Offered | None = None
    """What is offered next for the negative in the carrier."""
    looking: Looking | None = None
    """The print that was closed last: how did it look?"""
    map: StepMap | None = None
    """Where the next step's areas lie on the print."""


def desk_panel(status: Status, of: Desk, few: int = FEW) -> Panel:
    """Return the panel of `status` with what the desk knows besides: the shelf, and the sheet that was closed last."""
    safe_minutes = of.settings().safe_minutes
    panel = panel_of(status, of.recipes().kept, few, differs=of.at_enlarger().differs, safe_minutes=safe_minutes)
    areas = step_map_of(status, of) if status.place not in ELSEWHERE else None
    return replace(panel, offer=offered_of(of, status), looking=looking_of(of, status), map=areas)


def panel_of(
    status: Status, kept: KeptOf, few: int = FEW, *, differs: DiffersOf = tuple, safe_minutes: float = 0.0
) -> Panel:
    """Return the panel of `status`; `kept` is asked only where something may be loaded, at most `few` of it shown.

    `differs` is asked what of the set-up is another than stands at the enlarger, while that may be changed;
    `safe_minutes` are how many paper has under the safelight, 0 where nobody tested it.
    """
    step = status.next if status.place not in ELSEWHERE and status.ask is None else None
    other = differs() if status.plan and "at the enlarger" in status.can else ()
    leads, over, big = _largest(status, step)
    choices = _choices(status, kept) if "load" in status.can else ()
    trays = trays_of(status)
    bases = _burn_filters(status, bases_only=True)
    burn_filters = bases or _burn_filters(status, bases_only=False)
    return Panel(
        sheet=_sheet(status, trays),
        safe=safe_of(status, safe_minutes),
        trays=trays,
        lead=status.headline,
        leads=leads,
        over=over,
        big=big,
        sub=_then(status) if status.ask else _sub(status, step, leads),
        filter=filter_called(step.filter) if step and leads != "put" else "",
        texture=texture_of(step.filter) if step and step.filter else "",
        light=say("page.light", seconds=seconds(step.remaining_ms)) if step else "",
        left_of=_left_of(step) if step else "",
        hands=asked_words(status.ask, status.plan.tools if status.plan else ())[1:]
        if status.ask
        else _hands(step)
        if step
        else (),
        set_up=_set_up(status),
        given="" if trays.leads else status.just_given,
        burn_filters=burn_filters,
        burn_filter=_present(status, burn_filters),
        burn_areas=tuple(sorted({s.area for s in status.plan.steps if s.area})) if status.plan else (),
        burn_amounts=_amounts(stops=bool(bases)),
        choices=_first(choices, few),
        more_choices=len(choices) > few,
        stands=_stands(status),
        differs=differs_words(other),
        elsewhere=any(each.what == "negative" for each in other),
    )


def _sheet(status: Status, trays: Trays) -> str:
    if status.sheet_number is None:
        return say("page.sheet", number=trays.prints[0].number) if trays.leads else ""
    return say("page.sheet" if status.open else "page.sheet-next", number=status.sheet_number)


def _left_of(step: NextStep) -> str:
    if step.remaining_ms == step.planned_ms:
        return ""
    return say("page.left-of", planned=seconds(step.planned_ms))


def _largest(status: Status, step: NextStep | None) -> tuple[Literal["put", "count", "verb"], str, str]:
    if step is None:
        return "verb", "", ""
    if status.place == "change filter":
        return "put", say("page.put-in-filter" if step.filter[:1].isdigit() else "page.put-in"), step.filter
    counts = _counts(step)
    if counts:
        return "count", called(step), say("page.band-of", band=counts[0], bands=counts[1])
    return "verb", "", called(step)


def _counts(step: NextStep) -> list[str]:
    """Return which band of how many a step is, or nothing."""
    counts = re.findall(r"\d+", step.name)
    return counts if step.verb == say("foot.verb-band") and len(counts) == 2 else []


def _sub(status: Status, step: NextStep | None, leads: Literal["put", "count", "verb"]) -> str:
    if step is None:
        return status.plan.title if status.plan and status.place not in ELSEWHERE else ""
    counts, verb = _counts(step), called(step)
    said_already = {verb, f"{step.filter} {verb}"}
    name = step.what or ("" if step.name in said_already or (counts and leads == "count") else step.name)
    first = verb if leads == "put" and verb not in name else ""
    # a band's count is the step's own, as a rule
    counted = "" if counts == [str(step.number), str(step.of)] else say("page.step-of", number=step.number, of=step.of)
    return " · ".join(words for words in (first, name, counted) if words)


def _set_up(status: Status) -> tuple[str, ...]:
    wanted = status.plan.set_up if status.plan is not None and status.place == "set-up asked" else None
    return () if wanted is None else wanted.parts


def _then(status: Status) -> str:
    """Return which light comes once everything that is asked before it is done; after the last light nothing."""
    step = status.next
    return "" if step is None else say("page.ask-then", name=step.name, seconds=seconds(step.remaining_ms))


def _hands(step: NextStep) -> tuple[str, ...]:
    asked = say(f"page.hands-{step.hands.value.replace(' ', '-')}") if step.hands else ""
    carrier = say("page.carrier", carrier=step.carrier) if step.carrier else ""
    there = " · ".join(each for each in (carrier, *step.tools) if each)
    return tuple(each for each in (asked, step.card, step.words, there) if each)


def _burn_filters(status: Status, *, bases_only: bool) -> tuple[str, ...]:
    steps = status.plan.steps if status.plan else ()
    return tuple(dict.fromkeys(s.filter for s in steps if not bases_only or s.act in BASES))


def _present(status: Status, filters: Sequence[str]) -> str:
    """Return which of `filters` is in the drawer, or is wanted there next; else the first."""
    near = (status.filter_in, status.next.filter if status.next else "", *filters)
    return next((name for name in near if name in filters), "")


def _amounts(*, stops: bool) -> tuple[Amount, ...]:
    if stops:
        return tuple(Amount(f"stops {text}", say("page.more-stops", stops=text)) for text in STOPS)
    return tuple(Amount(f"seconds {text}", say("page.light", seconds=seconds(int(text) * 1000))) for text in SECONDS)


def _first(choices: Sequence[Choice], few: int) -> tuple[Choice, ...]:
    """Return the first `few` choices, the first strips among them."""
    strips = [choice for choice in choices if choice.kind == "strip"][:STRIPS]
    recipes = [choice for choice in choices if choice.kind == "recipe"][: few - len(strips)]
    shown = {choice.id for choice in (*recipes, *strips)}
    rest = [choice for choice in choices if choice.id not in shown][: few - len(shown)]
    return tuple(choice for choice in choices if choice.id in shown or choice in rest)


def _choices(status: Status, kept: KeptOf) -> tuple[Choice, ...]:
    # where nothing was worked yet, what an evening begins with stands first: a strip
    at_first = not status.plan and not status.just_given
    kinds = tuple(reversed(KINDS)) if at_first else KINDS
    return tuple(choice for kind in kinds for choice in choices_of(kind, kept(kind), status))


def choices_of(kind: Literal["recipe", "strip"], kept: Sequence[Kept], status: Status) -> tuple[Choice, ...]:
    """Return these of a kind as what may be loaded."""
    loaded = status.plan.source if status.plan else ""
    return tuple(Choice(each.id, each.version, each.title, kind, each.id == loaded) for each in kept)


def _stands(status: Status) -> tuple[Stands, ...]:
    bench = status.bench
    return (
        Stands("carrier", carrier_words(bench), "/enlarger/carrier"),
        Stands("paper", paper_words(bench), "/enlarger/paper"),
        Stands("set-up", setup_words(bench.aperture, bench.head_height_mm), "/enlarger/set-up"),
        Stands("enlarger", bench.enlarger_title, "/enlarger"),
    )


def differs_words(differs: Sequence[Differs]) -> str:
    """Return what a recipe says of the set-up: "paper two, FB · f/11"; empty where it says nothing else."""
    return " · ".join(say(f"enlarger.wants-{each.what.replace(' ', '-')}", wanted=each.wanted) for each in differs)
