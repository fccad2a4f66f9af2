"""What is known of a negative's tones, untyped: strips' picks, the film's clear edge, readings at the easel.

A strip's pick says which light printed a tone as it was wished; the paper then says how dense that tone is. On a
typical paper that is no density of the film, for nobody knows how fast the paper is: but two picks have the same error,
which then is in no print. Loads numpy when a pick is turned into a density.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isfinite
from typing import TYPE_CHECKING, Final, Literal

from controller.contrast.how_it_looked import counted_flash, usual_wish
from controller.contrast.looked_sheet import flash_of
from controller.errors import Impossible
from controller.model import Frozen
from controller.paper.flash import prints_by_itself
from controller.paper.paper import seconds_factor
from controller.recipe.plan import StepKind
from controller.words import say

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from controller.negatives.sets import KnownTone
    from controller.paper.paper import Paper
    from controller.preview.orders import Light
    from controller.store.records import SheetRecord

What = Literal["edge", "read", "light", "dark"]
Readings = tuple[tuple[str, float], ...]
"""Names and densities of tones that were read at the easel."""
ROLL_EDGE: Final = 0.30
SHEET_EDGE: Final = 0.08
"""Density of the clear edge of roll film with a grey base, and of sheet film (usual figures)."""
CLEAR_WITHIN: Final = 0.05
"""Density within which a spot of clear film may read as none at all."""
MOST_DENSITY: Final = 6.0
"""Blacker than any negative."""
_SHEET_FORMATS: Final = frozenset({"4x5", "5x7", "8x10", "9x12", "13x18", "18x24"})
DOUBT: Final[dict[What, float]] = {"edge": 0.05, "read": 0.02, "light": 0.05, "dark": 0.05}
"""Standard deviations of a density that is known so: of a pick half a sixth of a stop and the eye (assumed)."""
_OTHER_STRIPS: Final = frozenset({"flash", "burn", "proof"})
_MOST: Final = 6
"""Strips whose picks are offered."""


class ToneOffer(Frozen):
    """A tone that may be tapped on a scan: what is known of it."""

    key: str
    what: What
    words: str
    density: float | None = None
    """None where it is yet to be read, or follows from the paper."""
    sheet: str = ""


def offers(
    frame_format: str, records: Iterable[SheetRecord], readings: Readings, *, calibrated: bool
) -> tuple[ToneOffer, ...]:
    """Return what may be tapped, the surest first; `records` are the negative's sheets, newest first.

    Without a calibrated paper only picks tie a scan.
    """
    read = [
        ToneOffer(
            key=f"easel:{name}",
            what="read",
            words=say("preview.offer-easel", name=name, density=f"{density:.2f}"),
            density=density,
        )
        for name, density in readings
    ]
    picks = list(_picks(records))[:_MOST]
    edge = ROLL_EDGE if frame_format.replace("×", "x") not in _SHEET_FORMATS else SHEET_EDGE
    film = [
        ToneOffer(key="edge", what="edge", words=say("preview.offer-edge", density=f"{edge:.2f}"), density=edge),
        ToneOffer(key="read", what="read", words=say("preview.offer-read")),
    ]
    return (*read, *picks, *film) if calibrated else tuple(picks)


def _picks(records: Iterable[SheetRecord]) -> Iterator[ToneOffer]:
    for record in records:
        if (what := _tone_of(record)) is not None:
            pick = record.picks[-1]
            words = say(f"preview.offer-{what}", number=record.number, seconds=f"{pick.seconds:g}", filter=pick.filter)
            yield ToneOffer(key=f"{what}:{record.id}", what=what, words=words, sheet=record.id)


def _tone_of(record: SheetRecord) -> Literal["light", "dark"] | None:
    """Return which tone a strip was picked by: under soft light alone the light one, under hard over soft the dark."""
    strip = record.plan.strip
    if strip is None or not record.picks or strip.kind == "burn" or strip.template in _OTHER_STRIPS:
        return None
    lights = {_which(record, name) for name in _had(record)}
    if lights == {"soft"}:
        return "light"
    return "dark" if lights == {"soft", "hard"} and _which(record, record.picks[-1].filter) == "hard" else None


def key_of(tone: KnownTone) -> str:
    """Return the key of the offer that a known tone was; of what was read its density tells it from others."""
    return f"{tone.what}:{tone.sheet}" if tone.sheet else tone.what


def of_film(density: float, offer: ToneOffer) -> float:
    """Return the density of an offer as a film has it: what was read of clear film may scatter to just under none.

    Raises:
        Impossible: it is no film's, as where the lens was opened by more than was said.
    """
    if not -CLEAR_WITHIN <= density <= MOST_DENSITY:
        raise Impossible(say("easel.density", name=offer.key.partition(":")[2], density=f"{density:.2f}"))
    return max(0.0, density)


def density_of(tone: KnownTone, record: Callable[[str], SheetRecord], paper: Paper, *, typical: bool) -> float:
    """Return the density of a known tone, at the easel. A flash that its strip had is part of what was picked.

    Raises:
        Impossible: it is no pick, and the paper is a typical one; the pick's strip had no such light any more, or a
            flash that alone prints as dark as the tone.
        NotThere: its strip is not kept.
    """
    if tone.sheet is None:
        if typical:
            raise Impossible(say("preview.typical-picks"))
        assert tone.density is not None
        return float(tone.density)
    from controller.paper.emulsions import mixture, thinnest

    sheet = record(tone.sheet)
    if _tone_of(sheet) != tone.what:
        raise Impossible(say("preview.pick-gone", number=sheet.number))
    factor = _factor(sheet, paper)
    given = {"soft": 0.0, "hard": 0.0}
    for name, seconds in _had(sheet).items():
        given[_which(sheet, name) or "soft"] += seconds / factor
    wish = usual_wish(paper)
    density = wish.light if tone.what == "light" else wish.dark
    under, _ = counted_flash(
        flash_of(sheet, factor, lambda name: _which(sheet, name)), None if typical else paper, paper
    )
    found = float(thinnest(mixture(paper), given["soft"], given["hard"], density, under))
    if under is not None and not isfinite(found):
        raise Impossible(prints_by_itself(paper, under, factor))
    return min(6.0, max(-3.0, found))


def _had(record: SheetRecord) -> dict[str, float]:
    """Return the seconds of each filter that a strip's picked band had."""
    pick = record.picks[-1]
    had = {pick.filter: float(pick.seconds)}
    for step in record.steps:
        if step.step.act in (StepKind.UNDER, StepKind.AFTER) and step.step.filter != pick.filter:
            given = (step.given_least_ms + step.given_most_ms) / 2000
            had[step.step.filter] = had.get(step.step.filter, 0.0) + given
    return {name: seconds for name, seconds in had.items() if seconds}


def _which(record: SheetRecord, name: str) -> Light | None:
    bench = record.plan.bench
    return which_of(name, (bench.soft,) if bench else (), (bench.hard,) if bench else ())


def which_of(name: str, soft: Sequence[str], hard: Sequence[str]) -> Light | None:
    """Return which of the two lights a filter is: by its name, or by what is written on it."""
    if name and name in ("soft", *soft):
        return "soft"
    return "hard" if name and name in ("hard", *hard) else None


def _factor(record: SheetRecord, paper: Paper) -> float:
    bench = record.plan.bench
    return seconds_factor(paper, bench.magnification, bench.aperture)[0] if bench else 1.0
