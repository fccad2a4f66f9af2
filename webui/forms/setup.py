"""What the forms of a recipe and a strip have in common: what the print is of, and how the enlarger stands for it."""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from webui.forms.form import Form, Tree, number, typed_number

SETUP_PLACES: Final[Mapping[str, str]] = {
    "lens.focal_mm": "lens-focal",
    "lens.aperture": "lens-aperture",
    "head_height_mm": "head-height",
}
"""Where a key of the set-up has another name than its field."""


@dataclass(frozen=True)
class SetupForm(Form, ABC):
    """Negative, paper, size and filters, as typed."""

    negative_name: str = ""
    negative_format: str = ""
    paper_name: str = ""
    paper_support: str = ""
    paper_size: str = ""
    magnification: str = ""
    lens_focal: str = ""
    lens_aperture: str = ""
    head_height: str = ""
    filters_soft: str = ""
    filters_hard: str = ""

    @abstractmethod
    def tree(self) -> Tree:
        """Return the document that was typed, right or wrong."""

    def text(self) -> str:
        """Return the document as text, for the desk."""
        return json.dumps(self.tree(), ensure_ascii=False, indent=2)

    def setup(self) -> Tree:
        """Return the set-up's part of the document."""
        return {
            "negative": {"name": self.negative_name, "format": self.negative_format},
            "paper": {"name": self.paper_name, "support": self.paper_support, "size": self.paper_size},
            "magnification": number(self.magnification),
            "lens": {"focal_mm": number(self.lens_focal), "aperture": number(self.lens_aperture)},
            "head_height_mm": number(self.head_height),
            "filters": {"soft": self.filters_soft, "hard": self.filters_hard},
        }


def setup_of(kept: Recipe | Strip) -> dict[str, str]:
    """Return the fields of `SetupForm` that show a kept recipe's or strip's set-up."""
    negative, paper, lens, filters = kept.negative, kept.paper, kept.lens, kept.filters
    return {
        "negative_name": negative.name if negative else "",
        "negative_format": (negative.format if negative else None) or "",
        "paper_name": paper.name if paper else "",
        "paper_support": (paper.support if paper else None) or "",
        "paper_size": (paper.size if paper else None) or "",
        "magnification": typed_number(kept.magnification),
        "lens_focal": typed_number(lens.focal_mm if lens else None),
        "lens_aperture": typed_number(lens.aperture if lens else None),
        "head_height": typed_number(kept.head_height_mm),
        "filters_soft": (filters.soft if filters else None) or "",
        "filters_hard": (filters.hard if filters else None) or "",
    }
