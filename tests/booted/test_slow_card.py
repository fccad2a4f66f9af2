"""Ten years of evenings on a small Pi's slow card: the service installed on an emulated machine, all of it on the card.

The card writes 12 MB/s and reads 22 MB/s, in 500 writes or 1,500 reads a second. Data are built by
`benchmarks/many_years.py`, kept in the folder that TREADLE_GROWTH names, or in a temporary one. An emulated machine is
slower than a Pi and as unsteady as what it runs on: nothing else should.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from booted.conftest import lacking
from booted.debian_root import NoRoot, debian_root
from booted.emulated import install
from kernel.kernel_image import NoKernel, cache_folder, kernel
from kernel.machine import Card, boot, missing

ROOT = Path(__file__).resolve().parents[2]
CARD_MB = 6000
MOST_SECONDS = 3000
EMPTY_S = 15
LATE_MS = 50
"""A machine that takes longer until it is ready with nothing kept, or is later by itself, can be judged by nobody."""
OUT = Path("/run/out/told.json")
pytestmark = pytest.mark.long


def measured(size: str, work: Path, memory_mb: int, *parts: str) -> dict[str, Any]:
    """Return what the machine measured with data of that size."""
    if why := lacking() or (f"not installed: {missing()}" if missing() else ""):
        pytest.skip(f"slow card: {why}")
    try:
        lower, image = debian_root("bookworm"), kernel(cache_folder())
    except (NoRoot, NoKernel) as problem:
        pytest.skip(f"slow card: {problem}")
    root = install(lower, work, None)
    shutil.copy(Path(__file__).with_name("guest_slow_card.py"), root / "srv")
    lay_in(size, work, root / "var/lib/treadle/treadle-practice")
    card = work / "card"
    with card.open("wb") as file:
        file.truncate(CARD_MB * 1_000_000)
    subprocess.run(["mke2fs", "-q", "-t", "ext4", "-d", str(root), str(card)], check=True, capture_output=True)
    shutil.rmtree(root)
    words = ["/opt/treadle/.venv/bin/python", "/srv/guest_slow_card.py", str(OUT), *parts]
    ended = boot(image, words, work / "out", seconds=MOST_SECONDS, card=Card(card, memory_mb))
    card.unlink()
    assert ended.status == 0, f"{ended.status}: {ended.log}\n{ended.console[-3000:]}"
    told: dict[str, Any] = json.loads((work / "out" / OUT.name).read_text())
    print(f"{size}, {memory_mb} MB: {json.dumps(told, indent=1)}")
    return told


def lay_in(size: str, work: Path, place: Path) -> None:
    """Lay data of that size into the card, with what is looked up in them, as a darkroom in use has it."""
    kept = Path(os.environ.get("TREADLE_GROWTH") or work / "growth")
    subprocess.run([sys.executable, ROOT / "tests/benchmarks/many_years.py", size, kept / size], check=True)
    place.mkdir(parents=True)
    for name in ("journal.db", "shelf.db", "secret.key"):
        shutil.copy(kept / size / name, place)
    check = [sys.executable, ROOT / "treadle.py", "check", "--rebuild", "--simulate", "--data", place]
    subprocess.run(check, check=False, stdout=subprocess.DEVNULL, cwd=ROOT)
    assert (place / "lookups.db").exists()
    shutil.rmtree(place / "run", ignore_errors=True)


def test_ten_years_on_a_slow_card(tmp_path: Path) -> None:
    """With ten years kept it is ready in 20 s, and the worst of 500 rows filed while a backup goes on takes 200 ms."""
    told = measured("d3", tmp_path, 1024, "ready", "filing")
    ready, filing = told["ready"], told["filing"]
    assert filing["copied_mb"] or filing["backups"], "no backup went on beside it"
    assert max(ready["cold"], ready["again"]) < 2 * ready["empty"], "the start takes longer with what is kept"
    if ready["empty"] > EMPTY_S or filing["machine_late_ms"] > LATE_MS:
        pytest.skip(f"slow card: not judged, this machine itself was too busy: {json.dumps(told)}")
    assert max(ready["cold"], ready["again"]) < 20
    assert filing["beside"]["worst"] <= 200


def test_a_year_is_exported_beside_the_daemon_in_512_mb(tmp_path: Path) -> None:
    """On a machine of 512 MB, with the daemon beside it, a year is exported whole."""
    told = measured("d2", tmp_path, 512, "export")
    assert told["export"]["status"] == 0
    assert told["export"]["rows"] > 50_000
    assert told["export"]["machine_mb"] < 512
