"""What the journal keeps of the lamp: tests worked, lags found, lights a sensor saw, checks against a reference."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.sheet import Frozen


class PaperTestGiven(Frozen):
    """Every light of a paper test was given: a long one, and trains of `pulses` lights each."""

    kind: Literal["paper test"] = "paper test"
    long_ms: int
    pulses: int
    each_ms: tuple[int, ...]


class LagFound(Frozen):
    """A lamp lag was found, or typed in, relay delays included. `taken` says that it is in force from here on."""

    kind: Literal["lag found"] = "lag found"
    way: Literal["paper", "sensor", "typed"]
    lag_ms: float
    uncertain_ms: float = Field(default=0.0, ge=0.0)
    """One standard deviation; 0 where nothing is known of it."""
    taken: bool = False


class LampChecked(Frozen):
    """The reference light was measured: `level` in counts a second, by the sensor `sensor` at its gain."""

    kind: Literal["lamp checked"] = "lamp checked"
    level: float = Field(gt=0.0)
    sensor: str
    new_bulb: bool = False
    """From here on this level is the reference."""


class LampWarmed(Frozen):
    """The lamp was lit to warm it up."""

    kind: Literal["lamp warmed"] = "lamp warmed"
    lit_ms: int


class LightSeen(Frozen):
    """What the sensor says of a light that is otherwise only assumed from its line."""

    kind: Literal["light seen"] = "light seen"
    sheet: str = ""
    light: str
    came: bool
    """It was seen while the line was lit."""
    stayed: bool = False
    """It was still there half a second after the line was dark."""
