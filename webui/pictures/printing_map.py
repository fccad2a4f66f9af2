"""The printing map: the sheet to scale with its burned edges, and a margin list of the areas by letter.

Hatched with + is more light, with − less; dots are soft and diagonals hard, so that the map survives red
light and a photocopier. Where an area lies on the print only the printer knows, and the middle stays empty,
but for a practice negative, whose areas are known: there they are outlined.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from controller.recipe.plan import Plan, Step, StepKind
from controller.words import say, say_many
from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, cut_to
from webui.pictures.map_outlines import MORE, draw_outlines, letters_of
from webui.pictures.strip import stops_text
from webui.wording import seconds

if TYPE_CHECKING:
    from controller.picture.map_areas import PrintAreas

_FRAME: Final = 92.0
_ROW: Final = 48.0
_TILE: Final = 30.0
_LOCAL: Final = MORE | {StepKind.PART, StepKind.RUNNING}


def local_steps(plan: Plan) -> tuple[Step, ...]:
    """Return the steps of a plan that belong to a part of the picture."""
    return tuple(step for step in plan.steps if step.act in _LOCAL)


def map_picture(
    plan: Plan,
    *,
    ident: str,
    image_mm: tuple[float, float] | None = None,
    areas: PrintAreas | None = None,
    face: Face = Face.DAY,
) -> Picture | None:
    """Draw the printing map of a plan; None where nothing is dodged or burned.

    `image_mm` is the print's width and height as it hangs; without it the frame is drawn 5 : 4.
    `areas` are its areas' outlines where they are known.
    """
    steps, masks = local_steps(plan), masks_in(plan)
    if not steps and not masks:
        return None
    drawing = Drawing(ident, face)
    edges = [step for step in steps if step.edge]
    if areas is not None and (edges or areas.outlines):
        top = _draw_key(drawing, steps, 0.0, draw_outlines(drawing, steps, areas, masks), less=bool(masks))
    else:
        top = _draw_head(drawing, steps, edges, image_mm or (5.0, 4.0), less=bool(masks))
    for row, step in enumerate(steps):
        _draw_row(drawing, step, top + row * _ROW)
    names = {tool.letter: tool.name for tool in plan.tools}
    for row, (letter, numbers) in enumerate(masks.items(), len(steps)):
        _draw_mask(drawing, letter, names.get(letter, ""), numbers, top + row * _ROW)
    count = len(steps) + len(masks)
    return drawing.finish(top + count * _ROW, say_many("shelf.map-label", count, title=plan.title))


def masks_in(plan: Plan) -> dict[str, str]:
    """Return the letters of what lies in lights that are not its own, each with the numbers of those steps."""
    lies = {tool.letter: [s.number for s in plan.steps if tool.letter in s.in_place] for tool in plan.tools}
    return {
        letter: ", ".join(map(str, numbers))
        for letter, numbers in lies.items()
        if numbers and not any(letter == step.area for step in plan.steps)
    }


def _draw_head(
    drawing: Drawing, steps: tuple[Step, ...], edges: list[Step], image_mm: tuple[float, float], *, less: bool
) -> float:
    """Draw the print with its burned edges where there are any, and the key to the hatches; return the foot."""
    left, foot = 0.0, 0.0
    if edges:
        foot = _draw_frame(drawing, edges, image_mm)
        left = _FRAME + 16
    return max(foot, _draw_key(drawing, steps, left, 0.0, less=less))


def _draw_key(drawing: Drawing, steps: tuple[Step, ...], left: float, top: float, *, less: bool) -> float:
    """Draw what the hatches mean, from `left` and `top`; `less` where a mask keeps light away. Return the foot."""
    signs = sorted({"+" if step.act in MORE else "−" for step in steps} | ({"−"} if less else set()))
    for row, sign in enumerate(signs):
        more = sign == "+"
        y = top + 5.0 + row * 22
        drawing.rect(left + 1, y, 24, 16, fill=drawing.hatch("+" if more else "−"), stroke=drawing.face.ink)
        drawing.text(left + 33, y + 12, say("shelf.map-more" if more else "shelf.map-less"), size=12)
    return top + 5.0 + len(signs) * 22 + 4


def _draw_frame(drawing: Drawing, edges: list[Step], image_mm: tuple[float, float]) -> float:
    """Draw the print with its burned edges hatched, and return its foot."""
    across, down = image_mm
    scale = (_FRAME - 2) / max(across, down)
    width, height = across * scale, down * scale
    depth = 0.2 * min(width, height)
    ink = drawing.face.ink
    drawing.rect(1, 5, width, height, stroke=ink, thick=1.5)
    boxes = {
        "top": (1.0, 5.0, width, depth),
        "bottom": (1.0, 5 + height - depth, width, depth),
        "left": (1.0, 5.0, depth, height),
        "right": (1 + width - depth, 5.0, depth, height),
    }
    for edge in dict.fromkeys(step.edge for step in edges if step.edge):
        drawing.rect(*boxes[edge], fill=drawing.hatch("+"), stroke=ink, thick=0.75, dash="3 2")
    return height + 8


def _draw_tile(drawing: Drawing, letter: str, sign: str, top: float) -> None:
    """Draw a row's letter on its hatch, and the line over the row."""
    y, ink = top + 8, drawing.face.ink
    drawing.rect(1, y, _TILE, _TILE, fill=drawing.hatch("+" if sign == "+" else "−"), stroke=ink, thick=1.2)
    drawing.rect(8, y + 6, _TILE - 14, _TILE - 12, fill=drawing.face.paper)
    shown = cut_to(letter or sign, _TILE - 12, 14, bold=True)
    drawing.text(1 + _TILE / 2, y + 20, shown, size=14, anchor="middle", bold=True, serif=True)
    drawing.line(0.0, top, WIDTH, top, stroke=drawing.face.faint, thick=0.4)


def _draw_mask(drawing: Drawing, letter: str, name: str, numbers: str, top: float) -> None:
    """Draw the row of what lies in lights: its name, and in which."""
    _draw_tile(drawing, letter, "−", top)
    left, y = _TILE + 8, top + 8
    room = WIDTH - left - 2
    drawing.text(left, y + 11, cut_to(name or letter, room, 13, bold=True), size=13, bold=True)
    said = cut_to(say("shelf.map-lies", numbers=numbers), room, 12)
    drawing.text(left, y + 27, said, size=12, fill=drawing.face.faint)


def _draw_row(drawing: Drawing, step: Step, top: float) -> None:
    face, left = drawing.face, 0.0
    _draw_tile(drawing, step.area or ", ".join(letters_of(step)), "+" if step.act in MORE else "−", top)
    y = top + 8
    drawing.rect(left + _TILE + 8, y + 17, 18, 12, fill=drawing.texture(step.filter), stroke=face.ink, thick=1)
    words_left = left + _TILE + 8
    room = WIDTH - words_left - 2
    title = say("shelf.map-step", number=step.number, what=step.what or _what(step))
    drawing.text(words_left, y + 11, cut_to(title, room, 13, bold=True), size=13, bold=True)
    dose = " · ".join(
        part
        for part in (step.filter, stops_text(step.stops) if step.stops else "", f"{seconds(step.planned_ms)} s")
        if part
    )
    drawing.text(words_left + 23, y + 27, cut_to(dose, room - 23, 12), size=12, fill=face.faint)


def _what(step: Step) -> str:
    if step.edge:
        return say("shelf.map-edge", edge=say(f"shelf.edge-{step.edge}"))
    return say("shelf.map-burn" if step.act is StepKind.BURN else "shelf.map-dodge")
