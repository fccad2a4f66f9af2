"""How a sheet looked: what its lights really were, what the words make of them, and the recipe's next version.

A print's lights are its bases as they were given, a strip's those of the picked band. Soft, hard or both are mended as
a pair, one other filter by its time and its number; bases of several other filters follow the highlight alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Final, Literal

from controller.contrast.asks import EnlargerStand
from controller.contrast.how_it_looked import Looks, NewTimes, by_highlight, changed_seconds, mend, tenths
from controller.contrast.looked_one_filter import NewFilter, mend_one_filter
from controller.contrast.recipe_lights import before_dry_down, stand_of, which_light
from controller.errors import Impossible, NotThere, WrongMoment
from controller.paper.flash import Flash
from controller.paper.ladder import TYPICAL
from controller.paper.paper import Setup, seconds_factor, set_up_factor
from controller.recipe.asks import with_lights
from controller.recipe.files import write
from controller.recipe.plan import Hands, StepKind
from controller.recipe.recipe import Base, Dodge, Recipe, must_tell_lights_apart
from controller.recipe.set_up import SetUp
from controller.store.said_of_sheets import LightChange, Looked
from controller.words import say

if TYPE_CHECKING:
    from controller.contrast.asks import Papers, Recipes
    from controller.paper.paper import Paper
    from controller.store.records import SheetRecord, StepRecord
    from controller.store.versions import Kept

_OF_BASES: Final = frozenset({StepKind.BASE, StepKind.PART, StepKind.OPEN, StepKind.RUNNING})
_WITHOUT_LOOKS: Final = frozenset({"flash", "burn", "proof"})
"""Strips that are not looked at for a highlight and a shadow."""
_TWELFTH: Final = 2.0 ** (1.0 / 12.0)
_SAME: Final = 1e-6


@dataclass(frozen=True)
class Next:
    """What comes of a look: the row to be filed, and its recipe's next version, not kept yet; None where none is."""

    looked: Looked
    recipe: Recipe | None
    lights: NewTimes | NewFilter | None
    """None where several filters followed the highlight alone."""


def next_of(record: SheetRecord, looks: Looks, papers: Papers, recipes: Recipes, longest_ms: Callable[[], int]) -> Next:
    """Return what comes of how a sheet looked; nothing is kept.

    Raises:
        WrongMoment: the sheet is open.
        Impossible: it is a check, or had no such light as can be judged: its lamp failed, it was closed early, no band
            of it is picked; its recipe is for another paper since, or cannot have the new times. The sentence says so.
        NotThere, Unreadable: its recipe is not kept, or cannot be read.
    """
    _may_be_looked_at(record)
    had = _lights_of(record)
    source = record.picks[-1].recipe if record.plan.kind == "strip" else record.plan.source
    recipe = recipes.recipe(source) if source else None
    if recipe is not None:
        _must_be_for_its_paper(record, source, recipe, papers, recipes)
    paper_id, paper = _paper_of(record, recipe, papers)
    setup = _setup_of(record, paper)
    which = {name: which_light(recipe, setup, name) if recipe else _by_name(setup, name) for name in had}
    stand = _stand_of(record, recipe)
    factor = seconds_factor(paper, stand.magnification, stand.aperture)[0] if paper else 1.0
    light_of = {
        name: which_light(recipe, setup, name) if recipe else _by_name(setup, name) for name in _flashed(record)
    }
    flash = flash_of(record, factor, light_of.get)
    lights: NewTimes | NewFilter | None = None
    if all(which.values()):
        pair = {light: next((name for name in had if which[name] == light), "") for light in ("soft", "hard")}
        soft, hard = (had.get(pair[light], Decimal(0)) for light in ("soft", "hard"))
        lights = mend(looks, soft, hard, paper=paper, factor=factor, longest_seconds=longest_ms() / 1000, flash=flash)
        names = [pair["soft"] or _partner(setup, "soft", pair), pair["hard"] or _partner(setup, "hard", pair)]
        moves = [
            (name, name, before, after, step)
            for name, before, after, step in zip(
                names,
                (soft, hard),
                (lights.soft_seconds, lights.hard_seconds),
                (lights.twelfths.soft, lights.twelfths.hard),
                strict=True,
            )
        ]
        by, why = lights.by, lights.why
    elif len(had) == 1:
        ((name, before),) = had.items()
        ladder = papers.ladder(paper_id) if paper_id else TYPICAL
        lights = mend_one_filter(looks, name, before, paper=paper, ladder=ladder, flash=flash)
        moves = [(name, lights.filter, before, lights.seconds, lights.twelfths)]
        by, why = lights.by, lights.why
    else:
        step = by_highlight(looks.light)
        moves = [(name, name, before, changed_seconds(before, step), step) for name, before in had.items()]
        by, why = "highlight", ""
    moves = [*_at_its_set_up(moves, recipe, stand, paper)]
    changes = tuple(
        LightChange(filter=new, before=float(before), after=float(after), twelfths=step)
        for old, new, before, after, step in moves
        if (before or after) and (old != new or before != after)
    )
    said = {"sheet": record.id, **looks.model_dump(), "changes": changes, "by": by if changes else "", "why": why}
    made = _changed(recipe, moves, longest_ms()) if recipe is not None and changes else None
    return Next(Looked.model_validate(said), made, lights)


def can_be_looked_at(record: SheetRecord) -> bool:
    """Tell whether anything can come of how a sheet looked."""
    try:
        _may_be_looked_at(record)
    except (WrongMoment, Impossible):
        return False
    return True


def take(found: Next, record: SheetRecord, recipes: Recipes) -> tuple[Looked, Kept | None]:
    """Keep the next version, where there is one; return the row to be filed with what was kept.

    Raises:
        Unreadable, Impossible, StoreTrouble: it cannot be kept; nothing is.
    """
    if found.recipe is None:
        return found.looked, None
    source = record.picks[-1].recipe if record.plan.kind == "strip" else record.plan.source
    kept = recipes.save(write(found.recipe), source)
    return found.looked.model_copy(update={"recipe": kept.id, "recipe_version": kept.version}), kept


# ---- which sheets can be judged, and what light they had


def _may_be_looked_at(record: SheetRecord) -> None:
    words = {"number": record.number}
    if record.outcome == "open":
        raise WrongMoment(say("contrast.looked-open", **words))
    if record.plan.of_no_sheet:
        raise Impossible(say("contrast.looked-check"))
    if record.lamp_failed:
        raise Impossible(say("contrast.looked-lamp", **words))
    strip = record.plan.strip
    if record.plan.flashes_sheets:
        raise Impossible(say("contrast.looked-other-strip"))
    if strip is not None:
        if strip.kind == "burn" or strip.template in _WITHOUT_LOOKS:
            raise Impossible(say("contrast.looked-other-strip"))
        if not record.picks:
            raise Impossible(say("contrast.looked-no-pick"))
    elif any(_fell_short(step) for step in record.steps if step.step.act in _OF_BASES):
        raise Impossible(say("contrast.looked-short", **words))


def _fell_short(step: StepRecord) -> bool:
    """Tell whether a step was left undone: neither given to a twelfth of a stop, nor called given, nor left out."""
    settled = step.called_given or step.left_out
    return not settled and step.worth_ms[1] * _TWELFTH < step.step.planned_ms


def _lights_of(record: SheetRecord) -> dict[str, Decimal]:
    """Return the seconds of each base as the whole sheet had them, or the picked band; a base without light is none."""
    if record.plan.strip is not None:
        pick = record.picks[-1]
        had = {pick.filter: Decimal(str(pick.seconds))}
        for step in record.steps:
            if step.step.act in (StepKind.UNDER, StepKind.AFTER) and step.step.filter != pick.filter:
                had[step.step.filter] = had.get(step.step.filter, Decimal(0)) + _given(step)
    else:
        had = {}
        for step in record.steps:
            if step.step.act in _OF_BASES:
                had[step.step.filter] = had.get(step.step.filter, Decimal(0)) + _given(step)
    found = {name: seconds for name, seconds in had.items() if seconds}
    if not found:
        raise Impossible(say("contrast.no-light"))
    return found


def _flashed(record: SheetRecord) -> tuple[str, ...]:
    """Return the filters that a sheet was flashed through."""
    own = [step.step.filter for step in record.steps if step.step.act is StepKind.FLASH]
    return (*own, *((record.plan.flashed.filter,) if record.plan.flashed else ()))


def flash_of(
    record: SheetRecord, factor: float, which: Callable[[str], str | None]
) -> Flash | Literal["just under"] | None:
    """Return the flash that a sheet had, of its own and beforehand, in the paper's seconds (print = paper · `factor`).

    One through an opal, or through a filter that is neither soft nor hard, counts as just under what the paper shows:
    how much light it was cannot be told.
    """
    own = [step for step in record.steps if step.step.act is StepKind.FLASH]
    before = record.plan.flashed
    had = [(step.step.filter, _given(step)) for step in own]
    had += [(before.filter, Decimal(before.planned_ms) / 1000)] if before is not None else []
    had = [(name, seconds) for name, seconds in had if seconds]
    if not had:
        return None
    lights = {which(name) for name, _ in had}
    opal = any(step.step.hands is Hands.OPAL_IN for step in own) or (before is not None and before.opal)
    if opal or len(lights) > 1 or None in lights:
        return "just under"
    seconds = float(sum(seconds for _, seconds in had)) / factor
    return Flash(seconds=seconds, filter="hard" if lights == {"hard"} else "soft")


def _given(step: StepRecord) -> Decimal:
    return Decimal(sum(step.worth_ms) // 2) / 1000


# ---- what it was made with


def _paper_of(record: SheetRecord, recipe: Recipe | None, papers: Papers) -> tuple[str, Paper | None]:
    """Return the paper as it was read: that which lay at the enlarger, or that the recipe names; or none."""
    bench = record.plan.bench
    named = (bench.paper_title if bench else "") or (recipe.paper.name if recipe and recipe.paper else "")
    source = (bench.paper if bench else "") or (papers.called(named) if named else "")
    try:
        return (source, papers.fetch(source)) if source else ("", None)
    except NotThere:  # it is not kept any more; a typical one does
        return "", None


def _must_be_for_its_paper(record: SheetRecord, source: str, now: Recipe, papers: Papers, recipes: Recipes) -> None:
    """Refuse a sheet whose recipe was written for another paper since: times of the one are wrong on the other."""
    version = record.picks[-1].recipe_version if record.plan.kind == "strip" else record.plan.version
    then = now
    with suppress(NotThere):
        then = recipes.recipe(source, version or None)
    bench, is_for = record.plan.bench, _named(now)
    was = [name for name in (bench.paper_title if bench else "", _named(then)) if name]
    kept = papers.called(is_for) if is_for else ""
    same = any(name.casefold() == is_for.casefold() or (kept and papers.called(name) == kept) for name in was)
    if was and is_for and not same:
        raise Impossible(say("contrast.looked-paper", number=record.number, was=was[0], now=is_for))


def _named(recipe: Recipe) -> str:
    return recipe.paper.name if recipe.paper and recipe.paper.name else ""


def _setup_of(record: SheetRecord, paper: Paper | None) -> Setup:
    if paper is not None:
        return paper.setup
    bench = record.plan.bench
    most = 12
    return Setup(soft_filter=bench.soft[:most], hard_filter=bench.hard[:most]) if bench else Setup()


def _stand_of(record: SheetRecord, recipe: Recipe | None) -> EnlargerStand:
    """Return how the enlarger stood for the sheet; where nobody said so, as its recipe does."""
    told, known = stand_of(recipe) if recipe else EnlargerStand(), record.plan.set_up or SetUp()
    picked = record.picks[-1].aperture if record.picks else None
    aperture = known.aperture if picked is None else picked
    return EnlargerStand(
        magnification=told.magnification if known.magnification is None else known.magnification,
        aperture=told.aperture if aperture is None else aperture,
    )


def _by_name(setup: Setup, name: str) -> str | None:
    if name in ("soft", setup.soft_filter):
        return "soft"
    return "hard" if name in ("hard", setup.hard_filter) else None


def _partner(setup: Setup, light: str, pair: dict[str, str]) -> str:
    """Return the name of a light that comes new: as it is written on the filter, where its partner goes by that too."""
    other = pair["hard" if light == "soft" else "soft"]
    written = setup.soft_filter if light == "soft" else setup.hard_filter
    return light if other in ("soft", "hard") or not written else written


# ---- the next version

Move = tuple[str, str, Decimal, Decimal, float]
"""Of one light: its filter before and after, its seconds before and after, and the twelfths between them."""


def _at_its_set_up(
    moves: list[Move], recipe: Recipe | None, stand: EnlargerStand, paper: Paper | None
) -> Iterator[Move]:
    """Give the moves in the seconds of the recipe as it is now: it may have been carried to another size since."""
    now = stand_of(recipe) if recipe else EnlargerStand()
    was = Setup(magnification=stand.magnification, aperture=stand.aperture)
    factor = set_up_factor(was, now.magnification, now.aperture)[0]
    longer = factor if paper is None else factor ** (1.0 / paper.exponent)
    for old, new, before, after, step in moves:
        if abs(factor - 1.0) < _SAME:
            yield old, new, before, after, step
        else:
            yield old, new, tenths(float(before) * longer), tenths(float(after) * longer), step


def _changed(recipe: Recipe, moves: list[Move], longest_ms: int) -> Recipe:
    """Return the recipe with its bases changed; a light that comes new comes last, one that goes is left out."""
    must_tell_lights_apart(recipe)
    bases = {light.filter: light for light in recipe.light}
    for old, new, before, after, _ in moves:
        if old == new and before == after:
            continue
        if after * 1000 > longest_ms:
            raise Impossible(say("contrast.looked-long", filter=new, seconds=after, longest=f"{longest_ms / 1000:g}"))
        if not after:
            _without_work(recipe, old)
            bases.pop(old, None)
            continue
        light = Base(filter=new, seconds=before_dry_down(recipe, after))
        if old in bases:
            light = bases[old].model_copy(update={"filter": new, "seconds": light.seconds})
        if new not in bases and old in bases:
            bases = {new if name == old else name: each for name, each in bases.items()}
        bases[new] = light
    was = {new: old for old, new, *_ in moves}
    return _follow_filter(with_lights(recipe, tuple(bases.values()), was), moves)


def _without_work(recipe: Recipe, filter_name: str) -> None:
    for work in recipe.local:
        if work.filter == filter_name and (work.stops is not None or isinstance(work, Dodge)):
            raise Impossible(say("contrast.work-without-base", area=work.area, filter=filter_name))


def _follow_filter(recipe: Recipe, moves: list[Move]) -> Recipe:
    """Return the recipe with the local work of a filter that was changed for another going through that one."""
    renamed = {old: new for old, new, *_ in moves if old != new}
    local = tuple(
        work.model_copy(update={"filter": renamed[work.filter]}) if work.filter in renamed else work
        for work in recipe.local
    )
    return recipe.model_copy(update={"local": local}) if renamed else recipe
