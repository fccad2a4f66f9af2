"""One page of memory that outlives the keeper: what light is on, since when, and when it last looked.

The file holds two slots. Each write goes to the older one, with a generation number and a checksum, so that
a kill in the middle of a write leaves the other slot whole. It is meant for a runtime directory in memory.
"""

from __future__ import annotations

import logging
import mmap
import os
import struct
import zlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Protocol

from hardware.clock import NS_PER_MS, boot_id

KEEPER_MODULE: Final = "hardware.keeper.process"
"""Started as `python -P -m KEEPER_MODULE CONFIG_JSON`."""
SLATE_NAME: Final = "slate"
"""The file's name inside the runtime directory."""


@dataclass(frozen=True, slots=True)
class Page:
    """What stands on the slate. Times are monotonic ns of boot `boot`; 0 and "" stand for nothing yet.

    `lit` true on the page of a keeper that is gone: it went away with the light on. `dark_ns` beside it is
    then the moment at which another hand is known to have darkened the line.
    """

    boot: str
    pid: int
    id: str = ""
    """The last order that was accepted."""
    kind: str = ""
    sheet: str = ""
    lit: bool = False
    on_ns: int = 0
    last_pass_ns: int = 0
    """When the keeper's loop last went round: at most 50 ms old while lit, 250 ms while dark."""
    lit_ms: int = 0
    """The order's length."""
    dark_ns: int = 0
    why: str = ""
    """Why it went dark, in the words of `wire.Dark`."""
    last_event: str = ""
    """The last event that found the pipe full, as its JSON line (cut at 1500 bytes)."""
    dropped: int = 0
    """How many events found the pipe full."""
    longest_ms: int = 0
    """How long the light may last at the most: longer than `lit_ms` where its dose is asked for."""


@dataclass(frozen=True, slots=True)
class Interrupted:
    """A light whose end nobody saw: it lasted at least `least_ns` and at most `most_ns`."""

    id: str
    on_ns: int
    least_ns: int
    most_ns: int


class Slate(Protocol):
    """Where a keeper notes what it does."""

    def write(self, page: Page) -> None:
        """Put the page on the slate."""

    def close(self) -> None:
        """Let the slate go."""


class SlateWriter:
    """The keeper's hand on the slate. Who wants the page of an earlier keeper reads it before waking a new one."""

    def __init__(self, path: Path) -> None:
        """Open the slate, or make it; what stands on it stays until the first write.

        Raises:
            OSError: the file cannot be made or mapped.
        """
        fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            if os.fstat(fd).st_size < _SIZE:
                os.ftruncate(fd, _SIZE)
            self._map = mmap.mmap(fd, _SIZE)
        finally:
            os.close(fd)
        self._generation = max((_generation(slot) for slot in _slots(self._map[:])), default=0)

    def write(self, page: Page) -> None:
        """Put the page on the slate; the page before it stays whole until this one is."""
        self._generation += 1
        at = (self._generation % 2) * _SLOT
        body = _pack(page, self._generation)
        self._map[at : at + len(body)] = body

    def close(self) -> None:
        """Let the slate go; what stands on it stays. Closing twice does nothing."""
        self._map.close()


def read_slate(path: Path) -> Page | None:
    """Return the newest whole page, or None where there is no file or neither slot is whole."""
    try:
        with path.open("rb") as file:
            raw = file.read(_SIZE)
    except FileNotFoundError:
        return None
    slots = _slots(raw)
    return _unpack(max(slots, key=_generation)) if slots else None


def darkened(page: Page, dark_ns: int) -> Page:
    """Return the page with the moment at which another hand darkened the line; a page that is dark stays."""
    return replace(page, dark_ns=dark_ns) if page.lit and not page.dark_ns else page


def interrupted(page: Page, dark_ns: int, now_boot: str) -> Interrupted | None:
    """Return the light of a page that still says lit, or None where it says dark.

    `dark_ns` is a moment of boot `now_boot` at which the line is known to have been dark. In the same boot the
    light lasted from its start to somewhere between the keeper's last pass and that moment (or the earlier one
    that stands on the page). After another boot it lasted anything from nothing to its order's length.
    """
    if not page.lit:
        return None
    if page.boot != now_boot:
        return Interrupted(page.id, page.on_ns, 0, max(page.lit_ms, page.longest_ms) * NS_PER_MS)
    most_ns = (page.dark_ns or dark_ns) - page.on_ns
    least_ns = min(max(0, page.last_pass_ns - page.on_ns), most_ns)
    return Interrupted(page.id, page.on_ns, least_ns, most_ns)


_SIZE: Final = 4096
_SLOT: Final = _SIZE // 2
_FORM: Final = struct.Struct("<4sIQqqqqqqq?7x64s64s16s64s16s1500s")
_CRC: Final = struct.Struct("<I")
_MAGIC: Final = b"Tsl2"


def _pack(page: Page, generation: int) -> bytes:
    body = _FORM.pack(
        _MAGIC,
        0,
        generation,
        page.pid,
        page.on_ns,
        page.last_pass_ns,
        page.lit_ms,
        page.longest_ms,
        page.dark_ns,
        page.dropped,
        page.lit,
        *(text.encode() for text in (page.boot, page.id, page.kind, page.sheet, page.why, page.last_event)),
    )
    return body + _CRC.pack(zlib.crc32(body))


def _unpack(slot: bytes) -> Page:
    _, _, _, pid, on_ns, last_pass_ns, lit_ms, longest_ms, dark_ns, dropped, lit, *raw = _FORM.unpack_from(slot)
    boot, id_, kind, sheet, why, last_event = (text.rstrip(b"\0").decode(errors="ignore") for text in raw)
    told = boot, pid, id_, kind, sheet, lit, on_ns, last_pass_ns, lit_ms, dark_ns, why, last_event, dropped
    return Page(*told, longest_ms=longest_ms)


def _slots(raw: bytes) -> list[bytes]:
    """Return the slots that are whole."""
    return [slot for at in (0, _SLOT) if _whole(slot := raw[at : at + _SLOT])]


def _whole(slot: bytes) -> bool:
    if len(slot) < _FORM.size + _CRC.size or slot[:4] != _MAGIC:
        return False
    (crc,) = _CRC.unpack_from(slot, _FORM.size)
    return bool(crc == zlib.crc32(slot[: _FORM.size]))


def _generation(slot: bytes) -> int:
    return int(_FORM.unpack_from(slot)[2])


KEPT_NAME: Final = "slate.before"
"""The file's name inside the runtime directory, beside the slate."""

_log = logging.getLogger(__name__)


def keep_page(slate: Path) -> tuple[Page, ...]:
    """Keep what stands on the slate in a file beside it, before a new keeper is woken; return what is known.

    The newest comes first. A page that knows of no order says nothing, and takes the place of none that does. Where the
    page cannot be kept the keeper is woken all the same: darkness comes first.
    """
    page, before = read_slate(slate), read_slate(_kept(slate))
    if page is not None and page.id:
        _write(slate, page)
    return tuple(each for each in (page, before) if each is not None)


def note_dark(slate: Path, dark_ns: int) -> None:
    """Write on the kept page that the new keeper had the line dark by `dark_ns`, where it says lit."""
    page = read_slate(_kept(slate))
    if page is not None and page.lit and not page.dark_ns and page.boot == boot_id():
        _write(slate, darkened(page, dark_ns))


def forget_kept_page(slate: Path) -> None:
    """Forget the kept page: its light is filed."""
    try:
        _kept(slate).unlink(missing_ok=True)
    except OSError as problem:
        # it is told apart by its light's id, so that it does no harm where it stays
        _log.warning("%s stays: %s", _kept(slate), problem)


def _kept(slate: Path) -> Path:
    return slate.with_name(KEPT_NAME)


def _write(slate: Path, page: Page) -> None:
    """Put the page in the file beside the slate; what stood there stays whole until this one is."""
    try:
        writer = SlateWriter(_kept(slate))
        writer.write(page)
        writer.close()
    except OSError as problem:
        _log.warning("what the last keeper noted cannot be kept beside the slate: %s", problem)
