"""The checksum that a row carries, so that a card that changed a letter of it is found out."""

from __future__ import annotations

import zlib
from collections.abc import Iterable


def sum_of(values: Iterable[object]) -> int:
    """Return the checksum of a row's values, in their order; the same for a truth and its number."""
    return zlib.crc32("\x1f".join(str(int(v) if isinstance(v, bool) else v) for v in values).encode(errors="replace"))
