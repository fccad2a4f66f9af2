"""What a page may have done with all that is kept: backed up, taken out, brought in; never while a sheet is open."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import IO, Final

from controller import wall
from controller.backup.dated import backups
from controller.backup.import_ import Brought, bring_things, keep_thing, read_text
from controller.backup.packed import pack_export, packed_in
from controller.backup.packed_export import BEGINS, LARGEST_PACKED_INDEX, PackedExport
from controller.backup.registered import read_thing
from controller.backup.second_place import SecondPlace
from controller.daemon.chores import LATER, Chores
from controller.errors import ControllerError, NotThere, StoreTrouble, Unreadable, WrongMoment
from controller.model import Frozen
from controller.recipe.fields import LARGEST_BYTES
from controller.store.folder import DataFolder
from controller.store.settings import KIND, kept_settings, read_settings
from controller.store.shelf import Shelf
from controller.store.versions import Version
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
    brought: Brought | None
    """What came in last, since the start."""
    in_said: str
    """Why nothing came in of what was brought last."""


class YourData:
    """Safe from any thread. Long work is done by the chores' thread, which gives way to every sheet."""

    def __init__(
        self,
        data: DataFolder,
        chores: Chores,
        shelf: Shelf,
        change_settings: Callable[[dict[str, object]], object],
        second: SecondPlace | None = None,
    ) -> None:
        """`change_settings` keeps settings, and has them count."""
        self._data, self._chores, self._shelf, self._second = data, chores, shelf, second
        self._change_settings = change_settings
        self._brought: Brought | None = None
        self._in_said = ""
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
            brought=self._brought,
            in_said=self._in_said,
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

    def bring(self, file: IO[bytes], name: str) -> None:
        """Bring in a recipe, strip, paper or settings file, or what an export has of these, packed as one zip.

        What came is in the view then, or the sentence of what was refused as a whole.

        Raises:
            StoreTrouble: it could not be written; nothing was kept.
            WrongMoment: a sheet is open, or a chore is under way.
        """
        file.seek(0)
        begins = file.read(len(BEGINS))
        file.seek(0)
        if begins == BEGINS:
            packed = os.fdopen(os.dup(file.fileno()), "rb")  # the request is over before all of it is read
            try:
                done = self._chores.ask("in", lambda: self._bring_packed(packed, name))
            except WrongMoment:
                packed.close()
                raise
            done.wait(AT_ONCE_S)
            return
        if self._chores.under_way() == "in":
            raise WrongMoment(say("data.under-way-in"))
        self._brought, self._in_said = None, ""
        try:
            self._brought = self._bring_one(read_text(file, LARGEST_BYTES, name), name)
        except Unreadable as problem:
            self._in_said = str(problem)

    def _bring_one(self, text: str, name: str) -> Brought:
        thing, title = read_thing(text, name, alone=True)
        if thing.kind == KIND:
            before = self._shelf.marks()
            self._change_settings(read_settings(text, name).model_dump())
            new = (_version(self._shelf),) if self._shelf.marks() != before else ()
            return Brought(kept=new)
        return keep_thing(self._shelf, thing, title, text)

    def _bring_packed(self, file: IO[bytes], name: str) -> None:
        self._brought, self._in_said = None, ""
        try:
            with file:
                self._chores.give_way()
                packed = PackedExport(file, name)
                self._brought = bring_things(packed, self._data, LARGEST_PACKED_INDEX, self._chores.give_way)
            if any(one.kind == KIND for one in self._brought.kept):
                self._change_settings(kept_settings(self._shelf).model_dump())
        except GivenUp:
            self._in_said = say("data.in-given-up")
        except ControllerError as problem:
            self._in_said = str(problem)

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


def _version(shelf: Shelf) -> Version:
    return Version(**shelf.get(KIND).model_dump(exclude={"body"}))


def _today() -> date:
    return wall.now().astimezone().date()
