"""The phone test, pure: how bright a phone's dark page may be where it lies beside the paper."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.model import Frozen
from controller.trials.safelight import LEAST_GREY, MOST_GREY, Minutes


class PhoneFound(Frozen):
    """The last quarters that do not differ, with the phone's dark page at one level of red where it lies."""

    trial: Literal["phone"] = "phone"
    before: Minutes
    after: Minutes
    grey: float = Field(ge=LEAST_GREY, le=MOST_GREY)
    level: int = Field(ge=1, le=5)
    """The level of red that it stood at."""
    safe_minutes: float = Field(gt=0.0, le=7.0)
    passed: bool
    """It may be used at this level for as long as paper lies under the safelight."""
