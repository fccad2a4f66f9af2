"""One print of a step tablet as it is typed: its light, its seconds, and what was read at each step."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from controller.exposure.decimals import typed_text_of
from controller.exposure.stops import shown
from controller.paper.readings import HIGHEST_READ, LOWEST_READ, NOISE_DENSITY, Exposure, How, Reading
from controller.words import say
from webui.forms.form import Form, Mistakes, read_amount

ColumnLight = Literal["soft", "hard", "both", "filter"]
LIGHTS: Final[tuple[ColumnLight, ...]] = ("soft", "hard", "both", "filter")


@dataclass(frozen=True)
class Column(Form):
    """One print of the tablet, as typed: its light, its seconds, and what was read at each step."""

    light: str = "soft"
    seconds: str = ""
    more: str = ""
    """Hard seconds, where the print got both."""
    filter: str = ""
    how: str = "densitometer"
    noises: str = ""
    """What a scan knows of single steps: "7:0.031 8:0.02"."""
    cells: tuple[tuple[int, str], ...] = field(default=())

    def cell(self, step: int) -> str:
        """Return what was typed at a step."""
        return dict(self.cells).get(step, "")

    @property
    def filled(self) -> bool:
        """Something was typed at some step."""
        return any(text for _, text in self.cells)

    def waits_for(self, read: Column) -> bool:
        """Tell whether this column is still empty, and nothing typed at its head speaks against that print."""
        heads = ((self.seconds, read.seconds), (self.more, read.more), (self.filter, read.filter))
        return not self.filled and self.light == read.light and all(mine in ("", theirs) for mine, theirs in heads)

    @property
    def heading(self) -> str:
        """What the column is called."""
        if self.light not in LIGHTS:
            return shown(self.light)
        return self.filter if self.light == "filter" and self.filter else say(f"papers.light-{self.light}")

    def exposure(self, at: int, steps: Sequence[tuple[int, float]], wrong: Mistakes) -> Exposure | None:
        """Return the print as a tablet's `steps` (with their densities) have it; None, where `wrong` says why.

        `at` is the column's number, from 0; a sentence in `wrong` belongs to an input of that column.
        """
        before = len(wrong)
        seconds = read_amount(self.seconds, f"column-{at}-seconds", "papers.wrong-seconds", 0.1, 3600.0, wrong)
        more = None
        if self.light == "both":
            more = read_amount(self.more, f"column-{at}-more", "papers.wrong-seconds", 0.1, 3600.0, wrong)
        if self.light == "filter" and not 1 <= len(self.filter) <= 12:
            wrong[f"column-{at}-filter"] = say("papers.wrong-filter")
        if self.light not in LIGHTS:
            wrong[f"column-{at}-seconds"] = say("papers.wrong-light", found=shown(self.light))
        readings, noises = [], _noises(self.noises)
        for step, density in steps:
            text = self.cell(step)
            if not text:
                continue
            name = f"column-{at}-cell-{step}"
            read = read_amount(text, name, "papers.wrong-density", LOWEST_READ, HIGHEST_READ, wrong, step=step)
            if read is not None:
                noise = noises.get(step)
                readings.append(Reading(step=step, tablet_density=density, print_density=read, noise_density=noise))
        if len(readings) < 2 and steps and len(wrong) == before:
            wrong[f"column-{at}-seconds"] = say("papers.one-step", column=self.heading)
        if len(wrong) > before or seconds is None or len(readings) < 2:
            return None
        hard = seconds if self.light == "hard" else more or 0.0
        how: How = "scan" if self.how == "scan" else "densitometer"
        return Exposure(
            soft_seconds=0.0 if self.light == "hard" else seconds,
            hard_seconds=hard,
            filter=self.filter if self.light == "filter" else "",
            how=how,
            noise_density=NOISE_DENSITY[how],
            readings=tuple(readings),
        )


def column_fields(columns: Sequence[Column]) -> Iterator[tuple[str, str]]:
    """Yield the hidden inputs that bring columns to another page's form."""
    for at, column in enumerate(columns):
        yield from ((f"column-{at}-{name}", text) for name, text in column.named().items())
        yield from ((f"column-{at}-cell-{step}", text) for step, text in column.cells if text)


def column_of(exposure: Exposure) -> Column:
    """Return the column that shows a print."""
    noises = " ".join(f"{each.step}:{each.noise_density:g}" for each in exposure.readings if each.noise_density)
    cells = tuple((each.step, typed_text_of(each.print_density)) for each in exposure.readings)
    column = Column(
        seconds=typed_text_of(exposure.soft_seconds), how=exposure.how, noises=noises, cells=tuple(sorted(cells))
    )
    if exposure.filter:
        return replace(column, light="filter", filter=exposure.filter)
    if exposure.soft_seconds and exposure.hard_seconds:
        return replace(column, light="both", more=typed_text_of(exposure.hard_seconds))
    if exposure.hard_seconds:
        return replace(column, light="hard", seconds=typed_text_of(exposure.hard_seconds))
    return column


def _noises(text: str) -> dict[int, float]:
    found = re.findall(r"([0-9]{1,2}):(0\.[0-9]{1,6})", text)
    return {int(step): float(noise) for step, noise in found if 0.0 < float(noise) <= 1.0}
