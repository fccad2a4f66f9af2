"""The timeline of a sheet: a lane for each filter, outline planned, textured given, foot presses beneath.

Written like music: lights to scale from left to right, and a new line where one is full, so that sixty
steps can still be read on the narrowest phone. Gaps between lights are squeezed to nothing: paper does not
count them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from controller.recipe.plan import Plan, Step, StepKind
from controller.words import say, say_many
from webui.pictures.drawing import WIDTH, Drawing, Face, Picture, cut_to, width_of
from webui.wording import seconds

_MARGIN: Final = 40.0
"""Room at the left for the lanes' names."""
_ROOM: Final = WIDTH - _MARGIN
_BAR: Final = 24.0
_LINE: Final = 13.0
_SIZE: Final = 11.0
_NARROWEST: Final = 3.0
_WIDEST: Final = 110.0
_GAP: Final = 5.0
_CHANGE: Final = 14.0
"""Extra room where the filter is changed."""
_THIN: Final = 18.0
_THINNEST: Final = 1.5
_THIN_CHANGE: Final = 8.0
"""Height of a light, least width, and room for a change of filter where all stand in one line."""


@dataclass(frozen=True)
class TimedLight:
    """A light that was given towards a step, in nominal ms, and whether a foot or the page ended it."""

    given_ms: int
    cut_short: bool = False


@dataclass(frozen=True)
class Press:
    """A foot press: `into_ms` after the light of `step` began, or in the dark before it where None.

    A press in the dark after the last light has `step` one above the last. `counted` is False for a press
    that started nothing.
    """

    step: int
    into_ms: int | None = None
    counted: bool = True


@dataclass(frozen=True)
class Block:
    """One step on the timeline. `lights` is None while the sheet is only planned."""

    step: int
    filter: str
    planned_ms: int
    mark: str = ""
    """The letter or word beneath: "A", "C in", "top"."""
    lights: tuple[TimedLight, ...] | None = None

    @property
    def given_ms(self) -> int:
        """All the light given towards this step, nominal."""
        return sum(light.given_ms for light in self.lights or ())

    def words(self) -> tuple[str, ...]:
        """Return the lines of seconds beneath the block."""
        planned = seconds(self.planned_ms)
        if self.lights is None:
            return (planned,)
        given = "+".join(seconds(light.given_ms) for light in self.lights) or "0"
        if len(self.lights) > 3:
            given = seconds(self.given_ms)
        if abs(self.given_ms - self.planned_ms) < 50:
            return (given,)
        return (given, say("shelf.of-planned", seconds=planned))


def plan_blocks(plan: Plan) -> tuple[Block, ...]:
    """Return a plan's steps as blocks that have had no light yet."""
    return tuple(
        Block(step=step.number, filter=step.filter, planned_ms=step.planned_ms, mark=step_mark(step))
        for step in plan.steps
    )


def step_mark(step: Step) -> str:
    """Return the short word for what a step does, as it stands beneath its block; empty for a plain base."""
    match step.act:
        case StepKind.PART:
            return say("shelf.mark-in", area=step.area)
        case StepKind.RUNNING:
            areas = dict.fromkeys(mark.area for mark in step.marks if mark.area)
            return say("shelf.mark-in", area=", ".join(areas) or step.area)
        case StepKind.EDGE:
            return say(f"shelf.edge-{step.edge}") if step.edge else step.area
        case StepKind.FLASH:
            return say("shelf.mark-flash")
        case StepKind.BURN:
            return step.area
        case _:
            return ""


@dataclass(frozen=True)
class _Placed:
    block: Block
    left: float
    slot: float
    run: float
    """Width of the planned outline; what is given beyond it runs on."""
    change_before: bool


def timeline_picture(
    blocks: Sequence[Block], *, ident: str, title: str, presses: Iterable[Press] = (), face: Face = Face.DAY
) -> Picture:
    """Draw the lights of one sheet; `title` leads what it says to someone who cannot see it.

    `presses` are drawn as small triangles beneath, solid where they counted, hollow where they started
    nothing. `blocks` must not be empty.
    """
    drawing = Drawing(ident, face)
    lanes = lane_order(block.filter for block in blocks)
    scale = _best_scale(blocks)
    feet = tuple(presses)
    y = 0.0
    systems = _flow(blocks, scale)
    for index, system in enumerate(systems):
        first, last = system[0].block.step, system[-1].block.step
        least = first if index else 0
        most = last if index + 1 < len(systems) else last + 1
        mine = [press for press in feet if least <= press.step <= most]
        y = _draw_system(drawing, system, lanes, mine, scale, y, with_feet=bool(feet))
    total = seconds(sum(block.planned_ms for block in blocks))
    return drawing.finish(y, say_many("shelf.timeline-label", len(blocks), title=title, total=total))


def timeline_line(blocks: Sequence[Block], *, ident: str, title: str) -> Picture:
    """Draw the lights of one sheet in a single low line, to scale across the whole width: what stays in view.

    Words stand under a light where there is room for them. `blocks` must not be empty.
    """
    drawing = Drawing(ident, Face.DAY)
    total = sum(block.planned_ms for block in blocks)
    changes = sum(one.filter != two.filter for one, two in pairwise(blocks))
    gap, apart = min(3.0, 60 / len(blocks)), min(_THIN_CHANGE, 40 / max(1, changes))
    room = WIDTH - 2 - gap * (len(blocks) - 1) - apart * changes - _THINNEST * len(blocks)
    left, before = 1.0, blocks[0].filter
    for block in blocks:
        if block.filter != before:
            left += apart
            x = left - (apart + gap) / 2
            drawing.line(x, 0, x, _THIN + 18, dash="3 3")
        run = _THINNEST + room * block.planned_ms / max(1, total)
        drawing.rect(left, 1, run, _THIN, fill=drawing.texture(block.filter), stroke=drawing.face.ink, thick=1.2)
        words = (f"{_short(block.mark)} {seconds(block.planned_ms)}".strip(), seconds(block.planned_ms), block.mark)
        if said := next((each for each in words if width_of(each, _SIZE) <= run + gap), ""):
            half = width_of(said, _SIZE) / 2  # the first and the last may be wider than their light by half a gap
            centre = min(max(left + run / 2, half), WIDTH - half)
            drawing.text(centre, _THIN + 14, said, size=_SIZE, anchor="middle")
        left, before = left + run + gap, block.filter
    whole = say_many("shelf.timeline-label", len(blocks), title=title, total=seconds(total))
    return drawing.finish(_THIN + 18, whole)


def lane_order(filters: Iterable[str]) -> tuple[str, ...]:
    """Return the lanes a sheet needs: soft above hard, then the others as they come."""
    used = tuple(dict.fromkeys(filters))
    return tuple(name for name in ("soft", "hard") if name in used) + tuple(
        name for name in used if name not in ("soft", "hard")
    )


def _label_width(block: Block) -> float:
    lines = [(line, False) for line in block.words()] + ([(_short(block.mark), True)] if block.mark else [])
    return max(width_of(line, _SIZE, bold=bold) for line, bold in lines)


def _short(mark: str) -> str:
    return cut_to(mark, 70, _SIZE, bold=True)


def _flow(blocks: Sequence[Block], scale: float) -> list[list[_Placed]]:
    """Lay the blocks out from left to right, a new line where one is full."""
    systems: list[list[_Placed]] = [[]]
    left = 0.0
    before: Block | None = None
    for block in blocks:
        run = max(_NARROWEST, block.planned_ms / 1000 * scale)
        lit = max(run, block.given_ms / 1000 * scale)
        slot = max(lit, _label_width(block)) + _GAP
        change = before is not None and before.filter != block.filter
        extra = _CHANGE if change else 0.0
        if systems[-1] and left + extra + slot > _ROOM:
            systems.append([])
            left = 0.0
        systems[-1].append(_Placed(block, _MARGIN + left + extra, slot, run, change))
        left += extra + slot
        before = block
    return systems


def _best_scale(blocks: Sequence[Block]) -> float:
    """Return the largest scale in units a second that needs no more lines than the smallest sensible one."""
    longest = max(max(block.planned_ms, block.given_ms) for block in blocks) / 1000
    low, high = 30 / longest, _WIDEST / longest
    fewest = len(_flow(blocks, low))
    for _ in range(12):
        middle = (low + high) / 2
        if len(_flow(blocks, middle)) <= fewest:
            low = middle
        else:
            high = middle
    return low


def _draw_system(
    drawing: Drawing,
    system: Sequence[_Placed],
    lanes: tuple[str, ...],
    presses: Sequence[Press],
    scale: float,
    top: float,
    *,
    with_feet: bool,
) -> float:
    """Draw one line of the score and return its foot."""
    face = drawing.face
    tops: dict[str, float] = {}
    y = top + 8
    for lane in lanes:
        tops[lane] = y
        lines = max((_lines(placed.block) for placed in system if placed.block.filter == lane), default=0)
        drawing.text(0, y + 16, cut_to(lane, _MARGIN - 6, 12), size=12)
        drawing.line(_MARGIN, y + _BAR, WIDTH, y + _BAR, stroke=face.faint, thick=0.5)
        y += _BAR + lines * _LINE + 8
    for placed in system:
        if placed.change_before:
            x = placed.left - _CHANGE / 2 - 1
            drawing.line(x, top + 4, x, y - 4, dash="3 3")
        _draw_block(drawing, placed, tops[placed.block.filter], scale)
    changed = [placed for placed in system if placed.change_before]
    if changed:
        y = _draw_changes(drawing, changed, y)
    if with_feet:
        y = _draw_feet(drawing, system, presses, scale, y)
    return y + 4


def _lines(block: Block) -> int:
    return len(block.words()) + bool(block.mark)


def _draw_block(drawing: Drawing, placed: _Placed, y: float, scale: float) -> None:
    face, block = drawing.face, placed.block
    left = placed.left
    if block.lights is None:
        drawing.rect(left, y, placed.run, _BAR, fill=drawing.texture(block.filter), stroke=face.ink, thick=1.2)
    else:
        drawing.rect(left, y, placed.run, _BAR, fill=face.paper, stroke=face.ink, thick=1.2)
        at = left
        for light in block.lights:
            run = max(1.0, light.given_ms / 1000 * scale)
            drawing.rect(at, y, run, _BAR, fill=drawing.texture(block.filter), stroke=face.ink, thick=1.2)
            at += run
            if light.cut_short:
                drawing.line(at, y - 4, at, y + _BAR + 1, stroke=face.ink, thick=2)
    centre = min(max(left + placed.run / 2, left + _label_width(block) / 2), left + placed.slot)
    line = y + _BAR + _LINE - 1
    for words in block.words():
        drawing.text(centre, line, words, size=_SIZE, anchor="middle")
        line += _LINE
    if block.mark:
        drawing.text(centre, line, _short(block.mark), size=_SIZE, anchor="middle", bold=True)


def _draw_changes(drawing: Drawing, changed: Sequence[_Placed], y: float) -> float:
    """Name the filter beneath each dashed line, as far as there is room on this row."""
    edge = 0.0
    for placed in changed:
        x = placed.left - _CHANGE / 2 - 1
        words = say("shelf.change-to", filter=placed.block.filter)
        half = width_of(words, _SIZE) / 2
        centre = min(max(x, half), WIDTH - half)
        if centre - half < edge:
            continue
        drawing.text(centre, y + 8, words, size=_SIZE, anchor="middle")
        edge = centre + half + 4
    return y + 14


def _draw_feet(drawing: Drawing, system: Sequence[_Placed], presses: Sequence[Press], scale: float, y: float) -> float:
    """Draw the presses that fall on this line: a triangle each, hollow where it started nothing."""
    face = drawing.face
    drawing.text(0, y + 12, say("shelf.foot-lane"), size=12)
    by_step = {placed.block.step: placed for placed in system}
    last = system[-1]
    dark: dict[int, int] = {}
    for press in presses:
        placed = by_step.get(press.step)
        if placed is not None and press.into_ms is not None:
            x = placed.left + press.into_ms / 1000 * scale
        elif press.into_ms is None:
            nth = dark[press.step] = dark.get(press.step, 0) + 1
            start = placed.left - 2 if placed is not None else last.left + last.slot - 2
            x = start - 4.0 * (nth - 1) if placed is not None else start + 4.0 * (nth - 1)
        else:
            continue
        x = min(max(x, _MARGIN - 6), WIDTH - 5)  # half of it, and its line
        drawing.path(
            f"M{x:.2f} {y + 3:.2f}l4 8h-8z",
            fill=face.ink if press.counted else face.paper,
            stroke=face.ink,
            thick=1,
        )
    return y + 16
