"""Sheets of the tests of paper and developer before a desk, as they wait for their answers."""

from __future__ import annotations

from typing import Final

from controller.recipe.plan import Plan
from controller.store.records import SheetRecord, TrayRecord, When
from controller.trials import developer, reciprocity
from controller.trials.developer import Support
from controller.trials.reciprocity import Grey
from tools.stand_in_desk import StandInDesk

WHEN: Final = When(row=1, boot="b", at_ns=0, wall="2024-01-01T20:15:00+00:00", synchronised=True)
GREY: Final = Grey(ms=10_100, filter="soft", aperture=8.0)


def long_exposures(desk: StandInDesk, sheet: str = "r1", **changes: object) -> SheetRecord:
    """Have the strip of long exposures worked on the paper that is out."""
    plan = reciprocity.plan(GREY, "Long exposures", 600_000)
    return desk.work_plan(_standing(plan, desk), sheet, **changes)


def pieces(desk: StandInDesk, *seconds: int, support: Support = "RC", lay: float = 1.0) -> None:
    """Have pieces developed, each as long as it was to be, or `lay` times that."""
    for each in seconds:
        lay_ms = round(1000 * each * lay)
        tray = TrayRecord(tray="developer", support=support, in_ns=0, lay_ms=lay_ms, put_in_by="time", came=WHEN)
        desk.work_plan(
            _standing(developer.plan(support, each, "soft", 10_000, 600_000), desk), f"d{each}", trays=(tray,)
        )


def _standing(plan: Plan, desk: StandInDesk) -> Plan:
    return plan.model_copy(update={"bench": desk.status().bench})
