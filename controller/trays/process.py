"""A process: which trays a print goes through, how long it lies in each, and when white light may see it. Pure.

The two that come with the program hold usual figures of the trade, no maker's: what stands on the bottle and the
paper's sheet comes first.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from controller.exposure.decimals import decimal_of
from controller.model import Frozen
from controller.recipe import versioned
from controller.recipe.fields import Notes, refusal
from controller.recipe.plan import Plan
from controller.recipe.versioned import PlaceNames, VersionedForm

Support = Literal["RC", "FB"]

TrayName = Literal["on its way", "developer", "drain", "stop", "fix", "fix 1", "fix 2", "rinse", "aid", "wash"]
"""The places a print lies in; with one fix it is "fix", with two "fix 1" and "fix 2"; "wash" may come twice."""

BathName = Literal["developer", "stop", "fix", "fix 1", "fix 2", "aid"]
"""The trays whose bath wears out, and is made fresh."""

ON_ITS_WAY_S: Final = 10
"""From the closing hold to the developer: the paper is taken off the easel and carried over."""


@dataclass(frozen=True, slots=True)
class Tray:
    """One place on the way: what it is called, and how long the print lies there, in ms."""

    name: TrayName
    ms: int


def number_as_typed(value: object) -> object:
    """Return a number of a file, or of a form that has it as text; what is neither is refused."""
    number = decimal_of(value) if isinstance(value, str) else value
    if number is None or isinstance(number, bool):
        raise refusal("recipe.not-a-number")
    return number


class Process(Frozen):
    """How a print on one support is developed, fixed and washed. Seconds are the clock's, at `celsius`."""

    support: Support
    developer_seconds: float = Field(ge=10.0, le=900.0, description="In the developer, where it goes by time.")
    factor: float | None = Field(
        default=None,
        ge=2.0,
        le=40.0,
        description="Times the first appearance: the print is developed for so many times the seconds in which it "
        "first shows. Nothing: by time.",
    )
    drain_seconds: float = Field(ge=0.0, le=60.0, description="Lifted out of the developer, over its tray.")
    stop_seconds: float = Field(ge=0.0, le=300.0, description="In the stop bath, or in water in its place.")
    fix_seconds: float = Field(ge=10.0, le=1200.0, description="In the fix; with two, in the first.")
    fix_2_seconds: float = Field(default=0.0, ge=0.0, le=1200.0, description="In the second fix; 0: one fix alone.")
    rinse_seconds: float = Field(default=0.0, ge=0.0, le=1800.0, description="In water after the fix.")
    wash_seconds: float = Field(ge=0.0, le=7200.0, description="In running or changed water.")
    aid_seconds: float = Field(default=0.0, ge=0.0, le=1800.0, description="In wash aid; 0: none.")
    wash_2_seconds: float = Field(default=0.0, ge=0.0, le=7200.0, description="In the wash after the aid.")
    least_fix_seconds: float = Field(
        ge=10.0, le=600.0, description="So long in the fix before any white light: focus light, room light, day face."
    )
    agitation_seconds: float = Field(
        default=15.0, ge=0.0, le=120.0, description="A tick so often in the trays: rock them. 0: no tick."
    )
    celsius: float = Field(default=20.0, ge=10.0, le=35.0, description="Of the developer, in degrees Celsius.")
    notes: Notes = Field(default="", exclude_if=lambda notes: not notes, description="Which developer, how diluted.")

    @field_validator("*", mode="before")
    @classmethod
    def _number_as_typed(cls, value: object, info: ValidationInfo) -> object:
        if info.field_name in ("support", "notes") or (value is None and info.field_name == "factor"):
            return value
        return number_as_typed(value)

    @model_validator(mode="after")
    def _least_fix_within_fix(self) -> Self:
        if self.least_fix_seconds > self.fix_seconds + self.fix_2_seconds:
            whole = self.fix_seconds + self.fix_2_seconds
            raise refusal("trays.least-fix", at=("least_fix_seconds",), fix=f"{whole:g}")
        return self

    @property
    def trays(self) -> tuple[Tray, ...]:
        """Return the way of a print from the easel to the drying, without those that it does not lie in."""
        fix: TrayName = "fix 1" if self.fix_2_seconds else "fix"
        way: tuple[tuple[TrayName, float], ...] = (
            ("on its way", ON_ITS_WAY_S),
            ("developer", self.developer_seconds),
            ("drain", self.drain_seconds),
            ("stop", self.stop_seconds),
            (fix, self.fix_seconds),
            ("fix 2", self.fix_2_seconds),
            ("rinse", self.rinse_seconds),
            ("wash", self.wash_seconds),
            ("aid", self.aid_seconds),
            ("wash", self.wash_2_seconds),
        )
        return tuple(Tray(name, round(seconds * 1000)) for name, seconds in way if seconds)

    @property
    def first_fix(self) -> int:
        """Return where in `trays` the first fix stands."""
        return next(at for at, tray in enumerate(self.trays) if tray.name in ("fix", "fix 1"))


USUAL: Final[dict[Support, Process]] = {
    "RC": Process(
        support="RC",
        developer_seconds=90,
        drain_seconds=10,
        stop_seconds=20,
        fix_seconds=60,
        wash_seconds=120,
        least_fix_seconds=30,
    ),
    "FB": Process(
        support="FB",
        developer_seconds=150,
        drain_seconds=15,
        stop_seconds=30,
        fix_seconds=60,
        fix_2_seconds=120,
        rinse_seconds=60,
        wash_seconds=300,
        aid_seconds=600,
        wash_2_seconds=300,
        least_fix_seconds=60,
    ),
}
"""Usual figures at 20 °C (common practice; within what is printed on papers' sheets: develop 1 to 3 min, stop 10 to
30 s, fix 30 to 60 s of fresh rapid fixer, wash, aid, wash): every one may be changed."""


def process_for(support: str, processes: Mapping[Support, Process]) -> Process:
    """Return the process of a paper; one whose support nobody has said is treated as FB, the longer way."""
    return processes["RC"] if support == "RC" else processes["FB"]


def process_for_plan(plan: Plan, processes: Mapping[Support, Process]) -> Process:
    """Return the process of a sheet's paper; that of a test may be developed for a time of its own, by the clock."""
    process = process_for("" if plan.bench is None else plan.bench.support, processes)
    if plan.develop_seconds is None:
        return process
    return process.model_copy(update={"developer_seconds": plan.develop_seconds, "factor": None})


# ---- as a file

PROCESS: Final = "treadle/process/1"
_FORM: Final = VersionedForm(PROCESS, Process)


def read_process(text: str | bytes, name: str) -> Process:
    """Return the process that a file holds; `name` is the file's, for the refusal.

    Raises:
        Unreadable: one sentence with the file, the key and the remedy.
    """
    return versioned.read(text, name, _FORM)


def process_of(tree: dict[str, Any], name: str, place_names: PlaceNames | None = None) -> Process:
    """Return the process in a tree of plain values, as a page's form fills it. Raises `Unreadable`."""
    return versioned.checked(tree, name, _FORM, place_names=place_names)


def write_process(process: Process) -> str:
    """Return the file of a process; `read_process` reads the same one from it."""
    tree = {"format": PROCESS, **process.model_dump(mode="json", exclude_none=True)}
    return json.dumps(tree, ensure_ascii=False, indent=2) + "\n"
