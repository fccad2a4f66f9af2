"""The forms of what stands at the enlarger and of an enlarger itself: what was typed, and what it comes to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from controller.enlarger.enlargers import ENLARGER, Enlarger, column_offset_mm, read_tree
from controller.errors import Unreadable
from controller.exposure.decimals import typed_text_of
from controller.words import has, say
from webui.forms.form import Fields, Place, number, without_blanks

if TYPE_CHECKING:
    from decimal import Decimal

    from controller.enlarger.standing import HowItStands
    from controller.recipe.at_enlarger import AtEnlarger

CARRIER: Final = ("negative", "title", "format")
PAPER: Final = ("paper", "title", "support", "box")
FIGURES: Final = {
    "head-height": ("head_height_mm", "0", "10000"),
    "aperture": ("aperture", "0.5", "128"),
    "focal": ("focal_mm", "0.1", "10000"),
    "magnification": ("magnification", "0.01", "200"),
}
"""The figures of a set-up by their field: how `AtEnlarger` calls each, and its limits."""
FILTERS: Final = ("soft", "hard")
PLACES: Final = {key: name for name, (key, _, _) in FIGURES.items()}
KEYS: Final = ("name", "lamp", "light-source", "callier", "focal-mm", "column-offset-mm", "lag-seconds")
"""The fields of an enlarger's form: the keys of its document."""
PAIR: Final = ("known-height", "known-magnification")
"""A reading of the column and the magnification there, in place of what the scale lacks."""
_NUMBERS: Final = frozenset(KEYS[3:])
_LONGEST_FILTER: Final = 12


# ---- how it stands


def typed_setup(setup: AtEnlarger | HowItStands) -> dict[str, str]:
    """Return the figures of a set-up as their fields have them."""
    figures = {name: getattr(setup, key) for name, (key, _, _) in FIGURES.items()}
    return {name: typed_text_of(None if value is None else _short(value)) for name, value in figures.items()}


def typed_standing(bench: AtEnlarger) -> dict[str, str]:
    """Return how the enlarger stands, its filters too, as the form's fields have it."""
    return typed_setup(bench) | {name: getattr(bench, name) for name in FILTERS}


def changed_setup(typed: Fields, sent: Mapping[str, str], bench: AtEnlarger) -> dict[str, Any]:
    """Return what was typed otherwise than it stood in the form; fields that were not `sent` stay as they are.

    Raises:
        Unreadable: a figure is none, or out of its limits; its place is the field.
    """
    before, changes = typed_standing(bench), dict[str, Any]()
    for name, (key, least, most) in FIGURES.items():
        if name in sent and typed[name] != before[name]:
            figure = typed.figure(name, least, most)
            changes[key] = None if figure is None else float(figure)
    for name in FILTERS:
        if len(typed[name]) > _LONGEST_FILTER:
            raise Unreadable(say("enlarger.filter-long", most=_LONGEST_FILTER), (name,))
        if name in sent and typed[name] != before[name]:
            changes[name] = typed[name]
    return changes


def _short(value: float) -> float | int:
    rounded = round(value, 3)
    return int(rounded) if rounded == int(rounded) else rounded


# ---- an enlarger


def read_enlarger_form(typed: Fields, before: Enlarger | None) -> Enlarger:
    """Return the enlarger that was typed; the proof standard of the one it was `before` is found elsewhere, and stays.

    Raises:
        Unreadable: the sentence, at its field.
    """
    tree: dict[str, Any] = {
        name.replace("-", "_"): number(typed[name]) if name in _NUMBERS else typed[name] for name in KEYS
    }
    if typed.any(*PAIR):
        height, magnification = (
            typed.needed(PAIR[0], "0", "10000"),
            typed.needed(PAIR[1], "1", "200"),
        )
        focal = typed.needed("focal-mm", "0.1", "10000")
        tree["column_offset_mm"] = column_offset_mm(float(focal), float(magnification), float(height))
    if before is not None and before.proof is not None:
        tree["proof"] = before.proof.model_dump(mode="json", exclude_none=True)
    return read_tree({"format": ENLARGER, **without_blanks(tree)}, say("enlarger.this"), _place_name)


def enlarger_form_of(enlarger: Enlarger, lag: Decimal | None) -> dict[str, str]:
    """Return the texts of the form that shows a kept enlarger; `lag` is its lamp's, as it is in force."""
    return {
        "name": enlarger.name,
        "lamp": enlarger.lamp or "",
        "light-source": enlarger.light_source,
        "callier": typed_text_of(enlarger.callier),
        "focal-mm": typed_text_of(enlarger.focal_mm),
        "column-offset-mm": typed_text_of(enlarger.column_offset_mm),
        "lag-seconds": typed_text_of(lag),
    }


def field_label(name: str) -> str:
    """Return what a field of an enlarger's form is called on the page."""
    key = f"enlarger.label-{name}"
    return say(key if has(key) else "page.a-field")


def _place_name(place: Place) -> str:
    name = "-".join(str(part) for part in place).replace("_", "-")
    return f"“{field_label(name)}”" if name in KEYS else ""
