"""Invented negatives, drawn at any size from fixed seeds: here four sheets of 4×5, a harbour crane, a boat slip …

`python -m controller.picture.invented FOLDER` writes them as 16-bit pictures. Densities of the crane: the demo
figures. Drawing loads numpy and Pillow; asking what there is, and where its areas lie, does not.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

from controller.errors import NotThere
from controller.picture.negatives import INVENTED, SHEET_MM, Area, Negative, Tone
from controller.picture.roll import ROLL_NEGATIVES
from controller.words import say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Densities = NDArray[np.float32]


def _across(name: str, density: float, y: float, x: float = 0.5) -> Tone:
    return Tone(name, density, x, y, left=0.0, right=1.0)


CRANE: Final = (
    _across("sky", 1.45, 0.08),
    _across("cloud", 1.25, 0.22),
    _across("steel", 0.70, 0.425),
    _across("under_cab", 0.22, 0.635, 0.52),
    _across("quay", 0.95, 0.75),
    _across("stones", 0.55, 0.90),
)
SLIP: Final = (
    _across("sky", 1.35, 0.07),
    Tone("water", 1.05, 0.25, 0.30, left=0.0, right=0.46),
    _across("planks", 0.62, 0.74),
    Tone("hull", 0.34, 0.52, 0.54, left=0.42, right=0.62),
    _across("shade", 0.20, 0.95),
)
PLATFORM: Final = (
    Tone("fog", 1.18, 0.70, 0.15, left=0.42, right=1.0),
    Tone("far_end", 0.98, 0.80, 0.46, left=0.62, right=1.0),
    _across("paving", 0.66, 0.72),
    _across("track", 0.28, 0.93),
)
FENCE: Final = (
    _across("snow", 1.42, 0.93),
    Tone("field", 1.02, 0.50, 0.62, left=0.33, right=0.67),
    Tone("wood", 0.45, 0.50, 0.20, left=0.33, right=0.67),
    Tone("post", 0.24, 0.25, 0.45, left=0.215, right=0.285),
)
AREAS: Final = {
    "crane": (
        Area("A", ((-0.2, -0.2), (1.2, -0.2), (1.2, 0.37), (-0.2, 0.37))),
        Area("B", ((-0.2, 0.81), (1.2, 0.81), (1.2, 1.2), (-0.2, 1.2))),
        Area("C", ((0.28, 0.55), (0.76, 0.55), (0.76, 0.71), (0.28, 0.71))),
    ),
    "slip": (
        Area("A", ((-0.2, -0.2), (1.2, -0.2), (1.2, 0.16), (-0.2, 0.16))),
        Area("B", ((0.3, 0.42), (0.72, 0.42), (0.72, 0.64), (0.3, 0.64))),
        Area("C", ((-0.2, 0.88), (1.2, 0.88), (1.2, 1.2), (-0.2, 1.2))),
    ),
    "platform": (
        Area("A", ((-0.2, -0.2), (1.2, -0.2), (1.2, 0.36), (-0.2, 0.36))),
        Area("B", ((-0.2, 0.58), (1.2, 0.58), (1.2, 0.82), (-0.2, 0.82))),
        Area("C", ((-0.2, 0.85), (1.2, 0.85), (1.2, 1.2), (-0.2, 1.2))),
    ),
    "fence": (
        Area("A", ((-0.2, 0.82), (1.2, 0.82), (1.2, 1.2), (-0.2, 1.2))),
        Area("B", ((-0.2, 0.10), (1.2, 0.10), (1.2, 0.30), (-0.2, 0.30))),
        Area("C", ((0.15, 0.05), (0.35, 0.05), (0.35, 0.85), (0.15, 0.85))),
    ),
}


def _crane(height: int, width: int) -> NDArray[np.float32]:
    import numpy as np

    from controller.picture.pencils import Sheet

    sheet = Sheet(height, width, 1.45)
    air = sheet.noise(11, 5)
    sheet.densities += 0.03 * air
    clouds = sheet.band(0.15, 0.29, 0.035).times(np.clip(1.0 + 0.5 * air, 0.0, 1.0))
    sheet.lay(clouds, 1.25 + 0.03 * sheet.noise(12, 12))
    sheet.lay(sheet.band(0.50, 0.60, 0.01), 1.08 + 0.05 * sheet.noise(13, 20))
    sheet.lay(sheet.band(0.40, 0.45), 0.70)
    for n in range(16):  # the truss over the bridge, and the legs under it
        left = n / 16
        sheet.lay(sheet.line(left, 0.40, left + 1 / 32, 0.345, 0.006), 0.72)
        sheet.lay(sheet.line(left + 1 / 32, 0.345, left + 1 / 16, 0.40, 0.006), 0.72)
    sheet.lay(sheet.band(0.338, 0.350), 0.72)
    for x in (0.17, 0.83):
        sheet.lay(sheet.line(x, 0.45, x - 0.02, 0.60, 0.018), 0.66)
        sheet.lay(sheet.line(x, 0.45, x + 0.02, 0.60, 0.018), 0.74)
    sheet.lay(sheet.box(0.46, 0.45, 0.60, 0.55), 0.62)
    sheet.lay(sheet.box(0.475, 0.465, 0.53, 0.505), 1.15)
    sheet.lay(sheet.line(0.72, 0.45, 0.72, 0.56, 0.004), 0.5)
    sheet.lay(sheet.band(0.59, 0.68, 0.006), 0.22 + 0.04 * sheet.noise(14, 30))
    sheet.lay(sheet.band(0.68, 0.81, 0.006), 0.95 + 0.06 * sheet.noise(15, 40))
    grain = sheet.noise(16, 32, 3)
    sheet.lay(sheet.band(0.81, 1.1, 0.008), 0.55 + 0.22 * grain)
    sheet.lay(sheet.band(0.82, 1.1, 0.02).times(np.clip(3.0 * grain - 2.4, 0.0, 1.0)), 1.30)
    return sheet.finished(CRANE)


def _slip(height: int, width: int) -> NDArray[np.float32]:
    import numpy as np

    from controller.picture.pencils import Sheet

    sheet = Sheet(height, width, 1.35)
    sheet.densities += 0.03 * sheet.noise(21, 4)
    sheet.lay(sheet.band(0.14, 0.19, 0.01), 0.85 + 0.08 * sheet.noise(22, 24))
    ripple = np.sin(180.0 * sheet.y**1.5 + 3.0 * sheet.noise(23, 8))
    sheet.lay(sheet.band(0.19, 0.60, 0.008), 1.05 + 0.10 * ripple.astype(np.float32))
    planks = 0.62 + 0.06 * sheet.noise(24, 16) + 0.05 * np.sign(np.sin(60.0 * np.pi * sheet.x)).astype(np.float32)
    sheet.lay(sheet.band(0.60, 0.88, 0.006), planks)
    sheet.lay(sheet.line(0.30, 0.50, 0.74, 0.50, 0.05), 0.34)
    sheet.lay(sheet.line(0.36, 0.55, 0.68, 0.55, 0.06), 0.34)
    sheet.lay(sheet.line(0.28, 0.475, 0.76, 0.475, 0.008), 1.20)
    sheet.lay(sheet.line(0.52, 0.48, 0.52, 0.12, 0.006), 0.40)
    sheet.lay(sheet.band(0.88, 1.1, 0.012), 0.20 + 0.04 * sheet.noise(25, 20))
    return sheet.finished(SLIP)


def _platform(height: int, width: int) -> NDArray[np.float32]:
    from controller.picture.pencils import Sheet

    sheet = Sheet(height, width, 1.18)
    fog = sheet.noise(31, 4)
    sheet.densities += 0.05 * fog
    sheet.lay(sheet.band(0.40, 0.58, 0.06), 0.98 + 0.03 * fog)
    for n, x in enumerate((0.12, 0.30, 0.44, 0.54)):
        near = 1.0 - 0.22 * n
        sheet.lay(sheet.line(x, 0.58, x, 0.58 - 0.42 * near, 0.010 * near), 0.45 + 0.16 * n)
        sheet.lay(sheet.disc(x, 0.58 - 0.42 * near, 0.030 * near, 0.04 * near), 1.70)
    sheet.lay(sheet.band(0.58, 0.83, 0.02), 0.66 + 0.04 * sheet.noise(32, 28))
    sheet.lay(sheet.box(0.62, 0.55, 0.82, 0.59), 0.36)
    sheet.lay(sheet.box(0.64, 0.59, 0.66, 0.64), 0.36)
    sheet.lay(sheet.box(0.78, 0.59, 0.80, 0.64), 0.36)
    sheet.lay(sheet.band(0.83, 0.86, 0.003), 1.15)
    sheet.lay(sheet.band(0.86, 1.1, 0.004), 0.28 + 0.05 * sheet.noise(33, 40))
    sheet.lay(sheet.band(0.965, 0.975, 0.002), 0.95)
    return sheet.finished(PLATFORM)


def _fence(height: int, width: int) -> NDArray[np.float32]:
    import numpy as np

    from controller.picture.pencils import Sheet

    sheet = Sheet(height, width, 1.02)
    sheet.densities += 0.08 * sheet.noise(41, 6)
    for y in (0.20, 0.36, 0.52):
        sheet.lay(sheet.band(y - 0.035, y + 0.035, 0.004), 0.45 + 0.06 * sheet.noise(int(100 * y), 40))
        rime = np.clip(1.4 * sheet.noise(int(300 * y), 60, 3) + 0.3, 0.0, 1.0)
        sheet.lay(sheet.band(y - 0.052, y - 0.030, 0.008).times(rime), 1.55)
    for x in (0.25, 0.75):
        sheet.lay(sheet.box(x - 0.04, 0.08, x + 0.04, 0.85, 0.004), 0.24 + 0.04 * sheet.noise(42, 50))
        sheet.lay(sheet.box(x - 0.046, 0.06, x + 0.046, 0.085, 0.006), 1.60)
    needles = np.clip(2.2 * sheet.noise(43, 80, 3) - 1.2, 0.0, 1.0)
    sheet.lay(sheet.band(0.0, 0.86, 0.02).times(needles), 1.50)
    sheet.lay(sheet.band(0.86, 1.1, 0.03), 1.42 + 0.03 * sheet.noise(44, 10))
    return sheet.finished(FENCE)


def _made(name: str, tones: tuple[Tone, ...], draw: Callable[[int, int], NDArray[np.float32]]) -> Negative:
    return Negative(name, say(f"picture.negative-{name}"), SHEET_MM, draw, tones, AREAS[name])


NEGATIVES: Final[dict[str, Callable[[], Negative]]] = {
    "crane": lambda: _made("crane", CRANE, _crane),
    "slip": lambda: _made("slip", SLIP, _slip),
    "platform": lambda: _made("platform", PLATFORM, _platform),
    "fence": lambda: _made("fence", FENCE, _fence),
    **ROLL_NEGATIVES,
}

MOST_DENSITY: Final = 3.0


def write_all(folder: Path, height: int = 960, width: int = 1200) -> None:
    """Write each as a 16-bit grey PNG of densities: black is none, white is 3.0."""
    import numpy as np
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    for name, make in NEGATIVES.items():
        # a frame keeps its own proportions
        levels = np.round(make().draw(height, width) / MOST_DENSITY * 65535.0).astype(np.uint16)
        Image.fromarray(levels).save(folder / f"{name}.png")


if __name__ == "__main__":
    write_all(Path(sys.argv[1] if len(sys.argv) > 1 else "negatives"))


def invented(name: str) -> Negative:
    """Return an invented negative by its short name.

    Raises:
        NotThere: there is none of that name; the sentence says which there are.
    """
    if name not in INVENTED:
        raise NotThere(say("picture.negative-unknown", negative=name))
    return NEGATIVES[name]()
