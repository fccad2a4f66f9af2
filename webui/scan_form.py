"""What is typed and clicked on the page of a scan: corners, boxes, densities, and the print's own column."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, Final

from controller.errors import Unreadable
from controller.paper.readings import MOST_STEPS
from controller.printing.stops import shown
from controller.words import say
from webui.forms import Form, Typed
from webui.paper_column import Column, Mistakes
from webui.papers_form import OWN, TABLETS, TableForm, read_densities, read_table_form

if TYPE_CHECKING:
    from controller.paper.scan import Boxes, Row
    from controller.scan_drawer import Scan

CORNERS: Final = ("scale-first", "scale-last", "print-first", "print-last")
USUAL: Final = "usual"
USUAL_SCALE: Final = tuple(round(0.05 + 0.10 * step, 2) for step in range(20))
"""A common grey card: 20 patches of 0.10 from 0.05 (common practice); offered, and to be looked at."""
LARGEST: Final = 10**6
_POINT: Final = re.compile(r"([0-9]{1,6})[\s,;×]+([0-9]{1,6})")
_BOX: Final = re.compile(r"([0-9]{1,6})[\s,;]+([0-9]{1,6})[\s,;]+([0-9]{1,6})[\s,;]+([0-9]{1,6})")


@dataclass(frozen=True)
class ScanForm(Form):
    """All that is typed of one scan; corners are "across down" in the scan's own pixels."""

    scan: str = ""
    zoom: str = "1"
    mark: str = "scale-first"
    scale_first: str = ""
    scale_last: str = ""
    print_first: str = ""
    print_last: str = ""
    scale: str = USUAL
    scale_own: str = ""
    scale_boxes: str = ""
    print_boxes: str = ""
    tablet: str = "21"
    tablet_own: str = ""
    light: str = "soft"
    seconds: str = ""
    more: str = ""
    filter: str = ""
    columns: tuple[Column, ...] = ()
    """Prints that were read before: they come along."""

    def corner(self, name: str) -> str:
        """Return what is typed at a corner."""
        return str(getattr(self, name.replace("-", "_")))

    def named(self) -> dict[str, str]:
        """Return what is typed by the names of the inputs."""
        return {
            one.name.replace("_", "-"): str(getattr(self, one.name)) for one in fields(self) if one.name != "columns"
        }

    def click(self, across: int, down: int) -> ScanForm:
        """Return the form after the picture was clicked: the marked corner is set, and the next empty one marked."""
        at = self.mark if self.mark in CORNERS else CORNERS[0]
        place: dict[str, Any] = {at.replace("-", "_"): f"{across} {down}"}
        clicked = replace(self, **place)
        order = CORNERS[CORNERS.index(at) + 1 :] + CORNERS
        return replace(clicked, mark=next((name for name in order if not clicked.corner(name)), at))

    def table(self) -> TableForm:
        """Return the table with the prints read so far."""
        return TableForm(tablet=self.tablet, tablet_own=self.tablet_own, columns=self.columns)

    def stays(self) -> dict[str, str]:
        """Return what is typed but for the print's own place and light."""
        leave = ("print-first", "print-last", "print-boxes", "mark", "light", "seconds", "more", "filter")
        return {name: text for name, text in self.named().items() if name not in leave}

    # ---- what it says

    def tablet_densities(self) -> tuple[float, ...]:
        """Return the tablet's densities, step 1 first.

        Raises:
            Unreadable: an own list cannot be read, or leaves steps out.
        """
        wrong: Mistakes = {}
        TableForm(tablet=self.tablet, tablet_own=self.tablet_own).exposures(wrong)
        for at, words in wrong.items():
            raise Unreadable(words, (at,))
        steps = self.table().steps()
        if [step for step, _ in steps] != list(range(1, len(steps) + 1)):
            raise Unreadable(say("scan.tablet-gaps"), ("tablet-own",))
        return tuple(density for _, density in steps)

    def scale_densities(self) -> tuple[float, ...]:
        """Return the grey scale's known densities, in the order its patches lie.

        Raises:
            Unreadable: the own list cannot be read.
        """
        if self.scale == USUAL:
            return USUAL_SCALE
        found = read_densities(self.scale_own)
        if not 3 <= len(found) <= MOST_STEPS:
            raise Unreadable(say("scan.scale-few", found=len(found)), ("scale-own",))
        for number, each in enumerate(found, 1):
            if each is None or not 0.0 <= each <= 4.0:
                raise Unreadable(say("scan.scale-density", patch=number), ("scale-own",))
        return tuple(each for each in found if each is not None)

    def row(self, kind: str, patches: int) -> Row:
        """Return where a row of patches lies ("scale" or "print"): its boxes where they are typed, else its corners.

        Raises:
            Unreadable: a corner is missing or is none; its place is the field.
        """
        from controller.paper.scan import Corners

        typed = self.scale_boxes if kind == "scale" else self.print_boxes
        if typed:
            return _boxes(typed, f"{kind}-boxes", patches)
        first, last = (self._point(f"{kind}-{end}") for end in ("first", "last"))
        return Corners(first_x=first[0], first_y=first[1], last_x=last[0], last_y=last[1], patches=patches)

    def _point(self, name: str) -> tuple[int, int]:
        text = self.corner(name)
        if not text:
            raise Unreadable(say("scan.no-corner", corner=say(f"scan.label-{name}")), (name,))
        found = _POINT.fullmatch(text)
        if found is None:
            raise Unreadable(say("scan.corner", corner=say(f"scan.label-{name}"), found=shown(text)), (name,))
        return int(found[1]), int(found[2])

    def marks(self) -> tuple[tuple[int, int], ...]:
        """Return the corners that can be drawn."""
        found = (_POINT.fullmatch(self.corner(name)) for name in CORNERS)
        return tuple((int(each[1]), int(each[2])) for each in found if each)


def read_scan_form(typed: Typed) -> ScanForm:
    """Return the form as it was typed; what a browser did not send stands as at first."""
    found = replace(ScanForm.read(typed), columns=read_table_form(typed).columns)
    first = ScanForm()
    empty = {name: getattr(first, name) for name in ("zoom", "mark", "scale", "tablet", "light")}
    return replace(found, **{name: value for name, value in empty.items() if not getattr(found, name)})


def clicked(typed: Mapping[str, str], scan: Scan, zoom: int) -> tuple[int, int] | None:
    """Return the place in the scan's own pixels where the picture was clicked; None where it was not."""
    at = [typed.get(f"{face}.{axis}", "") for face in ("day", "dark") for axis in ("x", "y")]
    pair = at[:2] if at[0] else at[2:]
    if not all(text.isdecimal() and len(text) < 6 for text in pair):
        return None
    width, height = scan.shown(zoom)
    across, down = ((int(text) + 0.5) for text in pair)
    return min(scan.width, int(across * scan.width / width)), min(scan.height, int(down * scan.height / height))


def column_fields(columns: tuple[Column, ...]) -> Iterator[tuple[str, str]]:
    """Yield the hidden inputs that bring columns to the table's form."""
    for at, column in enumerate(columns):
        for one in fields(column):
            if one.name != "cells":
                yield f"column-{at}-{one.name}", str(getattr(column, one.name))
        for step, text in column.cells:
            yield f"column-{at}-cell-{step}", text


def lists() -> dict[str, tuple[str, ...]]:
    """Return what the lists of the form offer."""
    return {"tablets": (*TABLETS, OWN), "scales": (USUAL, OWN)}


def _boxes(text: str, name: str, patches: int) -> Boxes:
    from pydantic import ValidationError

    from controller.paper.scan import Boxes, PatchBox

    lines = [line.strip() for line in text.split("\n") if line.strip()]
    if len(lines) != patches:
        raise Unreadable(say("scan.boxes-count", found=len(lines), wanted=patches), (name,))
    boxes = []
    for number, line in enumerate(lines, 1):
        match = _BOX.fullmatch(line)
        if match is None:
            raise Unreadable(say("scan.box", line=number), (name,))
        left, top, right, bottom = (int(match[at]) for at in range(1, 5))
        try:
            boxes.append(PatchBox(left=left, top=top, right=right, bottom=bottom))
        except ValidationError:
            raise Unreadable(say("scan.box", line=number), (name,)) from None
    return Boxes(boxes=tuple(boxes))
