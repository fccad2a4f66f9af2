"""What next: one offer for a negative on a paper, from all that was done with it so far; pure.

No sheet yet → a first strip; its soft band picked → a hard strip over it; the hard band picked → print it; a print
closed → how did it look?; a verdict → the next print with its new times; right → keep it, burn strips, an edition,
another size. Only the last sheet decides, so that a printer who goes another way is followed. An offer that is refused
does not come back until something more has happened, and a strip that was made is never offered again as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from itertools import chain
from typing import Final, Literal

from controller.errors import Impossible
from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_strip import totals_ms
from controller.recipe.fields import LONGEST_MS
from controller.recipe.pick import Pick
from controller.recipe.recipe import FilterTime, Recipe
from controller.recipe.strip import Strip
from controller.recipe.strip_templates import HARD, SOFT, can_be_finer, make, own_centre_ms
from controller.store.records import SheetRecord
from controller.store.said_of_sheets import LightChange, Looked, Picked

USUAL_CENTRE_MS: Final = 12_000
"""Where a first strip begins while nothing is known of the negative (common practice)."""
WIDE, WIDE_BANDS = Fraction(1), 7
"""Where nothing on a strip could be picked: stop by stop, three to either side."""

Kind = Literal[
    "go on",
    "use readings",
    "readings",
    "first strip",
    "proof strip",
    "pick",
    "standard",
    "flash level",
    "hard strip",
    "finer strip",
    "same-spot strip",
    "wider strip",
    "print",
    "look",
    "print again",
    "keep",
    "edition",
    "burn strip",
    "flash strip",
    "another size",
    "test",
    "moved",
    "choose",
]


class Offer(Frozen):
    """One thing to do next; what it needs is in it, so that one tap is enough."""

    kind: Kind
    strip: Strip | None = None
    """The strip to make, ready to be kept and loaded."""
    sheet: str = ""
    """The sheet to go on with, to pick from, or to look at."""
    recipe: str = ""
    """The recipe to print, to keep or to carry over, with its version."""
    version: int = 0
    changes: tuple[LightChange, ...] = ()
    """What the next print has otherwise than the last one, in stops beside the seconds."""


CHOOSE: Final = Offer(kind="choose")
"""Nothing is offered: the printer chooses. It alone cannot be refused."""


class Past(Frozen):
    """One sheet of this negative on this paper."""

    sheet: str
    written: Recipe | Strip
    """What it was made by."""
    source: str
    version: int
    open: bool = False
    failed: bool = False
    """Its lamp failed, or it was closed before it had its light: nothing can be told from it."""
    pick: Picked | None = None
    looked: Looked | None = None


class Refusal(Frozen):
    """An offer that was refused, and how much had happened by then."""

    offer: Offer
    grown: int


class History(Frozen):
    """All that was done with one negative on one paper, oldest first, and how the enlarger stands now."""

    at: AtEnlarger = AtEnlarger()
    sheets: tuple[Past, ...] = ()
    estimate_ms: int | None = None
    """Where the first strip's middle band is, from the contact proof; None where there is none."""
    step: Fraction = Fraction(1, 2)
    bands: int = 5
    """How fine a first strip is, by what this enlarger has taught."""
    probe: bool = False
    """A probe for readings at the easel is fitted."""
    measured: bool = False
    """Its spots are measured, and nothing is made of them yet."""
    kept: tuple[tuple[str, int], ...] = ()
    """Recipes that were kept as the negative's own, each with its version."""
    flashed: tuple[str, int] | None = None
    """The recipe printed last, where its newest version has a flash that the print had not; with that version."""
    refused: tuple[Refusal, ...] = ()
    due: bool = False
    """A test of what spoils prints is to be made again: offered where nothing else is."""
    longest_ms: int = LONGEST_MS

    @property
    def grown(self) -> int:
        """How much has happened: sheets, closes, picks, looks and what was kept."""
        told = (part for past in self.sheets for part in (True, not past.open, past.pick, past.looked))
        return sum(bool(part) for part in told) + len(self.kept)

    def refuse(self, offer: Offer) -> History:
        """Return the history in which this offer was refused just now."""
        if offer == CHOOSE:
            return self
        now = [each for each in self.refused if each.grown == self.grown]
        return self.model_copy(update={"refused": (*now, Refusal(offer=offer, grown=self.grown))})


def past_of(record: SheetRecord, written: Recipe | Strip) -> Past:
    """Return a sheet's record as what comes next goes by it; `written` is the recipe or strip of its plan."""
    plan = record.plan
    return Past(
        sheet=record.id,
        written=written,
        source=plan.source,
        version=plan.version,
        open=record.outcome == "open",
        failed=record.lamp_failed or (plan.kind == "recipe" and record.outcome == "spoiled"),
        pick=record.picks[-1] if record.picks else None,
        looked=record.looked[-1] if record.looked else None,
    )


def what_next(history: History) -> Offer:
    """Return the one offer that stands ready."""
    refused = {each.offer.model_dump_json() for each in history.refused if each.grown == history.grown}
    made = {_likeness(past.written) for past in history.sheets if isinstance(past.written, Strip) and not past.open}
    for offer in chain(_offers(history), [Offer(kind="test")] * history.due):
        again = offer.strip is not None and _likeness(offer.strip) in made
        if not again and offer.model_dump_json() not in refused:
            return offer
    return CHOOSE


def _likeness(strip: Strip) -> tuple[object, ...]:
    """Return what makes two strips the same strip, whatever they are called: their light, and how the head stood."""
    lights = [tuple((light.filter, light.seconds) for light in lying) for lying in (strip.under, strip.after)]
    aperture = strip.lens.aperture if strip.lens else None
    stand = aperture, strip.head_height_mm, strip.magnification
    return strip.filter, totals_ms(strip.times), strip.card, *lights, *stand


# ---- in the order in which they are offered


def _offers(history: History) -> Iterator[Offer]:
    last = history.sheets[-1] if history.sheets else None
    if last is None:
        yield from _beginning(history)
    elif last.open:
        yield Offer(kind="go on", sheet=last.sheet)
    elif _moved(history.at, last.written):
        printed = _last_print(history)
        if printed is not None:
            yield Offer(kind="another size", recipe=printed.source, version=printed.version)
        yield from _beginning(history)
    elif isinstance(last.written, Strip):
        yield from _after_strip(history, last, last.written)
    else:
        yield from _after_print(history, last, last.written)


def _beginning(history: History) -> Iterator[Offer]:
    if history.measured:
        yield Offer(kind="use readings")
    if history.probe:
        yield Offer(kind="readings")
    centre = USUAL_CENTRE_MS if history.estimate_ms is None else history.estimate_ms
    yield from _strip(
        "first strip",
        lambda: make(
            "first",
            history.at,
            centre_ms=centre,
            step=history.step,
            bands=history.bands,
            longest_ms=history.longest_ms,
        ),
    )
    if history.estimate_ms is None:
        yield from _strip("proof strip", lambda: make("proof", history.at, longest_ms=history.longest_ms))


def _after_strip(history: History, last: Past, strip: Strip) -> Iterator[Offer]:
    at, longest = history.at, history.longest_ms
    if last.pick is None:
        if not last.failed:
            yield Offer(kind="pick", sheet=last.sheet)
        middle = _middle_ms(strip)
        if strip.times.kind != "burn":
            if last.failed:
                yield from _strip(
                    "same-spot strip",
                    lambda: make("same place", at, last=strip, centre_ms=middle, longest_ms=longest),
                )
            yield from _wider(history, strip, middle)
        return
    pick = _pick(strip, last.pick)
    if strip.template == "proof":
        yield Offer(kind="standard", sheet=last.sheet)
        yield from _beginning(history)
        return
    if strip.template == "flash":
        printed = _last_print(history)
        if history.flashed is not None:
            yield Offer(kind="print", recipe=history.flashed[0], version=history.flashed[1])
        elif printed is not None:
            yield Offer(kind="flash level", sheet=last.sheet, recipe=printed.source, version=printed.version)
        yield from _beginning(history)
        return
    recipe, version = last.pick.recipe, last.pick.recipe_version
    if last.looked is not None and last.looked.recipe:
        recipe, version = last.looked.recipe, last.looked.recipe_version
        yield Offer(kind="print", recipe=recipe, version=version, changes=last.looked.changes)
    soft_alone = strip.filter in (SOFT, at.soft) and not strip.under and not strip.after and pick.kind == "base"
    if soft_alone and pick.seconds:
        base = FilterTime.model_validate({"filter": strip.filter, "seconds": pick.seconds})
        name = HARD if strip.filter == SOFT else at.hard or HARD
        yield from _strip(
            "hard strip",
            lambda: make("hard over soft", at, filter_name=name, base=[base], flash=strip.flash, longest_ms=longest),
        )
    if recipe and not soft_alone:
        yield Offer(kind="print", recipe=recipe, version=version)
    centre = own_centre_ms(strip, pick)
    if pick.kind == "base" and centre and can_be_finer(strip.times, centre):
        yield from _strip("finer strip", lambda: make("finer", at, last=strip, centre_ms=centre, longest_ms=longest))
    if pick.kind == "base" and last.looked is None:
        yield Offer(kind="look", sheet=last.sheet)
    if recipe and soft_alone:
        yield Offer(kind="print", recipe=recipe, version=version)


def _after_print(history: History, last: Past, recipe: Recipe) -> Iterator[Offer]:
    again = Offer(kind="print", recipe=last.source, version=last.version)
    if last.failed:
        yield again
        return
    looked = last.looked
    if looked is None:
        yield Offer(kind="look", sheet=last.sheet)
    elif looked.recipe:
        yield Offer(kind="print again", recipe=looked.recipe, version=looked.recipe_version, changes=looked.changes)
    if looked is not None and looked.why:
        yield from _strip(
            "flash strip",
            lambda: make("flash", history.at, base=recipe.bare_lights, longest_ms=history.longest_ms),
        )
    right = looked is not None and not looked.light and not looked.dark
    if right and (last.source, last.version) not in history.kept:
        yield Offer(kind="keep", recipe=last.source, version=last.version)
    for light in () if recipe.two_negatives else recipe.light:  # a strip is of one negative
        burn = partial(make, "burn", history.at, filter_name=light.filter, base=recipe.bare_lights, flash=recipe.flash)
        yield from _strip("burn strip", partial(burn, longest_ms=history.longest_ms))
    if right and (last.source, last.version) in history.kept:
        yield Offer(kind="edition", sheet=last.sheet, recipe=last.source, version=last.version)
    if right or looked is None:
        yield Offer(kind="another size", recipe=last.source, version=last.version)


def _wider(history: History, strip: Strip, middle_ms: int) -> Iterator[Offer]:
    """Offer stop by stop what a strip showed nothing of: all of it too light, or too dark."""

    def made() -> Strip:
        return make(
            "first",
            history.at,
            filter_name=strip.filter,
            centre_ms=middle_ms,
            step=WIDE,
            bands=WIDE_BANDS,
            longest_ms=history.longest_ms,
        ).model_copy(
            update={"under": strip.under, "after": strip.after, "template": strip.template, "flash": strip.flash}
        )

    yield from _strip("wider strip", made)


def _strip(kind: Kind, made: Callable[[], Strip]) -> Iterator[Offer]:
    """Give the offer of a strip; nothing where it cannot be made."""
    try:
        yield Offer(kind=kind, strip=made())
    except Impossible:
        return


# ---- what the last sheet says


def _pick(strip: Strip, picked: Picked) -> Pick:
    return Pick(
        kind="burn" if strip.times.kind == "burn" else "base",
        filter=picked.filter,
        band=picked.band,
        between=picked.between,
        seconds=picked.seconds,
        stops=picked.stops,
    )


def _middle_ms(strip: Strip) -> int:
    totals = [total for total in totals_ms(strip.times) if total]
    return totals[(len(totals) - 1) // 2]


def _last_print(history: History) -> Past | None:
    return next((past for past in reversed(history.sheets) if isinstance(past.written, Recipe)), None)


def _moved(at: AtEnlarger, written: Recipe | Strip) -> bool:
    """Tell whether the enlarger stands otherwise than for a sheet, as far as both are known."""
    pairs = (
        (at.magnification, written.magnification),
        (at.head_height_mm, written.head_height_mm),
        (at.aperture, written.lens.aperture if written.lens else None),
    )
    stopped_down = isinstance(written, Strip) and written.template == "flash"
    known = pairs[:2] if stopped_down else pairs
    return any(now is not None and then is not None and abs(now - float(then)) > 1e-3 for now, then in known)
