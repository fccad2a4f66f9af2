"""The practice darkroom's parts put together: its switches, its prints, its probe, and how fast its trays go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from controller.daemon.enlarger_shelf import practice_stand
from controller.practice.practice_scene import read_scene
from controller.practice.prints import PracticePrints
from controller.practice.probe import PracticeProbe
from controller.practice.switches import PracticeSwitches
from hardware.practice.practice_darkroom import PracticeDarkroom

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from contextlib import ExitStack
    from pathlib import Path

    from controller.daemon.answers import Answers, Snapshots
    from controller.daemon.inbox import Inbox
    from controller.daemon.recipe_shelf import RecipeShelf
    from controller.store.archive import Archive
    from controller.store.entries import StoodAtEnlarger
    from controller.store.shelf import Shelf
    from controller.unpack.unpacker import Unpacker
    from hardware.fitting import Fitting


def practice_room(
    fitting: Fitting, shelf: Shelf, recipes: RecipeShelf, leaving: ExitStack
) -> tuple[PracticeDarkroom | None, tuple[StoodAtEnlarger, ...]]:
    """Return the simulated room, let go with `leaving`, and what stood at its enlarger; neither with real lines.

    What a newcomer finds on the shelf is laid there. Raises `StoreTrouble`.
    """
    if not fitting.practice:
        return None, ()
    at_first = practice_stand(shelf)
    recipes.stock()
    room = PracticeDarkroom(fitting.runtime, lamps=tuple(fitting.wiring.lamps))
    leaving.callback(room.close)
    return room, at_first


def practice_parts(
    room: PracticeDarkroom,
    folder: Path,
    now_ns: Callable[[], int],
    archive: Archive,
    recipes: RecipeShelf,
    unpacker: Unpacker,
    snapshots: Snapshots,
    answers: Answers,
    inbox: Inbox,
    outlets: Collection[str],
) -> tuple[PracticeSwitches, PracticeProbe]:
    """Return the switches, with the prints, and the probe of a practice darkroom that keeps itself in `folder`."""
    prints = PracticePrints(
        room,
        folder,
        archive.record,
        recipes.fetch,
        unpacker,
        followed=lambda: [each.number for each in snapshots.latest().prints if not each.in_fix],
        # the trays' pace is one of the habits, taken over between sheets
        settle=lambda: inbox.ask(answers.settle_changes, even_late=True),
    )
    probe = PracticeProbe(room, prints, lambda: snapshots.latest().bench)
    return PracticeSwitches(room, now_ns, lambda: answers.opened_ns, outlets, prints), probe


def trays_hurry(folder: Path) -> int:
    """Return how many times faster than real the trays of the practice darkroom in `folder` go."""
    return read_scene(folder).hurry
