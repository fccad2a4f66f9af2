"""The sheet that `treadle serve` prints in the emulated machine: chosen before it boots, and read from what comes back.

A program loads some twenty times as slowly in there as out here, and the store takes as long to load as all else that a
scene needs. So what the guest itself imports of this are the lights alone; the rest is imported where it is called.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Final

LIGHTS: Final = (("soft", 0.4), ("hard", 0.7))
"""Filter and seconds of each."""
RECIPE: Final = {
    "format": "treadle/recipe/1",
    "title": "Two lights",
    "local": [],
    "light": [{"filter": name, "seconds": seconds} for name, seconds in LIGHTS],
}
_CHOSEN: Final = "chosen"
_PRINTED: Final = "printed"


def choose(out: Path) -> None:
    """Keep the recipe, and have a journal tell that it was chosen: the daemon that begins with these begins with it."""
    from controller.store.entries import Loaded
    from controller.store.folder import DataFolder
    from controller.store.journal import Journal, Stamp
    from controller.store.shelf import Shelf
    from hardware.clock import MonotonicClock

    data = DataFolder(out / _CHOSEN)
    shelf = Shelf.open(data.shelf)
    kept = shelf.save("recipe", str(RECIPE["title"]), json.dumps(RECIPE))
    shelf.close()
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    journal.append(Loaded(source=kept.id, version=kept.version, title=kept.title))
    journal.close()


def take_in(out: Path, data: Path) -> None:
    """In the machine: copy what was chosen to where the service is to find it."""
    shutil.copytree(out / _CHOSEN, data)


def give_out(data: Path, out: Path) -> None:
    """In the machine: copy what the service left behind to where it can be read from outside."""
    shutil.rmtree(out / _PRINTED, ignore_errors=True)
    shutil.copytree(data, out / _PRINTED, ignore=shutil.ignore_patterns("run"))


def lights_on_file(out: Path) -> list[dict[str, object]]:
    """Return the lights that the journal tells of; none where nothing came back."""
    from controller.store.entries import LightCame
    from controller.store.folder import DataFolder
    from controller.store.journal import Journal, Stamp
    from hardware.clock import MonotonicClock

    data = DataFolder(out / _PRINTED)
    if not data.journal.exists():
        return []
    journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
    came = [row.entry for row in journal.rows() if isinstance(row.entry, LightCame)]
    journal.close()
    return [entry.model_dump() for entry in came]
