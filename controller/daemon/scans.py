"""Scans that are being read: a few pictures in a folder of their own, each for an hour at most, under a random name."""

from __future__ import annotations

import io
import secrets
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, BinaryIO, Final, Literal

from controller.errors import ControllerError, Impossible, NotThere, StoreTrouble
from controller.paper.libraries import missing_libraries
from controller.words import say

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    from controller.unpack.unpacker import Unpacker

    Levels = NDArray[np.uint16]

KEPT_PIXELS: Final = 9_000_000
"""A whole A4 page at 300 dots an inch has 8.7 million, and patches need no more; what is finer is made smaller."""
MOST_SCANS: Final = 3
LEAST_SIDE: Final = 60
"""Pixels of each side of one of which only places are read."""
KEPT_NS: Final = 3_600_000_000_000
NARROW: Final = 280
"""Pixels: as wide as a picture is where a page is 320 wide."""
TALL: Final = 1200
"""No picture is shown taller than this, however narrow its scan is."""
ZOOMS: Final = (1, 3)
DIM: Final = 0x5A
"""The brightest red of a dark page."""

Face = Literal["day", "dark"]
_FACES: Final[tuple[Face, ...]] = ("day", "dark")


@dataclass(frozen=True)
class Scan:
    """A scan that is kept for a while: its size in pixels as it is kept, and when it came."""

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

    A scan is kept as its greys alone. Pillow and numpy are loaded when the first one comes.
    """

    def __init__(self, folder: Path, now_ns: Callable[[], int], unpacker: Unpacker) -> None:
        self._folder, self._now_ns, self._unpacker = folder, now_ns, unpacker
        self._scans: dict[str, Scan] = {}
        self._lock = threading.Lock()
        self._timer: threading.Timer | None = None

    def keep(self, file: BinaryIO, name: str) -> Scan:
        """Keep a scan, and return what it goes by.

        Raises:
            Unreadable: it is no picture of these kinds, or too large; nothing is kept.
            Impossible: the libraries that read pictures are missing.
            StoreTrouble: it cannot be written.
            WrongMoment: another picture is being unpacked, or a sheet is open.
        """
        if missing := missing_libraries():
            raise Impossible(say("scan.libraries", names=missing))
        source = secrets.token_hex(16)
        with self._unpacker.alone(name):
            with self._lock:
                self._sweep(leave=MOST_SCANS - 1)
            try:
                scan = self._unpack(file, source, name)
            except OSError as problem:
                self._throw_away(source)
                raise StoreTrouble(say("scan.no-room", detail=problem.strerror)) from problem
            except ControllerError:
                self._throw_away(source)
                raise
            with self._lock:
                self._sweep(leave=MOST_SCANS - 1)
                self._scans[source] = scan
                self._look_again_later()
        return scan

    def _unpack(self, file: BinaryIO, source: str, name: str) -> Scan:
        from controller.unpack.greys import LONGEST_SIDE, Fit

        self._folder.mkdir(mode=0o700, exist_ok=True)
        with self._place(source).open("wb") as into:
            came = self._unpacker.unpack(file, name, Fit(KEPT_PIXELS, LONGEST_SIDE), into, two_tones=False)
        scan = Scan(source, name, came.width, came.height, self._now_ns())
        small = _small(self._levels(scan), scan)
        for face in _FACES:
            self._place(source, face).write_bytes(_picture(small, face))
        return scan

    def small(self, file: BinaryIO, name: str, pixels: int, side: int) -> tuple[Levels, bool]:
        """Return a picture's levels from 0 to 65535, made small, and whether they are light itself; nothing is kept.

        Raises:
            Unreadable, Impossible, StoreTrouble, WrongMoment: as `keep`.
        """
        if missing := missing_libraries():
            raise Impossible(say("scan.libraries", names=missing))
        import numpy as np

        from controller.unpack.greys import Fit

        with TemporaryFile() as into:
            came = self._unpacker.unpack(file, name, Fit(pixels, side), into, least=LEAST_SIDE, two_tones=False)
            into.seek(0)
            levels = np.frombuffer(into.read(), np.uint16).reshape(came.height, came.width)
        return levels, came.coding == "linear"

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
        try:
            with Image.open(self._place(scan.id, face), formats=("PNG",)) as whole:
                return _png(whole.resize(scan.shown(zoom)))
        except OSError:
            raise NotThere(say("scan.gone")) from None

    @contextmanager
    def levels(self, source: str) -> Iterator[tuple[Scan, Levels]]:
        """Hand out a scan's levels from 0 to 65535, which lie in a file; nothing is unpacked meanwhile.

        Raises:
            NotThere: as `find`.
            WrongMoment: another picture is being unpacked.
        """
        scan = self.find(source)
        with self._unpacker.alone(scan.name):
            yield scan, self._levels(scan)

    def close(self) -> None:
        """Throw every scan away."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            self._scans.clear()
            shutil.rmtree(self._folder, ignore_errors=True)

    def _levels(self, scan: Scan) -> Levels:
        import numpy as np

        try:
            return np.memmap(self._place(scan.id), np.uint16, "r", shape=(scan.height, scan.width))
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
        for face in (None, *_FACES):
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


def _small(levels: Levels, scan: Scan) -> Image.Image:
    """Return a scan's greys as large as a page ever shows them."""
    import numpy as np
    from PIL import Image

    whole = np.empty(levels.shape, np.uint8)
    np.right_shift(levels, 8, out=whole, casting="unsafe")  # by pieces that numpy buffers, never all of it twice
    return Image.frombuffer("L", (scan.width, scan.height), whole).resize(scan.shown(ZOOMS[-1]), Image.Resampling.BOX)


def _picture(small: Image.Image, face: Face) -> bytes:
    from PIL import Image

    if face == "day":
        return _png(small)
    none = Image.new("L", small.size)
    return _png(Image.merge("RGB", (small.point(lambda level: level * DIM // 255), none, none)))


def _png(picture: Image.Image) -> bytes:
    file = io.BytesIO()
    picture.save(file, "PNG")
    return file.getvalue()
