"""What is typed, clicked and ticked on the page of a scan: corners, densities, steps left out, the print's column."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from controller.errors import Unreadable
from controller.exposure.stops import shown
from controller.paper.readings import MOST_STEPS
from controller.words import say
from webui.forms.form import OWN, Form, Mistakes, Typed
from webui.forms.paper_column import column_fields
from webui.forms.paper_table import TABLETS, TableForm, read_densities, read_table_form

if TYPE_CHECKING:
    from controller.daemon.scans import Scan
    from controller.paper.scan import Row

CORNERS: Final = ("scale-first", "scale-last", "print-first", "print-last")
PLACES: Final = (*CORNERS, "mark", "zoom", "scan")
"""What belongs to one picture."""
ONE_PRINT: Final = ("print-first", "print-last", "mark", "light", "seconds", "more", "filter")
"""What belongs to one print in it."""
TABLET: Final = ("tablet", "tablet-own")
USUAL: Final = "usual"
USUAL_SCALE: Final = tuple(round(0.05 + 0.10 * step, 2) for step in range(20))
"""A common grey card: 20 patches of 0.10 from 0.05 (common practice); offered, and to be looked at."""
LARGEST: Final = 10**6
_SOURCE: Final = re.compile(r"[0-9a-z]{1,32}")
_STEP: Final = re.compile(r"[1-9][0-9]?")
_POINT: Final = re.compile(r"([0-9]{1,6})[\s,;×]+([0-9]{1,6})")


@dataclass(frozen=True)
class ScanForm(Form):
    """All that is typed of one scan; corners are "across down" in the scan's own pixels.

    What was typed in the table of readings comes along, and goes back there with the print that was read.
    """

    scan: str = ""
    zoom: str = "1"
    mark: str = "scale-first"
    scale_first: str = ""
    scale_last: str = ""
    print_first: str = ""
    print_last: str = ""
    scale: str = USUAL
    scale_own: str = ""
    left_out: tuple[str, ...] = ()
    """Numbers of the tablet's steps that are ticked to be passed over."""
    light: str = "soft"
    seconds: str = ""
    more: str = ""
    filter: str = ""
    source: str = ""
    """The kept paper whose readings are being mended; empty for a new one."""
    table: TableForm = field(default_factory=TableForm)

    def corner(self, name: str) -> str:
        """Return what is typed at a corner."""
        return str(getattr(self, name.replace("-", "_")))

    def named(self) -> dict[str, str]:
        """Return what is typed by the names of the inputs, the table's among them but for its columns."""
        return super().named() | self.table.named()

    def click(self, across: int, down: int) -> ScanForm:
        """Return the form after the picture was clicked: the marked corner is set, and the next empty one marked."""
        place: dict[str, Any] = {self.mark.replace("-", "_"): f"{across} {down}"}
        clicked = replace(self, **place)
        order = CORNERS[CORNERS.index(self.mark) + 1 :] + CORNERS
        return replace(clicked, mark=next((name for name in order if not clicked.corner(name)), self.mark))

    def unseen(self) -> Iterator[tuple[str, str]]:
        """Yield the hidden inputs that bring along what does not stand in this form for all to see."""
        own = set(self.inputs()) - {"source"}
        return self.without(*own, *TABLET)

    def without(self, *names: str) -> Iterator[tuple[str, str]]:
        """Yield the hidden inputs that bring everything typed along, the table too, but for these inputs."""
        yield from ((name, text) for name, text in self.named().items() if name not in names)
        yield from (("left-out", step) for step in self.left_out if "left-out" not in names)
        yield from column_fields(self.table.columns)

    @property
    def prints(self) -> int:
        """How many prints in the table have been read."""
        return sum(column.filled for column in self.table.columns)

    @property
    def tablet_stands(self) -> bool:
        """The tablet is chosen already: a print has been read off it."""
        return self.prints > 0 and self.table.tablet in (*TABLETS, OWN)

    @property
    def table_address(self) -> str:
        """Where the table is that all this goes back to."""
        return f"/papers/{self.source}/readings" if self.source else "/papers/new"

    # ---- what it says

    @property
    def ticks(self) -> tuple[tuple[int, bool], ...]:
        """The tablet's steps that can be left out, and whether each is."""
        return tuple((step, str(step) in self.left_out) for step, _ in self.table.steps())

    def tablet_densities(self) -> tuple[float | None, ...]:
        """Return the tablet's densities, step 1 first; None for a step left out, in its list or by a tick.

        Raises:
            Unreadable: an own list cannot be read, or fewer than two steps are left in.
        """
        wrong: Mistakes = {}
        replace(self.table, columns=()).exposures(wrong)
        for at, words in wrong.items():
            raise Unreadable(words, (at,))
        every = self.table.densities()
        found = tuple(None if str(step) in self.left_out else each for step, each in enumerate(every, 1))
        if sum(each is not None for each in found) < 2:
            raise Unreadable(say("scan.left-out-most"), ("left-out" if found != every else "tablet-own",))
        return found

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
        """Return where a row of patches lies ("scale" or "print"), by its corners.

        Raises:
            Unreadable: a corner is missing or is none; its place is the field.
        """
        from controller.paper.scan import Row

        first, last = (self._point(f"{kind}-{end}") for end in ("first", "last"))
        return Row(first_x=first[0], first_y=first[1], last_x=last[0], last_y=last[1], patches=patches)

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


def read_scan_form(typed: Typed, today: date) -> ScanForm:
    """Return the form as it was typed; what a browser did not send stands as at first, the box as opened today.

    Where no light has been chosen yet, it is that of the table's first print without readings.
    """
    table, found, first = read_table_form(typed), ScanForm.read(typed), ScanForm()
    if "dated" not in typed:
        table = replace(table, dated=today.isoformat())
    if not table.tablet:
        table = replace(table, tablet=first.table.tablet)
    if not found.light and (waiting := next((each for each in table.columns if not each.filled), None)) is not None:
        found = replace(found, light=waiting.light, seconds=waiting.seconds, more=waiting.more, filter=waiting.filter)
    empty = {name: getattr(first, name) for name in ("zoom", "mark", "scale", "light")}
    ticked = tuple(step for step in found.left_out if _STEP.fullmatch(step))[:MOST_STEPS]
    found = replace(
        found, left_out=ticked, **{name: value for name, value in empty.items() if not getattr(found, name)}
    )
    found = replace(found, left_out=ticked)
    if found.mark not in CORNERS:
        found = replace(found, mark=first.mark)
    return replace(found, table=table, source=found.source if _SOURCE.fullmatch(found.source) else "")


def scan_fields(typed: Typed) -> tuple[tuple[str, str], ...]:
    """Return the hidden inputs by which the table of readings keeps what was typed of a scan, to go back to it."""
    own = ScanForm.read(typed).without(*TableForm().named(), "source")
    return tuple((name, text) for name, text in own if text)


def clicked(typed: Mapping[str, str], scan: Scan, zoom: int) -> tuple[int, int] | None:
    """Return the place in the scan's own pixels where the picture was clicked; None where it was not."""
    at = [typed.get(f"{face}.{axis}", "") for face in ("day", "dark") for axis in ("x", "y")]
    pair = at[:2] if at[0] else at[2:]
    if not all(text.isdecimal() and len(text) < 6 for text in pair):
        return None
    width, height = scan.shown(zoom)
    across, down = ((int(text) + 0.5) for text in pair)
    return min(scan.width, int(across * scan.width / width)), min(scan.height, int(down * scan.height / height))


def lists() -> dict[str, tuple[str, ...]]:
    """Return what the lists of the form offer."""
    return {"tablets": (*TABLETS, OWN), "scales": (USUAL, OWN)}
