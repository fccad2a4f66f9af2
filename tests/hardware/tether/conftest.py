"""What each test of the tether begins from: its own processes alone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from tools import tether_bench


@pytest.fixture(autouse=True)
def _its_own_processes() -> Iterator[None]:
    """Do not blame a tether for a process that another test of this worker has left."""
    tether_bench.there_before.clear()
    tether_bench.there_before.update(tether_bench.children())
    yield
    tether_bench.there_before.clear()
