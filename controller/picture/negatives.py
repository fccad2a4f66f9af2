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
"""Base and fog of sheet film."""
ROLL_DENSITY: Final = 0.30
"""Base and fog of a roll film with a grey base."""
FILM_MARGIN_MM: Final = 2.0
"""Clear film round the frame, on each side: the rebate."""
ROLL_MARGIN_MM: Final = 1.0
"""Half of what lies between two frames of a roll, and as much as its carrier leaves open round one."""
SHEET_MM: Final = (120.0, 96.0)
"""The image of a 4×5 in negative, lying."""
ROLL_MM: Final = (36.0, 24.0)
"""A frame of 35 mm film."""


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
    margin_mm: float = FILM_MARGIN_MM
    """Of clear film on each side of the picture."""
    edge: str = ""
    """What is exposed on a roll's edge beside it: its number. Empty for a sheet, which lies by itself."""

    @property
    def film_mm(self) -> tuple[float, float]:
        """Width and height of the film with its rebate, as the carrier shows it."""
        return self.frame_mm[0] + 2 * self.margin_mm, self.frame_mm[1] + 2 * self.margin_mm

    @property
    def of_a_roll(self) -> bool:
        """Whether it is a frame of 35 mm film, which lies on a proof as a strip with its neighbours."""
        return bool(self.edge)

    def tone(self, name: str) -> Tone:
        """Return a named tone; `KeyError` where the negative has none of that name."""
        return next((tone for tone in self.tones if tone.name == name), None) or _no_tone(name)


def _no_tone(name: str) -> Tone:
    raise KeyError(name)


SHEETS: Final = ("crane", "slip", "platform", "fence")
"""The invented sheets of 4×5 in: harbour crane, boat slip, empty platform in fog, frost on a fence."""
ROLL: Final = (
    *("lighthouse", "pier", "hills", "viaduct", "oak", "birches"),
    *("fronts", "street", "roofs", "cloister", "jug", "cups"),
)
"""The invented frames of 35 mm film, in their order on it."""
INVENTED: Final = (*SHEETS, *ROLL)
"""The invented negatives, by their short names."""
