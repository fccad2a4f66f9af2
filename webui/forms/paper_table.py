"""The form of a paper's readings: a table for a thumb, a row a step and a column a print, kept as it was typed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from controller.exposure.decimals import decimal_of, decimal_within, typed_text_of
from controller.exposure.stops import shown
from controller.paper.paper import Box, Setup
from controller.paper.readings import MOST_EXPOSURES, MOST_STEPS, Exposure, Tablet, shown_seconds
from controller.paper.written import Written
from controller.words import say
from webui.forms.form import OWN, Form, Mistakes, Move, Typed, moved, read_amount, typed_text
from webui.forms.paper_column import LIGHTS, Column, column_of

TABLETS: Final[Mapping[str, Tablet]] = {"21": Tablet(), "31": Tablet(steps=31, first=0.05, spacing=0.10)}
"""The two usual step tablets; any other is typed as a list."""
ABREAST: Final = 3
"""Columns that stand side by side on the narrowest phone."""
LEFT_OUT: Final = frozenset({"-", "–", "−"})
"""What stands in a list for a step left out."""
_CELL: Final = re.compile(r"column-([0-9]{1,2})-cell-([0-9]{1,2})")


@dataclass(frozen=True)
class TableForm(Form):
    """All that is typed of one paper. `tablet` is "21", "31" or "own"; the own list is in `tablet_own`."""

    paper: str = ""
    box: str = ""
    dated: str = ""
    tablet: str = "21"
    tablet_own: str = ""
    magnification: str = ""
    aperture: str = ""
    head_height: str = ""
    soft_filter: str = ""
    hard_filter: str = ""
    columns: tuple[Column, ...] = ()

    def steps(self) -> tuple[tuple[int, float], ...]:
        """Return the tablet's steps with their densities; none of an own list that cannot be read."""
        return tuple((step, each) for step, each in enumerate(self.densities(), 1) if each is not None)

    def densities(self) -> tuple[float | None, ...]:
        """Return the tablet's densities, step 1 first; None for a step left out, empty for a list that is none."""
        if self.tablet in TABLETS:
            chosen = TABLETS[self.tablet]
            return tuple(chosen.density(step) for step in range(1, chosen.steps + 1))
        return _own_densities(self.tablet_own)[0]

    def groups(self) -> tuple[tuple[tuple[int, Column], ...], ...]:
        """Return the columns, numbered from 0, as many at a time as stand abreast."""
        every = tuple(enumerate(self.columns))
        return tuple(every[at : at + ABREAST] for at in range(0, len(every), ABREAST))

    def names(self) -> Iterator[str]:
        """Yield the names of the inputs where a sentence may stand."""
        yield from self.inputs()
        for at, _ in enumerate(self.columns):
            yield from (f"column-{at}-seconds", f"column-{at}-more", f"column-{at}-filter")
            yield from (f"column-{at}-cell-{step}" for step, _ in self.steps())

    def after(self, move: Move) -> TableForm:
        """Return the form after a column was added or taken away."""
        if move.verb == "add" and move.kind in LIGHTS:
            if len(self.columns) >= MOST_EXPOSURES:
                return self
            return replace(self, columns=(*self.columns, Column(light=move.kind)))
        return replace(self, columns=moved(self.columns, move, Column())) if move.kind == "column" else self

    def with_print(self, read: Column) -> TableForm | None:
        """Return the table with a print that was read, in the column that waits for it or in one more; None if full."""
        waiting = next((at for at, each in enumerate(self.columns) if each.waits_for(read)), len(self.columns))
        if waiting >= MOST_EXPOSURES:
            return None
        return replace(self, columns=(*self.columns[:waiting], read, *self.columns[waiting + 1 :]))

    # ---- what it says

    def amiss(self) -> Mistakes:
        """Return a sentence for each column whose light is none: no button and no page of ours makes one."""
        return {
            f"column-{at}-seconds": say("papers.wrong-light", found=shown(column.light))
            for at, column in enumerate(self.columns)
            if column.light not in LIGHTS
        }

    def written(self) -> tuple[Written | None, Mistakes]:
        """Return what was written down; or None, and a sentence for each input that is wrong."""
        wrong: Mistakes = {}
        if not 1 <= len(self.paper) <= 80:
            wrong["paper"] = say("papers.no-name")
        box, setup = self._box(wrong), self._setup(wrong)
        exposures = self.exposures(wrong)
        if not exposures and not wrong:
            wrong["column-0-seconds"] = say("papers.no-readings")
        if wrong or box is None or setup is None:
            return None, wrong
        own = tuple(each for each in exposures if not each.filter)
        filters = tuple(each for each in exposures if each.filter)
        return Written(paper=self.paper, box=box, setup=setup, exposures=own, filters=filters), {}

    def exposures(self, wrong: Mistakes) -> tuple[Exposure, ...]:
        """Return the prints that were typed, adding to `wrong` what is; a column without readings is none."""
        if self.tablet not in TABLETS and self.tablet != OWN:
            wrong["tablet"] = say("papers.no-tablet")
        elif self.tablet == OWN and (problem := _own_densities(self.tablet_own)[1]):
            wrong["tablet-own"] = problem
        found: list[Exposure] = []
        for at, column in enumerate(self.columns):
            if not column.filled:
                continue
            exposure = column.exposure(at, self.steps(), wrong)
            if exposure is None:
                continue
            lights = {(each.soft_seconds, each.hard_seconds, each.filter) for each in found}
            same = exposure.filter and exposure.filter in {each.filter for each in found}
            if same or (exposure.soft_seconds, exposure.hard_seconds, exposure.filter) in lights:
                wrong[f"column-{at}-seconds"] = say("papers.same-light", light=shown_seconds(exposure))
            found.append(exposure)
        return tuple(found)

    def _box(self, wrong: Mistakes) -> Box | None:
        return read_box(self.box, self.dated, wrong)

    def _setup(self, wrong: Mistakes) -> Setup | None:
        before = len(wrong)
        limits = {"magnification": (0.01, 200.0), "aperture": (0.5, 128.0), "head-height": (0.0, 10000.0)}
        found: dict[str, float | None] = {}
        for name, (least, most) in limits.items():
            text = str(getattr(self, name.replace("-", "_")))
            found[name] = read_amount(text, name, "papers.wrong-number", least, most, wrong) if text else None
        for name, text in (("soft-filter", self.soft_filter), ("hard-filter", self.hard_filter)):
            if len(text) > 12:
                wrong[name] = say("papers.wrong-filter")
        if len(wrong) > before:
            return None
        return Setup(
            magnification=found["magnification"],
            aperture=found["aperture"],
            head_height_mm=found["head-height"],
            soft_filter=self.soft_filter,
            hard_filter=self.hard_filter,
        )


def read_box(label: str, dated: str, wrong: Mistakes) -> Box | None:
    """Return the box that was typed; None, and a sentence beside its field, where it is none."""
    if len(label) > 80:
        wrong["box"] = say("papers.long-label")
        return None
    try:
        return Box(label=label, dated=date.fromisoformat(dated))
    except ValueError:
        wrong["dated"] = say("papers.wrong-date", found=dated[:40])
        return None


def read_densities(text: str) -> tuple[float | None, ...]:
    """Return a typed list of densities, parted by spaces, semicolons or line ends; None stands for what is none."""
    found = (decimal_of(part) for part in re.split(r"[\s;]+", text.strip()) if part)
    return tuple(None if each is None else float(each) for each in found)


# ---- reading what was typed, and showing what is kept


def read_table_form(typed: Typed) -> TableForm:
    """Return the table's form as it was typed."""
    numbers = sorted({int(match[1]) for name in typed if (match := re.match(r"column-([0-9]{1,2})-light", name))})
    columns = []
    for at in numbers[:MOST_EXPOSURES]:
        cells = []
        for name, text in typed.items():
            match = _CELL.fullmatch(name)
            if match and int(match[1]) == at and 1 <= int(match[2]) <= MOST_STEPS:
                cells.append((int(match[2]), typed_text(text)))
        columns.append(replace(Column.read(typed, f"column-{at}-"), cells=tuple(sorted(cells))))
    return replace(TableForm.read(typed), columns=tuple(columns))


def new_table_form(today: date) -> TableForm:
    """Return an empty table for soft, hard and both."""
    return TableForm(dated=today.isoformat(), columns=tuple(Column(light=each) for each in LIGHTS[:3]))


def table_form_of(written: Written) -> TableForm | None:
    """Return the form that shows what was written down; None where it was read off more than one tablet."""
    densities: dict[int, float] = {}
    for each in written.prints:
        for reading in each.readings:
            if densities.setdefault(reading.step, reading.tablet_density) != reading.tablet_density:
                return None
    setup = written.setup
    form = TableForm(
        paper=written.paper,
        box=written.box.label,
        dated=written.box.dated.isoformat(),
        magnification=typed_text_of(setup.magnification),
        aperture=typed_text_of(setup.aperture),
        head_height=typed_text_of(setup.head_height_mm),
        soft_filter=setup.soft_filter,
        hard_filter=setup.hard_filter,
        columns=tuple(column_of(each) for each in written.prints),
    )
    for name, tablet in TABLETS.items():
        if all(step <= tablet.steps and tablet.density(step) == each for step, each in densities.items()):
            return replace(form, tablet=name)
    listed = (typed_text_of(densities[step]) if step in densities else "–" for step in range(1, max(densities) + 1))
    return replace(form, tablet=OWN, tablet_own=" ".join(listed))


def _own_densities(text: str) -> tuple[tuple[float | None, ...], str]:
    """Return an own tablet's densities, and what is wrong with the list; a dash, None, stands for a step left out."""
    parts = re.split(r"[\s;]+", text.strip()) if text.strip() else []
    if not 2 <= len(parts) <= MOST_STEPS:
        return (), say("papers.tablet-steps", most=MOST_STEPS)
    found: list[float | None] = []
    for step, part in enumerate(parts, 1):
        value = None if part in LEFT_OUT else decimal_within(part, 0, 6)
        if part not in LEFT_OUT and value is None:
            return (), say("papers.tablet-density", step=step, found=part[:20])
        found.append(None if value is None else float(value))
    return tuple(found), ""
