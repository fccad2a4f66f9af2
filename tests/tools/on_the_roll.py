"""Invented negatives, by what they go by on their contact sheets."""

from __future__ import annotations

from controller.negatives.sets import reference
from controller.picture.contact_sheets import sheet_with


def reference_of(negative: str) -> str:
    """Return the reference of an invented negative by its short name; empty where it lies on no sheet."""
    sheet = sheet_with(negative)
    return reference(sheet.id, str(sheet.negatives.index(negative) + 1)) if sheet else ""
