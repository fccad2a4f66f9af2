"""Processes, and the baths that stand in the trays: looked at, kept, made fresh; each print's row stamped with them.

Safe from any thread, but for `stamped`, which is the runner's.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from typing import Final, get_args

from controller import wall
from controller.daemon.recipe_shelf import RecipeShelf
from controller.errors import ControllerError
from controller.model import new_id
from controller.recipe.plan import Plan
from controller.recipe.recipe import Recipe
from controller.store import baths
from controller.store.entries import Entry, SheetPlanned
from controller.store.lookups import OF_THE_JOURNAL, Lookups
from controller.store.rows import Reader
from controller.store.shelf import Shelf
from controller.store.tray_rows import BathMade, TrayEntered
from controller.trays.development import usual_appearance_s
from controller.trays.ledger import (
    Bath,
    BathRules,
    eights,
    made_fresh,
    moves_up,
    room_left,
    share_used,
    why_away,
    without_aid,
)
from controller.trays.process import BathName, Process, Support

NAMES: Final[tuple[BathName, ...]] = get_args(BathName)
_KEPT: Final = 8
"""Sheets whose size is remembered: more than lie in the trays at once."""


@dataclass(frozen=True, slots=True)
class InTray:
    """What is said of one tray on the page."""

    bath: Bath | None
    """None: nothing was ever said of it, and no print has lain in it."""
    tray: BathName
    litres: float
    why: tuple[str, ...]
    """Why it is to be poured away, as `controller.trays.ledger.why_away`."""
    left: tuple[tuple[Support, int], ...]
    """How many more 8×10 it may have of each support that comes into it."""
    used: float | None
    """How much of its capacity is used, 1 where all of it is; None where paper is not counted."""
    moves_up: bool
    """Of the first of two fixes: its second moves up into it when it is poured away."""


class TrayShelf:
    """What may be done with processes and baths."""

    def __init__(
        self,
        shelf: Shelf,
        lookups: Lookups,
        rows: Reader,
        recipes: RecipeShelf,
        today: Callable[[], date] = lambda: wall.now().astimezone().date(),
    ) -> None:
        self._shelf, self._lookups, self._rows, self._recipes, self._today = shelf, lookups, rows, recipes, today
        self._plans: dict[str, Plan] = {}
        self._eights: dict[str, float] = {}
        self._standing: dict[BathName, Bath] | None = None

    # ---- processes

    def processes(self) -> dict[Support, Process]:
        """Return the process for each support."""
        return baths.kept_processes(self._shelf)

    def keep_process(self, process: Process) -> None:
        """Keep a process. Raises `StoreTrouble`."""
        baths.keep_process(self._shelf, process)

    def rules(self) -> BathRules:
        """Return how long baths last."""
        return baths.kept_rules(self._shelf)

    def keep_rules(self, rules: BathRules) -> None:
        """Keep how long baths last. Raises `StoreTrouble`."""
        baths.keep_rules(self._shelf, rules)

    # ---- baths

    def standing(self) -> dict[BathName, Bath]:
        """Return the bath that stands in each tray, with what it has had, as far as it is looked up by now."""
        self._lookups.follow(*OF_THE_JOURNAL)
        return baths.standing(self._lookups, self.rules())

    def in_trays(self) -> tuple[InTray, ...]:
        """Return the trays that prints go through by the processes as they are, in order, with what stands there."""
        rules, standing, processes = self.rules(), self.standing(), self.processes()
        ways: dict[Support, set[str]] = {
            support: {tray.name for tray in process.trays} for support, process in processes.items()
        }
        return tuple(
            self._in_tray(name, standing, rules, {by: processes[by] for by in processes if name in ways[by]})
            for name in NAMES
            if any(name in way for way in ways.values())
        )

    def _in_tray(
        self,
        tray: BathName,
        standing: dict[BathName, Bath],
        rules: BathRules,
        processes: dict[Support, Process],
    ) -> InTray:
        bath = standing.get(tray)
        aid = "FB" not in processes or not without_aid(processes["FB"])
        counted = bath or Bath(tray, "", rules.of(tray).litres)
        left = [(support, room_left(counted, rules, support, aid=aid)) for support in sorted(processes, reverse=True)]
        of_last = None if not counted.appeared_on else processes.get(counted.appeared_on)
        return InTray(
            bath=bath,
            tray=tray,
            litres=counted.litres,
            why=why_away(
                counted,
                rules,
                self._today(),
                aid=aid,
                usual_appearance_s=None if of_last is None else usual_appearance_s(of_last),
            ),
            left=tuple((support, much) for support, much in left if much is not None),
            used=share_used(counted, rules, aid=aid) if any(much is not None for _, much in left) else None,
            moves_up=tray == "fix 1" and moves_up(standing, rules),
        )

    def made_fresh(
        self, tray: BathName, *, litres: float | None = None, use_by: str | None = None, both: bool = False
    ) -> tuple[BathMade, ...]:
        """Return the rows that say that a tray has a fresh bath; of two fixes the second may move up."""
        fresh = made_fresh(
            tray,
            self.standing(),
            self.rules(),
            self._today(),
            new_id,
            litres=litres,
            use_by=use_by,
            both=both,
        )
        return tuple(map(baths.row_of, fresh))

    # ---- rows of prints

    def stamped(self, entry: Entry) -> Entry:
        """Return a row as it is filed: a print's with the bath that it lies in, which print of it, and its size.

        What is looked up is looked up when a print is on its way, or comes into the developer, and there is no light.
        """
        match entry:
            case SheetPlanned():
                self._plans[entry.sheet] = entry.plan
                while len(self._plans) > _KEPT:
                    self._plans.pop(next(iter(self._plans)))
            case BathMade():
                self._standing = None
            case TrayEntered():
                with suppress(ControllerError):  # the print's row is filed all the same
                    return self._stamp(entry)
            case _:
                pass
        return entry

    def _stamp(self, row: TrayEntered) -> TrayEntered:
        if self._standing is None or row.tray in ("on its way", "developer"):
            self._standing = self.standing()
        if row.tray not in NAMES:
            return row
        if row.sheet not in self._eights:
            self._eights[row.sheet] = self._size(row.sheet) or 0.0
            while len(self._eights) > _KEPT:
                self._eights.pop(next(iter(self._eights)))
        bath = self._standing.get(row.tray)
        known = {"bath": bath.id, "prints": bath.prints + 1} if bath is not None else {}
        if bath is not None:
            self._standing = self._standing | {row.tray: replace(bath, prints=bath.prints + 1)}
        return row.model_copy(update={"eights": self._eights[row.sheet], **known})

    def _size(self, sheet: str) -> float | None:
        plan = self._plans.get(sheet)
        if plan is None:
            found = self._rows.rows(sheet=sheet, kinds=("planned",), limit=1)
            plan = found[0].entry.plan if found and isinstance(found[0].entry, SheetPlanned) else None
        if plan is None or plan.test:
            return None
        written = self._recipes.written(self._recipes.fetch(plan.source, plan.version))
        size = written.paper.size if written.paper is not None else None
        image = written.image_mm if isinstance(written, Recipe) else None
        return eights(size or "", None if image is None else (float(image[0]), float(image[1])))
