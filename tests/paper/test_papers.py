"""A kept paper's file: read as written, old files for ever, and refused in a sentence."""

from __future__ import annotations

import json
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError
from tools.hidden_papers import BOX, paper_one, readings

from controller.errors import Unreadable
from controller.paper.emulsions import densities, mixture
from controller.paper.fit import fit
from controller.paper.paper import Paper, Setup, read_paper, write_paper
from controller.paper.readings import MOST_EXPOSURES, MOST_STEPS, Exposure, Reading, Readings
from controller.recipe.fields import LARGEST_BYTES

OLD = Path(__file__).parent / "examples" / "paper-1.paper.json"
"""A paper as the first version of the form wrote it; never edited."""


@cache
def demo() -> Paper:
    return fit(readings(paper_one()), BOX, setup=Setup(magnification=2.0, aperture=8.0, soft_filter="00"))


def test_written_and_read_again() -> None:
    """A paper written and read again is the same paper, its readings, doubt and box included."""
    assert read_paper(write_paper(demo()), "p.json") == demo()
    assert read_paper(write_paper(demo()).encode("utf-8-sig"), "p.json") == demo()


def test_the_old_example_is_still_read() -> None:
    """A file that the first version of the form wrote is read, and predicts what it predicted."""
    paper = read_paper(OLD.read_bytes(), OLD.name)
    assert paper.name == "paper one"
    assert paper.box.dated.isoformat() == "2026-03-01"
    assert densities(mixture(paper), 10.1, 8.0, [0.22, 1.25]) == pytest.approx([1.949, 0.159], abs=0.002)


def test_a_paper_cannot_be_changed() -> None:
    """A kept paper is frozen; a change is a new version."""
    with pytest.raises(ValidationError):
        demo().name = "other"


def _changed(*path: str | int, to: Any) -> str:
    tree = json.loads(write_paper(demo()))
    at = tree
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = to
    return json.dumps(tree)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1, column 1 is not JSON"),
        ("[]", "must be one object"),
        ("{", "is not JSON"),
        ("{}", "“format” is missing"),
        (_changed("format", to="treadle/paper/2"), "of a newer Treadle"),
        (_changed("format", to="treadle/recipe/1"), "says that this is a recipe"),
        (_changed("format", to="treadle/thing/1"), "“format” is “treadle/thing/1”, and must be “treadle/paper/1”"),
        (_changed("name", to=""), "“name” is , and must be of 1 to 80 characters"),
        (_changed("colour", to="red"), "“colour” is no key of treadle/paper/1"),
        (_changed("dmin", to="0.05"), "“dmin” is “0.05”, and must be a plain number"),
        (_changed("dmin", to=-1), "“dmin” is -1, and must be from -0.05 to 1"),
        (_changed("dmax", to=9), "“dmax” is 9, and must be from 0.1 to 4"),
        (_changed("contrast", to=0), "“contrast” is 0, and must be more than 0 and at most 100"),
        (_changed("dmax", to=0.1), "black lies less than 0.1 above white"),
        (_changed("shape", to="square"), "“shape” is “square”, and must be one of: logistic, normal"),
        (_changed("version", to=0), "“version” is 0, and must be at least 1"),
        (_changed("emulsions", 0, "weight", to=0.9), "weights do not add up to 1"),
        (_changed("emulsions", 1, "soft_speed", to=True), "“soft_speed” in emulsions 2 is “true”, and must be a plain"),
        (_changed("doubt", 0, to=[1.0]), "a row of “doubt” has not its 13 figures"),
        (_changed("box", "dated", to="yesterday"), "“dated” in box is “yesterday”"),
        (_changed("readings", "exposures", 0, "readings", 2, "print_density", to=7), "“print_density” in readings 3"),
        (write_paper(demo()).replace('"dmin"', '"dmax"', 1), "“dmax” is there twice"),
        (write_paper(demo()).replace('"dmin": 0', '"dmin": NaN, "x": 0', 1), "p.json"),
        (write_paper(demo()).replace('"dmin": 0', '"dmin": 1e999, "x": 0', 1), "p.json"),
        ("[" * 100_000, "p.json"),
        ("9" * 10_000, "p.json"),
        ("x" * 300_000, "larger than 256 kB"),
    ],
)
def test_malformed_papers_are_refused(text: str, says: str) -> None:
    """A file that is no paper is refused in one sentence with the file, the key and the remedy."""
    with pytest.raises(Unreadable) as refused:
        read_paper(text, "p.json")
    assert says in str(refused.value)
    assert str(refused.value).startswith("p.json")
    assert len(str(refused.value)) < 300


def test_a_missing_key_is_named() -> None:
    """A paper without its black is refused with that key."""
    tree = json.loads(write_paper(demo()))
    del tree["dmax"]
    with pytest.raises(Unreadable, match="“dmax” is missing"):
        read_paper(json.dumps(tree), "p.json")


def test_no_text_is_refused() -> None:
    """Bytes that are no text are refused."""
    with pytest.raises(Unreadable, match="not UTF-8 text"):
        read_paper(b"\xff\xff", "p.json")


def test_importing_stays_light() -> None:
    """Papers, readings, changes and the command's arguments load neither numpy, scipy nor Pillow."""
    papers = ("paper", "readings", "faults", "eye", "iso", "ladder", "negative")
    modules = (*(f"paper.{name}" for name in papers), "carry.changes", "carry.carry", "commands.paper")
    code = (
        "import sys\n"
        + "".join(f"import controller.{name}\n" for name in modules)
        + "heavy = {'numpy', 'scipy', 'PIL'} & set(sys.modules)\n"
        + "raise SystemExit(repr(heavy) if heavy else 0)"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_largest_paper_is_no_larger_than_a_file_may_be() -> None:
    """A paper with as many exposures and steps as readings may have is still read again from its file."""
    steps = tuple(
        Reading(step=n, tablet_density=0.123456 + n / 100, print_density=1.234567, noise_density=0.012345)
        for n in range(1, MOST_STEPS + 1)
    )
    strips = tuple(
        Exposure(soft_seconds=123.456 + n, hard_seconds=123.456, readings=steps) for n in range(MOST_EXPOSURES)
    )
    most = demo().model_copy(update={"readings": Readings(paper="p" * 80, exposures=strips)})
    assert len(write_paper(most).encode()) < LARGEST_BYTES
    assert read_paper(write_paper(most), "p.json") == most
