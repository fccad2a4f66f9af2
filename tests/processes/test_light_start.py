"""Checks that what serves is light until numbers are asked of it: the real command, its first pages opened."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from benchmarks.serving import Served, family, pss_kb

HEAVY = ("/numpy/", "/scipy/", "/PIL/", "/lgpio")
FIRST_PAGES = ("/", "/choose", "/sheets", "/practice")
DAEMON_MB = 70.0
"""A daemon has well under this for itself; numpy, scipy and Pillow together add more than the difference."""


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with Served(tmp_path) as found:
        yield found


def test_first_pages_load_nothing_heavy(served: Served) -> None:
    """With the first pages opened neither daemon nor keepers have numpy, scipy, Pillow or a pin library loaded."""
    base = f"http://localhost:{served.port}"
    phone = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    pair = urllib.request.Request(f"{base}/pair", f"code={served.code}".encode(), {"Origin": base})
    with phone.open(pair) as answer:
        assert answer.status == 200
    statuses = {}
    for page in FIRST_PAGES:
        with phone.open(base + page) as answer:
            statuses[page] = answer.status
    assert set(statuses.values()) == {200}, json.dumps(statuses)
    for pid in family(served.process.pid):
        maps = Path(f"/proc/{pid}/maps").read_text("utf-8")
        assert not [name for name in HEAVY if name in maps], pid
    mb = pss_kb(served.process.pid) / 1000
    print(f"the daemon alone: {mb:.1f} MB")
    assert mb < DAEMON_MB
