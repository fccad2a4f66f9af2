"""One line of a recipe's local work as it is typed: which area, what to do, through which filter, how much."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from controller.fields import BOTH
from controller.recipes import Burn, Dodge, EdgeBurn, Recipe
from webui.forms import FILTERS, IN_SECONDS, OWN, STOPS, Form, Tree, chosen_or_own, number, typed_number, without_blanks

EDGES: Final = ("top", "right", "bottom", "left")
AREAS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class WorkLine(Form):
    """Local work on one area, as typed. `dose` is stops from the list, "own" or "seconds"."""

    area: str = ""
    what: str = ""
    act: str = "burn"
    how: str = ""
    edges: tuple[str, ...] = ()
    filter: str = ""
    filter_own: str = ""
    dose: str = "1/3"
    dose_own: str = ""
    seconds: str = ""

    @property
    def filter_name(self) -> str:
        """The filter that was chosen from the list or typed beside it."""
        return self.filter_own if self.filter == OWN else self.filter

    @property
    def stops(self) -> str:
        """The stops that were chosen or typed; empty where the work is in seconds."""
        if self.dose == IN_SECONDS:
            return ""
        return self.dose_own if self.dose == OWN else self.dose

    @property
    def less(self) -> bool:
        """The work takes light away."""
        return self.act == "dodge"

    def tree(self) -> Tree:
        """Return the line as the document has it; fields of another act than the chosen one are left out."""
        tree: Tree = {
            "area": self.area,
            "what": self.what,
            "act": self.act,
            "filter": self.filter_name,
            "stops": self.stops,
        }
        if self.dose == IN_SECONDS:
            tree["seconds"] = number(self.seconds)
        if self.act == "dodge":
            tree["how"] = self.how
        if self.act == "edge burn":
            return without_blanks(tree) | {"edges": list(self.edges)}
        return without_blanks(tree)


def work_line(recipe: Recipe, work: Burn | Dodge | EdgeBurn) -> WorkLine:
    """Return the line that shows kept local work."""
    bases = tuple(light.filter for light in recipe.light)
    offered = (*bases, *((BOTH,) if len(bases) > 1 else ()), *FILTERS)
    chosen, own = chosen_or_own(work.filter, offered)
    dose, dose_own = (IN_SECONDS, "") if work.stops is None else chosen_or_own(str(work.stops).strip(), STOPS)
    return WorkLine(
        area=work.area,
        what=work.what or "",
        act=work.act,
        how=(work.how if isinstance(work, Dodge) else None) or "",
        edges=work.edges if isinstance(work, EdgeBurn) else (),
        filter=chosen,
        filter_own=own,
        dose=dose,
        dose_own=dose_own,
        seconds=typed_number(work.seconds),
    )
