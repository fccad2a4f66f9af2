"""What runs alone is really there, and is really kept apart."""

from __future__ import annotations

from pathlib import Path

from conftest import ALONE

TESTS = Path(__file__).resolve().parents[1]


def test_every_place_that_runs_alone_is_there() -> None:
    """Each folder or file that is named to run alone exists, so that a renamed one does not slip among the others."""
    assert [place for place in ALONE if not (TESTS / place).exists()] == []


def test_what_starts_a_whole_daemon_runs_alone() -> None:
    """Tests that start a daemon as a process of its own, or measure the keeper's lights, are among those."""
    for file in set(TESTS.rglob("test_*.py")) - {Path(__file__).resolve()}:
        text = file.read_text(encoding="utf-8")
        if "from daemon_process import" in text or "from tether_bench import" in text:
            place = file.relative_to(TESTS).as_posix()
            assert any(place == alone or place.startswith(f"{alone}/") for alone in ALONE), place
