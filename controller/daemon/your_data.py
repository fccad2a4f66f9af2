"""What a page may have done with all that is kept: backed up, taken out, brought in; never while a sheet is open."""

from __future__ import annotations

import shutil
from datetime import date, datetime
from pathlib import Path
from typing import Final

from controller import wall
from controller.backup.dated import backups
from controller.backup.packed import pack_export, packed_in
from controller.backup.second_place import SecondPlace
from controller.daemon.chores import LATER, Chores
from controller.errors import NotThere, StoreTrouble
from controller.model import Frozen
from controller.store.folder import DataFolder
from controller.store.whole import GivenUp
from controller.words import say

AT_ONCE_S: Final = 1.0
"""So long a page waits, so that what is done soon stands on it at once."""


class OnTheCard(Frozen):
    """A backup, or an export that is ready to be carried away."""

    path: Path
    day: date
    bytes: int = 0


class DataView(Frozen):
    """How things stand with backups and exports."""

    under_way: str
    """A backup, or what was asked for; empty where nothing is."""
    backup: OnTheCard | None
    """The newest."""
    again: datetime | None
    """When a backup that was put off is tried again."""
    failed: str
    second: Path | None
    """The second place for backups, where there is one."""
    second_day: date | None
    out: OnTheCard | None
    """An export that is ready."""
    out_said: str
    """Why there is no export, where one was asked for."""


class YourData:
    """Safe from any thread. Long work is done by the chores' thread, which gives way to every sheet."""

    def __init__(self, data: DataFolder, chores: Chores, second: SecondPlace | None = None) -> None:
        self._data, self._chores, self._second = data, chores, second
        self._folder = data.path / "taken-out"
        self._said = ""

    def clear(self) -> None:
        """Throw away the export that was made for a browser: at each start and end, so that none grows old."""
        shutil.rmtree(self._folder, ignore_errors=True)

    def view(self) -> DataView:
        """Return how things stand now."""
        made, packed = backups(self._data), packed_in(self._folder)
        return DataView(
            under_way=self._chores.under_way(),
            backup=OnTheCard(path=made[-1][0], day=made[-1][1].day) if made else None,
            again=self._chores.due().get(LATER),
            failed=self._chores.failed,
            second=None if self._second is None else self._second.root,
            second_day=None if self._second is None else self._second.last_day(),
            out=None if packed is None else self._stat(packed),
            out_said=self._said,
        )

    def back_up(self) -> None:
        """Make a backup now, as one is made each night.

        Raises:
            WrongMoment: a sheet is open, or a chore is under way.
        """
        self._chores.ask("backup", self._chores.back_up).wait(AT_ONCE_S)

    def take_out(self) -> None:
        """Make an export to be carried away, in place of the one that was made before.

        Raises:
            WrongMoment: a sheet is open, or a chore is under way.
        """
        self._chores.ask("out", self._take_out).wait(AT_ONCE_S)

    def taken_out(self) -> Path:
        """Return the export that is ready to be carried away; raises `NotThere`."""
        packed = packed_in(self._folder)
        if packed is None:
            raise NotThere(say("data.none-out"))
        return packed

    def _take_out(self) -> None:
        self._said = ""
        try:
            pack_export(self._data, self._folder, _today(), self._chores.give_way)
        except GivenUp:
            self._said = say("data.out-given-up")
        except StoreTrouble as problem:
            self._said = str(problem)

    @staticmethod
    def _stat(packed: Path) -> OnTheCard | None:
        try:
            told = packed.stat()
        except OSError:  # another one is just being made
            return None
        return OnTheCard(path=packed, day=datetime.fromtimestamp(told.st_mtime).astimezone().date(), bytes=told.st_size)


def _today() -> date:
    return wall.now().astimezone().date()
