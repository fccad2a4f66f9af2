"""The densities of one evening's sheets, developed: contact strips and proof, split-grade strips and sheet.

Source of tables, negatives, light and formula: the project's acceptance scenarios (invented demo data, the tables
reckoned there by the formula to 0.01). 0.02 of tolerance.
"""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import pytest
from tools.densities import densities_of
from tools.picture_darkroom import EXAMPLES, example, example_feet, printed, strip, worked

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
PROOF_LIGHT = {"outside": 2.07, "rebate": 2.03}
"""A proof of 12 s: what band 4 of the contact strip has."""
BY_THIRDS_S = (6.0, 7.6, 9.5, 12.0, 15.1, 19.0, 24.0)
GIVEN = {
    "sky": (20.2, 8.0),
    "cloud": (20.2, 8.0),
    "steel": (10.1, 8.0),
    "under_cab": (10.1, 6.3),
    "quay": (10.1, 8.0),
    "stones": (10.1, 12.7),
}
"""Seconds (soft, hard) of each tone of the split-grade sheet by its plan: the sky, its cloud with it, a soft burn of
10.1 s more, the shade under the cab 1.7 s of hard light held back, the stones 4.7 s of it more."""
NEGATIVE = {
    "outside": 0.0,
    "rebate": 0.08,
    "under_cab": 0.22,
    "stones": 0.55,
    "steel": 0.7,
    "quay": 0.95,
    "cloud": 1.25,
    "sky": 1.45,
}


def by_formula(tone: str, *, contact_s: float = 0.0, soft_s: float = 0.0, hard_s: float = 0.0) -> float:
    """Return a tone's density on paper one as the scenarios' formula has it, of none of the program's figures."""
    blue = 0.111 * contact_s + 0.012648 * soft_s + 0.161 * hard_s
    green = 0.74 * contact_s + 1.054 * soft_s + 0.000322 * hard_s
    lights = [(blue + g * green) * 10 ** -NEGATIVE[tone] for g in (1.0, 0.28, 0.08)]
    return 0.05 + sum(2.05 / 3 / (1 + math.exp(-10 * math.log10(light))) for light in lights)


def test_the_formula_gives_the_tables() -> None:
    """The formula is the one that the tables were reckoned by: it gives each of their figures."""
    seconds = [3.0 * band for band in range(1, 8)]
    split = (4.0, 5.0, 6.3, 8.0, 10.1, 12.7, 16.0)
    for tone, wanted in PROOF.items():
        assert [by_formula(tone, contact_s=each) for each in seconds] == pytest.approx(wanted, abs=0.0051)
    assert [by_formula("cloud", soft_s=each) for each in split] == pytest.approx(SOFT["cloud"], abs=0.0051)
    for tone, wanted in HARD_OVER_SOFT.items():
        assert [by_formula(tone, soft_s=10.1, hard_s=each) for each in split] == pytest.approx(wanted, abs=0.0051)
    burnt = [by_formula("sky", soft_s=10.1 + extra, hard_s=8.0) for extra in (0.0, 2.6, 5.9, 10.1, 15.4)]
    assert burnt == pytest.approx(SKY["sky"], abs=0.0051)


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
    sheet = printed(strip(filter="soft", times={"kind": "stops", "centre": 8.0, "step": "1/3", "bands": 7}))
    for tone, wanted in SOFT.items():
        assert [sheet.density(tone, band) for band in range(1, 8)] == pytest.approx(wanted, abs=NEAR)


def test_the_strip_by_thirds_has_its_densities() -> None:
    """The contact strip by thirds of a stop, uncovered, is band by band what the formula gives for its total."""
    sheet = printed(example("thirds.strip.json"), negative="proof")
    for tone in PROOF:
        wanted = [by_formula(tone, contact_s=seconds) for seconds in BY_THIRDS_S]
        assert [sheet.density(tone, band) for band in range(1, 8)] == pytest.approx(wanted, abs=NEAR)
        assert sheet.density(tone, 4) == pytest.approx(PROOF_LIGHT[tone], abs=NEAR)


def test_the_proof_has_its_densities() -> None:
    """The proof, its 12 s given in 7.4 s and, after a foot, 4.6 s, has the density of the band it was picked by."""
    model, feet = example("proof.recipe.json"), example_feet("proof.feet.json")
    edges = worked(model, feet).edges
    assert [round((off.at_ns - on.at_ns) / 1e9, 1) for on, off in zip(edges[::2], edges[1::2], strict=True)] == [
        *(7.4, 4.6)
    ]
    sheet = printed(model, feet, negative="proof")
    for tone, wanted in PROOF_LIGHT.items():
        assert sheet.density(tone) == pytest.approx(wanted, abs=NEAR)


def test_the_whole_sheet_has_its_densities() -> None:
    """On the split-grade sheet each tone has had the light of its own area, as the paper's formula has it."""
    sheet = printed(example("crane.recipe.json"), example_feet("crane.feet.json"))
    for tone, (soft, hard) in GIVEN.items():
        assert sheet.density(tone) == pytest.approx(by_formula(tone, soft_s=soft, hard_s=hard), abs=NEAR), tone
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
