"""A paper by eye alone: two steps of a tablet's print picked through soft and through hard light, and what they say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from flask import Blueprint, redirect, request

from controller import wall
from controller.errors import ControllerError, Impossible, Unreadable
from controller.exposure.stops import shown
from controller.paper.eye import EyePicks, Surface, exposure, iso_range
from controller.paper.iso import grade_of, stated
from controller.paper.ladder import equivalent
from controller.paper.libraries import missing_libraries
from controller.paper.negative import start
from controller.paper.paper import Box
from controller.paper.readings import MOST_STEPS, Tablet
from controller.paper.written import Written
from controller.words import say
from webui.forms.form import OWN, Fields, Shown, shown_of, to_correct, told
from webui.forms.paper_table import TABLETS
from webui.frame.context import desk
from webui.frame.form_answers import show
from webui.frame.guard import needs_day

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

blueprint = Blueprint("by_eye", __name__)

LadderLight = Literal["soft", "hard"]
LIGHTS: Final[tuple[LadderLight, ...]] = ("soft", "hard")
TABLET: Final = ("tablet", "tablet-count", "tablet-first", "tablet-spacing")
ENDS: Final = tuple(f"{light}-{end}" for light in LIGHTS for end in ("told", "black"))
KEEPING: Final = ("soft-seconds", "hard-seconds", "surface", "title", "box")
ORDINARY: Final = 1.05
"""The range of an ordinary negative under a diffuser, as the paper meets it (a maker's aim range, from memory)."""
SURFACES: Final[tuple[Surface, ...]] = ("RC", "FB", "matt")


@dataclass(frozen=True)
class Found:
    """What two steps of one print say: the paper's R through that light, and the filter that it works like."""

    light: LadderLight
    picks: EyePicks
    range_exact: float
    spread: float

    @property
    def sentence(self) -> str:
        """The light in words a printer works with."""
        return say(f"eye.works-{self.light}", filter=equivalent(self.range_exact).sentence)

    @property
    def sums(self) -> str:
        """R, LER and grade, and how they were counted."""
        return say(
            f"eye.sums-{self.light}",
            steps=self.picks.first_told - self.picks.first_black,
            stated=stated(self.range_exact),
            exact=f"{self.range_exact:.0f}",
            spread=f"{self.spread:.0f}",
            ler=f"{self.range_exact / 100.0:.2f}",
            grade=grade_of(self.range_exact / 100.0),
        )


@blueprint.get("/papers/by-eye")
@needs_day
def by_eye() -> ResponseReturnValue:
    """Show the form, and what the steps that were picked say."""
    fields = Fields("eye.label-", request.args, (*TABLET, *ENDS, *KEEPING))
    return _page(fields, shown_of(lambda: _look(fields), {}) if "go" in request.args else Shown())


@blueprint.post("/papers/by-eye")
@needs_day
def keep() -> ResponseReturnValue:
    """Keep the two prints as a paper, which two lights for two tones can then be found on."""
    fields = Fields("eye.label-", request.form, (*TABLET, *ENDS, *KEEPING))
    came = shown_of(lambda: _look(fields), {})
    if came.found is None:
        return _page(fields, came)
    try:
        kept = desk().papers().save(_written(fields, came.found))
    except ControllerError as error:
        return _page(fields, Shown(came.found, told({}, error)))
    return redirect(f"/papers/{kept.id}?said=kept", 303)


# ---- what was typed


def _look(fields: Fields) -> tuple[Found, ...]:
    tablet = tablet_of(fields)
    found = tuple(_found(fields, light, tablet) for light in LIGHTS if fields.any(*_ends(light)))
    if not found:
        raise Unreadable(say("eye.nothing"), ("soft-told",))
    if len(found) == 2 and found[0].range_exact <= found[1].range_exact:
        raise Impossible(say("eye.crossed"), ("hard-told",))
    return found


def tablet_of(fields: Fields) -> Tablet:
    """Return the step tablet that was chosen.

    Raises:
        Unreadable: an own one lacks a figure, or has a wrong one; its place is the field.
    """
    if fields["tablet"] != OWN:
        return TABLETS.get(fields["tablet"], TABLETS["21"])
    first = fields.figure("tablet-first", "0", "3")
    return Tablet(
        steps=_whole(fields, "tablet-count", 3, MOST_STEPS),
        first=0.05 if first is None else float(first),
        spacing=float(fields.needed("tablet-spacing", "0.02", "0.6")),
    )


def _found(fields: Fields, light: LadderLight, tablet: Tablet) -> Found:
    told_, black = (_whole(fields, name, 1, tablet.steps) for name in _ends(light))
    picks = EyePicks(soft_seconds=0.0, hard_seconds=0.0, first_told=told_, first_black=black)
    try:
        return Found(light, picks, *iso_range(picks, tablet))
    except Impossible as problem:
        at = "black" if told_ > black == 1 else "told"
        raise Impossible(str(problem), (f"{light}-{at}",)) from None


def _whole(fields: Fields, name: str, least: int, most: int) -> int:
    value = fields.needed(name, str(least), str(most))
    if value != int(value):
        raise Unreadable(say("eye.no-step", label=fields.label(name), found=shown(fields[name])), (name,))
    return int(value)


def _ends(light: LadderLight) -> tuple[str, str]:
    return f"{light}-told", f"{light}-black"


# ---- what to do with it


def _todo(found: tuple[Found, ...]) -> tuple[str, ...]:
    """Return what a printer does with it: the negatives that fit, the filter to start with, what to print next."""
    ranges = sorted(each.range_exact / 100.0 for each in found)
    if len(ranges) < 2:
        missing = "hard" if found[0].light == "soft" else "soft"
        return (say(f"eye.todo-one-{missing}", range=f"{ranges[0]:.2f}"),)
    hardest, softest = ranges
    lines = [say("eye.todo-range", least=f"{hardest:.2f}", most=f"{softest:.2f}")]
    if softest < ORDINARY:
        lines.append(say("eye.todo-long", ordinary=f"{ORDINARY:.2f}"))
    elif hardest > ORDINARY:
        lines.append(say("eye.todo-short", ordinary=f"{ORDINARY:.2f}"))
    else:
        begin = start(ORDINARY)
        lines.append(say("eye.todo-start", ordinary=f"{ORDINARY:.2f}", filter=begin.filter, grade=begin.grade))
    return tuple(lines)


def _written(fields: Fields, found: tuple[Found, ...]) -> Written:
    if len(found) < 2:
        raise Unreadable(say("eye.both-needed"), (f"{'hard' if found[0].light == 'soft' else 'soft'}-told",))
    if not 1 <= len(fields["title"]) <= 80:
        raise Unreadable(say("eye.no-name"), ("title",))
    if len(fields["box"]) > 80:
        raise Unreadable(say("eye.long-box"), ("box",))
    surface: Surface = next((each for each in SURFACES if each == fields["surface"]), "RC")
    tablet = tablet_of(fields)
    exposures = []
    for each in found:
        name = f"{each.light}-seconds"
        seconds = {f"{each.light}_seconds": float(fields.needed(name, "0.1", "3600"))}
        exposures.append(exposure(each.picks.model_copy(update=seconds), tablet, surface))
    if missing := missing_libraries():
        raise Impossible(say("eye.libraries", names=missing))
    box = Box(label=fields["box"], dated=wall.now().date())
    return Written(paper=fields["title"], box=box, exposures=tuple(exposures))


def _page(fields: Fields, came: Shown[tuple[Found, ...]]) -> ResponseReturnValue:
    return show(
        "by_eye.html",
        came.refusal.status,
        to_correct=to_correct(came.refusal, fields.called),
        typed=fields,
        label=fields.label,
        found=came.found or (),
        todo=_todo(came.found) if came.found else (),
        refusal=came.refusal,
        lights=LIGHTS,
        surfaces=SURFACES,
        tablets=(*TABLETS, OWN),
    )
