"""A head with a lamp line for soft and one for hard: what it can light, and the refusal of what it cannot."""

from __future__ import annotations

from collections.abc import Iterable

from controller.errors import Impossible
from controller.sheet import Plan
from controller.standing import HARD, SOFT, Habits
from controller.words import say


def must_have_lines(plan: Plan, habits: Habits) -> None:
    """Let a plan pass whose every filter has a lamp line; with filters in a drawer every plan does.

    Raises:
        Impossible: the sentence names the first step whose filter has none, and what would do.
    """
    _check(((step.name, step.filter) for step in plan.steps), habits)


def must_have_line(filter_name: str, habits: Habits) -> None:
    """Let one more light's filter pass; raises as `must_have_lines`."""
    _check([(say("foot.verb-burn"), filter_name)], habits)


def _check(lights: Iterable[tuple[str, str]], habits: Habits) -> None:
    if habits.filters == "drawer":
        return
    for name, filter_name in lights:
        if filter_name and filter_name not in (SOFT, HARD):
            raise Impossible(say("wiring.no-lamp-line", step=name, filter=filter_name))
