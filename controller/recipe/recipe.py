"""What a printer writes and keeps of a print, as frozen models that keep every typed value.

`treadle/recipe/1` and `/2` are read into the same models: the second adds tools, asks for the hands, words, carriers.
A recipe that uses none of these is written in the first form.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, model_validator

from controller.errors import Impossible
from controller.exposure.stops import parse_more_stops
from controller.model import Frozen
from controller.recipe.fields import (
    BOTH,
    END,
    Aperture,
    Area,
    Before,
    Celsius,
    FilterName,
    FilterOrBoth,
    HeadHeight,
    Magnification,
    Millimetres,
    Notes,
    Percent,
    Seconds,
    Stops,
    ToolHeight,
    TraySeconds,
    Words,
    YesOrNo,
    refusal,
)
from controller.recipe.outline import LEAST_AREA, LEAST_POINTS, MOST_POINTS, Point, size
from controller.words import say

RECIPE: Final = "treadle/recipe/1"
RECIPE_2: Final = "treadle/recipe/2"
Edge = Literal["top", "right", "bottom", "left"]
Carrier = Literal["A", "B"]
"""Of two negatives on one sheet of paper: each has a carrier of its own."""
MOST_TOOLS: Final = 26
MOST_HANDS: Final = 60


class FilterTime(Frozen):
    """A time through a filter."""

    filter: FilterName
    seconds: Seconds


class Base(FilterTime):
    """A base of a recipe; where two negatives are printed on one sheet, through which carrier."""

    carrier: Carrier | None = None

    @property
    def bare(self) -> FilterTime:
        """It as a strip has it, which is of one negative."""
        return FilterTime(filter=self.filter, seconds=self.seconds)


class Tool(Frozen):
    """What is held or laid between lens and paper for an area, and how it is shaped."""

    letter: Area
    """What the recipe calls it: the letter of the area that it is for, or one of its own."""
    kind: Literal["card", "hole", "dodger", "mask", "blade"]
    """A card; a hole in a card; a dodger on a wire; a cut mask; a blade of the easel. The last two stay by themselves.
    """
    name: Words
    height_mm: ToolHeight | None = None
    """Above the paper."""
    outline: Annotated[tuple[Point, ...], Field(min_length=LEAST_POINTS, max_length=MOST_POINTS)] | None = None
    """In shares of the image, so that it is the same at every size."""

    @model_validator(mode="after")
    def _is_an_area(self) -> Self:
        if self.outline is not None and size([(float(x), float(y)) for x, y in self.outline]) < LEAST_AREA:
            raise refusal("recipe.outline-nothing", at=("outline",), letter=self.letter)
        return self

    @property
    def stays(self) -> bool:
        """Once it is in place it stays there by itself, until it is taken away."""
        return self.kind in ("mask", "blade")


class HandsEntry(Frozen):
    """Something to be done by hand in the dark, with no light: asked for, and answered with a press."""

    before: Before
    """The number of an entry, from 1 over `light` and then `local` as the file lists them; or "end"."""
    words: Words
    carrier: Carrier | None = None
    """The carrier that is in from here on."""


class Negative(Frozen):
    """Which negative, and its format ("4x5", "24x36")."""

    name: Words
    format: Words | None = None


class Paper(Frozen):
    """Which paper, on what support, how large: as much of it as is known, so that RC or FB can be said alone."""

    name: Words | None = None
    support: Literal["RC", "FB"] | None = None
    size: Words | None = None


class Lens(Frozen):
    """The enlarging lens, and the aperture as marked on its ring."""

    focal_mm: Millimetres | None = None
    aperture: Aperture | None = None

    @property
    def marked(self) -> str:
        """The f-number as text, or nothing."""
        return "" if self.aperture is None else f"{self.aperture:f}"


class Filters(Frozen):
    """What is written on the filters that this printer calls soft and hard."""

    soft: FilterName | None = None
    hard: FilterName | None = None


class Developer(Frozen):
    """The paper developer, as used."""

    name: Words
    dilution: Words | None = None
    celsius: Celsius | None = None
    seconds: TraySeconds | None = None


class Flash(Frozen):
    """Light just under the threshold, before the print; through the first base's filter unless told."""

    seconds: Seconds
    filter: FilterName | None = None
    way: Literal["no negative", "opal under the lens"]
    beforehand: YesOrNo | None = None
    """The paper was flashed before, several sheets in one go: a sheet's steps then leave the flash out."""


class _Work(Frozen):
    area: Area
    """A letter of the printing map."""
    what: Words | None = None
    filter: FilterOrBoth
    stops: Stops | None = None
    seconds: Seconds | None = None
    words: Words | None = None
    """What the hands do in its light: "fold the card, tip right"."""

    @model_validator(mode="after")
    def _one_measure(self) -> Self:
        if (self.stops is None) == (self.seconds is None):
            raise refusal("recipe.stops-or-seconds", at=("stops",))
        return self

    @property
    def exact_stops(self) -> Fraction | None:
        """The stops as an exact fraction; None where the work is in seconds."""
        return None if self.stops is None else parse_more_stops(self.stops)


class Burn(_Work):
    """More light for an area."""

    act: Literal["burn"]


class Dodge(_Work):
    """Less light for an area: as parts of the base (unless told), or in one running light."""

    act: Literal["dodge"]
    how: Literal["parts", "running"] | None = None


class EdgeBurn(_Work):
    """More light for one to four edges, one step each."""

    act: Literal["edge burn"]
    edges: Annotated[tuple[Edge, ...], Field(min_length=1, max_length=4)]

    @model_validator(mode="after")
    def _edges_once(self) -> Self:
        if len(set(self.edges)) < len(self.edges):
            raise refusal("recipe.edge-twice", at=("edges",))
        return self


Work = Annotated[Burn | Dodge | EdgeBurn, Field(discriminator="act")]


class Recipe(Frozen):
    """How to make one print: bases in the order given, and local work on them."""

    format: Literal["treadle/recipe/1", "treadle/recipe/2"] = RECIPE
    """As it was read; `written_as` is how it is written."""
    title: Words
    light: Annotated[tuple[Base, ...], Field(min_length=1, max_length=4)]
    local: Annotated[tuple[Work, ...], Field(max_length=60)]
    negative: Negative | None = None
    paper: Paper | None = None
    image_mm: tuple[Millimetres, Millimetres] | None = None
    magnification: Magnification | None = None
    lens: Lens | None = None
    head_height_mm: HeadHeight | None = None
    filters: Filters | None = None
    developer: Developer | None = None
    dry_down_percent: Percent | None = None
    flash: Flash | None = None
    notes: Notes | None = None
    keep_order: YesOrNo | None = None
    """Every sheet begins with the first base, even where the filter of another is in."""
    tools: tuple[Tool, ...] = Field(default=(), max_length=MOST_TOOLS, exclude_if=lambda tools: not tools)
    hands: tuple[HandsEntry, ...] = Field(default=(), max_length=MOST_HANDS, exclude_if=lambda hands: not hands)

    @model_validator(mode="after")
    def _of_its_form(self) -> Self:
        if self.format == RECIPE and (place := next(self._of_form_2(), None)) is not None:
            raise refusal("recipe.needs-form-2", at=place, form=RECIPE_2)
        return self

    def _of_form_2(self) -> Iterator[tuple[str | int, ...]]:
        """Give the place of each key that the first form has not."""
        yield from ((key,) for key in ("tools", "hands", "keep_order") if key in self.model_fields_set)
        yield from (("light", n, "carrier") for n, light in enumerate(self.light) if light.carrier is not None)
        yield from (("local", n, "words") for n, work in enumerate(self.local) if work.words is not None)

    @property
    def written_as(self) -> str:
        """The form that its file is in: the first, where nothing of the second is used."""
        new = (
            self.tools
            or self.hands
            or self.keep_order
            or any(place[0] in ("light", "local") for place in self._of_form_2())
        )
        return RECIPE_2 if new else RECIPE

    @model_validator(mode="after")
    def _tools_and_hands(self) -> Self:
        letters = [tool.letter for tool in self.tools]
        for number, letter in enumerate(letters):
            if letter in letters[:number]:
                raise refusal("recipe.tool-twice", at=("tools", number, "letter"), letter=letter)
        entries = len(self.light) + len(self.local)
        for number, hands in enumerate(self.hands):
            if hands.before != END and hands.before > entries:
                at = ("hands", number, "before")
                raise refusal("recipe.hands-before-none", at=at, number=hands.before, most=entries)
        for number, hands in enumerate(self.hands):
            light = self.light[hands.before - 1] if hands.before != END and hands.before <= len(self.light) else None
            if light is not None and light.carrier and hands.carrier not in (None, light.carrier):
                at = ("hands", number, "carrier")
                raise refusal("recipe.hands-other-carrier", at=at, number=hands.before, carrier=light.carrier)
        return self

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        bases = [light.filter for light in self.light]
        for number, light in enumerate(self.light):
            same = [other for other in self.light[:number] if other.filter == light.filter]
            if any(light.carrier in (None, other.carrier) or other.carrier is None for other in same):
                raise refusal("recipe.base-twice", at=("light", number, "filter"), filter=light.filter)
        for number, work in enumerate(self.local, 1):
            needs = isinstance(work, Dodge) or work.stops is not None
            if needs and work.filter not in (BOTH, *bases):
                raise refusal(
                    "recipe.no-base", at=("local", number - 1, "filter"), filter=work.filter, bases=", ".join(bases)
                )
        if self.image_mm is not None and self.image_mm[0] < self.image_mm[1]:
            raise refusal("recipe.longer-first", at=("image_mm",), found=" × ".join(map(str, self.image_mm)))
        return self

    def base(self, name: str, carrier: Carrier | None = None) -> Base | None:
        """Return the base through the filter `name`: the one in `carrier`, where there are two, else the first."""
        through = [light for light in self.light if light.filter == name]
        return next((light for light in through if light.carrier == carrier), through[0] if through else None)

    def base_of(self, line: int, name: str) -> Base | None:
        """Return the base through the filter `name` that a line of local work (from 0) belongs to.

        Where there is one through each carrier it is the first, unless the hands are asked for the other before it.
        """
        return self.base(name, self.carrier_before(len(self.light) + line + 1))

    def carrier_before(self, number: int) -> Carrier | None:
        """Return the carrier that the hands are asked for before an entry, the last where several are."""
        named = [hands.carrier for hands in self.hands if hands.before == number and hands.carrier is not None]
        return named[-1] if named else None

    @property
    def bare_lights(self) -> tuple[FilterTime, ...]:
        """Its bases as a strip has them under and after its bands."""
        return tuple(light.bare for light in self.light)

    @property
    def two_negatives(self) -> bool:
        """Whether one filter has a base through each carrier."""
        return len({light.filter for light in self.light}) < len(self.light)

    def filter_names(self) -> tuple[str, ...]:
        """Return every filter that it names, each once: those of its bases, of its local work, of its flash."""
        named = [each.filter for each in (*self.light, *self.local) if each.filter != BOTH]
        named += [self.flash.filter] if self.flash is not None and self.flash.filter is not None else []
        return tuple(dict.fromkeys(named))


def must_tell_lights_apart(recipe: Recipe) -> None:
    """Let a recipe pass whose bases are told apart by their filters alone.

    Raises:
        Impossible: two of them go through one filter, a carrier each; the sentence says where to change them.
    """
    if recipe.two_negatives:
        raise Impossible(say("recipe.two-negatives", title=recipe.title))


def upgrade(tree: dict[str, Any]) -> dict[str, Any]:
    """Return a recipe's tree in today's form. Both forms are read by the same models, so it is returned as it is."""
    return tree
