"""Spots and references as plans that are worked by foot: a light each, begun by a press and ended by the next. Pure."""

from __future__ import annotations

from typing import Final, Literal, get_args

from controller.easel.spots import MOST_SPOTS, spot_name
from controller.recipe.plan import Plan, Step, StepKind
from controller.trials.easel_lights import SOURCE
from controller.words import say

ReadingsName = Literal["spots", "reference", "evenness"]
LONGEST_MS: Final = 60_000
"""A reading's light goes dark by itself after this, and nothing is measured."""


def spots_plan(filter_name: str = "", longest_ms: int = LONGEST_MS, *, lines: bool = False) -> Plan:
    """Return the lights of a negative's spots: highlight, shadow, A, B and so on; a hold ends them where it is enough.

    `longest_ms` is the longest light that the keeper allows, `filter_name` what they are read through. With `lines`, a
    lamp line for soft and one for hard, it is lit; with a drawer it is in already, and nobody is asked for it.
    """
    return _plan(
        "spots", [_light(n, spot_name(n - 1), filter_name, longest_ms, lines) for n in range(1, MOST_SPOTS + 1)]
    )


def reference_plan(filter_name: str = "", longest_ms: int = LONGEST_MS, *, lines: bool = False) -> Plan:
    """Return the one light of a paper's reference: an empty carrier, as its tablet was printed."""
    return _plan("reference", [_light(1, say("easel.name-reference"), filter_name, longest_ms, lines)])


def readings_of(plan: Plan) -> ReadingsName | None:
    """Return which readings a plan is; None where it is none, or where nothing is counted under its lights."""
    name = plan.source.removeprefix(SOURCE)
    return name if plan.kind == "readings" and name in get_args(ReadingsName) else None  # type: ignore[return-value]


def _light(number: int, name: str, filter_name: str, longest_ms: int, lines: bool) -> Step:
    lit_ms = min(LONGEST_MS, longest_ms)
    # as a check's light: whatever lag is set, an uninterrupted one is lit for what it says
    return Step(
        number=number,
        name=name,
        act=StepKind.READING,
        filter=filter_name if lines else "",
        what=filter_name,
        planned_ms=lit_ms,
        base_ms=lit_ms,
    )


def _plan(name: Literal["spots", "reference"], steps: list[Step]) -> Plan:
    return Plan(
        source=f"{SOURCE}{name}", version=1, kind="readings", title=say(f"easel.title-{name}"), steps=tuple(steps)
    )
