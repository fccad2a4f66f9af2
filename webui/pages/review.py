"""What a sheet will get, ready to be looked at before any light: pictures, rows and advice. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from controller.recipe.plan import Ask, Plan, Step, StepKind
from controller.recipe.recipe import Filters, Recipe
from controller.recipe.steps import advice_words
from controller.recipe.strip import Strip
from controller.words import say
from webui.forms.penumbra import tools_said
from webui.pictures import Picture, map_picture, plan_blocks, strip_picture, timeline_line, timeline_picture
from webui.pictures.strip import stops_text
from webui.pictures.timeline import step_mark
from webui.wording import asked_words, filter_called, texture_of, with_what

if TYPE_CHECKING:
    from controller.picture.map_areas import PrintAreas
    from controller.recipe.at_enlarger import AtEnlarger

Written = Recipe | Strip


@dataclass(frozen=True)
class Row:
    """One line of the table: a step, or what is asked of the printer before it."""

    kind: Literal["step", "ask"]
    words: str
    letter: str = ""
    texture: str = ""
    """The class that gives the filter's texture: soft, hard or other."""
    small: str = ""
    ms: int = 0


@dataclass(frozen=True)
class Look:
    """Everything that is shown of a plan. Pictures that say nothing are None."""

    plan: Plan
    strip: Picture | None
    timeline: Picture | None
    line: Picture | None
    """A recipe's timeline in one low line, which stays in view while it is typed."""
    map: Picture | None
    ground: str
    """The short name of the practice negative on which the map's areas are outlined; else empty."""
    rows: tuple[Row, ...]
    advice: tuple[str, ...]
    total_ms: int
    tools: tuple[str, ...] = ()
    """What their heights do to the edges of its tools."""


def look_at(
    plan: Plan,
    written: Written,
    *,
    ident: str = "look",
    areas: PrintAreas | None = None,
    bench: AtEnlarger | None = None,
) -> Look:
    """Return what is shown of a plan; `written` is the recipe or strip that it came from, `areas` its outlines.

    `bench` is what stands at the enlarger, for what the recipe does not say of the lens.
    """
    image = written.image_mm if isinstance(written, Recipe) else None
    sides = (float(image[0]), float(image[1])) if image else None
    strip = plan.strip
    beside_bands = any(step.act not in (StepKind.BAND, StepKind.LONG) for step in plan.steps)
    blocks = plan_blocks(plan)
    timeline = timeline_picture(blocks, ident=f"{ident}-time", title=plan.title)
    return Look(
        plan=plan,
        strip=strip_picture(strip, ident=f"{ident}-strip") if strip else None,
        timeline=timeline if strip is None or beside_bands else None,
        line=timeline_line(blocks, ident=f"{ident}-line", title=plan.title) if strip is None else None,
        map=map_picture(plan, ident=f"{ident}-map", image_mm=sides, areas=areas),
        ground=areas.negative if areas is not None and areas.outlines else "",
        rows=tuple(_rows(plan, written.filters)),
        advice=tuple(advice_words(key, plan.set_up) for key in plan.advice),
        total_ms=plan.total_ms,
        tools=tools_said(written, bench) if isinstance(written, Recipe) else (),
    )


def _rows(plan: Plan, filters: Filters | None) -> Iterator[Row]:
    before = ""
    for step in plan.steps:
        yield from _asks(step.asks, plan)
        if step.hands is not None:
            yield Row("ask", say(f"shelf.hands-{step.hands.value.replace(' ', '-')}"))
        if step.filter != before:
            key = "shelf.row-change" if before else "shelf.row-first"
            yield Row("ask", say(key, filter=filter_words(step.filter, filters)))
            before = step.filter
        stops = stops_text(step.stops) if step.stops else ""
        yield Row(
            "step",
            step_words(step),
            letter=_letter(step),
            texture=texture_of(step.filter),
            small=" · ".join(
                part for part in (filter_called(step.filter), stops, *with_what(step, plan.tools)) if part
            ),
            ms=step.planned_ms,
        )
    yield from _asks(plan.end_asks, plan)


def _asks(asks: Iterable[Ask], plan: Plan) -> Iterator[Row]:
    return (Row("ask", " · ".join(asked_words(ask, plan.tools))) for ask in asks)


def _letter(step: Step) -> str:
    return ", ".join(dict.fromkeys(mark.area for mark in step.marks if mark.area)) or step.area


def step_words(step: Step) -> str:
    """Return what a step does, as a printer says it at the easel."""
    match step.act:
        case StepKind.BURN:
            return say("shelf.row-burn", what=step.what) if step.what else say("shelf.row-burn-bare")
        case StepKind.EDGE:
            edge = say(f"shelf.edge-{step.edge}") if step.edge else ""
            return say("shelf.row-edge", edge=edge)
        case StepKind.PART | StepKind.RUNNING:
            dodger = say("shelf.row-dodge", base=step.filter, dodger=step_mark(step))
            return f"{dodger} · {step.what}" if step.what else dodger
        case _:
            return step.name


def filter_words(name: str, filters: Filters | None) -> str:
    """Return a filter with what is written on it: "hard 5"."""
    written = {"soft": filters.soft, "hard": filters.hard}.get(name) if filters else None
    return f"{name} {written}" if written and written != name else filter_called(name)


def small_print(written: Written) -> str:
    """Return the line below a title: negative, paper, size, lens and head, as far as they are known."""
    negative, paper, lens = written.negative, written.paper, written.lens
    parts: list[str] = []
    if negative is not None:
        parts.append(f"{negative.name}, {negative.format}" if negative.format else negative.name)
    if paper is not None:
        size = " ".join(word for word in (paper.size, paper.support) if word)
        parts += [", ".join(words for words in (paper.name, size) if words)] if paper.name or size else []
    if isinstance(written, Recipe) and written.image_mm:
        long, short = written.image_mm
        parts.append(say("shelf.print-size", long=f"{long:f}", short=f"{short:f}"))
    if lens is not None and lens.aperture is not None:
        parts.append(f"f/{lens.aperture:f}")
    if written.head_height_mm is not None:
        parts.append(say("shelf.print-head", mm=f"{written.head_height_mm:f}"))
    return " · ".join(parts)
