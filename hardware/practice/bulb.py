"""The bulb in the practice lamp: how it answers its line, and how bright it is; kept in a small file of the room."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final

from hardware.errors import LineError
from hardware.practice.meter import IDEAL, LampModel


@dataclass(frozen=True, slots=True)
class Bulb:
    """A bulb: `brightness` 1 is as new, 0.89 a sixth of a stop weaker."""

    model: LampModel = field(default=IDEAL)
    brightness: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what no bulb can do."""
        if not 0.0 <= self.brightness <= 4.0:
            raise ValueError(f"brightness is {self.brightness}, and must lie between 0 and 4")


NEW = Bulb()
LONGEST_WHY: Final = 160
"""Letters of what Python says of a file, within the sentence."""


def read_bulb(runtime: Path) -> Bulb:
    """Return the bulb that is in the lamp; where none was ever put in, an ideal one.

    Raises:
        LineError: the file is no bulb.
    """
    path = runtime / "bulb.json"
    try:
        found = json.loads(path.read_text("utf-8"))
        return Bulb(LampModel(**found["model"]), found["brightness"])
    except FileNotFoundError:
        return NEW
    except (OSError, ValueError, TypeError, KeyError, OverflowError, RecursionError) as problem:
        why = ascii(str(problem))[1:-1][:LONGEST_WHY]  # it may be made of what the file holds
        raise LineError(f"the practice bulb {path} cannot be read ({why}): remove the file") from problem


def put_bulb(runtime: Path, bulb: Bulb) -> None:
    """Put another bulb into the lamp."""
    making = runtime / "bulb.making"
    making.write_text(json.dumps(asdict(bulb)), "utf-8")
    making.replace(runtime / "bulb.json")
