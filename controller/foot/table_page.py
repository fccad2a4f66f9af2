"""The foot-switch table as a page of the reference: `python -m controller.foot.table_page` prints it.

The rows are the places of `controller.foot.places`, the cells the words of `table.TABLE`; what the keeper's own words
bring about by themselves (light at the end of a lead-in, dark at the end of a plan) stands in `BY_THE_KEEPER`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from controller.foot.places import AskGiven, Fault, Focus, Gap, Held, LeadIn, Light, Place, WhiteWarning
from controller.foot.snapshot import NAMES
from controller.foot.table import TABLE, Gesture

BY_THE_KEEPER: Final[dict[type[Place], str]] = {
    LeadIn: "over → light",
    Light: "plan reached → next step, or gap; by the light sensor far too strong: dark, alarm → stopped, or change "
    "filter",
    Gap: "over → light",
    Held: "never expires",
    WhiteWarning: "2.0 s and contact at rest → focus light; else dropped",
    Focus: "limit → dark, guard on",
    Fault: "clears on release, or when the lamp control answers; nothing restarts",
}
"""What happens without a gesture where the grammar has no moment of its own to wait for."""
ROWS: Final[dict[type[Place], str]] = {**NAMES, Held: "stopped", AskGiven: "count it as done?"}
"""What a row is called: the place's own name, but where a printer says it otherwise."""

_GESTURES: Final[tuple[Gesture, ...]] = ("press", "hold", "double", "by itself")
_HEAD: Final = """\
# The foot-switch table

One contact under one foot, three gestures: **press** = go or stop, **hold** (0.8 s) = close the sheet, or when no sheet
is open the next tray or white light, **double** = say again. A press is heard as soon as it is known, before a hold is
decided; a hold takes back what its own foot-down did.

How to read it: find the row that says where you are, and the column of what your foot does. A “–” is a gesture that
does nothing. *Slanted* words say what comes of a whole gesture whose first contact has led elsewhere already; the row
it led to does the rest.

- **gap**: the dark between two bands of a strip in a rhythm
- **stopped**: on the way, with exposure still missing
- **set-up asked**: the next sheet is set up otherwise than the last: head, lens, carrier, easel
- **hands asked**: a step without light: the negative, the opal, the lens, a carrier, a mask or your own words are
  waited for. Several come one after the other. They stand before a step's filter and light, and after the last light
  before *finished*; they open no sheet. After a restart those of the present step are asked again
- **settling**: the seconds in which your hands come out of the light
- **waiting**: the minutes of a test in which paper lies beside the safelight or the phone; no light begins in them
- **guard on**: dark, and white light has to be asked for anew

**Readings at the easel** are lights of no sheet: they stand in the rows of *ready*, *lead-in* and *light*. A press
begins the light, with the sound of the warning; the next press ends it, and has measured the spot. A hold, wherever it
falls, ends the readings: it takes the light or the reading of its own press back, asks nothing, and leads to no white
light.

**Prints in the trays.** A foot-down has one reader: light, lead-in, gap and warning; then an open sheet; then a print
that waits for a press; then the row below. While a print waits, its press is the print's: “in the developer”, then
“first appearance”, where its process has a factor; a hold or double takes that back. Until a print is in the fix no
new sheet's light begins, nor a check's: a press is answered with “wait”. Until it has had its least time there, white
light of any kind is refused, and a hold with no sheet open is “next tray now”: not in the ten seconds after a close,
at most once in ten seconds, and never out of the fix. Where no print is followed (trays by time, after a restart, after
a paper test of the lamp) white light waits by time, and a new sheet's light for nothing: you know where the print is.

(Made from the code by `python -m controller.foot.table_page`; a test holds the two equal.)
"""


def cell(place: type[Place], gesture: Gesture) -> str:
    """Return the words of one cell; what happens on release is folded into the press."""
    rule = TABLE.get((place, gesture))
    release = TABLE.get((place, "release"))
    if gesture == "press" and release is not None:
        return f"on release: {release.words}"
    if gesture == "by itself" and rule is None:
        return BY_THE_KEEPER.get(place, "–")
    if rule is None:
        return "–"
    return rule.words if rule.do is not None else f"*{rule.words}*"


def lines() -> Iterator[str]:
    """Return the table's lines as Markdown, heading first."""
    yield "| state | " + " | ".join(_GESTURES) + " |"
    yield "| --- |" + " --- |" * len(_GESTURES)
    for place, name in ROWS.items():
        yield f"| {name} | " + " | ".join(cell(place, gesture) for gesture in _GESTURES) + " |"


def page() -> str:
    """Return the whole page."""
    return f"{_HEAD}\n" + "\n".join(lines()) + "\n"


if __name__ == "__main__":
    print(page(), end="")
