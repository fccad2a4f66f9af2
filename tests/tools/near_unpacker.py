"""Unpacker and renderer without processes of their own, for tests of many pictures: the same code, in this process."""

from __future__ import annotations

import json
import os
from typing import Any, BinaryIO

from controller.daemon.preview_process import answered
from controller.daemon.preview_renderer import PreviewRenderer
from controller.unpack.unpack_process import _unpacked
from controller.unpack.unpacker import Unpacker


class NearUnpacker(Unpacker):
    """Unpacks where it stands; `tests/unpack` holds what the process of its own adds: its limits, and its end."""

    def _answer(self, file: BinaryIO, into: BinaryIO, name: str, order: dict[str, Any]) -> dict[str, Any]:
        self._give_way(name)
        return _unpacked(os.dup(file.fileno()), os.dup(into.fileno()), **order)


class NearRenderer(PreviewRenderer):
    """Renders where it stands; `tests/preview` holds what the process of its own adds."""

    def _answer(self, asked: bytes) -> tuple[dict[str, Any], bytes]:
        told, picture = answered(asked)
        return json.loads(json.dumps(told)), picture

    def _wait_for_another(self) -> None:
        pass
