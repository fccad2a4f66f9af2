"""An unpacker without a process of its own, for tests that bring many pictures: the same code, in this process."""

from __future__ import annotations

import os
from typing import Any, BinaryIO

from controller.unpack.unpack_process import _unpacked
from controller.unpack.unpacker import Unpacker


class NearUnpacker(Unpacker):
    """Unpacks where it stands; `tests/unpack` holds what the process of its own adds: its limits, and its end."""

    def _answer(self, file: BinaryIO, into: BinaryIO, name: str, order: dict[str, Any]) -> dict[str, Any]:
        self._give_way(name)
        return _unpacked(os.dup(file.fileno()), os.dup(into.fileno()), **order)
