"""The next step's areas on the dark face: outlines on the image's frame, in the page's own red and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.picture.map_areas import map_letters
from controller.recipe.plan import StepKind

if TYPE_CHECKING:
    from controller.daemon.desk import Desk
    from controller.foot.status import Status
    from controller.picture.map_areas import PrintAreas
    from controller.recipe.plan import Step

SIDE: Final = 240.0
"""Units of the frame's longer side."""
_MORE: Final = frozenset({StepKind.BURN, StepKind.EDGE})


@dataclass(frozen=True, slots=True)
class Shape:
    """One area: its letter with its sign, its outline as SVG has it, and where the letter stands."""

    letter: str
    sign: str
    """"+" for more light, "−" for less."""
    points: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class StepMap:
    """The frame and what lies on it, in units."""

    wide: float
    high: float
    shapes: tuple[Shape, ...]

    @property
    def letters(self) -> str:
        """Every letter on it, once."""
        return ", ".join(dict.fromkeys(shape.letter for shape in self.shapes))


def step_map_of(status: Status, of: Desk) -> StepMap | None:
    """Return the outlines of the step that comes next; None where it works on no area, or none is drawn."""
    plan, coming = status.plan, status.next
    if plan is None or coming is None or plan.kind != "recipe":
        return None
    step = next((each for each in plan.steps if each.number == coming.number), None)
    if step is None or not map_letters([step]):
        return None
    areas = of.previews().maps.of_plan(plan)
    return drawn(areas, step) if areas is not None else None


def drawn(areas: PrintAreas, step: Step) -> StepMap | None:
    """Return a step's outlines on the frame of its print; None where none of them is known."""
    scale = SIDE / max(areas.across, areas.down)
    wide, high = areas.across * scale, areas.down * scale
    masks = set(step.in_place) - {step.area}
    letters, shapes = map_letters([step]), []
    for letter, outline in areas.outlines:
        if letter in letters:
            more = step.act in _MORE and letter not in masks
            x, y = (sum(of) / len(outline) for of in zip(*outline, strict=True))
            points = " ".join(f"{across * wide:.1f},{down * high:.1f}" for across, down in outline)
            # a letter stands within its frame, whole
            stands = min(max(x * wide, 24.0), wide - 24.0), min(max(y * high, 18.0), high - 18.0)
            shapes.append(Shape(letter, "+" if more else "−", points, *(round(each, 1) for each in stands)))
    return StepMap(round(wide, 1), round(high, 1), tuple(shapes)) if shapes else None
