"""Writes journals for tests: a wall clock that can be set, plans, and sheets with their lights, row by row."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from controller import wall
from controller.recipe.plan import Plan, Step, StepKind, StripPlan
from controller.store.entries import Closed, Entry, Intent, LightCame, NoLightCame, SheetPlanned
from controller.store.journal import Stamp
from controller.store.rows import Row
from controller.store.tray_rows import TrayEntered
from controller.trays.process import TrayName
from hardware.clock import NS_PER_MS

HOUR_NS = 3_600_000_000_000
EVENING = datetime(2025, 3, 1, 19, 0, tzinfo=UTC)


@dataclass
class FakeWall:
    """A wall's clock that stands where it is put."""

    at: datetime = EVENING
    set_from_outside: bool = True

    def now(self) -> datetime:
        return self.at

    def stamp(self, boot: str = "boot-1") -> Stamp:
        return Stamp(boot, "9.9", 1, self.now, lambda: self.set_from_outside)


@dataclass
class Pages:
    """Numbers entries as a journal would, without one."""

    boot: str = "boot-1"
    at_ns: int = 1_000
    at: datetime = EVENING
    synchronised: bool = True
    rows: list[Row] = field(default_factory=list)
    sheets: dict[str, str] = field(default_factory=dict)

    def write(self, *entries: Entry) -> tuple[Row, ...]:
        for entry in entries:
            if isinstance(entry, Intent):
                self.sheets[entry.light] = entry.sheet
            sheet = getattr(entry, "sheet", "")
            if isinstance(entry, LightCame | NoLightCame):
                sheet = self.sheets.get(entry.light, "")
            self.rows.append(
                Row(
                    number=len(self.rows) + 1,
                    boot=self.boot,
                    at_ns=self.at_ns,
                    wall=wall.label(self.at),
                    synchronised=self.synchronised,
                    software="9.9",
                    protocol=1,
                    setup="",
                    sheet=sheet,
                    entry=entry,
                )
            )
        return tuple(self.rows[-len(entries) :])

    def wait(self, hours: float) -> None:
        self.at_ns += round(hours * HOUR_NS)
        self.at += timedelta(hours=hours)


def step(number: int = 1, planned_ms: int = 10_100, base_ms: int | None = None, filter_: str = "soft") -> Step:
    return Step(
        number=number,
        name=f"{filter_} base",
        act=StepKind.BASE,
        filter=filter_,
        planned_ms=planned_ms,
        base_ms=planned_ms if base_ms is None else base_ms,
    )


def plan(*steps: Step, source: str = "crane", version: int = 1) -> Plan:
    return Plan(
        source=source, version=version, kind="recipe", title="Harbour crane", steps=steps or (step(), step(2, 8000))
    )


def strip(source: str = "proof", bands: int = 3, each_ms: int = 3000) -> Plan:
    steps = tuple(
        Step(number=n, name=f"band {n} of {bands}", act=StepKind.BAND, filter="hard", planned_ms=each_ms, base_ms=None)
        for n in range(1, bands + 1)
    )
    return Plan(
        source=source,
        version=1,
        kind="strip",
        title="Proof",
        steps=steps,
        strip=StripPlan(
            filter="hard",
            kind="seconds",
            card="cover",
            pace="press",
            totals_ms=tuple(each_ms * n for n in range(1, bands + 1)),
            pulses_ms=(each_ms,) * bands,
        ),
    )


def intent(light: str, sheet: str, number: int = 1, part: int = 1, lit_ms: int = 10_100, lag_ms: int = 0) -> Intent:
    return Intent(
        light=light, sheet=sheet, step=number, part=part, filter="soft", lit_ms=lit_ms, lag_ms=lag_ms, start_ns=2_000
    )


def came(light: str, lit_ms: float = 10_100, most_ms: float | None = None, why: str = "complete") -> LightCame:
    return LightCame.model_validate(
        {
            "light": light,
            "on_ns": 2_000,
            "least_ns": round(lit_ms * NS_PER_MS),
            "most_ns": round((lit_ms if most_ms is None else most_ms) * NS_PER_MS),
            "why": why,
        }
    )


def through_trays(sheet: str, number: int, *ways: tuple[TrayName, int], celsius: float | None = None) -> list[Entry]:
    """Return the rows of a print that lay in these trays, each so many ms, and out of the last one."""
    rows, at_ms, before = [], 0, 0
    for tray, lay_ms in ways:
        warm = celsius if tray == "developer" else None
        rows.append(
            TrayEntered(
                sheet=sheet,
                number=number,
                tray=tray,
                at_ns=at_ms * NS_PER_MS,
                before_ms=before,
                support="RC",
                celsius=warm,
            )
        )
        at_ms, before = at_ms + lay_ms, lay_ms
    return [
        *rows,
        TrayEntered(sheet=sheet, number=number, tray="", at_ns=at_ms * NS_PER_MS, before_ms=before, support="RC"),
    ]


def whole_sheet(sheet: str, number: int, planned: Plan | None = None) -> list[Entry]:
    """Return the rows of a sheet whose every step was given in one light."""
    planned = planned or plan()
    entries: list[Entry] = [SheetPlanned(sheet=sheet, number=number, plan=planned)]
    for one in planned.steps:
        light = f"{sheet}.{one.number}"
        entries += [intent(light, sheet, one.number, lit_ms=one.planned_ms), came(light, one.planned_ms)]
    return [*entries, Closed(sheet=sheet, outcome="complete")]
