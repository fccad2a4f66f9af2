"""The flash level: the longest light without a negative that a threshold strip still shows as white, and its use.

The pick of a threshold strip is that level; it is kept as the pick is, with the paper, box and set-up that the
sheet's record has. A time means nothing at another height or aperture: there it is converted by the two laws that
all seconds go by, or refused where one of the figures is not known. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Final, Literal

from pydantic import Field

from controller.contrast.asks import EnlargerStand, FlashAsk
from controller.errors import Impossible, NotThere
from controller.exposure.decimals import decimal_of
from controller.exposure.size import aperture_factor, size_factor
from controller.model import Frozen
from controller.paper.libraries import with_libraries
from controller.recipe.plan import Hands
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.paper import Paper
    from controller.store.records import SheetRecord

Share = Literal["just under", "half"]
"""How much of a level is flashed: all of it, or half its seconds."""
SHARES: Final[tuple[Share, ...]] = ("just under", "half")
NEARLY_MM: Final = 0.5
"""The column's scale is not read closer."""
LEAST_SECONDS: Final = Decimal("0.1")
"""The shortest light that a recipe has."""


class LevelStand(Frozen):
    """How the enlarger stood for a level, or stands for a print; what is not known is None."""

    magnification: float | None = None
    head_height_mm: float | None = None
    aperture: float | None = None


class FlashLevel(Frozen):
    """A level that was found: by which sheet, through which filter, on which paper, and how the enlarger stood."""

    sheet: str
    number: int
    day: str
    filter: str
    seconds: Decimal = Field(gt=0)
    opal: bool = False
    """Found with the negative in, through an opal under the lens: it holds for flashes with that opal alone."""
    paper: str = ""
    """Id on the shelf; empty for a paper that was only named."""
    paper_title: str = ""
    box: str = ""
    stand: LevelStand = LevelStand()

    def of(self, paper: str, title: str) -> bool:
        """Tell whether it was found on this paper: by its id, or by its name where it was only named."""
        if self.paper and paper:
            return self.paper == paper
        return bool(title) and self.paper_title.strip().casefold() == title.strip().casefold()


def level_of(record: SheetRecord) -> FlashLevel | None:
    """Return the level that a threshold strip's last pick says; None for any other sheet, or without a pick."""
    strip, bench = record.plan.strip, record.plan.bench
    if strip is None or strip.template != "flash" or not record.picks or record.picks[-1].seconds <= 0:
        return None
    pick = record.picks[-1]
    told = decimal_of(record.plan.aperture)  # the strip may have been made with the lens stopped down
    aperture = pick.aperture if told is None else float(told)
    height = pick.head_height_mm if pick.head_height_mm is not None else bench.head_height_mm if bench else None
    return FlashLevel(
        sheet=record.id,
        number=record.number,
        day=record.opened_wall[:10],
        filter=pick.filter,
        seconds=Decimal(str(pick.seconds)),
        opal=record.plan.steps[0].hands is Hands.OPAL_IN,
        paper=bench.paper if bench else "",
        paper_title=bench.paper_title if bench else "",
        box=bench.box if bench else "",
        stand=LevelStand(
            magnification=bench.magnification if bench else None,
            head_height_mm=height,
            aperture=aperture if aperture is not None else bench.aperture if bench else None,
        ),
    )


def levels_on(record: Callable[[str], SheetRecord], sheets: Iterable[str]) -> tuple[FlashLevel, ...]:
    """Return the levels that threshold strips found, in the order of these sheets; one that is not there has none."""
    found = list[FlashLevel]()
    for sheet in sheets:
        with suppress(NotThere):
            level = level_of(record(sheet))
            found += () if level is None else (level,)
    return tuple(found)


def flash_from(
    level: FlashLevel, share: Share, stand: LevelStand, light: Literal["soft", "hard"], exponent: float = 1.0
) -> FlashAsk:
    """Return the flash that a share of a level is where the enlarger stands so, to 0.01 s; `light` is its filter's.

    `exponent` is the paper's for long light: weaker light takes longer by its factor to the power 1/p, a flash too.

    Raises:
        Impossible: height or aperture of either is not known, or the flash would be shorter than a light can be.
    """
    factor = _factor(level, stand)
    exact = Fraction(level.seconds) * (factor if exponent == 1.0 else Fraction(float(factor) ** (1.0 / exponent)))
    if share == "half":
        exact /= 2
    seconds = Decimal(int(exact * 100 + Fraction(1, 2))) / 100
    if seconds < LEAST_SECONDS:
        raise Impossible(say("contrast.level-short", seconds=f"{seconds:.2f}"), ("flash",))
    return FlashAsk(seconds=seconds, filter=light, opal=level.opal, half=share == "half")


def light_of(paper: Paper, level: FlashLevel) -> Literal["soft", "hard"]:
    """Return which of a paper's two lights a level was found through.

    Raises:
        Impossible: through neither; the sentence names the filter.
    """
    if level.filter in {"soft", paper.setup.soft_filter} - {""}:
        return "soft"
    if level.filter in {"hard", paper.setup.hard_filter} - {""}:
        return "hard"
    raise Impossible(say("contrast.level-other-filter", filter=level.filter), ("flash",))


def stand_on(paper: Paper, stand: EnlargerStand) -> LevelStand:
    """Return how the enlarger stands for a print: as is said, and else as it stood for the paper's readings."""
    setup = paper.setup
    return LevelStand(
        magnification=setup.magnification if stand.magnification is None else stand.magnification,
        head_height_mm=setup.head_height_mm if stand.magnification is None else None,
        aperture=setup.aperture if stand.aperture is None else stand.aperture,
    )


def flash_of_density(
    paper: Paper, stand: EnlargerStand, density: float, light: Literal["soft", "hard"] = "soft"
) -> FlashAsk:
    """Return the flash that prints as this density over white by itself, in the print's seconds, to 0.01 s.

    Raises:
        Impossible: it would be shorter than a light can be, or the libraries are not installed.
    """
    from controller.paper.paper import seconds_factor

    with with_libraries():
        from controller.paper.flash import most_seconds

        factor, _ = seconds_factor(paper, stand.magnification, stand.aperture)
        seconds = Decimal(int(most_seconds(paper, light, density) * factor * 100)) / 100
    if seconds < LEAST_SECONDS:
        raise Impossible(say("contrast.level-short", seconds=f"{seconds:.2f}"), ("flash",))
    return FlashAsk(seconds=seconds, filter=light)


def _factor(level: FlashLevel, stand: LevelStand) -> Fraction:
    """Return what a level's seconds are multiplied by at this stand; marked stops and (1 + m)², as everywhere."""
    factor, was = Fraction(1), level.stand
    if was.magnification is not None and stand.magnification is not None:
        factor *= Fraction(size_factor(Fraction(str(was.magnification)), Fraction(str(stand.magnification))))
    elif was.head_height_mm is None or stand.head_height_mm is None:
        raise Impossible(say("contrast.level-no-height", number=level.number), ("flash",))
    elif abs(was.head_height_mm - stand.head_height_mm) > NEARLY_MM:
        raise Impossible(
            say("contrast.level-height", was=f"{was.head_height_mm:g}", now=f"{stand.head_height_mm:g}"), ("flash",)
        )
    if was.aperture is None or stand.aperture is None:
        raise Impossible(say("contrast.level-no-aperture", number=level.number), ("flash",))
    return factor * Fraction(aperture_factor(was.aperture, stand.aperture))
