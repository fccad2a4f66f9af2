"""Every example of a form can be worked and developed, on every negative and paper."""

from __future__ import annotations

import json
import re

import pytest
from tools.picture_darkroom import EXAMPLES, example, printed, recipe, steady, strip

from controller.errors import Impossible
from controller.recipe.files import read_recipe

FORMS = sorted(path.name for path in EXAMPLES.glob("*.json") if re.search(r"\.(recipe|strip)\.json$", path.name))


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize(("negative", "paper"), [("crane", "one"), ("proof", "two"), ("fence", "two")])
def test_every_example_is_developed(name: str, negative: str, paper: str) -> None:
    """An example, whatever keys it uses, comes out of the tray between the paper's white and its black."""
    model = example(name)
    made = printed(model, steady(model, 70.0), negative=negative, paper=paper, pixels=20_000)
    assert made.dry.min() >= 0.05 - 1e-6
    assert made.dry.max() <= made.paper.dmax + 1e-6
    assert (made.wet <= made.dry + 1e-6).all()
    assert made.readings
    strip_of = getattr(model, "times", None)
    assert len(made.bands) == (strip_of.bands if strip_of else 0)


def test_a_rhythm_and_a_long_strip_give_what_a_press_a_band_gives() -> None:
    """Whatever the pace, each band has the same density."""
    paces = ("press", "long", {"kind": "rhythm", "gap_seconds": 4.0})
    times = {"kind": "stops", "centre": 8.0, "step": "1/2", "bands": 4}
    sheets = [printed(strip(filter="soft", times=times, pace=pace), pixels=60_000) for pace in paces]
    bands = [[sheet.density("stones", band) for band in range(1, 5)] for sheet in sheets]
    assert bands[1] == pytest.approx(bands[0], abs=0.01)
    assert bands[2] == pytest.approx(bands[0], abs=0.01)


def test_a_filter_that_the_practice_darkroom_has_not_is_refused() -> None:
    """A recipe through a filter of another make is refused in a sentence that names those there are."""
    with pytest.raises(Impossible, match="no filter “Y40”, so put in soft, hard, 00"):
        printed(recipe(("Y40", 8.0)))


def test_half_filters_lie_between() -> None:
    """A filter 2.5 prints between 2 and 3."""
    tones = [[printed(recipe((name, 12.0))).density(tone) for name in ("2", "2.5", "3")] for tone in ("cloud", "quay")]
    assert tones[0][0] > tones[0][1] > tones[0][2]
    assert tones[1][0] > tones[1][1] > tones[1][2]


def test_a_paper_s_size_makes_the_sheet() -> None:
    """A sheet has its paper's proportions and the pixels that were asked for."""
    tree = json.loads((EXAMPLES / "proof.recipe.json").read_text(encoding="utf-8"))
    tree["paper"]["size"] = "24 × 30 cm"
    model = read_recipe(json.dumps(tree), "tree")
    made = printed(model, negative="proof", pixels=50_000)
    height, width = made.dry.shape
    assert width / height == pytest.approx(300 / 240, abs=0.01)
    assert height * width == pytest.approx(50_000, rel=0.01)
