"""The page of a keeper that is gone, kept beside the slate until its light is filed: the next one begins it anew.

Without it a second death, of the daemon or of both, in the moment between the waking of a new keeper and the filing of
the old one's light would take with it what is known of that light.
"""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Final

from hardware.clock import boot_id
from hardware.slate import Page, SlateWriter, darkened, read_slate

ASIDE_NAME: Final = "slate.before"
"""The file's name inside the runtime directory, beside the slate."""

_log = logging.getLogger(__name__)


def keep_aside(slate: Path) -> tuple[Page, ...]:
    """Keep what stands on the slate beside it, before a new keeper is woken; return what is known, the newest first.

    A page that knows of no order says nothing, and takes the place of none that does. Where the page cannot be kept
    the keeper is woken all the same: darkness comes first.
    """
    page, before = read_slate(slate), read_slate(_aside(slate))
    if page is not None and page.id:
        _write(slate, page)
    return tuple(each for each in (page, before) if each is not None)


def note_dark(slate: Path, dark_ns: int) -> None:
    """Write on the page kept aside that the new keeper had the line dark by `dark_ns`, where it says lit."""
    page = read_slate(_aside(slate))
    if page is not None and page.lit and not page.dark_ns and page.boot == boot_id():
        _write(slate, darkened(page, dark_ns))


def let_aside_go(slate: Path) -> None:
    """Forget the page kept aside: its light is filed."""
    try:
        _aside(slate).unlink(missing_ok=True)
    except OSError as problem:
        # it is told apart by its light's id, so that it does no harm where it stays
        _log.warning("%s stays: %s", _aside(slate), problem)


def _aside(slate: Path) -> Path:
    return slate.with_name(ASIDE_NAME)


def _write(slate: Path, page: Page) -> None:
    """Put the page on the file aside; what stood there stays whole until this one is."""
    try:
        writer = SlateWriter(_aside(slate))
        writer.write(page)
        writer.close()
    except OSError as problem:
        _log.warning("what the last keeper noted cannot be kept beside the slate: %s", problem)
