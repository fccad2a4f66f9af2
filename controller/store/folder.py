"""The data folder: where everything a printer keeps lies, and who owns it."""

from __future__ import annotations

import fcntl
import os
import secrets
import shutil
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from controller.errors import StoreTrouble
from controller.files import write_whole
from controller.store.database import KEY_FILE
from controller.words import say

KEY_BYTES: Final = 32


class DataFolder:
    """One folder of a printer's data; made, for its owner's eyes only, where there is none and `make` says so.

    Raises:
        StoreTrouble: the folder cannot be made.
    """

    def __init__(self, path: Path, *, make: bool = True) -> None:
        self.path = path.absolute()  # the keeper works in a folder of its own
        self._lock: int | None = None
        self._key = b""
        if make:
            self.make()

    def make(self) -> None:
        """Make the folder where there is none.

        Raises:
            StoreTrouble: it cannot be made.
        """
        try:
            self.path.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as problem:
            raise StoreTrouble(say("store.folder", path=self.path, detail=problem.strerror)) from problem

    @property
    def journal(self) -> Path:
        """Where the journal lies."""
        return self.path / "journal.db"

    @property
    def shelf(self) -> Path:
        """Where the shelf lies."""
        return self.path / "shelf.db"

    @property
    def lookups(self) -> Path:
        """Where what is looked up often lies; it may be thrown away at any time."""
        return self.path / "lookups.db"

    @property
    def pictures(self) -> Path:
        """Where the pictures lie, by their hash."""
        return self.path / "pictures"

    @property
    def backups(self) -> Path:
        """Where the dated backups lie."""
        return self.path / "backups"

    @property
    def damage(self) -> Path:
        """Where what a look over journal and shelf found wrong is noted; not there where it found nothing."""
        return self.path / "damage.txt"

    def replaced(self) -> tuple[Path, ...]:
        """Return the folders in which restores laid what they replaced, oldest first."""
        found = [path for path in self.path.glob("replaced-*") if path.is_dir() and path.name[9:].isdecimal()]
        return tuple(sorted(found, key=lambda path: int(path.name[9:])))

    def open_to_others(self) -> bool:
        """Tell whether another user of the machine may change what lies in the folder."""
        return bool(self.path.stat().st_mode & (stat.S_IWGRP | stat.S_IWOTH))

    def free_bytes(self) -> int:
        """Return how many bytes are left where the folder lies."""
        return shutil.disk_usage(self.path).free

    def lock(self) -> None:
        """Own the folder until `unlock` or the end of this process; owning it twice does nothing.

        Raises:
            StoreTrouble: another process owns it, which the sentence names; it cannot be written, or others can.
        """
        if self._lock is not None:
            return
        try:
            if self.open_to_others():
                raise StoreTrouble(say("store.folder-open", path=self.path))
            opened = os.open(self.path / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError as problem:
            raise StoreTrouble(say("store.folder", path=self.path, detail=problem.strerror)) from problem
        try:
            fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as problem:
            owner = os.read(opened, 20).decode(errors="replace").strip()
            os.close(opened)
            key = "store.owned-service" if _is_the_service(owner) else "store.owned"
            raise StoreTrouble(say(key, path=self.path, pid=owner or "?")) from problem
        self._lock = opened
        try:
            os.ftruncate(opened, 0)
            os.write(opened, f"{os.getpid()}\n".encode())
        except OSError as problem:
            self.unlock()
            raise StoreTrouble(say("store.folder", path=self.path, detail=problem.strerror)) from problem

    def is_owned(self) -> bool:
        """Tell whether another process owns the folder now; nothing is written, so that a full card can be asked."""
        if self._lock is not None:
            return False
        try:
            opened = os.open(self.path / "lock", os.O_RDONLY | os.O_CLOEXEC)
        except OSError:
            return False
        try:
            fcntl.flock(opened, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except OSError:
            return True
        finally:
            os.close(opened)
        return False

    def unlock(self) -> None:
        """Give the folder up; doing so twice does nothing."""
        if self._lock is not None:
            with suppress(OSError):  # a card that is read-only by now keeps a number that means nothing
                os.ftruncate(self._lock, 0)
            os.close(self._lock)
            self._lock = None

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Own the folder for a while; one that is owned already stays owned.

        Raises:
            StoreTrouble: as `lock`.
        """
        mine = self._lock is not None
        self.lock()
        try:
            yield
        finally:
            if not mine:
                self.unlock()

    def key(self) -> bytes:
        """Return the 32 random bytes that sign cookies; made once, they outlive restarts. For the owner only.

        They are read once: a page's STOP is judged with them, and must not wait for a slow card.

        A key of the wrong length (a card pulled out while it was made) gives way to a new one; phones then
        pair again.

        Raises:
            StoreTrouble: it can be neither read nor made.
        """
        if self._key:
            return self._key
        place = self.path / KEY_FILE
        try:
            if place.exists():
                place.chmod(0o600)
                kept = place.read_bytes()
                if len(kept) == KEY_BYTES:
                    self._key = kept
                    return kept
        except OSError as problem:
            raise StoreTrouble(say("store.folder", path=self.path, detail=problem.strerror)) from problem
        return self.new_key()

    def new_key(self) -> bytes:
        """Make another key and return it: every phone pairs again.

        Raises:
            StoreTrouble: it cannot be kept.
        """
        fresh = secrets.token_bytes(KEY_BYTES)
        try:
            write_whole(self.path / KEY_FILE, fresh, mode=0o600)
        except OSError as problem:
            raise StoreTrouble(say("store.folder", path=self.path, detail=problem.strerror)) from problem
        self._key = fresh
        return fresh


def _is_the_service(pid: str) -> bool:
    """Tell whether a process belongs to the service that systemd runs."""
    try:
        return "/treadle.service" in Path(f"/proc/{int(pid)}/cgroup").read_text(encoding="ascii", errors="replace")
    except (OSError, ValueError):
        return False
