"""What a test found, as it is kept: its own figures, what it changed, and when it is due again. Pure.

In code a test evening's tests are trials, so that they are not taken for the tests of this software.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Annotated, Final, Literal

from pydantic import Field

from controller.model import Frozen
from controller.recipe.plan import TEST_SOURCE
from controller.trials.alignment import AlignmentFound
from controller.trials.developer import DeveloperFound
from controller.trials.evenness import CoverageFound, EvennessFound
from controller.trials.lamp import LampFound
from controller.trials.phone import PhoneFound
from controller.trials.reciprocity import ReciprocityFound
from controller.trials.safelight import SafelightFound

TrialName = Literal["safelight", "phone", "evenness", "coverage", "alignment", "reciprocity", "developer", "lamp"]
TrialBody = Annotated[
    SafelightFound  # a model a trial, with a literal `trial` of its own
    | PhoneFound
    | EvennessFound
    | CoverageFound
    | AlignmentFound
    | ReciprocityFound
    | DeveloperFound
    | LampFound,
    Field(discriminator="trial"),
]
SOURCE: Final = TEST_SOURCE
SOON_DAYS: Final = 30
"""A trial that is due within so many days is due soon; our own choice."""
USUAL_DAYS: Final[dict[TrialName, int | None]] = {
    "safelight": 365,
    "phone": 365,
    "evenness": None,
    "coverage": None,
    "alignment": None,
    "reciprocity": None,
    "developer": None,
    "lamp": None,
}
"""After how long each is usually made again; common practice, and each can be set. None: when what it is of changes."""


class Changed(Frozen):
    """One thing that a trial set: `what` is a key of the catalogue, and both values stand as a person reads them."""

    what: str
    was: str
    now: str
    back: str = Field(default="", exclude_if=lambda back: not back)
    """What taking it back needs to know besides, as JSON."""


class TrialResult(Frozen):
    """What one trial found, once its answers leave no doubt."""

    id: str
    body: TrialBody
    at: str
    """ISO 8601 in UTC, of the wall's clock."""
    of: str = ""
    """The id of what it is of: a paper, an enlarger, a phone; empty where there is only one."""
    of_title: str = ""
    sheets: tuple[str, ...] = Field(default=(), max_length=12)
    """The sheets that it was read from."""
    outcome: str
    """A key of the catalogue, filled in with `figures`."""
    figures: dict[str, str] = Field(default_factory=dict)
    due_days: int | None = Field(default=None, ge=1, le=3660)
    """After how long it is to be made again, as far as nothing else was said since."""
    changed: tuple[Changed, ...] = Field(default=(), max_length=8)

    @property
    def trial(self) -> TrialName:
        """Which trial it is of."""
        return self.body.trial

    @property
    def day(self) -> date:
        """The day on which it was made."""
        return date.fromisoformat(self.at[:10])


class Due(Frozen):
    """How a trial stands: whether it is to be made, and why."""

    state: Literal["never", "due", "soon", "fine"]
    day: date | None = None
    """When it is due by its interval; None where it has none."""
    why: str = ""
    """A key of the catalogue: what changed since; empty where only time went by."""

    @property
    def wanted(self) -> bool:
        """Whether it is to be made now."""
        return self.state in ("never", "due")


def due(last: TrialResult | None, today: date, *, days: int | None = 0, why: str = "") -> Due:
    """Return how a trial stands that was made `last`; None: never, or not of what there is now.

    `days` is its interval, None where it has none; 0: its result's own. `why` says what changed since, so that it is
    due whatever the day.
    """
    if last is None:
        return Due(state="never", why=why)
    interval = last.due_days if days == 0 else days
    day = None if interval is None else last.day + timedelta(days=interval)
    if why or (day is not None and day <= today):
        return Due(state="due", day=day, why=why)
    soon = day is not None and day <= today + timedelta(days=SOON_DAYS)
    return Due(state="soon" if soon else "fine", day=day)
