"""The invented frames of 35 mm film: what each is of, how it was exposed and developed, its tones and its areas.

Naming them loads neither numpy nor Pillow; drawing one does.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from controller.picture.negatives import ROLL, ROLL_DENSITY, ROLL_MARGIN_MM, ROLL_MM, Area, Negative, Outline, Tone
from controller.words import say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from controller.picture.brushes import Canvas

GRAIN: Final = 0.022
"""Density: how far grain goes either way in a tone of density 1."""
_GRAINS: Final = 640
"""Across the frame."""


@dataclass(frozen=True)
class Taken:
    """How a frame was made: stops over the meter, how steep it was developed (normal: 0.635), and what is on it."""

    over: float
    gradient: float
    tones: tuple[Tone, ...]
    areas: tuple[Area, ...]


def _spot(name: str, density: float, x: float, y: float) -> Tone:
    return Tone(name, density, x, y, left=x - 0.03, right=x + 0.03)


def _line(name: str, density: float, x: float, y: float, half: float = 0.022) -> Tone:
    """Return a tone of something narrow."""
    return Tone(name, density, x, y, left=x - half, right=x + half, half_height=0.004)


def _box(letter: str, left: float, top: float, right: float, bottom: float) -> Area:
    outline: Outline = ((left, top), (right, top), (right, bottom), (left, bottom))
    return Area(letter, outline)


NORMAL: Final = 0.635
TAKEN: Final[dict[str, Taken]] = {
    "lighthouse": Taken(
        0.0,
        NORMAL,
        (_spot("sky", 1.54, 0.80, 0.55), _spot("sea", 1.10, 0.62, 0.72), _spot("heather", 0.77, 0.40, 0.86)),
        (_box("A", -0.2, -0.2, 1.2, 0.50), _box("B", -0.2, 0.62, 0.45, 1.2), _box("C", 0.24, 0.12, 0.36, 0.52)),
    ),
    "pier": Taken(
        -1.2,
        0.60,
        (_spot("sky", 1.08, 0.80, 0.36), _spot("sea", 0.77, 0.45, 0.93), _line("beam", 0.38, 0.533, 0.696)),
        (_box("A", -0.2, -0.2, 1.2, 0.40), _box("B", -0.2, 0.70, 1.2, 1.2), _box("C", 0.05, 0.30, 0.95, 0.95)),
    ),
    "hills": Taken(
        -1.7,
        0.52,
        (_spot("sky", 0.88, 0.70, 0.20), _spot("ridge", 0.68, 0.83, 0.66), _spot("firs", 0.44, 0.05, 0.945)),
        (_box("A", -0.2, -0.2, 1.2, 0.38), _box("B", -0.2, 0.82, 1.2, 1.2), _box("C", -0.2, 0.55, 0.45, 0.98)),
    ),
    "viaduct": Taken(
        0.0,
        NORMAL,
        (_spot("sky", 1.49, 0.25, 0.10), _line("parapet", 1.37, 0.71, 0.338), _spot("bank", 0.80, 0.50, 0.757)),
        (_box("A", -0.2, -0.2, 1.2, 0.33), _box("B", -0.2, 0.76, 1.2, 1.2), _box("C", -0.2, 0.34, 1.2, 0.74)),
    ),
    "oak": Taken(
        -0.3,
        0.80,
        (_spot("sky", 1.84, 0.85, 0.60), _spot("meadow", 0.74, 0.80, 0.90), _line("trunk", 0.44, 0.42, 0.785)),
        (_box("A", -0.2, -0.2, 1.2, 0.72), _box("B", -0.2, 0.80, 1.2, 1.2), _box("C", 0.34, 0.50, 0.48, 0.82)),
    ),
    "birches": Taken(
        2.0,
        NORMAL,
        (_spot("snow", 1.98, 0.54, 0.90), _spot("sky", 1.76, 0.36, 0.26), _spot("wood", 1.42, 0.45, 0.45)),
        (_box("A", -0.2, 0.62, 1.2, 1.2), _box("B", -0.2, -0.2, 1.2, 0.30), _box("C", 0.35, 0.25, 0.75, 0.66)),
    ),
    "fronts": Taken(
        0.0,
        NORMAL,
        (_line("cornice", 1.43, 0.40, 0.042), _spot("pavement", 1.18, 0.50, 0.93), _line("door", 0.56, 0.198, 0.843)),
        (_box("A", -0.2, -0.2, 1.2, 0.12), _box("B", 0.23, 0.03, 0.55, 0.90), _box("C", 0.52, 0.10, 0.78, 0.90)),
    ),
    "street": Taken(
        -0.2,
        0.80,
        (_line("lamp", 2.27, 0.709, 0.102, 0.012), _spot("night", 0.44, 0.50, 0.06), _spot("road", 0.32, 0.57, 0.93)),
        (_box("A", -0.2, -0.2, 1.2, 0.30), _box("B", -0.2, 0.20, 0.35, 0.75), _box("C", 0.30, 0.60, 0.80, 1.2)),
    ),
    "roofs": Taken(
        -0.5,
        0.75,
        (_spot("sky", 1.45, 0.50, 0.28), _spot("roof", 0.43, 0.12, 0.80), _spot("shade", 0.33, 0.50, 0.95)),
        (_box("A", -0.2, -0.2, 1.2, 0.40), _box("B", -0.2, 0.62, 1.2, 1.2), _box("C", 0.30, 0.40, 0.70, 0.80)),
    ),
    "cloister": Taken(
        1.0,
        NORMAL,
        (_spot("court", 1.87, 0.87, 0.40), _spot("flags", 1.54, 0.495, 0.892), _spot("vault", 0.70, 0.42, 0.045)),
        (_box("A", 0.56, 0.15, 1.2, 0.80), _box("B", -0.2, -0.2, 0.36, 1.2), _box("C", 0.15, 0.62, 0.85, 1.2)),
    ),
    "jug": Taken(
        0.0,
        NORMAL,
        (_line("window", 1.83, 0.028, 0.15), _spot("wall", 0.88, 0.40, 0.12), _spot("corner", 0.48, 0.94, 0.15)),
        (_box("A", -0.2, -0.2, 0.16, 0.62), _box("B", 0.60, -0.2, 1.2, 0.70), _box("C", -0.2, 0.70, 1.2, 1.2)),
    ),
    "cups": Taken(
        0.8,
        0.55,
        (_line("shelf", 1.18, 0.50, 0.469), _spot("wall", 1.14, 0.21, 0.10), _spot("shade", 0.85, 0.91, 0.53)),
        (_box("A", -0.2, -0.2, 0.5, 1.2), _box("B", 0.5, -0.2, 1.2, 1.2), _box("C", 0.15, 0.60, 0.55, 0.95)),
    ),
}


@dataclass(frozen=True)
class _Frame:
    """Draws one frame; two are the same where their names are."""

    name: str

    def __call__(self, height: int, width: int) -> NDArray[np.float32]:
        import numpy as np

        from controller.picture.brushes import Canvas
        from controller.picture.film import Film
        from controller.picture.pencils import Sheet

        taken = TAKEN[self.name]
        canvas = Canvas(height, width, ROLL_MM[0] / ROLL_MM[1])
        _scene(self.name)(canvas)
        density = Film(ROLL_DENSITY, taken.gradient).density(canvas.stops, taken.over)
        sheet = Sheet(height, width, 0.0)
        sheet.densities = density
        if 2 * width > _GRAINS:  # in a smaller picture no grain is seen
            grain = canvas.noise(400 + ROLL.index(self.name), _GRAINS, _GRAINS * 2 // 3, 1)
            sheet.densities = density + np.float32(GRAIN) * grain * np.sqrt(density)
        return np.maximum(sheet.finished(taken.tones), np.float32(ROLL_DENSITY))


def _scene(name: str) -> Callable[[Canvas], None]:
    from controller.picture import by_water, in_town, indoors, on_tables, outdoors

    return {
        "lighthouse": outdoors.lighthouse,
        "street": in_town.street,
        "pier": by_water.pier,
        "viaduct": by_water.viaduct,
        "roofs": in_town.roofs,
        "cups": on_tables.cups,
        "jug": on_tables.jug,
        "birches": outdoors.birches,
        "hills": outdoors.hills,
        "fronts": in_town.fronts,
        "oak": outdoors.oak,
        "cloister": indoors.cloister,
    }[name]


def _negative(name: str) -> Negative:
    taken = TAKEN[name]
    return Negative(
        name,
        say(f"picture.negative-{name}"),
        ROLL_MM,
        _Frame(name),
        taken.tones,
        taken.areas,
        ROLL_DENSITY,
        ROLL_MARGIN_MM,
        edge=str(ROLL.index(name) + 1),
    )


ROLL_NEGATIVES: Final[dict[str, Callable[[], Negative]]] = {name: partial(_negative, name) for name in ROLL}
