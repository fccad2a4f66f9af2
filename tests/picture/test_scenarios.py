"""The densities of one evening's sheets, developed: contact strips and proof, split-grade strips and sheet.

Source of tables, negatives, light and formula: the project's acceptance scenarios (invented demo data, the tables
reckoned there by the formula to 0.01). 0.02 of tolerance.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from tools.densities import densities_of
from tools.evening_sheets import BY_THIRDS_S, GIVEN, HARD_OVER_SOFT, NEAR, PROOF, PROOF_LIGHT, SKY, SOFT, by_formula
from tools.picture_darkroom import EXAMPLES, example, example_feet, printed, strip, worked

from controller.picture.scene import PIXELS

ROOT = Path(__file__).resolve().parents[2]


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
