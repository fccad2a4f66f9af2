"""The card: room, speed, whether journal and shelf are whole and nothing of it lost; and where else backups go."""

from __future__ import annotations

import contextlib
import os
import queue
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Final

from controller import wall
from controller.backup.dated import OLD_DAYS, days_without, megabytes
from controller.backup.lost import lost
from controller.backup.registered import DERIVED, THINGS, checked, photographs_amiss, pictures_amiss, unread
from controller.backup.second_place import OLD_DAYS_THERE, SecondPlace
from controller.commands.check.findings import Finding, found
from controller.commands.check.machine import Machine
from controller.errors import ControllerError, StoreTrouble
from controller.store.database import read_store
from controller.store.folder import DataFolder
from controller.store.journal import ROOM, Journal, Stamp
from controller.store.look_over import damage_on_file
from controller.store.lookups import Lookups
from controller.store.pictures import Pictures
from controller.store.rows import Reader
from controller.store.schemas import JOURNAL
from controller.store.shelf import Shelf
from controller.words import say, say_many
from hardware.clock import NS_PER_MS, MonotonicClock

_WRITES: Final = 5
SLOW_MS: Final = 200
TOO_SLOW_MS: Final = 1000
"""A light's intent must be on the card before the light: within a lead-in of two seconds, other work beside it."""


_ANSWERS_S: Final = 5.0
"""A share whose server is gone may keep whoever looks at it waiting for ever."""

_MEMORY: Final = frozenset({"tmpfs", "ramfs"})
_MOUNTS: Final = "/proc/self/mountinfo"


def look_at_folder(data: DataFolder, machine: Machine, *, practice: bool) -> Iterator[Finding]:
    """Make the folder where there is none, and look whether what lies there outlives a power cut."""
    try:
        data.make()
    except StoreTrouble as problem:
        yield Finding(name="disk", level="must", words=str(problem))
    if (kind := _in_memory(data.path, machine.read(_MOUNTS) or "")) is not None:
        yield found("lasting", "advice" if practice else "must", "check.in-memory", folder=data.path, kind=kind)


def _in_memory(folder: Path, mounts: str) -> str | None:
    """Return the kind of file system that holds a folder in memory alone, None where a card or disk holds it.

    A layer over the root that is turned on so that nothing is written lies in memory; one whose upper folder can be
    seen to lie on a card does not.
    """
    rows = [line.split() for line in mounts.splitlines()]
    kinds = {row[4]: (row[row.index("-") + 1], row[-1]) for row in rows if "-" in row}  # the last one covers the others
    place = folder.resolve()
    while str(place) not in kinds and place != place.parent:
        place = place.parent
    kind, options = kinds.get(str(place), ("", ""))
    if kind in _MEMORY:
        return kind
    upper = next((word[9:] for word in options.split(",") if word.startswith("upperdir=")), None)
    if kind != "overlay":
        return None
    above = Path(upper or "/")
    while str(above) not in kinds and above != above.parent:
        above = above.parent
    below = kinds.get(str(above), ("overlay", ""))[0]
    return kind if below == "overlay" or below in _MEMORY else None


def look_at_disk(folder: Path, *, write_ms: Callable[[Path], int] | None = None) -> Iterator[Finding]:
    """Look at the room that is left, and how long it takes until something is on the card for good."""
    try:
        free = shutil.disk_usage(folder).free
    except OSError as problem:
        yield found("disk", "must", "check.disk-unwritable", folder=folder, detail=problem.strerror)
        return
    if free < ROOM:
        yield found("disk", "must", "check.disk-full", folder=folder, free=free // 1_000_000)
    try:
        ms = (write_ms or slowest_write_ms)(folder)
    except OSError as problem:
        yield found("disk", "must", "check.disk-unwritable", folder=folder, detail=problem.strerror)
        return
    if free >= ROOM:
        yield found("disk", "good", "check.disk", folder=folder, free=free // 1_000_000)
    if ms > TOO_SLOW_MS:
        yield found("card", "must", "check.card-too-slow", ms=ms)
    elif ms > SLOW_MS:
        yield found("card", "advice", "check.card-slow", ms=ms)
    else:
        yield found("card", "good", "check.card", ms=ms)


def slowest_write_ms(folder: Path) -> int:
    """Write and settle a few small files in a folder, and return the slowest, in ms.

    Raises:
        OSError: it cannot be written.
    """
    trial = folder / f".check-{os.getpid()}"
    slowest = 0
    try:
        for number in range(_WRITES):
            began = time.monotonic_ns()
            with trial.open("wb") as file:
                file.write(bytes([number]) * 4096)
                file.flush()
                os.fsync(file.fileno())
            slowest = max(slowest, time.monotonic_ns() - began)
    finally:
        with contextlib.suppress(OSError):
            trial.unlink(missing_ok=True)
    return slowest // NS_PER_MS


def look_at_stores(data: DataFolder, *, daemon: bool) -> Iterator[Finding]:
    """Look at journal and shelf as the daemon would, unless it has them; nothing is made that is not there."""
    if data.open_to_others():
        yield found("folder", "must", "store.folder-open", path=data.path)
        return
    last = None
    if daemon:
        yield from (Finding(name="damage", level="must", words=words) for words in damage_on_file(data))
    if not daemon:
        try:
            last = _open_journal(data)
            yield found("journal", "good", "check.journal-whole" if last else "check.journal-new")
        except StoreTrouble as problem:
            yield Finding(name="journal", level="must", words=str(problem))
        try:
            if data.shelf.exists():
                with data.locked(), Shelf.open(data.shelf) as shelf:
                    for _ in shelf.each():
                        pass  # each is held to its checksum
                    shelf.all_away()
                    for sentence in unread(shelf):
                        yield found("shelf", "advice", "check.shelf-unread", problem=sentence)
                    yield from (Finding(name="shelf", level="advice", words=words) for words in checked(shelf))
                    amiss = pictures_amiss(shelf, Pictures(data.pictures))
                    yield from (Finding(name="pictures", level="advice", words=words) for words in amiss)
            yield found("shelf", "good", "check.shelf-whole")
        except StoreTrouble as problem:
            yield Finding(name="shelf", level="must", words=str(problem))
        if last:
            with Reader(read_store(data.journal, JOURNAL), data.journal, None) as reader:
                for words in photographs_amiss(reader, Pictures(data.pictures)):
                    yield Finding(name="pictures", level="advice", words=words)
    for one in lost(data):
        yield Finding(name="backups", level="advice" if one.meant else "must", words=one.words)
    for path in data.replaced():
        yield found("replaced", "advice", "store.replaced", path=path, mb=megabytes(path))
    if (days := days_without(data, wall.now().astimezone().date())) is not None:
        yield _age(data, days)


def look_at_second_place(
    data: DataFolder, machine: Machine, *, practice: bool, patience_s: float = _ANSWERS_S
) -> Iterator[Finding]:
    """Look at the second place for backups, whether it can be written, and how old its newest copy is."""
    second = SecondPlace.named(data, machine.environment)
    if second is None:
        if not practice:
            yield found("second place", "advice", "check.second-none")
        return
    if problem := _asked(second, patience_s):
        yield Finding(name="second place", level="advice", words=problem)
    days = second.days_without(wall.now().astimezone().date())
    if days is None:
        yield found("copy", "advice", "store.second-never", path=second.root)
    elif days >= OLD_DAYS_THERE:
        yield found("copy", "advice", "store.second-old", path=second.root, days=days)
    else:
        yield Finding(name="copy", level="good", words=say_many("check.second-age", days, path=second.folder))


def _asked(second: SecondPlace, patience_s: float) -> str:
    """Return what is wrong with the second place, nothing where it is well; one that does not answer is left behind."""
    answers: queue.SimpleQueue[str] = queue.SimpleQueue()

    def ask() -> None:
        try:
            second.look()
            second.look_for_room()
            answers.put("")
        except StoreTrouble as problem:
            answers.put(str(problem))

    threading.Thread(target=ask, name="second place", daemon=True).start()
    try:
        return answers.get(timeout=patience_s)
    except queue.Empty:
        return say("store.second-silent", path=second.root)


def rebuild(data: DataFolder) -> Finding:
    """Build anew, from journal and shelf, what is looked up often."""
    try:
        with (
            data.locked(),
            Shelf.open(data.shelf) as shelf,
            Journal.open(data.journal, MonotonicClock(), Stamp.here()) as journal,
            closing(Lookups(data.lookups, shelf, journal, THINGS, DERIVED)) as lookups,
        ):
            return found("lookups", "good", "check.lookups", number=lookups.rebuild())
    except ControllerError as problem:
        return Finding(name="lookups", level="must", words=str(problem))


def _open_journal(data: DataFolder) -> int:
    """Return the journal's last row, 0 where there is none; one that is not there is not made."""
    if not data.journal.exists():
        return 0
    with data.locked():
        journal = Journal.open(data.journal, MonotonicClock(), Stamp.here())
        try:
            if journal.notes:
                raise StoreTrouble(" ".join(journal.notes))
            if (number := journal.changed()) is not None:
                raise StoreTrouble(say("store.row-changed", path=data.journal, number=number))
            return journal.last()
        finally:
            journal.close()


def _age(data: DataFolder, days: int) -> Finding:
    """Return what to say of a newest backup of so many days."""
    if days >= OLD_DAYS:
        return found("backup", "advice", "store.backup-old", days=days, path=data.backups)
    return Finding(name="backup", level="good", words=say_many("check.backup-age", days))
