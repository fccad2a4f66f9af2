"""The densities of one evening's sheets, developed: a contact strip, two split-grade strips, a strip of burns.

Source of the tables: the project's acceptance scenarios (invented demo data, reckoned there by the paper's formula to
0.01). 0.02 of tolerance.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from picture.darkroom import EXAMPLES, example, example_feet, printed

from controller.paper.emulsions import densities
from controller.picture.image import densities_of
from controller.picture.papers import practice_paper
from controller.picture.scene import PIXELS

ROOT = Path(__file__).resolve().parents[2]
NEAR = 0.02
PROOF = {
    "outside": (1.06, 1.73, 2.0, 2.07, 2.09, 2.09, 2.1),
    "rebate": (0.91, 1.56, 1.91, 2.03, 2.07, 2.09, 2.09),
}
SOFT = {"cloud": (0.05, 0.05, 0.06, 0.08, 0.12, 0.21, 0.36)}
HARD_OVER_SOFT = {
    "under_cab": (1.72, 1.8, 1.87, 1.95, 2.01, 2.05, 2.07),
    "cloud": (0.14, 0.14, 0.15, 0.16, 0.17, 0.19, 0.21),
}
SKY = {"sky": (0.07, 0.09, 0.14, 0.25, 0.4)}


def test_the_contact_strip_has_its_densities() -> None:
    """Bare paper and rebate of the proof strip are, band by band, what the scenario has."""
    sheet = printed(example("proof.strip.json"), example_feet("proof-strip.feet.json"), negative="proof")
    for tone, wanted in PROOF.items():
        assert [sheet.density(tone, band) for band in range(1, 8)] == pytest.approx(wanted, abs=NEAR)


@pytest.mark.parametrize(
    ("name", "tables"), [("hard.strip.json", HARD_OVER_SOFT), ("sky.strip.json", SKY)], ids=["hard", "sky"]
)
def test_the_projected_strips_have_their_densities(name: str, tables: dict[str, tuple[float, ...]]) -> None:
    """The strips over a base of the split-grade sheet are, band by band, what the scenario has."""
    sheet = printed(example(name))
    for tone, wanted in tables.items():
        assert [sheet.density(tone, band) for band in range(1, len(wanted) + 1)] == pytest.approx(wanted, abs=NEAR)


def test_the_soft_strip_has_its_densities() -> None:
    """The strip of soft light alone is, band by band, what the scenario has."""
    from picture.darkroom import strip

    sheet = printed(strip(filter="soft", times={"kind": "stops", "centre": 8.0, "step": "1/3", "bands": 7}))
    for tone, wanted in SOFT.items():
        assert [sheet.density(tone, band) for band in range(1, 8)] == pytest.approx(wanted, abs=NEAR)


def test_the_whole_sheet_has_its_densities() -> None:
    """On the split-grade sheet each tone has had the light of its own area, as the paper's formula has it.

    Seconds (soft, hard) of each area from the scenario's plan: the sky a soft burn of 10.1 s more, the shade under
    the cab 1.7 s of hard light held back, the stones 4.7 s of it more.
    """
    given = {
        "sky": (20.2, 8.0, 1.45),
        "steel": (10.1, 8.0, 0.70),
        "under_cab": (10.1, 6.3, 0.22),
        "quay": (10.1, 8.0, 0.95),
        "stones": (10.1, 12.7, 0.55),
    }
    sheet = printed(example("crane.recipe.json"), example_feet("crane.feet.json"))
    mix = practice_paper("one").mixture()
    for tone, (soft, hard, negative) in given.items():
        green, blue = 1.054 * soft + 0.000322 * hard, 0.012648 * soft + 0.161 * hard
        wanted = float(densities(mix, green, blue, negative))
        assert sheet.density(tone) == pytest.approx(wanted, abs=NEAR), tone
    assert sheet.density("sky") == pytest.approx(SKY["sky"][3], abs=NEAR)


def test_the_command_writes_the_same_picture(tmp_path: Path) -> None:
    """`treadle replay … --negative crane --paper one --picture out.png` writes it, to what 8 bits show (0.013)."""
    out = tmp_path / "out.png"
    subprocess.run(
        [
            *(sys.executable, "treadle.py", "replay", str(EXAMPLES / "crane.recipe.json")),
            *("--feet", str(EXAMPLES / "crane.feet.json")),
            *("--negative", "crane", "--paper", "one", "--picture", str(out)),
        ],
        cwd=ROOT,
        check=True,
        capture_output=True,
        timeout=60,
    )
    sheet = printed(example("crane.recipe.json"), example_feet("crane.feet.json"), pixels=PIXELS)
    assert out.read_bytes() == sheet.png()
    assert densities_of(out.read_bytes()) == pytest.approx(sheet.dry, abs=0.015)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--negative", "nothing"], "no negative “nothing”"),
        (["--paper", "three"], "no paper “three”"),
        (["--sheet", "2"], "no sheet 2"),
        (["--negative", "README.md"], "README.md is no picture"),
    ],
)
def test_what_cannot_be_had_is_told_in_a_sentence(tmp_path: Path, more: list[str], said: str) -> None:
    """An unknown negative, paper or sheet is refused in one sentence with exit 2, and no picture is left."""
    out = tmp_path / "out.png"
    done = subprocess.run(
        [
            *(sys.executable, "treadle.py", "replay", str(EXAMPLES / "crane.recipe.json")),
            *("--feet", str(EXAMPLES / "crane.feet.json"), "--picture", str(out), *more),
        ],
        cwd=ROOT,
        check=False,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert not out.exists()
