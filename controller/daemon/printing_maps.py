"""Printing maps: areas drawn on a print by day are kept with its recipe, and shown wherever its steps are."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from threading import Lock
from typing import TYPE_CHECKING, Final, Literal

from controller.errors import ControllerError, NotThere
from controller.model import Frozen
from controller.negatives.on_proof import WHOLE, XY, Cell
from controller.picture.map_areas import PrintAreas, map_letters, map_of, print_areas
from controller.practice.in_carrier import mapped
from controller.recipe.files import write
from controller.recipe.outline import Outline
from controller.recipe.recipe import Burn, Dodge, EdgeBurn, Recipe, Tool
from controller.words import say

if TYPE_CHECKING:
    from controller.daemon.negative_shelf import NegativeShelf
    from controller.daemon.photographs import Photographs
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.foot.status import Status
    from controller.practice.prints import PracticePrints
    from controller.practice.switches import PracticeSwitches
    from controller.recipe.plan import Plan
    from controller.store.archive import Archive
    from controller.store.records import SheetRecord
    from controller.store.versions import Kept

REMEMBERED: Final = 8
"""Maps of versions, which never change."""
LOOKED_THROUGH: Final = 20
"""Newest sheets that are looked through for one that tells how a print hangs."""


class Ground(Frozen):
    """A picture of a print that is drawn on, and where its image lies there."""

    kind: Literal["photograph", "practice"]
    picture: str
    """The photograph's hash; of a practice print its sheet's id."""
    size: tuple[int, int]
    corners: tuple[XY, XY, XY, XY] | None
    """The image's, as shares, from the top left on as a clock goes; None where nobody has told them."""

    @property
    def upright(self) -> bool:
        """Whether the print is higher than wide."""
        wide, high = self.size
        corners = [(x * wide, y * high) for x, y in self.corners or WHOLE]
        return Cell((corners[0], corners[1], corners[2], corners[3])).shape < 1.0


class PrintingMaps:
    """Safe from any thread, as its parts are."""

    def __init__(
        self,
        negatives: NegativeShelf,
        photographs: Photographs,
        recipes: RecipeShelf,
        archive: Archive,
        practice: PracticeSwitches | None,
        status: Callable[[], Status],
    ) -> None:
        self._recipes, self._negatives, self._photographs = recipes, negatives, photographs
        self._archive, self._practice, self._status = archive, practice, status
        self._lock = Lock()
        self._known: OrderedDict[tuple[object, ...], PrintAreas | None] = OrderedDict()

    def _prints(self) -> PracticePrints | None:
        return self._practice.prints() if self._practice is not None else None

    # ---- drawing

    def ground(self, record: SheetRecord) -> Ground | None:
        """Return the picture that a sheet's areas are drawn on: its photograph, else its practice print; or None."""
        if record.plan.kind != "recipe" or record.closed is None:
            return None
        photograph, prints = record.photograph, self._prints()
        if photograph is not None and (size := self._photographs.size(photograph.hash)) is not None:
            return Ground(kind="photograph", picture=photograph.hash, size=size, corners=photograph.corners)
        if prints is None or (made := prints.made(record.id)) is None:
            return None
        corners = prints.image_on(record, made)
        return Ground(kind="practice", picture=record.id, size=(made.width, made.height), corners=corners)

    def drawn(self, source: str) -> dict[str, tuple[XY, ...]]:
        """Return every area that a recipe's last version works on, by its letter, with its outline; empty if none.

        Raises:
            NotThere, Impossible: there is no such recipe.
        """
        recipe = self._recipes.recipe(source)
        works = [work.area for work in recipe.local if not isinstance(work, EdgeBurn)]
        found: dict[str, tuple[XY, ...]] = dict.fromkeys(works, ())
        for tool in recipe.tools:
            if tool.stays or tool.letter in found or tool.outline:
                found[tool.letter] = tuple((float(x), float(y)) for x, y in tool.outline or ())
        return found

    def keep(self, source: str, outlines: Sequence[Outline]) -> Kept:
        """Keep outlines with a recipe, as its next version: each with the tool of its letter, or with a new one.

        Raises:
            NotThere, Impossible: there is no such recipe.
            Unreadable: these are more tools than a recipe has; nothing is kept.
            StoreTrouble: it could not be written; nothing is kept.
        """
        recipe = self._recipes.recipe(source)
        tools = {tool.letter: tool for tool in recipe.tools}
        for each in outlines:
            before = tools.get(each.letter) or new_tool(recipe, each.letter)
            tools[each.letter] = before.model_copy(update={"outline": each.points})
        return self._with_tools(source, recipe, tuple(tools.values()))

    def rub(self, source: str, letter: str) -> Kept:
        """Rub out the outline of a recipe's tool, which stays; raises as `keep`."""
        recipe = self._recipes.recipe(source)
        left = (
            Tool.model_validate(tool.model_dump(exclude={"outline"}, exclude_unset=True))
            if tool.letter == letter
            else tool
            for tool in recipe.tools
        )
        return self._with_tools(source, recipe, tuple(left))

    def _with_tools(self, source: str, recipe: Recipe, tools: tuple[Tool, ...]) -> Kept:
        if tools == recipe.tools:
            return self._recipes.fetch(source)
        return self._recipes.save(write(recipe.model_copy(update={"tools": tools})), source)

    # ---- showing

    def of_plan(self, plan: Plan) -> PrintAreas | None:
        """Return the areas of a plan's steps where they are known; None of a strip, or where nothing is known.

        A recipe's own outlines go first; then those that were drawn on its negative, and in the practice darkroom
        those that a negative has by itself.
        """
        letters = map_letters(plan.steps) if plan.kind == "recipe" else ()
        if not letters:
            return None
        bench = plan.bench or self._status().bench
        chosen = self._chosen()
        key = (plan.source, plan.version, letters, bench.negative, self._negatives.shelf_marks(), chosen)
        with self._lock:
            if key in self._known:
                return self._known[key]
        found: PrintAreas | None = None
        with suppress(ControllerError):
            found = self.of_recipe(plan, self._recipes.recipe(plan.source, plan.version))
        with self._lock:
            self._known[key] = found
            while len(self._known) > REMEMBERED:
                self._known.popitem(last=False)
        return found

    def of_record(self, record: SheetRecord) -> PrintAreas | None:
        """Return the areas on a sheet's print: as its own version has them, or where none was drawn yet, the last."""
        plan = record.plan
        if plan.kind == "recipe" and not any(tool.outline for tool in plan.tools):
            with suppress(ControllerError):
                return self.of_recipe(plan, self._recipes.recipe(plan.source))
        return self.of_plan(plan)

    def of_recipe(self, plan: Plan, recipe: Recipe) -> PrintAreas | None:
        """Return the same of a recipe that may not be kept yet, and its plan."""
        letters = map_letters(plan.steps)
        if not letters:
            return None
        by_itself = print_areas(recipe, self._chosen(recipe), letters)
        return by_itself or map_of(recipe.tools, self._on_negative(plan), letters, self._sides(plan, recipe))

    def _chosen(self, recipe: Recipe | None = None) -> str:
        """Return the negative that is printed in the practice darkroom; empty with real lines."""
        if (prints := self._prints()) is None:
            return ""
        lies, chosen = prints.lies(self._status()), prints.scene().negative
        return lies.name if recipe is None else mapped(recipe, chosen, lies)

    def _on_negative(self, plan: Plan) -> dict[str, tuple[XY, ...]]:
        """Return the areas that were drawn on the negative of a plan, by their letters."""
        bench = plan.bench or self._status().bench
        with suppress(ControllerError):
            if bench.negative:
                areas = self._negatives.negative(bench.negative).frame.areas or ()
                return {each.letter: each.places for each in areas}
        return {}

    def _sides(self, plan: Plan, recipe: Recipe) -> tuple[float, float]:
        """Return the print's width and height: as its recipe has them, turned as it hangs where that is known."""
        long, short = (float(side) for side in recipe.image_mm or (5, 4))
        return (short, long) if self._upright(plan) else (long, short)

    def _upright(self, plan: Plan) -> bool:
        grounds = (self.ground(record) for record in self._sheets_of(plan.source))
        seen = next((each for each in grounds if each is not None), None)
        if seen is not None:
            return seen.upright
        bench = plan.bench or self._status().bench
        with suppress(ControllerError):
            scan = self._negatives.negative(bench.negative).frame.scan if bench.negative else None
            size = self._photographs.size(scan.photograph) if scan else None
            return size is not None and size[1] > size[0]
        return False

    def _sheets_of(self, source: str) -> Iterator[SheetRecord]:
        if source:
            with suppress(ControllerError):
                lines = (
                    each for one in self._archive.page(least=1, most=LOOKED_THROUGH).sessions for each in one.sheets
                )
                records = (self._archive.record(each.id) for each in lines)
                yield from (each for each in records if each.plan.source == source)


def new_tool(recipe: Recipe, letter: str) -> Tool:
    """Return the tool for an area that a recipe has none for: a dodger where it is dodged, else a hole in a card.

    Raises:
        NotThere: the recipe does not work on that area.
    """
    work = next((each for each in recipe.local if each.area == letter and isinstance(each, Burn | Dodge)), None)
    if work is None:
        raise NotThere(say("recipe.no-area", letter=letter))
    return Tool(letter=letter, kind="dodger" if isinstance(work, Dodge) else "hole", name=work.what or letter)
