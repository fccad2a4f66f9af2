"""One line of local work in a recipe's form: an area, what is done to it, how much, and through which filter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from controller.exposure.decimals import typed_text_of
from controller.recipe.fields import BOTH
from controller.recipe.recipe import Burn, Dodge, EdgeBurn, Recipe
from controller.words import say
from webui.forms.form import OWN, Form, Tree, number, without_blanks
from webui.forms.setup import FILTERS, IN_SECONDS, STOPS, FilterChoice, chosen_or_own, in_a_line
from webui.wording import filter_called

EDGES: Final = ("top", "right", "bottom", "left")
ACTS: Final = ("burn", "dodge", "edge burn")


@dataclass(frozen=True)
class WorkLine(FilterChoice, Form):
    """Local work on one area, as typed. `dose` is stops from the list, "own", "seconds", or empty: not chosen yet."""

    area: str = ""
    what: str = ""
    act: str = "burn"
    how: str = ""
    edges: tuple[str, ...] = ()
    filter: str = ""
    filter_own: str = ""
    dose: str = ""
    dose_own: str = ""
    seconds: str = ""
    words: str = ""

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

    @property
    def empty(self) -> bool:
        """Nothing is typed in it: what stands in its lists by itself says nothing."""
        return not (
            self.area or self.what or self.filter_own or self.dose_own or self.seconds or self.edges or self.words
        )

    def said(self) -> str:
        """Return the line in short, as far as it is typed: "A sky · burn +1 · soft"."""
        who = " ".join(words for words in (self.area, self.what) if words)
        act = say(f"shelf.act-{self.act.split()[0]}") if self.act in ACTS else ""
        edges = [say(f"shelf.edge-{edge}") for edge in self.edges if edge in EDGES]
        if self.act == "edge burn":
            act = say("shelf.row-edges", edges=", ".join(edges)) if edges else say("shelf.act-edge")
        much = f"{self.seconds} s" if self.dose == IN_SECONDS and self.seconds else ""
        if self.stops:
            much = say("shelf.row-less" if self.less else "shelf.row-more", stops=self.stops)
        name = say("shelf.row-both") if self.filter_name == BOTH else filter_called(self.filter_name)
        return in_a_line(who, f"{act} {much}".strip(), name)

    def tree(self) -> Tree:
        """Return the line as the document has it; fields of another act than the chosen one are left out."""
        tree: Tree = {
            "area": self.area,
            "what": self.what,
            "act": self.act,
            "filter": self.filter_name,
            "stops": self.stops,
            "words": self.words,
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
        seconds=typed_text_of(work.seconds),
        words=work.words or "",
    )
