"""Checks that what serves is light until numbers are asked of it: the real command, its first pages opened."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from benchmarks.serving import ROOT, Served, family, own_kb
from tools.stand_in_desk import StandInDesk

from webui.app import create_app

pytestmark = pytest.mark.usefixtures("by_real_time")

HEAVY = ("/numpy/", "/scipy/", "/PIL/", "/lgpio")
NO_PAGES = ("/live", "/favicon.ico", "/practice/board.png", "/data/out.zip", "/editions/new")
"""Addresses that are no page to open: a stream, an icon that is none, a picture drawn when it is asked for, and an
edition that is begun from a print."""
DAEMON_MB = 66.0
"""One that has shown every page once has 62 of its own; uncompiled templates would add 18, numpy and scipy 45."""
KEEPER_MB = 12.5
"""It has 11.1 of its own, asleep or awake."""


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    keeping = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    rooms = ("controller", "hardware", "webui", "treadle.py")
    for made in (("compileall", "-q", *rooms), ("webui.frame.templates",)):  # as installing does
        subprocess.run([sys.executable, "-m", *made], cwd=ROOT, env=keeping, check=True)
    with Served(tmp_path) as found:
        yield found


def pages() -> list[str]:
    """Every page that is registered and stands by itself, the front page first."""
    rules = create_app(StandInDesk(practice=True), hosts=["localhost"]).url_map.iter_rules()
    return sorted(r.rule for r in rules if "GET" in (r.methods or ()) and not r.arguments and r.rule not in NO_PAGES)


def test_a_daemon_brings_no_command_that_only_reckons() -> None:
    """Reading `serve` loads neither the calculators nor what measures the lamp's lateness; `--help` still has all."""
    for word, light in (("serve", True), ("status", True), ("--help", False)):
        loaded = loaded_by(f"import treadle; treadle._parser({word!r})")
        assert {"controller.commands.calc", "controller.commands.timing.command"}.isdisjoint(loaded) is light, word


def test_asking_how_it_stands_loads_nothing_of_a_daemon(tmp_path: Path) -> None:
    """`status`, `pair` and `phones`, asked of a folder that nothing serves, load neither daemon, store nor pages."""
    for word in ("status", "pair", "phones"):
        loaded = loaded_by(f"import treadle; assert treadle.main(['{word}', '--data', '{tmp_path}'])")
        assert "controller.service.door" in loaded
        heavy = {"controller.daemon.desk", "controller.store.journal", "apscheduler", "flask"} & loaded
        assert not heavy, f"{word} loads {heavy}"


def loaded_by(program: str) -> set[str]:
    """Return the modules that a new process has loaded by the end of a program."""
    done = subprocess.run(
        [sys.executable, "-c", f"{program}; import sys; print(*sys.modules)"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.split())


def test_pages_load_nothing_heavy(served: Served) -> None:
    """With every page opened by day neither daemon nor keepers have numpy, scipy, Pillow or a pin library loaded."""
    base = f"http://localhost:{served.port}"
    phone = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    pair = urllib.request.Request(f"{base}/pair", f"code={served.code}".encode(), {"Origin": base})
    with phone.open(pair) as answer:
        assert answer.status == 200
    with phone.open(base) as answer:
        front = answer.read().decode()
    said = dict(re.findall(r'name="(token|number)" value="([^"]*)"', front))
    fields = "&".join(f"{name}={value}" for name, value in said.items())
    with phone.open(urllib.request.Request(f"{base}/act/paper-away", fields.encode(), {"Origin": base})) as answer:
        assert answer.status == 200
    statuses = {}
    for page in pages():
        with phone.open(base + page) as answer:
            statuses[page] = answer.status
    assert len(statuses) > 20
    assert set(statuses.values()) == {200}, json.dumps(statuses)
    for pid in family(served.process.pid):
        maps = Path(f"/proc/{pid}/maps").read_text("utf-8")
        assert not [name for name in HEAVY if name in maps], pid
    mb = [own_kb(pid) / 1000 for pid in family(served.process.pid)]
    print(f"of their own, in MB: {mb}")
    assert mb[0] < DAEMON_MB
    assert max(mb[1:]) < KEEPER_MB
