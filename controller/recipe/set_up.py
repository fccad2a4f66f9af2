"""How a print is set up: the head, the lens, the carrier, the easel. What a recipe says of it, and how it stands. Pure.

A recipe need not say all of it. What it leaves open is as it stands at the enlarger, and what is nowhere known is asked
of nobody: a sheet asks for its set-up only where it says other than what is known to stand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Self

from pydantic import Field

from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger, Label
from controller.words import say

if TYPE_CHECKING:
    from controller.recipe.recipe import Recipe
    from controller.recipe.strip import Strip

NEARLY_MM: Final = 0.5
"""The column's scale, and the easel's, are not read closer."""
NEARLY: Final = 0.01
"""Share by which two figures may differ that are meant to be one."""


def _nothing(value: object) -> bool:
    return value is None or value == ""


class SetUp(Frozen):
    """How a print is set up; what is not known is None or empty, and left out where it is written."""

    head_height_mm: float | None = Field(default=None, ge=0.0, le=10000.0, exclude_if=_nothing)
    """What the column's scale reads, in mm."""
    aperture: float | None = Field(default=None, ge=0.5, le=128.0, exclude_if=_nothing)
    """The f-number as marked on the lens's ring."""
    focal_mm: float | None = Field(default=None, ge=0.1, le=10000.0, exclude_if=_nothing)
    format: Label = Field(default="", exclude_if=_nothing)
    """The carrier's, as the trade writes it: "24x36", "6x6", "4x5"."""
    image_mm: tuple[float, float] | None = Field(default=None, exclude_if=_nothing)
    """What the easel's blades leave open, the longer side first."""
    magnification: float | None = Field(default=None, ge=0.01, le=200.0, exclude_if=_nothing)
    """Of the image on the easel: 2 is twice the negative's size."""

    @classmethod
    def of_written(cls, written: Recipe | Strip) -> Self:
        """Return what a recipe or strip says of it."""
        lens, negative = written.lens, written.negative
        image = getattr(written, "image_mm", None)  # a strip has none: it is a part of the print
        return cls(
            head_height_mm=_figure(written.head_height_mm),
            aperture=None if lens is None else _figure(lens.aperture),
            focal_mm=None if lens is None else _figure(lens.focal_mm),
            format="" if negative is None else negative.format or "",
            image_mm=None if image is None else (float(image[0]), float(image[1])),
            magnification=_figure(written.magnification),
        )

    @classmethod
    def of_bench(cls, bench: AtEnlarger) -> Self:
        """Return what is known of it at the enlarger."""
        return cls(
            head_height_mm=bench.head_height_mm,
            aperture=bench.aperture,
            focal_mm=bench.focal_mm,
            format=bench.negative_format,
            magnification=bench.magnification,
        )

    @property
    def bare(self) -> bool:
        """Whether nothing is known of it."""
        return self == SetUp()

    def over(self, other: SetUp) -> SetUp:
        """Return this set-up, with what it does not say as `other` has it.

        Where this one says another size, that of `other` belongs to it no more: its height, magnification, easel.
        """
        taken = other.model_dump(exclude_defaults=True)
        if self._other_size(other):
            taken = {name: value for name, value in taken.items() if name not in _SIZE}
        return SetUp.model_validate(taken | self.model_dump(exclude_defaults=True))

    def _other_size(self, other: SetUp) -> bool:
        if self.head_height_mm is not None and not _near(self.head_height_mm, other.head_height_mm):
            return True
        if self.magnification is not None and not _like(self.magnification, other.magnification):
            return True
        return None not in (self.focal_mm, other.focal_mm) and not _like(self.focal_mm, other.focal_mm)

    def to_be_made(self, stands: SetUp | None) -> bool:
        """Tell whether it says anything other than what is known to stand; None: nothing is known."""
        known = stands or SetUp()
        return not (
            _near(self.head_height_mm, known.head_height_mm)
            and (self.head_height_mm is not None or _like(self.magnification, known.magnification))
            and _like(self.aperture, known.aperture)
            and _like(self.focal_mm, known.focal_mm)
            and (not self.format or self.format == known.format)
            and (self.image_mm is None or known.image_mm is not None)
            and all(_near(*pair) for pair in zip(self.image_mm or (), known.image_mm or (), strict=False))
        )

    def told(self, before: AtEnlarger, after: AtEnlarger) -> SetUp:
        """Return how it stands once the printer has said so of the enlarger.

        Nothing is known any more of an easel that was set for another size.
        """
        was, now = (dict(SetUp.of_bench(bench)) for bench in (before, after))
        changes = {name: value for name, value in now.items() if value != was[name]}
        if changes.keys() & _SIZE:
            changes["image_mm"] = None
        return self.model_copy(update=changes)

    def on(self, bench: AtEnlarger) -> AtEnlarger:
        """Return what stands at the enlarger once this is set up there; which negative it is stays as it was said."""
        figures = {name: getattr(self, name) for name in ("head_height_mm", "aperture", "focal_mm", "magnification")}
        return bench.model_copy(update=figures)

    @property
    def parts(self) -> tuple[str, ...]:
        """What is set, each in words as it is read in the dark: head, lens stopped down to, lens, carrier, easel."""
        image = self.image_mm or (None, None)
        said = (
            ("foot.set-up-head", {"mm": self.head_height_mm}),
            ("foot.set-up-aperture", {"aperture": self.aperture}),
            ("foot.set-up-lens", {"mm": self.focal_mm}),
            ("foot.set-up-carrier", {"format": self.format or None}),
            ("foot.set-up-easel", {"long": image[0], "short": image[1]}),
            ("foot.set-up-magnification", {"times": self.magnification if self.head_height_mm is None else None}),
        )
        return tuple(
            say(key, **{name: _text(value) for name, value in values.items()})
            for key, values in said
            if None not in values.values()
        )

    @property
    def words(self) -> str:
        """All of it in one line: "head 620 · f/8 · 150 mm · 4x5 carrier · easel 240 × 192"."""
        return " · ".join(self.parts)


_SIZE: Final = frozenset({"head_height_mm", "magnification", "image_mm", "focal_mm"})


def _figure(value: object) -> float | None:
    return None if value is None else float(str(value))


def _text(value: float | str | None) -> str:
    """Return a figure as one would have typed it: 8, not 8.0."""
    return f"{value:.3f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def _near(wanted: float | None, stands: float | None) -> bool:
    return wanted is None or (stands is not None and abs(wanted - stands) < NEARLY_MM)


def _like(wanted: float | None, stands: float | None) -> bool:
    return wanted is None or (stands is not None and abs(wanted - stands) <= NEARLY * stands)
