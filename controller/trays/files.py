"""Processes, and how long baths last, as files: `treadle/process/1` and `treadle/baths/1`, read, refused, written."""

from __future__ import annotations

import json
from typing import Any, Final

from controller.recipe import versioned
from controller.recipe.versioned import PlaceNames, VersionedForm
from controller.trays.ledger import BathRules
from controller.trays.process import Process

PROCESS: Final = "treadle/process/1"
BATHS: Final = "treadle/baths/1"
_PROCESS: Final = VersionedForm(PROCESS, Process)
_BATHS: Final = VersionedForm(BATHS, BathRules)


def read_process(text: str | bytes, name: str) -> Process:
    """Return the process that a file holds; `name` is the file's, for the refusal.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return versioned.read(text, name, _PROCESS)


def process_of(tree: dict[str, Any], name: str, place_names: PlaceNames | None = None) -> Process:
    """Return the process in a tree of plain values, as a page's form fills it. Raises `Unreadable`."""
    return versioned.checked(tree, name, _PROCESS, place_names=place_names)


def write_process(process: Process) -> str:
    """Return the file of a process; `read_process` reads the same one from it."""
    return _written(PROCESS, process.model_dump(mode="json", exclude_none=True))


def read_rules(text: str | bytes, name: str) -> BathRules:
    """Return how long baths last by a file. Raises `Unreadable`."""
    return versioned.read(text, name, _BATHS)


def rules_of(tree: dict[str, Any], name: str, place_names: PlaceNames | None = None) -> BathRules:
    """Return how long baths last by a tree of plain values, as a page's form fills it. Raises `Unreadable`."""
    return versioned.checked(tree, name, _BATHS, place_names=place_names)


def write_rules(rules: BathRules) -> str:
    """Return the file of how long baths last; `read_rules` reads the same from it."""
    return _written(BATHS, rules.model_dump(mode="json"))


def _written(form: str, tree: dict[str, Any]) -> str:
    return json.dumps({"format": form, **tree}, ensure_ascii=False, indent=2) + "\n"
