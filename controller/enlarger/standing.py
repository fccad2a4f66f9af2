"""What stands at the enlarger, changed and compared: what a recipe says of it, what another choice makes of it. Pure.

Where a recipe says nothing it agrees with everything; what is not known of the enlarger agrees with nothing that a
recipe says, since the printer may want to take it over.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final, Literal

from controller.enlarger.enlargers import Enlarger
from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.recipe import Filters, Lens, Negative, Paper
from controller.store.entries import StoodAtEnlarger

if TYPE_CHECKING:
    from controller.recipe.recipe import Recipe
    from controller.recipe.strip import Strip
    from controller.store.rows import Row

NEARLY_MM: Final = 0.5
"""The column's scale is not read closer."""
NEARLY_STOPS: Final = 0.02
"""Share by which two f-numbers or magnifications may differ that are meant to be one."""
MOST_PAST: Final = 60


class InCarrier(Frozen):
    """A negative that may be put into the carrier: its reference, empty where it is only named, and what it is."""

    negative: str = ""
    title: str
    format: str = ""


class PaperOut(Frozen):
    """A paper that may be taken out: its id on the shelf, empty where it is only named, its support and its box."""

    paper: str = ""
    title: str
    support: Literal["RC", "FB", ""] = ""
    box: str = ""


class HowItStands(Frozen):
    """How an enlarger stands: what a list of set-ups used lately shows, and one tap takes."""

    head_height_mm: float | None = None
    magnification: float | None = None
    aperture: float | None = None
    focal_mm: float | None = None


class Setting(Frozen):
    """What a new recipe or strip begins with, in the words of their own forms."""

    negative: Negative | None = None
    paper: Paper | None = None
    magnification: Decimal | None = None
    lens: Lens | None = None
    head_height_mm: Decimal | None = None
    filters: Filters | None = None


Thing = Literal["negative", "paper", "head height", "aperture", "focal length"]


class Differs(Frozen):
    """One thing of which a recipe says another than stands at the enlarger."""

    what: Thing
    wanted: str
    """As the recipe says it: a name, or a number without its unit."""


# ---- a recipe, and what stands


def differs(bench: AtEnlarger, written: Recipe | Strip) -> tuple[Differs, ...]:
    """Return each thing of which a recipe or strip says another than stands at the enlarger."""
    found: list[Differs] = []
    negative, paper, lens = written.negative, written.paper, written.lens
    if negative is not None and not _same(negative.name, bench.negative_title):
        found.append(Differs(what="negative", wanted=negative.name))
    if paper is not None:
        other = paper.name is not None and not _same(paper.name, bench.paper_title)
        if other or paper.support not in (None, bench.support):
            wanted = ", ".join(each for each in (paper.name, paper.support) if each)
            found.append(Differs(what="paper", wanted=wanted))
    if written.head_height_mm is not None and not _near(written.head_height_mm, bench.head_height_mm, NEARLY_MM):
        found.append(Differs(what="head height", wanted=f"{written.head_height_mm.normalize():f}"))
    if lens is not None and lens.aperture is not None and not _like(lens.aperture, bench.aperture):
        found.append(Differs(what="aperture", wanted=f"{lens.aperture.normalize():f}"))
    if lens is not None and lens.focal_mm is not None and not _like(lens.focal_mm, bench.focal_mm):
        found.append(Differs(what="focal length", wanted=f"{lens.focal_mm.normalize():f}"))
    return tuple(found)


def taken_from(
    bench: AtEnlarger,
    written: Recipe | Strip,
    negatives: Iterable[InCarrier],
    paper: str,
    past: Iterable[AtEnlarger] = (),
) -> AtEnlarger:
    """Return what stands once all that a recipe or strip says is taken over; `paper` is its paper's id on the shelf.

    A negative that is known by that name is taken with its reference; `past` is what stood, as `with_negative` has
    it. The box stays where the paper does.
    """
    changes: dict[str, Any] = {}
    if (negative := written.negative) is not None:
        known = next((each for each in negatives if _same(each.title, negative.name)), InCarrier(title=""))
        taken = InCarrier(negative=known.negative, title=negative.name, format=negative.format or known.format)
        bench = with_negative(bench, taken, past)
    if written.paper is not None and written.paper.name is None:  # the same paper, on that support
        changes["support"] = written.paper.support or bench.support
    elif written.paper is not None and written.paper.name is not None:
        same = _same(written.paper.name, bench.paper_title)
        changes |= {"paper": paper, "paper_title": written.paper.name, "box": bench.box if same else ""}
        changes["support"] = written.paper.support or (bench.support if same else "")
    lens, filters = written.lens, written.filters
    said = {
        "head_height_mm": written.head_height_mm,
        "magnification": written.magnification,
        "aperture": None if lens is None else lens.aperture,
        "focal_mm": None if lens is None else lens.focal_mm,
    }
    if written.head_height_mm is not None and written.magnification is None:
        changes["magnification"] = None  # that of another height
    changes |= {key: float(value) for key, value in said.items() if value is not None}
    changes |= {
        key: value for key in ("soft", "hard") if filters is not None and (value := getattr(filters, key)) is not None
    }
    return changed(bench, changes)


def setting_of(bench: AtEnlarger) -> Setting:
    """Return what a new recipe or strip begins with."""
    lens = Lens(focal_mm=_typed(bench.focal_mm), aperture=_typed(bench.aperture))
    filters = Filters(soft=bench.soft or None, hard=bench.hard or None)
    negative = paper = None
    if bench.negative_title:
        negative = Negative(name=bench.negative_title, format=bench.negative_format or None)
    if bench.paper_title:
        paper = Paper(name=bench.paper_title, support=bench.support or None)
    return Setting(
        negative=negative,
        paper=paper,
        magnification=_typed(None if bench.magnification is None else round(bench.magnification, 3)),
        lens=None if lens == Lens() else lens,
        head_height_mm=_typed(bench.head_height_mm),
        filters=None if filters == Filters() else filters,
    )


# ---- other choices


def changed(bench: AtEnlarger, changes: Mapping[str, Any]) -> AtEnlarger:
    """Return what stands after some of it was changed; raises pydantic's `ValidationError` out of limits."""
    return AtEnlarger.model_validate(bench.model_dump() | dict(changes))


def with_setup(bench: AtEnlarger, enlarger: Enlarger | None, **changes: Any) -> AtEnlarger:
    """Return what stands after the set-up was changed; the column tells the magnification, where it can.

    A magnification that was given counts as it is; one that belongs to another height or lens, and that the column
    does not tell, is known no more.
    """
    after = changed(bench, changes)
    moved = _another(bench.head_height_mm, after.head_height_mm) or _another(bench.focal_mm, after.focal_mm)
    if "magnification" in changes or (after.magnification is not None and not moved):
        return after
    found = None
    if enlarger is not None and after.head_height_mm is not None and _like(enlarger.focal_mm, after.focal_mm):
        found = enlarger.magnification_at(after.head_height_mm)
    return changed(after, {"magnification": None if found is None else round(found, 4)})


def with_negative(bench: AtEnlarger, taken: InCarrier | None, past: Iterable[AtEnlarger]) -> AtEnlarger:
    """Return what stands once a negative is in the carrier; with None it is empty.

    One of another format has another lens and another height: they are as they were when that format lay there last,
    or known no more. The f-number stays where nothing is known of it; it is said before each sheet. `past` is what
    stood, last first.
    """
    if taken is None:
        return changed(bench, {"negative": "", "negative_title": "", "negative_format": ""})
    named = {"negative": taken.negative, "negative_title": taken.title, "negative_format": taken.format}
    stands = how_it_stands(bench)
    here = [each for each in (bench, *past) if each.enlarger == bench.enlarger and each.negative_format]
    format_now = next((each.negative_format for each in here if how_it_stands(each) == stands), "")
    if not taken.format or not format_now or _same_format(taken.format, format_now):
        return changed(bench, named)
    setups = (how_it_stands(each) for each in here if _same_format(each.negative_format, taken.format))
    before = next((each for each in setups if each.focal_mm is not None or each.head_height_mm is not None), None)
    setup = HowItStands(aperture=bench.aperture) if before is None else before
    return changed(bench, named | setup.model_dump())


def with_enlarger(bench: AtEnlarger, source: str, enlarger: Enlarger, past: Iterable[AtEnlarger]) -> AtEnlarger:
    """Return what stands at another enlarger: as that one stood last, or with what its own figures say."""
    before = next((each for each in past if each.enlarger == source), None)
    focal_mm = None if enlarger.focal_mm is None else float(enlarger.focal_mm)
    setup = HowItStands(focal_mm=focal_mm) if before is None else how_it_stands(before)
    if not bench.enlarger and before is None:  # it is the one that was worked until now, and has a name from now on
        setup = how_it_stands(bench).model_copy(update={"focal_mm": focal_mm or bench.focal_mm})
    return changed(bench, {"enlarger": source, "enlarger_title": enlarger.name, **setup.model_dump()})


# ---- what stood


def stood(rows: Iterable[Row]) -> tuple[AtEnlarger, ...]:
    """Return what stood at the enlarger, each once, last first."""
    benches = [row.entry.bench for row in rows if isinstance(row.entry, StoodAtEnlarger)]
    return tuple(dict.fromkeys(reversed(benches)))[:MOST_PAST]


def how_it_stands(bench: AtEnlarger) -> HowItStands:
    """Return the set-up alone."""
    return HowItStands(**{name: getattr(bench, name) for name in HowItStands.model_fields})


def papers_of(benches: Iterable[AtEnlarger]) -> tuple[PaperOut, ...]:
    """Return the papers that were out, each box once, in that order."""
    found = (
        PaperOut(paper=each.paper, title=each.paper_title, support=each.support, box=each.box)
        for each in benches
        if each.paper_title
    )
    return tuple(dict.fromkeys(found))


def negatives_of(benches: Iterable[AtEnlarger]) -> tuple[InCarrier, ...]:
    """Return the negatives that were in the carrier, each once, in that order."""
    found = (
        InCarrier(negative=each.negative, title=each.negative_title, format=each.negative_format)
        for each in benches
        if each.negative_title
    )
    return tuple(dict.fromkeys(found))


def setups_of(benches: Iterable[AtEnlarger], enlarger: str) -> tuple[HowItStands, ...]:
    """Return how an enlarger stood, each set-up once, in that order."""
    return tuple(
        dict.fromkeys(
            how_it_stands(each)
            for each in benches
            if each.enlarger == enlarger and (each.head_height_mm is not None or each.aperture is not None)
        )
    )


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


def _another(before: float | None, after: float | None) -> bool:
    return before is not None and after is not None and before != after


def _near(wanted: Decimal, stands: float | None, nearly: float) -> bool:
    return stands is not None and abs(float(wanted) - stands) < nearly


def _like(wanted: Decimal | None, stands: float | None) -> bool:
    if wanted is None or stands is None:
        return wanted is None and stands is None
    return abs(float(wanted) - stands) <= NEARLY_STOPS * stands


def _typed(value: float | None) -> Decimal | None:
    """Return a figure as one would have typed it: 8, not 8.0."""
    return None if value is None else Decimal(f"{value:.6f}".rstrip("0").rstrip("."))


def _same_format(one: str, other: str) -> bool:
    return _same(one.replace("×", "x"), other.replace("×", "x"))
