"""`treadle paper readings`: its keys as they are scripted against, and its refusals in one sentence."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import pytest

from controller.commands.paper import add_arguments, answer
from controller.errors import ControllerError, Impossible, Unreadable

TABLET = Path(__file__).parents[1] / "examples" / "paper-one.tablet.csv"
SPOTS = ("--spot", "highlight=2711=0.12", "--spot", "shadow=29050=1.95")


def _ask(*words: object) -> Any:
    parser = argparse.ArgumentParser(prog="treadle")
    add_arguments(parser.add_subparsers(dest="command", required=True))
    told = answer(parser.parse_args([str(word) for word in ("paper", *words)]))
    assert all(isinstance(line, str) and line for line in told.lines())
    return told


def _json(*words: object) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(_ask(*words, "--json").model_dump_json())
    return told


@pytest.fixture(scope="module")
def paper(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Paper one, fitted and kept."""
    file = tmp_path_factory.mktemp("papers") / "paper.json"
    _ask("fit", TABLET, "--out", file)
    return file


def test_readings(paper: Path) -> None:
    """The worked example (1.25 at 0.12, 0.22 at 1.95 on paper one: 8.7 + 9.0; sky 1.45 at 0.15: +0.90 stop, 7.5 s)."""
    told = _json("readings", paper, "--reference", "48210", *SPOTS, "--spot", "sky=1710=0.15", "--spot", "A=13587")
    assert set(told) == {"soft", "hard", "range", "range_exact", "spots"}
    assert (round(told["soft"], 1), round(told["hard"], 1), told["range"]) == (8.7, 9.0, 110)
    assert list(told["spots"]) == ["highlight", "shadow", "sky", "A"]
    assert told["spots"]["highlight"] == pytest.approx({"density": 1.25, "print_density": 0.12}, abs=0.001)
    assert told["spots"]["A"] == pytest.approx({"density": 0.55, "print_density": 1.265}, abs=0.003)
    sky = told["spots"]["sky"]
    assert set(sky) == {"density", "print_density", "act", "filter", "stops", "seconds"}
    assert (sky["act"], sky["filter"]) == ("burn", "soft")
    assert (round(sky["stops"], 1), round(sky["seconds"], 1)) == (0.9, 7.5)


def test_counts_are_in_any_one_unit(paper: Path) -> None:
    """Counts a second, a cycle, or a share of the reference: only their ratio matters."""
    one = _json("readings", paper, "--reference", "48210", *SPOTS)
    other = _json("readings", paper, "--reference", "482.1", "--spot", "h=27.11=0.12", "--spot", "s=290.5=1.95")
    assert (other["soft"], other["hard"]) == (one["soft"], one["hard"])


def test_an_offset_is_added_to_every_density(paper: Path) -> None:
    """0.30 of offset is 10^0.30 times the light, for both."""
    plain = _json("readings", paper, "--reference", "48210", *SPOTS)
    moved = _json("readings", paper, "--reference", "48210", *SPOTS, "--offset", "0.30")
    assert moved["soft"] / plain["soft"] == pytest.approx(10**0.30, rel=1e-3)
    assert moved["hard"] / plain["hard"] == pytest.approx(10**0.30, rel=1e-3)


def test_what_cannot_be_had_comes_with_the_nearest(paper: Path) -> None:
    """A wish past the paper's black says why, and what comes nearest, as `soft-hard` does."""
    told = _json("readings", paper, "--reference", "48210", "--spot", "h=2711=0.12", "--spot", "s=29050=2.5")
    assert "2.10" in told["why"]
    assert told["nearest"]["spots"]["s"]["print_density"] == pytest.approx(2.10, abs=0.01)


@pytest.mark.parametrize(
    ("words", "says", "kind"),
    [
        (("--reference", "48210", "--spot", "h=29050=0.12", "--spot", "s=2711=1.95"), "must be denser", Impossible),
        (("--reference", "0", *SPOTS), "--reference cannot be “0”", Unreadable),
        (("--reference", "nan", *SPOTS), "--reference cannot be “nan”", Unreadable),
        (("--reference", "48210", "--spot", "h=-1=0.12", "--spot", "s=1=1.9"), "--spot cannot be “-1”", Unreadable),
        (("--reference", "48210", "--spot", "h", "--spot", "s=1=1.9"), "--spot cannot be “h”", Unreadable),
        (("--reference", "48210", "--spot", "h=2711=0.12"), "two spots", Impossible),
        (("--reference", "48210", "--spot", "h=2711", "--spot", "s=29050=1.95"), "has no wished tone", Impossible),
        (("--reference", "48210", *SPOTS, "--spot", "shadow=1=1"), "Two spots are called “shadow”", Impossible),
        (("--reference", "48210", *SPOTS, "--offset", "1"), "--offset cannot be “1”", Unreadable),
        (("--reference", "48210", "--spot", "h=0.001=0.12", "--spot", "s=1=1.9"), "which no negative has", Impossible),
    ],
)
def test_bad_input_is_refused(paper: Path, words: tuple[str, ...], says: str, kind: type[ControllerError]) -> None:
    """Each names what is wrong and the remedy."""
    with pytest.raises(kind, match=says):
        _ask("readings", paper, *words)
