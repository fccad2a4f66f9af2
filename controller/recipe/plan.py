"""The steps one sheet of paper will get: frozen data in integer milliseconds, reviewed before any light."""

from __future__ import annotations

from enum import StrEnum
from typing import Any, Final, Literal, Self

from pydantic import Field, model_validator

from controller.model import Frozen
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.recipe import Tool
from controller.recipe.set_up import SetUp


class StepKind(StrEnum):
    """What a step's light does to the sheet."""

    BASE = "base"
    PART = "dodged part"
    OPEN = "open part"
    RUNNING = "running dodge"
    BURN = "burn"
    EDGE = "edge burn"
    BAND = "band"
    LONG = "long strip"
    UNDER = "under"
    AFTER = "after"
    FLASH = "flash"
    CHECK = "check"
    """Of no sheet: a light that tells something of the lamp itself."""
    READING = "reading"
    """Of no sheet either: a light under which a spot of the negative is measured, until the next press."""


class Hands(StrEnum):
    """What is asked of the printer's hands before a step, and answered with a press."""

    NEGATIVE_OUT = "negative out"
    NEGATIVE_BACK = "negative back"
    OPAL_IN = "opal in"
    OPAL_OUT = "opal out"
    TWO_STOPS_DOWN = "two stops down"
    """The lens, from where it stands; and back to there:"""
    TWO_STOPS_OPEN = "two stops open"


class Wait(Frozen):
    """A wait without light before a step's light, timed from a press to a cue: part of the paper lies under a card."""

    ms: int = Field(ge=1000, le=3_600_000)
    card: str
    """A key of the catalogue: where the card lies meanwhile."""
    glow: Literal["safelight", "phone"]
    """What alone gives light meanwhile, and so may fog the paper."""
    level: int = Field(default=0, ge=0, le=5, exclude_if=lambda level: not level)
    """Of a phone: the level of red that its dark page stands at."""


class Ask(Frozen):
    """A step without light: what is asked of the printer in the dark, in words, and answered with a press.

    It has no number, opens no sheet, and is asked again after a restart.
    """

    words: str
    carrier: Literal["A", "B", ""] = Field(default="", exclude_if=lambda carrier: not carrier)
    """The carrier that is in once it is answered; empty where it changes none."""
    kind: Literal["hands", "carrier", "tool"]
    brings: tuple[str, ...] = Field(default=(), exclude_if=lambda letters: not letters)
    """The letters of the tools that are in place once it is answered, and of those that are taken away."""
    takes: tuple[str, ...] = Field(default=(), exclude_if=lambda letters: not letters)


class Mark(Frozen):
    """A cue `at_ms` after a step's light came on, of its whole planned light: move the card, dodger in or out."""

    at_ms: int = Field(ge=0)
    cue: Literal["move card", "dodger in", "dodger out"]
    area: str = ""


class Step(Frozen):
    """One light of a sheet.

    `planned_ms` is nominal: what the page shows and the record counts. With a lamp lag of d, `base_ms` says
    of which uninterrupted light it is a share: its full light is planned·(base − d)/base; None means that it
    is a difference of totals and its full light is `planned_ms` itself.
    """

    number: int = Field(ge=1)
    name: str
    """"soft base", "A sky, burn", "hard base, C in", "band 1 of 7"."""
    act: StepKind
    filter: str
    planned_ms: int = Field(ge=1)
    base_ms: int | None = None
    stops: str | None = None
    """Signed text as the recipe has it ("+1", "−1/3"), for burns and dodges."""
    area: str = ""
    what: str = ""
    edge: Literal["top", "right", "bottom", "left"] | None = None
    hands: Hands | None = None
    card: str = ""
    """The card's or dodger's first place, a key of the catalogue; empty where there is none."""
    marks: tuple[Mark, ...] = ()
    gap_ms: int | None = None
    """Rhythm: this step begins by itself so long after the step before it went dark."""
    advice: tuple[str, ...] = ()
    """Keys of the catalogue, such as a pulse too short to repeat well."""
    waits: tuple[Wait, ...] = Field(default=(), max_length=8, exclude_if=lambda waits: not waits)
    """What is waited for before its light, one after the other; never before the light that opens the sheet."""
    asks: tuple[Ask, ...] = Field(default=(), exclude_if=lambda asks: not asks)
    """What is asked before it, one after the other, each answered with a press; before `hands`."""
    carrier: Literal["A", "B", ""] = Field(default="", exclude_if=lambda carrier: not carrier)
    """Which negative its light goes through; empty where there is one only."""
    words: str = Field(default="", exclude_if=lambda words: not words)
    """What the hands do in its light, in the printer's words."""
    tools: tuple[str, ...] = Field(default=(), exclude_if=lambda tools: not tools)
    """The letters of the tools in its light: held in the hand for its area, or in place by themselves."""
    in_place: tuple[str, ...] = Field(default=(), exclude_if=lambda letters: not letters)
    """Those of them that stay by themselves."""


Template = Literal["first", "finer", "hard over soft", "same place", "burn", "flash", "proof"]
"""What a test strip is for: a first one, finer around a pick, hard light over a soft base, every band in one place of
the picture, burns over a base, the threshold for a flash, a contact proof."""


class StripPlan(Frozen):
    """What a strip's bands get: enough to draw it and to pick from it."""

    filter: str
    kind: Literal["seconds", "stops", "burn"]
    card: Literal["cover", "uncover", "window"]
    pace: Literal["press", "rhythm", "long"]
    totals_ms: tuple[int, ...]
    """What each band has had in the end through this filter, its own pulses only; burn strips: extra over the base."""
    pulses_ms: tuple[int, ...]
    """The lights in the order given; one a band (for "long" one only)."""
    stops: tuple[str, ...] = ()
    """Burn strips: the stops of each band as text, "0" first."""
    base_ms: int | None = None
    """Burn strips: the base the stops are reckoned on."""
    template: Template | None = Field(default=None, exclude_if=lambda template: template is None)
    """What the strip was made for, where it was made by a template."""


class Flashed(Frozen):
    """A flash that a sheet had before its own lights began: through which filter, and how long as it was planned."""

    filter: str
    planned_ms: int = Field(ge=1)
    opal: bool = Field(default=False, exclude_if=lambda opal: not opal)


CHECK_SOURCE: Final = "check:"
"""Before the name of a check, where another plan has its recipe."""
PAPER_TEST: Final = f"{CHECK_SOURCE}paper"
TEST_SOURCE: Final = "test:"
"""Likewise before the name of a test whose light falls on paper: its sheet is a sheet like any other."""


class Plan(Frozen):
    """Everything one sheet will get, in order, and where it came from."""

    source: str
    """Id of the recipe or strip on the shelf; a file's name in a replay."""
    version: int
    kind: Literal["recipe", "strip", "check", "readings"]
    """A check is a plan of check lights, as readings are: they belong to no sheet, and open none."""
    title: str
    steps: tuple[Step, ...] = Field(min_length=1, max_length=60)
    strip: StripPlan | None = None
    advice: tuple[str, ...] = ()
    flashed: Flashed | None = Field(default=None, exclude_if=lambda flashed: flashed is None)
    """The paper was flashed beforehand; no step of the sheet gives that light."""
    develop_seconds: float | None = Field(default=None, ge=10.0, le=900.0, exclude_if=lambda seconds: seconds is None)
    """Of a test: how long its paper is developed, whatever the process has; None as the process has it."""
    keep_order: bool = Field(default=False, exclude_if=lambda keep: not keep)
    """The recipe has every sheet begin with its first step."""
    first_filter: str = Field(default="", exclude_if=lambda name: not name)
    """The filter that was in when the sheet was begun, whose steps come first; empty: the recipe's own order."""
    wants: SetUp = Field(default=SetUp(), exclude_if=lambda wants: wants.bare)
    """What the recipe or strip says of the set-up."""
    tools: tuple[Tool, ...] = Field(default=(), exclude_if=lambda tools: not tools)
    """The recipe's tools, so that the record of a sheet has them as they were."""
    end_asks: tuple[Ask, ...] = Field(default=(), exclude_if=lambda asks: not asks)
    """What is asked after the last light: a tool that is in is asked out."""
    bench: AtEnlarger | None = Field(default=None, exclude_if=lambda bench: bench is None)
    """What stood at the enlarger when the sheet was begun, which the recipe does not know; None where nothing is."""

    @model_validator(mode="after")
    def _opens_with_light(self) -> Self:
        # a wait with no sheet open would let white light in: only an open sheet keeps it out
        assert not self.steps[0].waits, "a sheet is opened by a light, and not by a wait"
        return self

    @model_validator(mode="before")
    @classmethod
    def _of_old(cls, tree: Any) -> Any:
        """Take a plan that was filed when the f-number stood alone."""
        if isinstance(tree, dict) and "aperture" in tree:
            tree = dict(tree)
            marked = tree.pop("aperture")
            return {"wants": SetUp(aperture=float(marked)) if marked else SetUp(), **tree}
        return tree

    @property
    def set_up(self) -> SetUp | None:
        """How its sheet is set up, as far as the recipe, and where that is silent the enlarger, says; None: not at all.

        A check's paper, or none, lies wherever it lay.
        """
        stands = SetUp() if self.bench is None else SetUp.of_bench(self.bench)
        wanted = self.wants.over(stands)
        return None if wanted.bare or self.of_no_sheet else wanted

    @property
    def aperture(self) -> str:
        """The f-number to stop down to, as marked on the lens's ring; empty where nothing says it."""
        known = self.set_up
        return "" if known is None or known.aperture is None else f"{known.aperture:g}"

    def standing(self, bench: AtEnlarger) -> Plan:
        """Return the plan of a sheet that is begun while this stands at the enlarger; a check is of no sheet."""
        stamp = None if bench.bare or self.of_no_sheet else bench
        return self if stamp == self.bench else self.model_copy(update={"bench": stamp})

    @property
    def order(self) -> tuple[int, ...]:
        """The indexes of the steps in the order in which they are given: whole filters change place, numbers never."""
        flashes = self._flashes
        rest = range(flashes, len(self.steps))
        first = [index for index in rest if self.steps[index].filter == self.first_filter]
        return (*range(flashes), *first, *(index for index in rest if index not in first))

    @property
    def _flashes(self) -> int:
        """How many steps flash the sheet before its own lights."""
        return next((n for n, step in enumerate(self.steps) if step.act is not StepKind.FLASH), len(self.steps))

    def beginning_with(self, filter_in: str) -> Plan:
        """Return the plan of a sheet that begins with the filter that is in, "" the recipe's own order.

        Light adds: the sums are the same. A flash stays first, and its filter is the one that is in after it. Where the
        recipe keeps its order, or the hands are asked for anything on the way, nothing changes place.
        """
        flashes = self._flashes
        own = self.steps[flashes:]
        asks = self.end_asks or any(step.asks or step.carrier for step in own)
        fixed = self.kind != "recipe" or self.keep_order or asks or not own
        name = "" if fixed else self.steps[flashes - 1].filter if flashes and filter_in else filter_in
        if name not in {step.filter for step in own} or name == own[0].filter:
            name = ""
        if name == self.first_filter:
            return self
        after = self.model_copy(update={"first_filter": name})
        return after if not flashes else after._with_hands(self.steps[self.order[flashes]].hands)

    def _with_hands(self, hands: Hands | None) -> Plan:
        """Return the plan with what the hands do after its flash before whichever step follows it."""
        at = self.order[self._flashes]
        own = enumerate(self.steps[self._flashes :], self._flashes)
        steps = (step.model_copy(update={"hands": hands if index == at else None}) for index, step in own)
        return self.model_copy(update={"steps": (*self.steps[: self._flashes], *steps)})

    @property
    def flashes_sheets(self) -> bool:
        """Whether each of its lights is of another sheet of paper, that is flashed beforehand: nothing is printed."""
        return self.kind == "strip" and self.strip is None and not self.test

    @property
    def test(self) -> str:
        """The name of the test that it is a sheet of; empty where it is of none."""
        return self.source.removeprefix(TEST_SOURCE) if self.source.startswith(TEST_SOURCE) else ""

    @property
    def waits(self) -> bool:
        """Whether something is waited for in it: it is worked, and developed, in total darkness."""
        return any(step.waits for step in self.steps)

    @property
    def of_no_sheet(self) -> bool:
        """Whether its lights are check lights."""
        return self.kind in ("check", "readings")

    @property
    def on_paper(self) -> bool:
        """Whether paper lies under its lights: every sheet's, and of the lamp's checks the paper test."""
        return not self.of_no_sheet or self.source == PAPER_TEST

    @property
    def total_ms(self) -> int:
        """The nominal light of the whole sheet."""
        return sum(step.planned_ms for step in self.steps)
