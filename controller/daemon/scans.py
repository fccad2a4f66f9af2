"""Scans that are being read: a few pictures in a folder of their own, each for an hour at most, under a random name."""

from __future__ import annotations

import io
import secrets
import shutil
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from controller.errors import Impossible, NotThere, StoreTrouble, Unreadable
from controller.paper.libraries import missing_libraries
from controller.words import say

if TYPE_CHECKING:
    from controller.paper.scan import Array

MOST_BYTES: Final = 24_000_000
MOST_PIXELS: Final = 9_000_000
"""A whole A4 page at 300 dots an inch has 8.7 million; a small machine has little room for more."""
MOST_SCANS: Final = 3
KEPT_NS: Final = 3_600_000_000_000
NARROW: Final = 280
"""Pixels: as wide as a picture is where a page is 320 wide."""
TALL: Final = 1200
"""No picture is shown taller than this, however narrow its scan is."""
ZOOMS: Final = (1, 3)
DIM: Final = 0x5A
"""The brightest red of a dark page."""
FORMATS: Final = ("PNG", "JPEG", "TIFF")

Face = Literal["day", "dark"]


@dataclass(frozen=True)
class Scan:
    """A scan that is kept for a while: its size in pixels, and when it came."""

    id: str
    name: str
    width: int
    height: int
    came_ns: int

    def shown(self, zoom: int) -> tuple[int, int]:
        """Return the width and height of the picture that a page shows."""
        scale = zoom * min(NARROW / self.width, TALL / self.height)
        return max(1, round(self.width * scale)), max(1, round(self.height * scale))


class ScanDrawer:
    """Keeps scans in `folder` until they are an hour old, or crowded out by newer ones. Safe from any thread.

    Pillow and numpy are loaded when the first scan comes.
    """

    def __init__(self, folder: Path, now_ns: Callable[[], int]) -> None:
        self._folder, self._now_ns = folder, now_ns
        self._scans: dict[str, Scan] = {}
        self._lock = threading.Lock()
        self._timer: threading.Timer | None = None

    def keep(self, content: bytes, name: str) -> Scan:
        """Keep a scan, and return what it goes by.

        Raises:
            Unreadable: it is no picture of these kinds, or too large; nothing is kept.
            Impossible: the libraries that read pictures are missing.
            StoreTrouble: it cannot be written.
        """
        if missing := missing_libraries():
            raise Impossible(say("scan.libraries", names=missing))
        if len(content) > MOST_BYTES:
            raise Unreadable(say("scan.too-large", file=name, most=MOST_BYTES // 1_000_000))
        levels = _levels(content, name)
        height, width = levels.shape
        scan = Scan(secrets.token_hex(16), name, width, height, self._now_ns())
        small = _small(levels, scan)
        pictures = {self._place(scan.id, face): _picture(small, face) for face in ("day", "dark")}
        with self._lock:
            self._sweep(leave=MOST_SCANS - 1)
            try:
                self._folder.mkdir(mode=0o700, exist_ok=True)
                for place, data in ((self._place(scan.id), content), *pictures.items()):
                    place.write_bytes(data)
            except OSError as problem:
                self._throw_away(scan.id)
                raise StoreTrouble(say("scan.no-room", detail=problem.strerror)) from problem
            self._scans[scan.id] = scan
            self._look_again_later()
        return scan

    def find(self, source: str) -> Scan:
        """Return a scan that is still kept.

        Raises:
            NotThere: it is gone, or never was; the sentence says to bring it again.
        """
        with self._lock:
            self._sweep()
            if source not in self._scans:
                raise NotThere(say("scan.gone"))
            return self._scans[source]

    def picture(self, source: str, face: Face, zoom: int) -> bytes:
        """Return the PNG that a page shows: greys by day, dim reds on black otherwise.

        Raises:
            NotThere: as `find`.
        """
        from PIL import Image

        scan = self.find(source)
        with Image.open(io.BytesIO(self._read(scan, face))) as whole:
            return _png(whole.resize(scan.shown(zoom)))

    def levels(self, source: str) -> tuple[Scan, Array]:
        """Return a scan's levels from 0 to 1, as `paper.scan.open_scan`.

        Raises:
            NotThere: as `find`.
        """
        scan = self.find(source)
        return scan, _levels(self._read(scan), scan.name)

    def close(self) -> None:
        """Throw every scan away."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            self._scans.clear()
            shutil.rmtree(self._folder, ignore_errors=True)

    def _read(self, scan: Scan, face: Face | None = None) -> bytes:
        try:
            return self._place(scan.id, face).read_bytes()
        except OSError:
            raise NotThere(say("scan.gone")) from None

    def _place(self, source: str, face: Face | None = None) -> Path:
        return self._folder / (f"{source}-{face}.png" if face else source)

    def _sweep(self, leave: int = MOST_SCANS) -> None:
        """Throw away what is an hour old, and the oldest where there are more than `leave`."""
        young = [scan for scan in self._scans.values() if self._now_ns() - scan.came_ns < KEPT_NS]
        kept = {scan.id for scan in sorted(young, key=lambda scan: scan.came_ns)[len(young) - min(leave, len(young)) :]}
        for source in set(self._scans) - kept:
            del self._scans[source]
            self._throw_away(source)

    def _throw_away(self, source: str) -> None:
        for face in (None, "day", "dark"):
            self._place(source, face).unlink(missing_ok=True)

    def _look_again_later(self) -> None:
        """Sweep once more when the newest is an hour old, though nobody looks."""
        if self._timer is not None:
            self._timer.cancel()
        self._timer = threading.Timer(KEPT_NS / 1e9 + 1.0, self._swept)
        self._timer.daemon = True
        self._timer.start()

    def _swept(self) -> None:
        with self._lock:
            self._sweep()


def _levels(content: bytes, name: str) -> Array:
    from PIL import Image

    from controller.paper.scan import DAMAGED, open_scan

    try:
        # The head alone tells the size: nothing is unpacked that is too large.
        with Image.open(io.BytesIO(content), formats=FORMATS) as picture:
            many = picture.width * picture.height
        if many <= MOST_PIXELS:
            return open_scan(content, name)
    except Unreadable:
        raise
    except DAMAGED:
        raise Unreadable(say("paper.scan-no-picture", file=name)) from None
    raise Unreadable(say("paper.scan-large", file=name, most=MOST_PIXELS // 1_000_000))


def _small(levels: Array, scan: Scan) -> Array:
    """Return a scan's levels as large as a page ever shows them."""
    import numpy as np
    from PIL import Image

    whole = Image.fromarray(levels.astype(np.float32))
    return np.asarray(whole.resize(scan.shown(ZOOMS[-1]), Image.Resampling.BOX), dtype=np.float64)


def _picture(small: Array, face: Face) -> bytes:
    import numpy as np
    from PIL import Image

    most = 255 if face == "day" else DIM
    grey = Image.fromarray(np.round(np.clip(small, 0.0, 1.0) * most).astype(np.uint8))
    none = Image.new("L", grey.size)
    return _png(grey if face == "day" else Image.merge("RGB", (grey, none, none)))


def _png(picture: object) -> bytes:
    from PIL import Image

    assert isinstance(picture, Image.Image)
    file = io.BytesIO()
    picture.save(file, "PNG")
    return file.getvalue()
