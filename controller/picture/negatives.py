"""A negative: a map of densities that can be drawn at any size, its named tones, and the areas of a printing map.

Places are shares of the frame, from its left and its top.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.words import say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Densities = NDArray[np.float32]

Draw = Callable[[int, int], "Densities"]
"""Height and width in pixels to a map of densities of that shape."""
Outline = tuple[tuple[float, float], ...]

REBATE_DENSITY: Final = 0.08
FILM_MARGIN_MM: Final = 2.0
"""Clear film round the frame, on each side: the rebate."""


@dataclass(frozen=True)
class Tone:
    """A tone with a name: where a densitometer would be put for it, and what it would say.

    At the height `y` it is the same from `left` to `right`, so that every band of a strip across it has it.
    """

    name: str
    density: float
    x: float
    y: float
    left: float
    right: float
    half_height: float = 0.008

    @property
    def words(self) -> str:
        """What a printer calls it."""
        return say(f"picture.tone-{self.name.replace('_', '-')}")


@dataclass(frozen=True)
class Area:
    """An area of the printing map: its letter and its outline."""

    letter: str
    outline: Outline


@dataclass(frozen=True)
class Negative:
    """A negative. Two are the same where their names are and they are drawn by the same function."""

    name: str
    title: str
    frame_mm: tuple[float, float]
    """Width and height of the picture on the film."""
    draw: Draw
    tones: tuple[Tone, ...] = ()
    areas: tuple[Area, ...] = ()
    rebate_density: float = REBATE_DENSITY

    @property
    def film_mm(self) -> tuple[float, float]:
        """Width and height of the film with its rebate."""
        return self.frame_mm[0] + 2 * FILM_MARGIN_MM, self.frame_mm[1] + 2 * FILM_MARGIN_MM

    def tone(self, name: str) -> Tone:
        """Return a named tone; `KeyError` where the negative has none of that name."""
        return next((tone for tone in self.tones if tone.name == name), None) or _no_tone(name)


def _no_tone(name: str) -> Tone:
    raise KeyError(name)


INVENTED: Final = ("crane", "slip", "platform", "fence")
"""The invented negatives, by their short names: harbour crane, boat slip, empty platform in fog, frost on a fence."""
