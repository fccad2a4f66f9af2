"""How a filter is called where its name stands alone."""

from __future__ import annotations

from controller.words import say


def filter_called(name: str) -> str:
    """Return a filter as it is read where it stands alone: "soft", and "filter 2", for a lone number says nothing."""
    return say("page.filter", filter=name) if name[:1].isdigit() else name
