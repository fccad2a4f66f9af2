"""The forms of the wet side: a process, and how long baths last; what was typed, and what it comes to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, get_args

from controller.exposure.decimals import typed_text_of
from controller.trays.ledger import BathRule, BathRules, rules_of
from controller.trays.process import Process, Support, process_of
from controller.words import has, say
from webui.forms.form import Fields, Place, without_blanks

GROUPS: Final[Mapping[str, tuple[str, ...]]] = {
    "developer": ("developer-seconds", "factor", "celsius", "agitation-seconds", "drain-seconds"),
    "stop": ("stop-seconds",),
    "fix": ("fix-seconds", "fix-2-seconds", "least-fix-seconds"),
    "wash": ("rinse-seconds", "wash-seconds", "aid-seconds", "wash-2-seconds"),
}
"""The figures of a process, as its form has them together."""
UNITS: Final[Mapping[str, str]] = {"factor": "×", "celsius": "°C"}
"""Any other figure is in seconds."""
PROCESS_FIELDS: Final = (*(name for group in GROUPS.values() for name in group), "notes")
BATHS: Final = ("developer", "stop", "fix", "two-fixes", "aid")
COLUMNS: Final = ("litres", "rc", "fb", "days")
ALONE: Final = ("fix-without-aid", "changes")
RULE_FIELDS: Final = (*(f"{bath}-{column}" for bath in BATHS for column in COLUMNS), *ALONE)
LABELS: Final = "trays.label-"


def typed_process(process: Process) -> dict[str, str]:
    """Return the texts of the form that shows a process."""
    return {name: _text(getattr(process, name.replace("-", "_"))) for name in PROCESS_FIELDS}


def read_process_form(typed: Fields, support: Support) -> Process:
    """Return the process that was typed; what was left empty is nothing, or by time.

    Raises:
        Unreadable: the sentence, at its field.
    """
    tree = {name.replace("-", "_"): typed[name] for name in PROCESS_FIELDS}
    return process_of(
        {"support": support, **without_blanks(tree)}, say(f"trays.process-{support.lower()}"), _place_name
    )


def typed_rules(rules: BathRules) -> dict[str, str]:
    """Return the texts of the form that shows how long baths last."""
    baths = {bath: getattr(rules, bath.replace("-", "_")) for bath in BATHS}
    figures = {f"{bath}-{column}": _text(getattr(rule, column)) for bath, rule in baths.items() for column in COLUMNS}
    return figures | {name: _text(getattr(rules, name.replace("-", "_"))) for name in ALONE}


def read_rules_form(typed: Fields) -> BathRules:
    """Return how long baths last as it was typed; what was left empty is not counted.

    Raises:
        Unreadable: the sentence, at its field.
    """
    tree: dict[str, Any] = {
        bath.replace("-", "_"): without_blanks({column: typed[f"{bath}-{column}"] for column in COLUMNS})
        for bath in BATHS
    }
    tree |= {name.replace("-", "_"): typed[name] or "0" for name in ALONE}
    return rules_of(tree, say("trays.baths-file"), _place_name)


def field_label(name: str) -> str:
    """Return what a field is called on the page."""
    bath, _, column = name.rpartition("-")
    if bath in BATHS and column in COLUMNS:
        return say("trays.figure-of", bath=say(f"trays.bath-{bath}"), figure=say(f"trays.column-{column}"))
    key = f"{LABELS}{name}"
    return say(key if has(key) else "page.a-field")


def _place_name(place: Place) -> str:
    name = "-".join(str(part) for part in place).replace("_", "-")
    return f"“{field_label(name)}”" if name in (*PROCESS_FIELDS, *RULE_FIELDS) else ""


def _text(value: float | str | None) -> str:
    if isinstance(value, str):
        return value
    return typed_text_of(None if value is None else int(value) if value == int(value) else value)


assert set(BathRule.model_fields) == set(COLUMNS)
SUPPORTS: Final[tuple[Support, ...]] = get_args(Support)
