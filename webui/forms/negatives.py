"""The form of a set of negatives: one act for a whole film, with nothing typed that the program knows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from controller.errors import Unreadable
from controller.negatives.layouts import FIRST, LAYOUTS, Layout, layout_of, listed, numbered, plain_format, shown_format
from controller.negatives.sets import MOST_FRAMES, NEGATIVES, NegativeSet
from controller.words import has, say
from webui.forms.form import OWN, Form, Place, Tree, number, without_blanks

if TYPE_CHECKING:
    from controller.daemon.negative_shelf import Proposal

FORMATS: Final = tuple(one.format for one in LAYOUTS)
LIE: Final = ("usual", "grid", "list")
"""How frames lie: as they usually do in their format, in so many rows and columns, or as a list says."""
_PLACES: Final[Mapping[str, str]] = {"set": "name", "date": "day", "frame_format": "format-own"}
"""Where a key of the form of file has another name than its input."""


@dataclass(frozen=True)
class SetForm(Form):
    """A set of negatives, as typed."""

    name: str = ""
    day: str = ""
    film: str = ""
    format: str = ""
    format_own: str = ""
    lie: str = LIE[0]
    rows: str = ""
    columns: str = ""
    first: str = FIRST
    count: str = ""
    list: str = ""
    development: str = ""
    notes: str = ""

    @property
    def frame_format(self) -> str:
        """The format that was tapped, or typed beside."""
        return plain_format(self.format_own) if self.format == OWN else self.format

    def tree(self) -> Tree:
        """Return the set as its file has it, right or wrong.

        Raises:
            Unreadable: which frames there are cannot be read from it; the place is the field.
        """
        rows, columns, frames = self._frames()
        return {"format": NEGATIVES} | without_blanks(
            {
                "set": self.name,
                "film": self.film,
                "date": self.day,
                "frame_format": self.frame_format,
                "rows": rows,
                "columns": columns,
                "development": self.development,
                "notes": self.notes,
                "frames": [{"frame": frame} for frame in frames],
            }
        )

    def _frames(self) -> tuple[object, object, tuple[str, ...]]:
        usual = layout_of(self.frame_format)
        if self.lie == "list":
            if not (names := listed(self.list)):
                raise Unreadable(say("negatives.no-list"), ("list",))
            return number(self.rows), number(self.columns), names
        if self.lie != "grid":
            if usual is None:
                raise Unreadable(say("negatives.no-usual"), ("lie",))
            return usual.rows, usual.columns, numbered(FIRST, usual.frames)
        rows, columns = self._whole("rows", 20), self._whole("columns", 20)
        count = self._whole("count", min(MOST_FRAMES, rows * columns)) if self.count else rows * columns
        if count > MOST_FRAMES:
            raise Unreadable(say("negatives.many", most=MOST_FRAMES), ("rows",))
        return rows, columns, numbered(self.first or FIRST, count)

    def _whole(self, name: str, most: int) -> int:
        found = number(getattr(self, name))
        if not isinstance(found, int) or not 1 <= found <= most:
            raise Unreadable(say("negatives.whole", label=self.label(name), most=most), (name,))
        return found

    @staticmethod
    def label(name: str) -> str:
        """Return what an input is called on the page; empty where it has no words of its own."""
        key = f"negatives.label-{name.removesuffix('-own')}"
        return say(key) if has(key) else ""

    @staticmethod
    def beside(place: Place) -> str:
        """Return the input that a refusal at `place` belongs to; empty where it is about the whole."""
        if not place:
            return ""
        return _PLACES.get(str(place[0]), "list" if place[0] == "frames" else str(place[0]))

    @classmethod
    def place_name(cls, place: Place) -> str:
        """Return what the place of a value is called on the page; empty where it has no field."""
        label = cls.label(cls.beside(place))
        return f"“{label}”" if label else ""


def proposed_form(proposal: Proposal) -> SetForm:
    """Return the form that proposes what is known: frames lie as they did the last time, or as is usual."""
    chosen, own = _chosen(proposal.frame_format or FORMATS[0])
    usual = layout_of(chosen)
    last = (proposal.rows, proposal.columns, proposal.count)
    as_usual = usual is not None and (not proposal.rows or last == (usual.rows, usual.columns, usual.frames))
    return SetForm(
        name=proposal.name,
        day=proposal.day.isoformat(),
        film=proposal.film,
        format=chosen,
        format_own=own,
        lie="usual" if as_usual and proposal.first == FIRST else "grid",
        rows=str(proposal.rows or ""),
        columns=str(proposal.columns or ""),
        first=proposal.first,
        count=str(proposal.count or ""),
        development=proposal.development,
    )


def form_of(kept: NegativeSet) -> SetForm:
    """Return the form that shows a kept set; its frames stand as a list."""
    chosen, own = _chosen(kept.frame_format or "")
    return SetForm(
        name=kept.set,
        day=kept.date.isoformat(),
        film=kept.film or "",
        format=chosen,
        format_own=own,
        lie="list",
        rows=str(kept.rows or ""),
        columns=str(kept.columns or ""),
        list=in_short([one.frame for one in kept.frames]),
        development=kept.development or "",
        notes=kept.notes or "",
    )


def in_short(frames: list[str]) -> str:
    """Return frames as a list is typed, what follows one another as a span: "1 to 12, 14"."""
    spans: list[tuple[str, str]] = []
    for name in frames:
        if spans and name.isdigit() and spans[-1][1].isdigit() and numbered(spans[-1][1], 2)[1] == name:
            spans[-1] = (spans[-1][0], name)
        else:
            spans.append((name, name))
    return ", ".join(first if first == last else f"{first} to {last}" for first, last in spans)


def usual_words(layout: Layout) -> str:
    """Return how a format's frames usually lie: "36 frames, 6 rows of 6"."""
    if layout.frames == 1:
        return say("negatives.usual-one")
    return say("negatives.usual", frames=layout.frames, rows=layout.rows, columns=layout.columns)


def format_choices() -> tuple[tuple[str, str], ...]:
    """Return the formats to tap, and the way to another."""
    return (*((one, shown_format(one)) for one in FORMATS), (OWN, say("negatives.format-other")))


def _chosen(frame_format: str) -> tuple[str, str]:
    return (frame_format, "") if frame_format in FORMATS else (OWN, frame_format)
