"""What the journal says of the wet side: where a print lies, and which bath stands in a tray."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from controller.model import Frozen
from controller.trays.process import BathName, TrayName


class TrayEntered(Frozen):
    """A print came into a tray of its process, or out of the last one.

    A row that goes back to the tray before takes the one before it back: its press was part of a hold or double.
    """

    kind: Literal["tray"] = "tray"
    sheet: str
    number: int
    """The sheet's running number."""
    tray: TrayName | Literal[""]
    """Empty: it is out of the last tray, or nobody follows it any more."""
    at_ns: int
    by: Literal["time", "foot", "hold", "page"] = "time"
    before_ms: int = Field(default=0, ge=0)
    """How long it lay in the tray before, by the process's clock, which a practice darkroom may hurry."""
    appearance_ms: int | None = Field(default=None, exclude_if=lambda value: value is None)
    """Out of the developer: when the image first showed, where the time was found by that."""
    support: Literal["RC", "FB"] = "FB"
    developer_seconds: float | None = Field(default=None, exclude_if=lambda value: value is None)
    """How long it is to be developed, where that is not the usual time."""
    celsius: float | None = Field(default=None, exclude_if=lambda value: value is None)
    bath: str = Field(default="", exclude_if=lambda value: not value)
    """Which bath of the ledger was in the tray."""
    prints: int = Field(default=0, ge=0, exclude_if=lambda value: not value)
    """Which print of that bath this one is."""
    eights: float = Field(default=0.0, ge=0.0, exclude_if=lambda value: not value)
    """How many 8×10 its paper is, as far as that is known; 0: not known."""


class BathMade(Frozen):
    """A fresh bath stands in a tray, or what stood in another one was moved up; the one before is used up."""

    kind: Literal["bath"] = "bath"
    tray: BathName
    bath: str
    """Its id: baths are told apart by it for ever."""
    support: Literal["RC", "FB", ""] = Field(default="", exclude_if=lambda value: not value)
    litres: float = Field(ge=0.1, le=100.0)
    use_by: str = Field(default="", exclude_if=lambda value: not value)
    """The last day on which it is to be used, as YYYY-MM-DD."""
    moved_up: bool = Field(default=False, exclude_if=lambda value: not value)
    """It was the second fix before."""
    changes: int = Field(default=0, ge=0, exclude_if=lambda value: not value)
    """How often the pair of fixes had been moved up when it was made."""
