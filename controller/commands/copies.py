"""The commands that copy what is kept and bring it back: `export`, `import`, `backup`, `restore`; each in its lines."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from controller import wall
from controller.backup.dated import backup, bring_back, list_backups, remove_replaced, start_journal_afresh
from controller.backup.export import export
from controller.backup.import_ import import_
from controller.backup.second_place import SecondPlace
from controller.errors import StoreTrouble
from controller.exposure.quantities import Answer
from controller.store.folder import DataFolder
from controller.words import say, say_many
from hardware.fitting import wiring_file


def taken_out(data: DataFolder, folder: Path) -> Sequence[str]:
    """Export everything into `folder`; raises `StoreTrouble`."""
    return (say("command.exported", folder=export(data, folder)),)


class BroughtAnswer(Answer):
    """How much an import brought that was not there."""

    brought: int
    """Versions of recipes, strips, papers, settings and whatever else lies on the shelf."""
    rows: int
    """Of the journal."""
    journal_left: bool
    """The export has a journal that was not taken in, since this folder has sheets of its own."""

    def lines(self) -> tuple[str, ...]:
        """Return the numbers, and what was left alone."""
        left = (say("command.journal-left"),) if self.journal_left else ()
        return say_many("command.imported", self.brought, rows=self.rows), *left


def brought_in(data: DataFolder, source: Path) -> BroughtAnswer:
    """Import an export, or one file of it; raises `Unreadable`, `StoreTrouble`."""
    came = import_(source, data)
    return BroughtAnswer(brought=len(came.kept), rows=came.rows, journal_left=came.journal_left)


def backed_up(data: DataFolder, *, simulate: bool) -> Iterator[str]:
    """Make today's backup, and one in the second place where one is named; give each as it is made.

    Raises:
        StoreTrouble: one could not be made; what was given before it stays.
    """
    second = SecondPlace.named(data, os.environ)
    if not data.journal.exists():
        raise StoreTrouble(say("store.no-journal-yet", path=data.path))
    with data.locked():
        yield say("command.backed-up", folder=backup(data, wall.now().astimezone().date()))
        if second is not None:
            folder = second.copy(wiring=wiring_file(data.path, practice=simulate))
            yield say("command.backed-up", folder=folder)


def restored(
    data: DataFolder, backup_folder: str | None, *, fresh_journal: bool, without_replaced: bool
) -> Sequence[str]:
    """Bring a backup back, begin the journal afresh, or remove what was replaced; else list what backups there are.

    Raises:
        Unreadable, StoreTrouble: the sentence says what is wrong; nothing was changed.
    """
    if fresh_journal:
        return start_journal_afresh(data)
    if without_replaced:
        return remove_replaced(data)
    if backup_folder:
        return bring_back(backup_folder, data)
    second = SecondPlace.named(data, os.environ)
    return list_backups(data, None if second is None else second.folder)
