"""A machine and a data folder for the check to look at."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.commands.check.machine import Machine
from controller.store.folder import DataFolder


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    root = tmp_path / "machine"
    (root / "dev" / "input" / "by-id").mkdir(parents=True)
    (root / "dev" / "gpiochip4").touch()
    return Machine(
        root=root,
        environment={},
        run=lambda _words: None,
        synchronised=lambda: True,
        may_use_priority=lambda: True,
        may_use=lambda _path, _mode: True,
        hostname=lambda: "darkroom",
    )


@pytest.fixture
def data(tmp_path: Path) -> DataFolder:
    return DataFolder(tmp_path / "data")
