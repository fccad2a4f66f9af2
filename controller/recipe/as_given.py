"""What a sheet was given, written into its recipe: one burn that was added at the enlarger, or all of it; pure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from string import ascii_uppercase
from typing import Any, Final

from pydantic import ValidationError

from controller.errors import Impossible
from controller.exposure.burns import burn_ms, held_back_ms
from controller.exposure.stops import dried_ms, fraction_text, round_ms, seconds_text
from controller.model import Frozen
from controller.recipe.asks import carrier_ask, hands_moved
from controller.recipe.compile_recipe import compile_recipe
from controller.recipe.fields import BOTH, LONGEST_MS, milliseconds
from controller.recipe.plan import Step, StepKind
from controller.recipe.recipe import Base, Burn, Dodge, EdgeBurn, HandsEntry, Recipe, Work
from controller.recipe.steps import MOST_STEPS, SHORTEST_MS
from controller.words import say

NEARLY_MS: Final = 50
"""A light that came so near to its plan was given as planned: it reads the same."""
_WHOLE: Final = frozenset({StepKind.BASE, StepKind.OPEN, StepKind.RUNNING})
BASES: Final = _WHOLE | {StepKind.PART}


class Got(Frozen):
    """What one step of a sheet was given, in ms as its plan counts; least and most differ where it is in doubt."""

    step: Step
    least_ms: int
    most_ms: int
    added: bool = False
    """One more burn, which the recipe does not have."""

    @property
    def as_planned(self) -> bool:
        """It was given what was planned."""
        return all(abs(ms - self.step.planned_ms) < NEARLY_MS for ms in (self.least_ms, self.most_ms))

    @property
    def ms(self) -> int:
        """What it was given: as planned, or to 0.1 s.

        Raises:
            Impossible: it is not known to 0.1 s.
        """
        if self.as_planned:
            return self.step.planned_ms
        least, most = round_ms(self.least_ms), round_ms(self.most_ms)
        if least != most:
            said = {"least": seconds_text(least), "most": seconds_text(most)}
            raise Impossible(say("recipe.given-doubt", step=self.step.name, **said))
        return most


def with_burn(recipe: Recipe, got: Got, *, of_base_ms: int = 0, longest_ms: int = LONGEST_MS) -> Recipe:
    """Return a recipe with one more burn, as it was added to a sheet: in its stops, or in the seconds it was given.

    `of_base_ms` is what the sheet's own base was given, where the recipe's is of another size by now, at which the
    seconds would be others: then it is in stops of that base, to a twelfth.

    Raises:
        Impossible: it gave no light that is known, the recipe has no base that its stops count from, or no room.
    """
    if got.ms < SHORTEST_MS:
        raise Impossible(say("recipe.given-nothing", step=got.step.name))
    burn = _added(recipe, got)
    if burn.stops is None and of_base_ms:
        twelfths = max(1, round(12 * math.log2(1 + got.ms / of_base_ms)))
        told = {name: getattr(burn, name) for name in burn.model_fields_set if name != "seconds"}
        burn = Burn.model_validate(told | {"stops": fraction_text(Fraction(twelfths, 12))})
    bases = [light.filter for light in recipe.light]
    if burn.stops is not None and burn.filter not in bases:
        raise Impossible(say("recipe.given-burn-no-base", filter=burn.filter, bases=", ".join(bases)))
    return _next(
        recipe, longest_ms, local=(*recipe.local, burn), hands=(*recipe.hands, *_carrier_first(recipe, burn, got))
    )


def as_given(recipe: Recipe, got: Sequence[Got], *, longest_ms: int = LONGEST_MS) -> Recipe:
    """Return a recipe that gives what a sheet of it was given: every base, dodge and burn, and those that were added.

    Work whose stops still come to what was given keeps them; other work gets its seconds. What was left out is left
    out. What comes of it is compiled and compared with what was given, so that it is that, or nothing.

    Raises:
        Impossible: a light is in doubt, a base is missing, a running dodge was stopped, or it was all as planned.
    """
    for each in got:
        if each.step.act is StepKind.RUNNING and not each.as_planned:
            raise Impossible(say("recipe.given-running", step=each.step.name))
    percent = Fraction(recipe.dry_down_percent or 0)
    given = {_key(light): _base_ms(light, got) for light in recipe.light}
    light = tuple(_base(each, given[_key(each)], percent) for each in recipe.light)
    left = [each for each in got if not each.added]
    local = [
        (at, line) for at, work in enumerate(recipe.local) for line in _lines(work, _of_line(recipe, at, given), left)
    ]
    changed: dict[str, Any] = {"light": light, "local": tuple(line for _, line in local)}
    if recipe.hands:
        changed["hands"] = hands_moved(recipe, range(len(light)), [at for at, _ in local])
    if recipe.flash is not None and not recipe.flash.beforehand:
        flash_ms = sum(each.ms for each in got if each.step.act is StepKind.FLASH)
        if flash_ms != milliseconds(recipe.flash.seconds):
            changed["flash"] = recipe.flash.model_copy(update={"seconds": _seconds(flash_ms)}) if flash_ms else None
    made = _next(recipe, longest_ms, **changed)
    for each in got:
        if each.added and each.ms >= SHORTEST_MS:
            burn, base = _added(made, each), made.base(each.step.filter, each.step.carrier or None)
            worth = None if burn.stops is None or base is None else burn.exact_stops
            if base is None or worth is None or burn_ms(given[_key(base)], worth) != each.ms:
                burn = _in_seconds(burn, each.ms) if burn.stops is not None else burn
            first = _carrier_first(made, burn, each)
            made = _next(made, longest_ms, local=(*made.local, burn), hands=(*made.hands, *first))
    if made == recipe:
        raise Impossible(say("recipe.given-same"))
    _compare(made, got, longest_ms)
    return made


def _key(base: Base) -> tuple[str, str]:
    return base.filter, base.carrier or ""


def _of_line(recipe: Recipe, at: int, given: dict[tuple[str, str], int]) -> dict[str, int]:
    """Return what the bases were given that a line of local work goes with, by their filters."""
    bases = (recipe.base_of(at, light.filter) for light in recipe.light)
    return {base.filter: given[_key(base)] for base in bases if base is not None}


def _carrier_first(recipe: Recipe, burn: Burn, got: Got) -> Iterator[HandsEntry]:
    """Give what is to be asked before one more burn where it goes with another base than it would by itself."""
    base, carrier = recipe.base(burn.filter), got.step.carrier
    if base is not None and carrier and recipe.two_negatives and base.carrier != carrier:
        number = len(recipe.light) + len(recipe.local) + 1
        yield HandsEntry(before=number, words=carrier_ask(carrier).words, carrier=carrier)


def _base_ms(light: Base, got: Sequence[Got]) -> int:
    of_base = [
        each
        for each in got
        if each.step.filter == light.filter
        and light.carrier in (None, each.step.carrier or None)
        and each.step.act in BASES
        and not each.added
    ]
    whole = sum(each.ms for each in of_base)
    if whole < SHORTEST_MS:
        raise Impossible(say("recipe.given-no-base", filter=light.filter))
    return whole


def _base(light: Base, ms: int, percent: Fraction) -> Base:
    """Return a base that comes to `ms` once dry-down is taken off."""
    if dried_ms(milliseconds(light.seconds), percent) == ms:
        return light
    return light.model_copy(update={"seconds": _seconds(round(ms / (1 - percent / 100)))})


def _lines(work: Work, given: dict[str, int], left: list[Got]) -> Iterator[Work]:
    """Give the lines that a line of local work becomes; what is found of it in `left` is taken out there."""
    if isinstance(work, Dodge) and work.how == "running":
        yield work  # marks in a base's light, which came as planned
        return
    filters = tuple(given) if work.filter == BOTH else (work.filter,)
    edges = work.edges if isinstance(work, EdgeBurn) else (None,)
    found = {(name, edge): _taken(left, work, name, edge) for name in filters for edge in edges}
    if all(ms == _worth(work, given.get(name)) for (name, _), ms in found.items()):
        yield work
        return
    for name, ms in dict.fromkeys((name, ms) for (name, _), ms in found.items() if ms):
        line = _in_seconds(work, ms).model_copy(update={"filter": name})
        here = tuple(edge for (other, edge), each in found.items() if (other, each) == (name, ms))
        yield line.model_copy(update={"edges": here}) if isinstance(work, EdgeBurn) else line


def _taken(left: list[Got], work: Work, filter_name: str, edge: str | None) -> int:
    act = {"burn": StepKind.BURN, "dodge": StepKind.PART, "edge burn": StepKind.EDGE}[work.act]
    wanted = (act, filter_name, work.area, edge)
    for each in left:
        if (each.step.act, each.step.filter, each.step.area, each.step.edge) == wanted:
            left.remove(each)
            return each.ms
    return 0


def _worth(work: Work, base_ms: int | None) -> int | None:
    """Return what a line of local work comes to on a base; None where it has none."""
    stops = work.exact_stops
    if stops is None:
        assert work.seconds is not None
        return milliseconds(work.seconds)
    if base_ms is None:
        return None
    return held_back_ms(base_ms, stops) if isinstance(work, Dodge) else burn_ms(base_ms, stops)


def _added(recipe: Recipe, got: Got) -> Burn:
    step = got.step
    taken = {work.area for work in recipe.local}
    area = step.area or next((free for free in ascii_uppercase if free not in taken), "Z")
    burn: dict[str, object] = {"area": area, "act": "burn", "filter": step.filter}
    burn |= {"what": step.what} if step.what else {}
    if step.stops and got.as_planned:
        return Burn.model_validate(burn | {"stops": step.stops.removeprefix("+")})
    return Burn.model_validate(burn | {"seconds": _seconds(got.ms)})


def _in_seconds(work: Work, ms: int) -> Any:
    written = {name: getattr(work, name) for name in work.model_fields_set if name != "stops"}
    return type(work).model_validate(written | {"seconds": _seconds(ms)})


def _seconds(ms: int) -> Decimal:
    return Decimal(ms) / 1000


def _next(recipe: Recipe, longest_ms: int, **changes: Any) -> Recipe:
    written = {name: getattr(recipe, name) for name in recipe.model_fields_set} | changes
    written = {name: value for name, value in written.items() if value is not None and (value or name != "hands")}
    try:
        return Recipe.model_validate(written, context={"longest_ms": longest_ms})
    except ValidationError:
        # All values have been checked on their way here: only too much local work is left to refuse.
        raise Impossible(say("recipe.too-many-steps", number=len(written["local"]), most=MOST_STEPS)) from None


def _compare(made: Recipe, got: Sequence[Got], longest_ms: int) -> None:
    """Refuse a recipe that would give another light than the sheet had."""
    plan = compile_recipe(made, source="", version=0, longest_ms=longest_ms)
    would = sorted(_told(step, step.planned_ms) for step in plan.steps)
    if would != sorted(_told(each.step, each.ms) for each in got if each.ms):
        raise Impossible(say("recipe.given-other"))


def _told(step: Step, ms: int) -> tuple[str, ...]:
    """Return what tells a light of a sheet from another, whatever its place in the order; light adds up."""
    whole = step.act in _WHOLE
    marks = " ".join(f"{mark.cue} {mark.at_ms} {mark.area}" for mark in step.marks)
    return (
        step.filter,
        step.carrier,
        "" if whole else step.act,
        "" if whole else step.area,
        step.edge or "",
        str(ms),
        marks,
    )
