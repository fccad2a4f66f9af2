"""Recipe or strip to the steps of one sheet, or a refusal with a reason; pure.

Order: flash; then for each base its dodges, the open part and the burns through the same filter; last the
burns in seconds through a filter without a base. Where a filter has a base through each of two carriers, local work
goes with the first, unless the hands are asked for the other before it. What is asked of the hands before an entry
comes before its first light through each filter. Every computed time is rounded to 0.1 s, half up; the open
part is the base less the rounded parts; typed times keep their milliseconds.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal, NamedTuple

from controller.errors import Impossible, standing_at
from controller.exposure import burns
from controller.exposure.stops import dried_ms, parse_more_stops, seconds_text, shown, signed_text
from controller.recipe.compile_strip import compile_strip as compile_strip
from controller.recipe.fields import BOTH, LONGEST_MS, milliseconds
from controller.recipe.plan import Mark, Plan, Step, StepKind
from controller.recipe.recipe import Base, Burn, Carrier, Dodge, EdgeBurn, Recipe, Work
from controller.recipe.set_up import SetUp
from controller.recipe.steps import MOST_STEPS, RUNNING, SHORT_BASE_MS, STOP_DOWN, Steps, advice_of, put_flash
from controller.recipe.strip import Strip
from controller.words import say

TYPED_BURNS: Final = "recipe.advice-typed-burns"
_BASES: Final = frozenset({StepKind.BASE, StepKind.PART, StepKind.OPEN, StepKind.RUNNING})
_STRIP_BASES: Final = frozenset({StepKind.UNDER, StepKind.AFTER})
_SHORTEST_BURN_MS: Final = 100


def compile_any(recipe: Recipe | Strip, *, source: str, version: int, longest_ms: int = LONGEST_MS) -> Plan:
    """Return the plan of a recipe or a strip.

    Raises:
        Impossible: the sentence names the value and what would do.
    """
    match recipe:
        case Recipe():
            return compile_recipe(recipe, source=source, version=version, longest_ms=longest_ms)
        case Strip():
            return compile_strip(recipe, source=source, version=version, longest_ms=longest_ms)


def compile_recipe(recipe: Recipe, *, source: str, version: int, longest_ms: int = LONGEST_MS) -> Plan:
    """Return the plan of a recipe: `source` and `version` say where on the shelf it came from.

    Raises:
        Impossible: as `compile_any`.
    """
    steps = Steps(longest_ms, recipe)
    percent = Fraction(recipe.dry_down_percent or 0)
    flashed = put_flash(steps, recipe.flash, recipe.light[0].filter)
    for number, light in enumerate(recipe.light):
        base_ms = dried_ms(milliseconds(light.seconds), percent)
        name = say("recipe.name-base-of", filter=light.filter) if len(recipe.light) > 1 else say("recipe.name-base")
        name = say("recipe.name-base-carrier", base=name, carrier=light.carrier) if light.carrier else name
        steps.entry(number + 1, light.carrier)
        lines = _lines_of(recipe, light)
        with standing_at("light", number, "seconds"):
            _put_base(steps, name, light, base_ms, lines)
        for line in lines:
            with standing_at("local", line.at, _measure(line.work)):
                _put_burn(steps, line, light.filter, base_ms)
    for line in _lines_of(recipe, None):
        with standing_at("local", line.at, _measure(line.work)):
            _put_burn(steps, line, line.work.filter, None)
    typed = percent and any(work.seconds is not None for work in recipe.local)
    all_steps = steps.all()
    return Plan(
        source=source,
        version=version,
        kind="recipe",
        title=recipe.title,
        steps=all_steps,
        flashed=flashed,
        tools=recipe.tools,
        end_asks=steps.end_asks(),
        advice=advice_of(all_steps, *((TYPED_BURNS,) if typed else ())),
        wants=SetUp.of_written(recipe),
        keep_order=bool(recipe.keep_order),
    )


class _Line(NamedTuple):
    """A line of local work, where it stands in the list (from 0), and through which carrier its light goes."""

    work: Work
    at: int
    number: int
    carrier: Carrier | None

    def begin(self, steps: Steps) -> None:
        """Say that the next step is its first."""
        steps.entry(self.number, self.carrier)


def _lines_of(recipe: Recipe, base: Base | None) -> list[_Line]:
    """Return the local work that goes with a base, or with none, in the order of the list."""
    found = []
    for at, work in enumerate(recipe.local):
        name = base.filter if base is not None and work.filter == BOTH else work.filter
        mine = recipe.base_of(at, name)
        if mine is base and not (base is None and work.filter == BOTH):
            number = len(recipe.light) + at + 1
            carrier = recipe.carrier_before(number) or (base.carrier if base is not None else None)
            found.append(_Line(work, at, number, carrier))
    return found


def _put_base(steps: Steps, name: str, light: Base, base_ms: int, lines: list[_Line]) -> None:
    filter_name = light.filter
    dodges = [(line, line.work, _held_back_ms(line.work, base_ms)) for line in lines if isinstance(line.work, Dodge)]
    parts = [each for each in dodges if each[1].how != "running"]
    running = [each for each in dodges if each[1].how == "running"]
    short = (STOP_DOWN,) if base_ms < SHORT_BASE_MS else ()
    try:
        open_ms = burns.open_ms(base_ms, tuple(held for *_, held in parts)) if parts else base_ms
        marks = _running_marks([(work, held) for _, work, held in running], open_ms)
    except Impossible as error:
        last, work, _ = dodges[-1]
        place = ("local", last.at, _measure(work))
        raise Impossible(say("recipe.dodges-do-not-fit", base=name, problem=str(error)), place) from None
    for line, work, held in parts:
        line.begin(steps)
        easier = burns.propose_how(base_ms, held) == "running"
        steps.put(
            say("recipe.name-part", base=name, area=work.area),
            StepKind.PART,
            filter_name,
            held,
            base_ms,
            stops=_signed(work),
            area=work.area,
            what=work.what or "",
            card="recipe.card-dodger-in",
            advice=(*short, RUNNING) if easier else short,
            areas=(work.area,),
            words=work.words or "",
        )
    steps.through(light.carrier)
    for line, *_ in running:
        line.begin(steps)
    alone = running[0][1] if len(running) == 1 else None
    steps.put(
        say("recipe.name-open", base=name) if parts else name,
        StepKind.RUNNING if running else StepKind.OPEN if parts else StepKind.BASE,
        filter_name,
        open_ms,
        base_ms,
        stops=_signed(alone) if alone else None,
        area=alone.area if alone else "",
        what=(alone.what or "") if alone else "",
        card="recipe.card-dodger-ready" if running else "recipe.card-dodgers-out" if parts else "",
        marks=marks,
        advice=short,
        areas=[work.area for _, work, _ in running],
        words=" · ".join(work.words for _, work, _ in running if work.words),
    )


def _held_back_ms(work: Dodge, base_ms: int) -> int:
    if work.seconds is not None:
        return milliseconds(work.seconds)
    assert work.exact_stops is not None
    return burns.held_back_ms(base_ms, work.exact_stops)


def _running_marks(running: list[tuple[Dodge, int]], light_ms: int) -> tuple[Mark, ...]:
    times = burns.running_ms(light_ms, tuple(held for _, held in running))
    marks: list[Mark] = []
    for (work, _), (start, end) in zip(running, times, strict=True):
        marks += (
            Mark(at_ms=start, cue="dodger in", area=work.area),
            Mark(at_ms=end, cue="dodger out", area=work.area),
        )
    return tuple(marks)


def _put_burn(steps: Steps, line: _Line, filter_name: str, base_ms: int | None) -> None:
    """Put down a burn through one filter; `base_ms` is the base it is a share of, none for one on its own."""
    match line.work:
        case Burn() as work:
            line.begin(steps)
            planned = _burn_ms(work, base_ms)
            steps.put(
                _burn_name(work.area, work.what),
                StepKind.BURN,
                filter_name,
                planned,
                base_ms or planned,
                stops=_signed(work),
                area=work.area,
                what=work.what or "",
                card="recipe.card-burn",
                areas=(work.area,),
                words=work.words or "",
            )
        case EdgeBurn() as work:
            line.begin(steps)
            planned = _burn_ms(work, base_ms)
            for edge in work.edges:
                steps.put(
                    say("recipe.name-burn", area=say(f"recipe.name-edge-{edge}")),
                    StepKind.EDGE,
                    filter_name,
                    planned,
                    base_ms or planned,
                    stops=_signed(work),
                    area=work.area,
                    what=work.what or "",
                    edge=edge,
                    card="recipe.card-edge",
                    areas=(work.area,),
                    words=work.words or "",
                )
        case Dodge():
            pass


def _burn_ms(work: Burn | EdgeBurn, base_ms: int | None) -> int:
    if work.seconds is not None:
        return milliseconds(work.seconds)
    # The recipe has no burn in stops without its base.
    assert work.exact_stops is not None
    assert base_ms is not None
    return burns.burn_ms(base_ms, work.exact_stops)


def _measure(work: Work) -> Literal["stops", "seconds"]:
    return "seconds" if work.stops is None else "stops"


def _signed(work: Work) -> str | None:
    return None if work.stops is None else signed_text(work.stops, less=isinstance(work, Dodge))


def _burn_name(area: str, what: str | None) -> str:
    where = f"{area} {what or ''}".strip()
    return say("recipe.name-burn", area=where) if where else say("recipe.name-burn-bare")


def more_burn(
    plan: Plan,
    number: int,
    *,
    filter: str,  # noqa: A002 - the printer's own word, as in the recipe
    stops: str | None,
    seconds: float | None,
    area: str,
    longest_ms: int = LONGEST_MS,
) -> Step:
    """Return one more burn for a sheet of this plan, as its step `number`; exactly one of stops and seconds.

    Stops are reckoned on the sheet's base through the same filter.

    Raises:
        Impossible: neither or both are given, no base to reckon on, out of range, or the sheet is full.
    """
    if (stops is None) == (seconds is None):
        raise Impossible(say("recipe.more-burn-one"))
    if filter == BOTH or not 1 <= len(filter) <= 12 or not filter.isprintable():
        raise Impossible(say("recipe.more-burn-filter", filter=shown(filter)))
    if number > MOST_STEPS:
        raise Impossible(say("recipe.too-many-steps", number=number, most=MOST_STEPS))
    carrier = plan.steps[-1].carrier
    base_ms = _base_in(plan, filter, carrier)
    if stops is not None:
        exact = parse_more_stops(stops)
        if base_ms is None:
            raise Impossible(say("recipe.more-burn-no-base", filter=filter))
        planned = burns.burn_ms(base_ms, exact)
    else:
        planned = _typed_ms(seconds, longest_ms)
    if not _SHORTEST_BURN_MS <= planned <= longest_ms:
        raise Impossible(say("recipe.more-burn-range", seconds=seconds_text(planned), longest=seconds_text(longest_ms)))
    known = next((step for step in plan.steps if area and step.area == area and step.edge is None), None)
    what = known.what if known else ""
    return Step(
        number=number,
        name=_burn_name(area, what),
        act=StepKind.BURN,
        filter=filter,
        planned_ms=planned,
        base_ms=base_ms or planned,
        stops=signed_text(stops) if stops is not None else None,
        area=area,
        what=what,
        card="recipe.card-burn",
        carrier=carrier,
    )


def _typed_ms(seconds: float | None, longest_ms: int) -> int:
    ms = Decimal(str(seconds)) * 1000
    if not ms.is_finite() or ms != ms.to_integral_value():
        raise Impossible(say("recipe.more-burn-range", seconds=seconds, longest=seconds_text(longest_ms)))
    return int(ms)


def _base_in(plan: Plan, filter_name: str, carrier: str) -> int | None:
    """Return the base of a sheet through a filter: all of a recipe's light, or what lies over a whole strip.

    Where there are two, that of the carrier which is in.
    """
    bases = [step for step in plan.steps if step.filter == filter_name and step.act in _BASES]
    for step in (*(step for step in bases if step.carrier == carrier), *bases):
        return step.base_ms
    whole = sum(s.planned_ms for s in plan.steps if s.filter == filter_name and s.act in _STRIP_BASES)
    return whole or None
