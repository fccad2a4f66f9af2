"""The printer's hands over one sheet: what they did, from the practice log; or what the plan asks, with slips.

Either way they are entries of the practice log. Perfect hands move a card or tool at the moment its light comes on
(or at the cue inside it), and take it away in the dark; a slip sets how late each comes, or what goes wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Final

from pydantic import Field

from controller.exposure.strip_times import CardWay, pulses
from controller.model import Frozen
from controller.picture.evidence import SheetLights, lights_of
from controller.recipe.plan import Hands, Plan, Step, StepKind, StripPlan
from hardware.clock import NS_PER_MS
from hardware.practice.log import CardMoved, DodgerMoved, Entry, FilterPlaced, LensMoved, NegativeMoved, OpalMoved

OFF_THE_PAPER: Final = -1
AFTER_DARK_MS: Final = 500
"""Perfect hands wait out the afterglow before they take a tool away."""
_Tool = DodgerMoved | CardMoved
_Places = tuple[tuple[int, int], ...]
"""(ms into a step, the card's place)."""
_BANDS: Final = frozenset({StepKind.BAND, StepKind.LONG})


class Slips(Frozen):
    """What the hands get wrong; as it is, nothing."""

    card_late_ms: int = Field(default=0, ge=0, le=60_000)
    """The card comes so long after it should, into the light."""
    dodger_late_ms: int = Field(default=0, ge=0, le=60_000)
    """Dodgers go in so late, and out so late where the light goes on."""
    burn_late_ms: int = Field(default=0, ge=0, le=60_000)
    """The card with the hole comes so late: the whole sheet gets light until then."""
    card_way: CardWay | None = None
    """The way the card really goes, where it is not the plan's."""
    filters_left: tuple[tuple[int, str], ...] = ()
    """(step, filter really in)."""
    forgotten: tuple[str, ...] = ()
    """Areas whose tool never comes."""
    focus_ms: int = Field(default=0, ge=0, le=600_000)
    """The paper lay on the easel so long under focus light before its first step."""
    safelight_ms: int = Field(default=0, ge=0, le=7_200_000)
    """It lay so long under the safelight before that."""


def hands_over(sheet: SheetLights, log: Iterable[Entry], slips: Slips, start_ns: int, end_ns: int) -> tuple[Entry, ...]:
    """Return what the hands did to a sheet, in order of time: as logged, and as planned where nothing is logged.

    The log counts for the card or a tool where it has it move between the two times, or lie in place before them;
    for the carrier where it has it move; for the filter from the first one it ever names on.
    """
    logged = [entry for entry in log if entry.at_ns <= end_ns]
    ours = [entry for entry in logged if entry.at_ns >= start_ns]
    card = any(isinstance(entry, CardMoved) for entry in [*ours, *_in_place(logged, start_ns)])
    tools = {entry.area for entry in [*ours, *_in_place(logged, start_ns)] if isinstance(entry, DodgerMoved)}
    carrier = any(isinstance(entry, NegativeMoved | OpalMoved) for entry in ours)
    filters = [entry.at_ns for entry in logged if isinstance(entry, FilterPlaced)]

    def planned_counts(entry: Entry) -> bool:
        match entry:
            case CardMoved():
                return not card
            case DodgerMoved(area=area):
                return area not in tools
            case NegativeMoved() | OpalMoved():
                return not carrier
            case FilterPlaced(at_ns=at_ns):
                return not filters or at_ns < filters[0]
            case _:
                return True

    def logged_counts(entry: Entry) -> bool:
        match entry:
            case CardMoved():
                return card
            case DodgerMoved(area=area):
                return area in tools
            case _:
                return True

    planned = [entry for entry in planned_hands(sheet, slips) if planned_counts(entry)]
    # a logged move beats a planned one of the same moment, so it comes after it
    return tuple(sorted([*planned, *filter(logged_counts, logged)], key=lambda entry: entry.at_ns))


def _in_place(logged: Iterable[Entry], start_ns: int) -> list[Entry]:
    """Return the moves that brought card and tools to where they lie when the sheet's light begins."""
    last: dict[str, CardMoved | DodgerMoved] = {}
    for entry in logged:
        match entry:
            case CardMoved() if entry.at_ns < start_ns:
                last["card"] = entry
            case DodgerMoved() if entry.at_ns < start_ns:
                last[f"{entry.act} {entry.area}"] = entry
            case _:
                pass
    return [
        entry
        for entry in last.values()
        if (entry.inside if isinstance(entry, DodgerMoved) else entry.place != OFF_THE_PAPER)
    ]


def planned_hands(sheet: SheetLights, slips: Slips) -> tuple[Entry, ...]:
    """Return what the plan asks of the hands, at the times the sheet's lights really had, with slips; in order."""
    lights = lights_of(sheet)
    strip = sheet.plan.strip
    way = slips.card_way or (strip.card if strip else "cover")
    banded = [step for step in sheet.plan.steps if step.act in _BANDS]
    places = card_places(strip, way, banded) if strip else {}
    in_place = staying(sheet.plan)
    entries: list[Entry] = []
    given: dict[int, int] = {}
    nexts = [*(on for _, on, _ in lights[1:]), None]
    for (step, on, off), following in zip(lights, nexts, strict=True):
        before = on - NS_PER_MS
        entries.append(FilterPlaced(before, dict(slips.filters_left).get(step.number, step.filter)))
        entries += _carrier(step, before)
        lies = set(lying_in(step)) - set(slips.forgotten)
        entries += (DodgerMoved(before, letter, "dodge", inside=letter in lies) for letter in in_place)
        done_ns = given.get(step.number, 0)
        given[step.number] = done_ns + off - on
        away = off + AFTER_DARK_MS * NS_PER_MS
        if following is not None:
            away = min(away, following - 2 * NS_PER_MS)
        # the card lies in its first place before any light
        early = bool(banded) and step.number == banded[0].number and step.act is StepKind.BAND
        moves: Iterator[_Tool] = iter(())
        match step.act:
            case StepKind.BAND | StepKind.LONG if strip:
                moves = _card(
                    way, places.get(step.number, ()), on, off, done_ns, 0 if early else slips.card_late_ms * NS_PER_MS
                )
            case StepKind.PART if step.area not in slips.forgotten:
                moves = _tool(step.area, "dodge", on, away, slips.dodger_late_ms)
            case StepKind.RUNNING:
                moves = _running(step, on, off, done_ns, away, slips)
            case StepKind.BURN if step.area not in slips.forgotten:
                moves = _tool(step.area or "A", "burn", on, away, slips.burn_late_ms)
            case StepKind.EDGE if step.area not in slips.forgotten:
                moves = _tool(step.edge or "top", "edge burn", on, away, slips.burn_late_ms)
            case _:
                pass
        entries += moves
        if strip and step.act not in _BANDS:
            entries.append(CardMoved(before, way, OFF_THE_PAPER))
    return tuple(sorted(entries, key=lambda entry: entry.at_ns))


def staying(plan: Plan) -> tuple[str, ...]:
    """Return the letters of a plan's tools that stay in the light by themselves once they are put there."""
    return tuple(tool.letter for tool in plan.tools if tool.stays)


def lying_in(step: Step) -> tuple[str, ...]:
    """Return the letters of what lies in a step's light beside the tool that it is worked with."""
    return tuple(letter for letter in step.in_place if letter != step.area)


def _carrier(step: Step, before: int) -> tuple[Entry, ...]:
    which = step.carrier or "A"
    in_it = (NegativeMoved(before, inside=True, which=which),)
    match step.hands:
        case Hands.NEGATIVE_OUT:
            return (NegativeMoved(before, inside=False),)
        case Hands.NEGATIVE_BACK:
            return in_it
        case Hands.OPAL_IN:
            return (OpalMoved(before, inside=True),)
        case Hands.OPAL_OUT:
            return (*(in_it if step.carrier else ()), OpalMoved(before, inside=False))
        case Hands.TWO_STOPS_DOWN:
            return (LensMoved(before, 2),)
        case Hands.TWO_STOPS_OPEN:
            return (LensMoved(before, 0),)
    return in_it if step.carrier else ()


def _tool(area: str, act: str, on: int, away: int, late_ms: int) -> Iterator[_Tool]:
    yield DodgerMoved(on + late_ms * NS_PER_MS, area, act, inside=True)
    yield DodgerMoved(max(away, on + late_ms * NS_PER_MS), area, act, inside=False)


def _running(step: Step, on: int, off: int, done_ns: int, away: int, slips: Slips) -> Iterator[_Tool]:
    """Move the dodgers of a running light at its cues; of a light that goes on, from where they were."""
    for mark in step.marks:
        if mark.area in slips.forgotten:
            continue
        inside = mark.cue == "dodger in"
        at = on + mark.at_ms * NS_PER_MS - done_ns
        if at >= on:
            at += slips.dodger_late_ms * NS_PER_MS
        if at < off:
            yield DodgerMoved(max(at, on - NS_PER_MS), mark.area, "dodge", inside=inside)
    for area in {mark.area for mark in step.marks} - set(slips.forgotten):
        yield DodgerMoved(away, area, "dodge", inside=False)


def card_places(strip: StripPlan, way: CardWay, steps: Sequence[Step]) -> dict[int, _Places]:
    """Return, for each band's step among `steps`, where the card is in its light: (ms into it, the place).

    Whichever lights are given, the hands go through the places of their own way in order.
    """
    steps = [step for step in steps if step.act in _BANDS]
    bands = len(strip.totals_ms)
    # where the card goes does not depend on how long it stays, but on which bands have light at all
    own = pulses(tuple(1000 * n if total else 0 for n, total in enumerate(strip.totals_ms, 1)), way)
    places = [pulse.band if way == "window" else bands - pulse.band + 1 for pulse in own]
    if strip.pace == "long":
        return {step.number: tuple(zip((0, *(m.at_ms for m in step.marks)), places, strict=False)) for step in steps}
    return {step.number: ((0, place),) for step, place in zip(steps, places, strict=False)}


def _card(way: CardWay, places: _Places, on: int, off: int, done_ns: int, late_ns: int) -> Iterator[_Tool]:
    """Move the card through its places in one light; the first light's first place is taken before any light."""
    for at_ms, place in places:
        at = on + at_ms * NS_PER_MS - done_ns
        if at < off:
            yield CardMoved(at + late_ns if at >= on else on - NS_PER_MS, way, place)


def spans_between(moments: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Return the spans between neighbouring moments, those of no length left out."""
    return tuple((one, two) for one, two in pairwise(sorted(set(moments))) if two > one)
