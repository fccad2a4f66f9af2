"""Which negative lies in the practice darkroom's carrier, or on its paper: the one that stands at the enlarger.

What the printer chose on the practice page goes before it; where neither says, what the recipe names counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, Protocol

from controller.model import Frozen
from controller.picture.contact_sheets import CONTACT_SHEETS, contact_sheet, lying_on, sheet_with
from controller.picture.negatives import INVENTED
from controller.picture.scene import HeldTool, held_tools
from controller.recipe.recipe import Recipe
from controller.words import say

if TYPE_CHECKING:
    from controller.recipe.plan import Plan
    from controller.recipe.strip import Strip

CARRIER: Final = "carrier"
"""Chosen on the practice page: whichever stands at the enlarger."""
FIRST: Final = "crane"
"""Where nobody says which."""
_PROOF_TEMPLATE: Final = "proof"


class Standing(Protocol):
    """What is told of how things stand at the enlarger; empty or None where it is not known."""

    @property
    def negative(self) -> str:
        """Which is in the carrier, "SET:FRAME"."""

    @property
    def negative_title(self) -> str:
        """What it is called."""

    @property
    def negative_format(self) -> str:
        """Its format, "24x36" or "4x5"."""

    @property
    def magnification(self) -> float | None:
        """Of its picture on the easel."""

    @property
    def aperture(self) -> float | None:
        """The f-number."""

    @property
    def focal_mm(self) -> float | None:
        """Of the lens."""


class InCarrier(Frozen):
    """What lies there, and what is known of how the enlarger stands for it."""

    name: str = FIRST
    """A negative's short name, that of a whole contact sheet on the paper, or "own"."""
    magnification: float | None = None
    aperture: float | None = None
    focal_mm: float | None = None
    second: str = ""
    """The short name of what lies in carrier B, or "own"; empty where the sheet is printed from one negative."""
    tools: tuple[HeldTool, ...] = ()
    """The recipe's tools, as far as it says how they are shaped."""

    @property
    def lens(self) -> dict[str, float]:
        """What is known of the lens, by the names of `controller.picture.scene.Enlarger`."""
        known = {"aperture": self.aperture, "focal_mm": self.focal_mm}
        return {name: value for name, value in known.items() if value is not None}

    @property
    def title(self) -> str:
        """What it is called."""
        return say(f"practice.negative-{self.name}")


def negative_of(
    plan: Plan | None,
    written: Recipe | Strip | None = None,
    chosen: str = CARRIER,
    standing: Standing | None = None,
    second: str = "",
) -> InCarrier:
    """Return what lies in the carrier for a plan, or on its paper.

    `written` is what the plan was made of, `chosen` what is chosen on the practice page. What stood at the enlarger
    is in the plan; `standing` is what stands there where no plan is chosen. A proof is of the whole contact sheet.
    `second` is what is chosen for carrier B, which counts where the plan asks for it.
    Size and lens of the enlarger count for a negative of the format that stands there.
    """
    bench: Standing | None = getattr(plan, "bench", None) or standing
    named = "" if written is None or written.negative is None else written.negative.name
    name = chosen
    if chosen == CARRIER:
        name = (_standing(bench) if bench else "") or short_name(named) or FIRST
    template = getattr(plan.strip, "template", None) if plan is not None and plan.strip is not None else None
    sheet = sheet_with(name)
    if sheet is not None and (template == _PROOF_TEMPLATE or _same(named, sheet.title)):
        name = sheet.name
    found = InCarrier(name=name, second=second if uses_b(plan) else "", tools=_tools(written))
    if bench is None or not _fits(bench, name):
        return found
    known = {"magnification": bench.magnification, "aperture": bench.aperture, "focal_mm": bench.focal_mm}
    return found.model_copy(update=known)


def uses_b(plan: Plan | None) -> bool:
    """Tell whether a plan has light through a second negative, in carrier B."""
    return plan is not None and any(
        step.carrier == "B" or any(ask.carrier == "B" for ask in step.asks) for step in plan.steps
    )


def _tools(written: Recipe | Strip | None) -> tuple[HeldTool, ...]:
    return held_tools(written) if isinstance(written, Recipe) else ()


def mapped(written: Recipe, chosen: str, lies: InCarrier) -> str:
    """Return the short name of the negative that a recipe's printing map is of: its own, before what lies there."""
    named = "" if written.negative is None else short_name(written.negative.name)
    return named if chosen == CARRIER and named else lies.name


def short_name(title: str) -> str:
    """Return the short name of the invented negative or contact sheet of this title; empty where there is none."""
    return next((name for name, known in _titles() if _same(title, known)), "")


def _standing(bench: Standing) -> str:
    found = lying_on(bench.negative)
    if found is None:
        # one without a reference is only named; one of a set of the printer's own is none of ours
        return "" if bench.negative else short_name(bench.negative_title)
    sheet, negative = found
    return negative or sheet.name


def _fits(bench: Standing, name: str) -> bool:
    """Tell whether how the enlarger stands is meant for this negative: it is of the format that stands there."""
    sheet, found = contact_sheet(name) or sheet_with(name), lying_on(bench.negative)
    stands = found[0].frame_format if found else bench.negative_format
    return sheet is None or not stands or stands.replace("×", "x") == sheet.frame_format


def _titles() -> Iterator[tuple[str, str]]:
    for name in INVENTED:
        yield name, say(f"picture.negative-{name}")
    for sheet in CONTACT_SHEETS:
        yield sheet.name, sheet.title


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.casefold() != ""
