"""A foot trace to replay a sheet with: `treadle/feet/1`, when the contact closed and opened, and what else was done."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, Final, Literal, Self

from pydantic import model_validator

from controller.model import Frozen
from controller.recipe.fields import FilterName, Milliseconds, YesOrNo, refusal

FEET: Final = "treadle/feet/1"


class FeetTrace(Frozen):
    """Edges of the foot contact in milliseconds, acts of a page, and the paper box's lid."""

    format: Literal["treadle/feet/1"] = FEET
    edges: tuple[tuple[Milliseconds, Literal["down", "up"]], ...]
    """Strictly increasing and alternating; the first is a down."""
    filter_in: FilterName | None = None
    """The filter in the drawer at the start; None where it is unknown. See `filter_said`."""
    set_up: YesOrNo = True
    """Whether the set-up is made at the start; if not, it is asked before the first sheet."""
    begin_with_filter_in: YesOrNo = False
    """Whether a sheet may begin with the filter that the one before it left in, as at the enlarger."""
    acts: tuple[tuple[Milliseconds, Literal["stop", "paper_away"]], ...] = ()
    """A page's STOP, or its word that no paper lies in the trays."""
    lid: tuple[tuple[Milliseconds, Literal["open", "shut"]], ...] = ()

    @property
    def filter_said(self) -> bool:
        """Whether the trace says what is in the drawer; if not, a replay starts with the first filter in."""
        return "filter_in" in self.model_fields_set

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.edges and self.edges[0][1] != "down":
            raise refusal("recipe.feet-first", at=("edges",))
        _check_order("edges", self.edges, alternating=True)
        _check_order("acts", self.acts, alternating=False)
        _check_order("lid", self.lid, alternating=True)
        return self


def _check_order(key: str, marks: tuple[tuple[int, str], ...], *, alternating: bool) -> None:
    for number, (one, two) in enumerate(pairwise(marks), 2):
        if two[0] <= one[0]:
            raise refusal("recipe.feet-order", at=(key,), number=number, found=two[0], before=one[0])
        if alternating and two[1] == one[1]:
            raise refusal("recipe.feet-alternate", at=(key,), number=number, found=two[1])


def upgrade(tree: dict[str, Any]) -> dict[str, Any]:
    """Return a trace's tree in today's form. There is one form so far, so it is returned as it is."""
    return tree
