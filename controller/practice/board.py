"""What lies and stands on the practice darkroom's baseboard, as far as it was logged, and what is seen of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from controller.model import Frozen
from controller.picture.frames import frames_on, open_box, outlines_on
from controller.picture.scene import Scene, blades, fitting
from hardware.practice.log import CardMoved, DodgerMoved, Entry, NegativeMoved, OpalMoved, PaperMoved

if TYPE_CHECKING:
    from controller.picture.negatives import Negative
    from controller.practice.in_carrier import InCarrier
    from controller.practice.practice_scene import PracticeScene

PIXELS: Final = 60_000
_LETTERS: Final = "ABCDEFGH"

CardStand = tuple[Literal["cover", "uncover", "window"], int]


class Board(Frozen):
    """How things lie."""

    paper: bool = False
    negative: str = "A"
    """Which carrier is in; empty for none."""
    opal: bool = False
    tools: tuple[tuple[str, str], ...] = ()
    """(act, area) of what is held in the light."""
    card: CardStand | None = None


class Easel(Frozen):
    """What the easel leaves open: its shape, and the middles of the negative's areas, as shares of it."""

    across_by_down: float = 1.25
    middles: tuple[tuple[str, float, float], ...] = ()
    """(letter, from the left, from the top)."""


def board_of(log: Iterable[Entry]) -> Board:
    """Return how things lie after the log's last entry."""
    paper, negative, opal = False, "A", False
    tools: set[tuple[str, str]] = set()
    card: CardStand | None = None
    for entry in log:
        match entry:
            case PaperMoved(out=out):
                paper = out
            case NegativeMoved(inside=inside, which=which):
                negative = which if inside else ""
            case OpalMoved(inside=inside):
                opal = inside
            case DodgerMoved(area=area, act=act, inside=inside):
                (tools.add if inside else tools.discard)((act, area))
            case CardMoved(way=("cover" | "uncover" | "window") as way, place=place):
                card = None if place < 0 else (way, place)
            case _:
                pass
    return Board(paper=paper, negative=negative, opal=opal, tools=tuple(sorted(tools)), card=card)


def bare_scene(
    negatives: tuple[Negative, ...], chosen: PracticeScene, lies: InCarrier, second: Negative | None = None
) -> Scene:
    """Return the baseboard as it stands without a sheet's own sizes; `second` is the negative in carrier B."""
    single = len(negatives) == 1
    scene = Scene(negatives=negatives, way="enlargement" if single else "contact", pixels=PIXELS)
    size = lies.magnification or (fitting(negatives[0], scene.paper_mm) if single else None)
    known = lies.lens | ({} if size is None else {"magnification": size})
    stand = chosen.enlarger().model_copy(update=known)
    if single and any(frame * stand.magnification > paper + 1.0 for frame, paper in _sides(negatives[0], scene)):
        # a picture that is larger than the usual paper has an easel of its own size
        wide, high = (frame * stand.magnification for frame in negatives[0].frame_mm)
        scene = replace(scene, paper_mm=(wide, high))
    open_mm = blades(negatives[0], scene.paper_mm, stand.magnification) if single else None
    return chosen.lens_on(replace(scene, enlarger=stand, open_mm=open_mm, second=second, tools=lies.tools))


def _sides(negative: Negative, scene: Scene) -> Iterable[tuple[float, float]]:
    return zip(negative.frame_mm, scene.paper_mm, strict=True)


def easel_of(scene: Scene) -> Easel:
    """Return the easel of a baseboard."""
    left, top, right, bottom = open_box(scene)
    frames, middles = frames_on(scene), []
    for letter in dict.fromkeys((*_LETTERS, *(tool.letter for tool in scene.tools))):
        corners = outlines_on(letter, scene, frames)[0]
        x, y = (sum(of) / len(corners) for of in zip(*corners, strict=True))
        middles.append((letter, (x - left) / (right - left), (y - top) / (bottom - top)))
    return Easel(across_by_down=(right - left) / (bottom - top), middles=tuple(middles))
