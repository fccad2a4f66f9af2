"""What the journal says of tests: what one found, that it was taken back, and after how long it is made again."""

from __future__ import annotations

from typing import Final, Literal

from pydantic import Field

from controller.model import Frozen
from controller.trials.results import TrialName, TrialResult


class TrialDone(Frozen):
    """A trial found something, and set what it says that it changed."""

    kind: Literal["trial"] = "trial"
    result: TrialResult


class TrialTakenBack(Frozen):
    """A trial's result counts no more, and what it set is as it was before."""

    kind: Literal["trial taken back"] = "trial taken back"
    trial: TrialName
    id: str
    """The result's."""


class TrialInterval(Frozen):
    """A trial is made again after so many days from here on; None: only when what it is of changes."""

    kind: Literal["trial interval"] = "trial interval"
    trial: TrialName
    days: int | None = Field(default=None, ge=1, le=3660)


class Waited(Frozen):
    """A wait before a step's light is over, in the sheet of a test."""

    kind: Literal["waited"] = "waited"
    sheet: str
    step: int
    wait: int = Field(ge=1)
    """Which of the step's waits, from 1."""
    until_ns: int
    ms: int = Field(ge=1)


class GreyFound(Frozen):
    """So long a light gives a light grey on a paper, with no negative in: what the tests of fog begin with."""

    kind: Literal["grey found"] = "grey found"
    strip: str
    """The sheet that it was found on."""
    paper: str = ""
    """The paper's id on the shelf, or its name; empty for one that nobody named."""
    box: str = ""
    filter: str
    ms: int = Field(ge=1, le=900_000)
    density: float = Field(ge=0.0, le=4.0)


TRIAL_ROWS: Final = (TrialDone, TrialTakenBack, TrialInterval, GreyFound)
