"""What runs apart from other tests is really there, and is really kept apart."""

from __future__ import annotations

from pathlib import Path

from conftest import ALONE, REAL

TESTS = Path(__file__).resolve().parents[1]
BENCHES = ("daemon_bench", "daemon_process", "tether_bench")


def test_every_place_that_runs_apart_is_there() -> None:
    """Each folder or file that is named to run apart exists, so that a renamed one does not slip among the others."""
    assert [place for place in (*ALONE, *REAL) if not (TESTS / place).exists()] == []


def test_what_starts_a_whole_daemon_runs_apart() -> None:
    """Tests that start a daemon as a process of its own, or keepers by the bench's parents, are among those."""
    apart = (*ALONE, *REAL)
    found = {
        file.relative_to(TESTS).as_posix()
        for file in set(TESTS.rglob("test_*.py")) - {Path(__file__).resolve()}
        if any(f"from {bench} import" in file.read_text(encoding="utf-8") for bench in BENCHES)
    }
    assert [each for each in found if not any(each == one or each.startswith(f"{one}/") for one in apart)] == []
