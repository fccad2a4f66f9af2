"""The form of a recipe: its lights and local work as they are typed, the document they make, and what stops come to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import InvalidOperation
from fractions import Fraction
from typing import Final

from controller.exposure.burns import burn_ms, held_back_ms
from controller.exposure.decimals import decimal_of, typed_text_of
from controller.exposure.stops import dried_ms
from controller.recipe.fields import BOTH, END, milliseconds
from controller.recipe.recipe import RECIPE, RECIPE_2, Recipe
from controller.words import say
from webui.forms.flash import FlashForm, flash_fields
from webui.forms.form import (
    OWN,
    Move,
    Place,
    Tree,
    Typed,
    beside,
    line_numbers,
    moved,
    number,
    texts_of,
    without_blanks,
)
from webui.forms.hands import HandsForm, hands_line, read_hands, read_tools, tool_line
from webui.forms.setup import (
    FILTERS,
    SETUP_PLACES,
    LightLine,
    SetupForm,
    exact,
    filled_lines,
    in_a_line,
    light_line,
    nth,
    read_lines,
    setup_of,
)
from webui.forms.work import EDGES as EDGES
from webui.forms.work import WorkLine as WorkLine
from webui.forms.work import work_line
from webui.wording import seconds

AREAS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

_PLACES: Final[Mapping[str, str]] = {
    **SETUP_PLACES,
    "image_mm": "image-long",
    "image_mm.0": "image-long",
    "image_mm.1": "image-short",
    "dry_down_percent": "dry-down",
    "light.*.filter": "light-*-filter",
    "hands.*.carrier": "hands-*-does",
    "local.*.stops": "local-*-dose",
    "local.*.seconds": "local-*-seconds",
}
"""Where a key of the document has another name than its field."""


@dataclass(frozen=True)
class RecipeForm(FlashForm, SetupForm, HandsForm):
    """A whole recipe, as typed."""

    title: str = ""
    notes: str = ""
    image_long: str = ""
    image_short: str = ""
    dry_down: str = ""
    keep_order: str = ""
    developer_name: str = ""
    developer_dilution: str = ""
    developer_celsius: str = ""
    developer_seconds: str = ""
    lights: tuple[LightLine, ...] = (LightLine(),)
    work: tuple[WorkLine, ...] = ()

    def tree(self) -> Tree:
        """Return the document that was typed, right or wrong."""
        image = [number(side) for side in (self.image_long, self.image_short) if side]
        rest: Tree = {
            "title": self.title,
            **self.setup(),
            "developer": {
                "name": self.developer_name,
                "dilution": self.developer_dilution,
                "celsius": number(self.developer_celsius),
                "seconds": number(self.developer_seconds),
            },
            "dry_down_percent": number(self.dry_down),
            "flash": self.flash(),
            "keep_order": True if self.keep_order else None,
            "notes": self.notes,
        }
        lines: Tree = {
            "light": [self.lights[line].tree() for line in self.filled("light")],
            "local": [self.work[line].tree() for line in self.filled("local")],
        }
        size: Tree = {"image_mm": image} if image else {}
        hands = self.hands_tree(self._entries())
        new = hands or any("carrier" in light for light in lines["light"]) or any("words" in w for w in lines["local"])
        form = RECIPE_2 if new or self.keep_order else RECIPE
        return {"format": form} | without_blanks(rest) | size | lines | hands

    def sums(self) -> dict[str, str]:
        """Return what is typed into each group, in a line that stands for it while it is shut."""
        image = f"{self.image_long} × {self.image_short} mm" if self.image_long else ""
        dry = f"{self.dry_down} %" if self.dry_down else ""
        notes = self.notes if len(self.notes) < 40 else f"{self.notes[:38]}…"
        sums = super().sums()
        return sums | {
            "size": in_a_line(sums["size"], image),
            "flash": in_a_line(dry, self.flash_sum()),
            "notes": in_a_line(
                self.developer_name,
                self.developer_dilution,
                say("shelf.sum-keep-order") if self.keep_order else "",
                notes,
            ),
            "hands": self.hands_sum(),
        }

    def names(self) -> Iterator[str]:
        """Yield the names of the inputs that this form has."""
        yield from self.inputs()
        for line in range(len(self.lights)):
            yield from LightLine.inputs(f"light-{line}-")
        for line in range(len(self.work)):
            yield from WorkLine.inputs(f"local-{line}-")
        yield from self.hands_names()

    def texts(self) -> dict[str, str]:
        """Return what was typed into every input, by name."""
        lights, tools = texts_of("light", self.lights), texts_of("tools", self.tools)
        return self.named() | lights | texts_of("local", self.work) | tools | texts_of("hands", self.hands)

    def beside(self, place: Place) -> str:
        """Return the input that a refusal at `place` belongs to; empty where it is about the whole."""
        return beside(self.in_form(place), self.names(), _PLACES)

    def filled(self, key: str) -> tuple[int, ...]:
        """Return which lines (from 0) of the form stand in the document's list `key`: an empty one is none.

        Of bases there has to be one: where all are empty, the first is asked for.
        """
        match key:
            case "light":
                return filled_lines(self.lights) or tuple(range(len(self.lights[:1])))
            case "local":
                return filled_lines(self.work)
            case "tools" | "hands":
                return filled_lines(self.tools if key == "tools" else self.hands)
        return ()

    def line_name(self, key: str, number: int) -> str:
        """Return the words for line `number` (from 0) of the document's list `key`: local work with its area."""
        if key != "local":
            return super().line_name(key, number)
        area = self.work[number].area if number < len(self.work) else ""
        return say("shelf.nth-work-area" if area else "shelf.nth-work", nth=nth(number), area=area)

    def after(self, move: Move) -> RecipeForm:
        """Return the form after a line was added, taken away or moved up."""
        form = self.hands_after(move)
        match move.kind:
            case "light":
                return replace(form, lights=moved(self.lights, move, self._next_light()))
            case "local":
                return replace(form, work=moved(self.work, move, self._next_work()))
        return form

    def _entries(self) -> list[str]:
        """Return the lines of the form that are entries of the document, in its order."""
        return [f"{key}-{line}" for key in ("light", "local") for line in self.filled(key)]

    def light_called(self, line: int) -> str:
        """Return what a base is called in a list: the filter it goes through, or its place where that is not typed."""
        light = self.lights[line]
        if not light.filter_name:
            return self.line_name("light", line)
        name = say("recipe.name-base-of", filter=light.filter_name)
        return say("recipe.name-base-carrier", base=name, carrier=light.carrier) if light.carrier else name

    def befores(self, chosen: str) -> Iterator[tuple[str, str]]:
        """Give what an ask may stand before, with its words; what was `chosen` and is no more stays to be seen."""
        entries = self._entries()
        for entry in entries:
            kind, _, line = entry.partition("-")
            yield entry, self.light_called(int(line)) if kind == "light" else self.work[int(line)].said()
        yield END, say("shelf.hands-end")
        if chosen not in (*entries, END):
            yield chosen, say("shelf.hands-gone")

    def bases(self) -> tuple[str, ...]:
        """Return the filters of the bases, in order, as typed."""
        return tuple(dict.fromkeys(line.filter_name for line in self.lights if line.filter_name))

    def work_filters(self) -> tuple[str, ...]:
        """Return what the list of a work line's filters offers."""
        bases = self.bases()
        both = (BOTH,) if len(bases) > 1 else ()
        return tuple(dict.fromkeys((*bases, *both, *FILTERS)))

    def _next_light(self) -> LightLine:
        bases = self.bases()
        free = [name for name in ("soft", "hard") if name not in bases]
        return LightLine(filter=free[0] if free else OWN)

    def _next_work(self) -> WorkLine:
        taken = {line.area for line in self.work}
        letter = next((letter for letter in AREAS if letter not in taken), "")
        return WorkLine(area=letter, filter=next(iter(self.bases()), "soft"))

    def worth(self, line: WorkLine, stops: str | None = None) -> str:
        """Return the seconds that a line's stops (or others) come to: "2.6 s", "soft 2.6 s · hard 2.1 s".

        Empty where they cannot be reckoned yet. The reckoning is the compiler's own (`controller.exposure`).
        """
        amount = exact(line.stops if stops is None else stops)
        if amount is None:
            return ""
        found = []
        for light in self.lights:
            base = self._base_ms(light)
            if base is not None and line.filter_name in (light.filter_name, BOTH):
                ms = held_back_ms(base, amount) if line.less else burn_ms(base, amount)
                found.append((light.filter_name, f"{seconds(ms)} s"))
        if len(found) == 1:
            return found[0][1]
        return " · ".join(f"{name} {worth}" for name, worth in found)

    def _base_ms(self, light: LightLine) -> int | None:
        typed, percent = decimal_of(light.seconds), decimal_of(self.dry_down or "0")
        if typed is None or percent is None:
            return None
        try:
            base = milliseconds(typed)
        except InvalidOperation:
            return None
        return dried_ms(base, Fraction(percent)) if 0 < base < 10_000_000 and 0 <= percent <= 50 else None


def new_recipe_form(setup: Mapping[str, str] | None = None) -> RecipeForm:
    """Return the form of a recipe that is not written yet: soft first, then hard; `setup` as `setup_of` has it."""
    lights = (LightLine(filter="soft"), LightLine(filter="hard"))
    return RecipeForm(**(setup or {}), lights=lights, work=(), tools=(), hands=(), flash_way="no negative")


def read_recipe_form(typed: Typed) -> RecipeForm:
    """Return the recipe's form as it was typed."""
    return replace(
        RecipeForm.read(typed),
        lights=read_lines(typed, "light"),
        work=tuple(WorkLine.read(typed, f"local-{line}-") for line in line_numbers(typed, "local")),
        tools=read_tools(typed),
        hands=read_hands(typed),
    )


def recipe_form_of(recipe: Recipe) -> RecipeForm:
    """Return the form that shows a kept recipe."""
    developer = recipe.developer
    long, short = recipe.image_mm or (None, None)
    return RecipeForm(
        title=recipe.title,
        notes=recipe.notes or "",
        **setup_of(recipe),
        image_long=typed_text_of(long),
        image_short=typed_text_of(short),
        dry_down=typed_text_of(recipe.dry_down_percent),
        **flash_fields(recipe.flash),
        keep_order="yes" if recipe.keep_order else "",
        developer_name=developer.name if developer else "",
        developer_dilution=(developer.dilution if developer else None) or "",
        developer_celsius=typed_text_of(developer.celsius if developer else None),
        developer_seconds=typed_text_of(developer.seconds if developer else None),
        lights=tuple(
            replace(light_line(light.filter, light.seconds), carrier=light.carrier or "") for light in recipe.light
        ),
        work=tuple(work_line(recipe, work) for work in recipe.local),
        tools=tuple(tool_line(tool) for tool in recipe.tools),
        hands=tuple(hands_line(recipe, entry) for entry in recipe.hands),
    )
