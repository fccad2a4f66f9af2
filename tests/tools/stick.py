"""A stick for backups: a folder on another file system than the one that tests keep their data on."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def stick_beside(data: Path) -> Iterator[Path]:
    """Give an empty stick, mounted; `data` is a folder that lies on the card."""
    with tempfile.TemporaryDirectory(prefix="treadle-stick-", dir="/dev/shm") as folder:
        if Path(folder).stat().st_dev == data.stat().st_dev:
            pytest.skip("second place: /dev/shm is no file system of its own here")
        yield Path(folder)
