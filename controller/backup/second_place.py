"""The newest backup once more in a second place, a stick or a mounted share, which outlives the card.

It is copied file by file in small steps, and read back once it is written. What an earlier copy there has as well is
the same file under a second name; where the stick knows no second names (FAT, exFAT), each copy has its own, and fewer
are kept. A place that is away, full or read-only is told in a sentence, and stops nothing else.
"""

from __future__ import annotations

import errno
import getpass
import hashlib
import os
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from typing import Final, Literal

from pydantic import ValidationError

from controller.backup.dated import KEEP, MANIFEST, Manifest, backups, backups_in, free_name, fresh_draft
from controller.backup.kept_pictures import copy_pictures, drop_unnamed, lacking_bytes
from controller.backup.pieces import STEP_BYTES, FileSeal, seal
from controller.errors import StoreTrouble
from controller.files import settle, write_whole
from controller.model import Frozen
from controller.store.folder import DataFolder
from controller.words import say
from hardware.fitting import WIRING_NAME

NAMED_BY: Final = "TREADLE_SECOND_PLACE"
"""The word of the environment that names the place; the service's drop-in sets it, and so does its command line."""
OLD_DAYS_THERE: Final = 7
"""A newest copy of so many days is told of; a stick may well be put in once a week."""
MOST_WHOLE_COPIES: Final = 3
"""Kept where files have no second names."""
SHARE: Final = 2
"""Copies take half of the room that there is at most, but for the newest two."""
LEFT_BYTES: Final = 1_000_000
"""Never taken, so that the file system of the place can still be worked with."""


class _Last(Frozen):
    """What was copied last: known also while the place is away."""

    format: Literal["treadle/second-place/1"] = "treadle/second-place/1"
    day: date


class SecondPlace:
    """What is mounted at `root`, for the backups of one data folder; they lie in a folder there of the same name."""

    def __init__(self, data: DataFolder, root: Path) -> None:
        self._data = data
        self.root = root
        self.folder = root / data.path.name
        self._note = data.path / "second-place.json"

    @classmethod
    def named(cls, data: DataFolder, environment: Mapping[str, str]) -> SecondPlace | None:
        """Return the place that the environment names, None where it names none."""
        root = environment.get(NAMED_BY, "")
        return cls(data, Path(root)) if root.startswith("/") else None

    def look(self) -> None:
        """Look whether backups can be kept there, without writing anything.

        Raises:
            StoreTrouble: they cannot; the sentence says why, and the remedy.
        """
        with self._told():
            if not self.root.is_dir():
                raise StoreTrouble(say("store.second-away", path=self.root))
            if self.root.stat().st_dev in (self._data.path.stat().st_dev, Path("/").stat().st_dev):
                raise StoreTrouble(say("store.second-here", path=self.root))
            if os.statvfs(self.root).f_flag & os.ST_RDONLY:
                raise OSError(errno.EROFS, os.strerror(errno.EROFS))
            if not os.access(self.folder if self.folder.exists() else self.root, os.W_OK | os.X_OK):
                raise OSError(errno.EACCES, os.strerror(errno.EACCES))

    def look_for_room(self) -> None:
        """Look whether the newest backup here would find room there, once older copies have given way.

        Raises:
            StoreTrouble: it would not, or the place cannot be read.
        """
        here, there = backups(self._data), self.copies()
        if not here:
            return
        has = there[-1][1].files() if there else {}
        wanted = sum(one.bytes for name, one in here[-1][1].files().items() if has.get(name) != one)
        wanted += lacking_bytes(self.folder, here[-1][1].pictures)
        with self._told():
            given = self._takes(there) - self._takes(there[-1:])
            if self._free() + given < wanted + LEFT_BYTES:
                raise StoreTrouble(say("store.second-full", path=self.root, mb=max(1, wanted // 1_000_000)))

    def copies(self) -> list[tuple[Path, Manifest]]:
        """Return the backups that lie there, oldest first.

        Raises:
            StoreTrouble: the place cannot be read.
        """
        with self._told():
            return backups_in(self.folder)

    def last_day(self) -> date | None:
        """Return the day of the newest copy ever made there, as the data folder knows it."""
        try:
            return _Last.model_validate_json(self._note.read_bytes()).day
        except (OSError, ValidationError):
            return None

    def days_without(self, today: date) -> int | None:
        """Return how old the newest copy is, in days, None where none was ever made."""
        last = self.last_day()
        return None if last is None else max(0, (today - last).days)

    def copy(self, between: Callable[[], None] = lambda: None, wiring: Path | None = None) -> Path:
        """Copy the newest backup there, drop the oldest, and return its folder there.

        `between` is called between two steps, and may raise `GivenUp`, with which nothing of this copy is kept. The
        wiring file goes with it, for whoever has to write one for another card; a restore leaves it alone.

        Raises:
            GivenUp: `between` did.
            StoreTrouble: there is no backup, or it cannot be copied; what lies there is untouched.
        """
        here = backups(self._data)
        if not here:
            raise StoreTrouble(say("store.no-backups", path=self._data.backups))
        source, made = here[-1]
        self.look()
        with self._told():
            self.folder.mkdir(mode=0o700, exist_ok=True)
            there = self.copies()
            lacking = lacking_bytes(self.folder, made.pictures)
            if there and not lacking and (there[-1][1].day, there[-1][1].files()) == (made.day, made.files()):
                return self._noted(there[-1][0], made.day)
            draft = fresh_draft(self.folder)
            try:
                shared = _share(draft, there[-1] if there else None, made)
                more = sum(one.bytes for name, one in made.files().items() if name not in shared)
                self._make_room(more + lacking, there)
                copy_pictures(self._data.backups, self.folder, made.pictures, between)
                for name, one in made.files().items():
                    self._bring(source / name, draft / name, one, between)
                if (text := _read(wiring)) is not None:
                    write_whole(draft / WIRING_NAME, text)
                # ordered by their place in this row: a new card counts its own from one again
                serial = max((one.serial for _, one in there), default=0) + 1
                write_whole(draft / MANIFEST, made.model_copy(update={"serial": serial}).text())
                has_names = _second_name(draft / MANIFEST, draft / "name")
                (draft / "name").unlink(missing_ok=True)
                settle(draft)
                folder = draft.rename(free_name(self.folder, made.day))
            except BaseException:
                shutil.rmtree(draft, ignore_errors=True)
                raise
            settle(self.folder)
            self._drop_old(KEEP if has_names else MOST_WHOLE_COPIES)
        return self._noted(folder, made.day)

    def _noted(self, folder: Path, day: date) -> Path:
        with suppress(OSError):  # a full card tells of itself; the copy is made all the same
            write_whole(self._note, f"{_Last(day=day).model_dump_json(indent=1)}\n".encode())
        return folder

    def _bring(self, source: Path, target: Path, made: FileSeal, between: Callable[[], None]) -> None:
        """Have a file there as it was made: the one of an earlier copy, if it still is so, or a new one."""
        if target.exists():
            if seal(target, between) == made:
                return
            target.unlink()
        self._copy_file(source, target, made, between)
        if seal(target, between) != made:
            raise StoreTrouble(say("store.second-unlike", path=self.root))

    def _copy_file(self, source: Path, target: Path, made: FileSeal, between: Callable[[], None]) -> None:
        copied = hashlib.sha256()
        with target.open("xb") as to:
            for step in _steps(source):
                to.write(step)
                to.flush()
                os.fdatasync(to.fileno())
                # read back from the stick itself later, and not from memory
                os.posix_fadvise(to.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
                copied.update(step)
                between()
            os.fsync(to.fileno())
        if copied.hexdigest() != made.sha256:
            raise StoreTrouble(say("store.second-source", path=source.parent))

    def _make_room(self, wanted: int, there: list[tuple[Path, Manifest]]) -> None:
        """See that so many bytes can be written; all older copies but the newest give way to that."""
        while (lacking := self._free() < wanted + LEFT_BYTES) and len(there) > 1:
            shutil.rmtree(there.pop(0)[0])
        if lacking:
            raise StoreTrouble(say("store.second-full", path=self.root, mb=max(1, wanted // 1_000_000)))

    def _drop_old(self, most: int) -> None:
        there = self.copies()
        while len(there) > most or (len(there) > 2 and self._takes(there) * SHARE > self._free() + self._takes(there)):
            shutil.rmtree(there.pop(0)[0])
        drop_unnamed(self.folder, (made.pictures for _, made in there))

    def _takes(self, there: list[tuple[Path, Manifest]]) -> int:
        files = {(told.st_dev, told.st_ino): told.st_size for told in _stats(folder for folder, _ in there)}
        return sum(files.values())

    def _free(self) -> int:
        return shutil.disk_usage(self.root).free

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Tell what the place refuses in a sentence with the remedy."""
        try:
            yield
        except OSError as problem:
            words: dict[str, object] = {"path": self.root, "detail": problem.strerror}
            match problem.errno:
                case errno.EROFS:
                    key = "store.second-read-only"
                case errno.EACCES | errno.EPERM:
                    key = "store.second-not-ours"
                    words |= {"user": getpass.getuser(), "folder": self.folder}
                case errno.ENOSPC | errno.EDQUOT:
                    key = "store.second-full"
                    words |= {"mb": max(1, sum(one.bytes for one in self._newest_files()) // 1_000_000)}
                case _:
                    key = "store.second-broken"
            raise StoreTrouble(say(key, **words)) from problem

    def _newest_files(self) -> tuple[FileSeal, ...]:
        here = backups(self._data)
        return tuple(here[-1][1].files().values()) if here else ()


def _share(draft: Path, before: tuple[Path, Manifest] | None, made: Manifest) -> set[str]:
    """Give files of the copy before, which are the same, a second name in the draft; return which."""
    if before is None:
        return set()
    folder, its = before
    same = {name for name, one in made.files().items() if its.files().get(name) == one}
    return {name for name in same if _second_name(folder / name, draft / name)}


def _second_name(path: Path, name: Path) -> bool:
    """Give a file a second name; False where the file system knows none, or the file is gone."""
    try:
        os.link(path, name)
    except OSError:
        return False
    return True


def _read(wiring: Path | None) -> bytes | None:
    try:
        return None if wiring is None else wiring.read_bytes()
    except OSError:
        return None


def _steps(source: Path) -> Iterator[bytes]:
    """Read a file of a backup in steps."""
    try:
        with source.open("rb", buffering=0) as file:
            while step := file.read(STEP_BYTES):
                yield step
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    except OSError as problem:
        raise StoreTrouble(say("store.second-source", path=source.parent)) from problem


def _stats(folders: Iterator[Path]) -> Iterator[os.stat_result]:
    for folder in folders:
        for path in folder.iterdir():
            yield path.stat()
