"""The table of spans made short, so that a test of real time does not wait for a printer's gestures."""

from __future__ import annotations

from dataclasses import fields, replace

from hardware.timing import CONTACT, Timing


def scaled(factor: float) -> Timing:
    """Return the table with every span but the contact's own multiplied by `factor`."""
    table, names = Timing(), [field.name for field in fields(Timing) if field.name not in CONTACT]
    return replace(table, **{name: max(1, round(getattr(table, name) * factor)) for name in names})
