"""An export as one file, to be carried away by a phone: made on the card in small steps, and sent as it lies there."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Final
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from controller.backup.export import Pace, write_all
from controller.errors import StoreTrouble
from controller.files import sync_file
from controller.store.folder import DataFolder
from controller.store.journal import ROOM
from controller.store.pictures import Pictures
from controller.words import say

ENDING: Final = ".zip"
_STEP_BYTES: Final = 262_144
_TIMES: Final = 4
"""What an export takes at most of the card, plain and packed together, for each byte of journal and shelf."""


def pack_export(data: DataFolder, folder: Path, today: date, between: Callable[[], None] = lambda: None) -> Path:
    """Write what an export holds into one zip in `folder`, in place of what is there, and return it.

    The writers may go on meanwhile. `between` is called between two steps; it may rest there, and raise: then nothing
    is left in the folder.

    Raises:
        StoreTrouble: it cannot be made, or there is no room; nothing is left in the folder.
    """
    try:
        between()
        shutil.rmtree(folder, ignore_errors=True)  # nobody needs the older one: it may be made anew at any time
        wanted = sum(path.stat().st_size for path in (data.journal, data.shelf) if path.exists())
        pictures = Pictures(data.pictures).total_bytes()
        if data.free_bytes() < _TIMES * wanted + 2 * pictures + ROOM:
            raise StoreTrouble(say("data.no-room", path=data.path))
        folder.mkdir(mode=0o700)
        plain = folder / f"treadle-{today.isoformat()}"
        plain.mkdir()
        write_all(data, plain, between)
        packed = plain.with_name(f"{plain.name}.packing")
        _pack(plain, packed, Pace(between))
        sync_file(packed)
        shutil.rmtree(plain)
        return packed.rename(plain.with_name(f"{plain.name}{ENDING}"))
    except OSError as problem:
        shutil.rmtree(folder, ignore_errors=True)
        raise StoreTrouble(say("data.not-out", path=folder, detail=problem.strerror)) from problem
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def packed_in(folder: Path) -> Path | None:
    """Return the export that lies in a folder, whole, or None."""
    return next(iter(sorted(folder.glob(f"*{ENDING}"))), None)


def _pack(plain: Path, packed: Path, pace: Pace) -> None:
    with ZipFile(packed, "x", ZIP_DEFLATED) as whole:
        for path in sorted(plain.rglob("*")):
            if path.is_dir():
                continue
            # a Pi without a network may believe it is 1970, which a zip knows no date for
            entry = ZipInfo.from_file(path, str(path.relative_to(plain.parent)), strict_timestamps=False)
            entry.compress_type = ZIP_DEFLATED
            with path.open("rb") as from_, whole.open(entry, "w") as to:
                while step := from_.read(_STEP_BYTES):
                    to.write(step)
                    pace()
