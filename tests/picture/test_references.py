"""Pictures as they were when a person last looked at them: small sheets, against references kept beside.

`python tests/picture/test_references.py` writes them anew; look at them before you keep them.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from tools.picture_darkroom import example, example_feet, printed, recipe, strip  # noqa: E402

from controller.picture.develop import Conditions, Developed  # noqa: E402
from controller.picture.hands import Slips  # noqa: E402
from controller.picture.light import Surroundings  # noqa: E402
from controller.picture.scene import Enlarger  # noqa: E402

REFERENCES = Path(__file__).parent / "references"
PIXELS = 11_500
"""120 × 96."""
BY_HAND = (
    {"area": "C", "act": "dodge", "filter": "2", "stops": "1"},
    {"area": "D", "act": "burn", "filter": "2", "stops": "2"},
)
"""So much of both that tools a hundredth of the frame aside are seen."""
SPLIT = {"filter": "2", "times": {"kind": "stops", "centre": 12.0, "step": "1/3", "bands": 7}}
SHEETS: dict[str, Callable[[], Developed]] = {
    "crane": lambda: printed(example("crane.recipe.json"), example_feet("crane.feet.json"), pixels=PIXELS),
    "slip": lambda: printed(recipe(("2", 10.0)), negative="slip", pixels=PIXELS),
    "platform": lambda: printed(recipe(("3", 11.0)), negative="platform", pixels=PIXELS),
    "fence": lambda: printed(recipe(("2", 12.0)), negative="fence", paper="two", pixels=PIXELS),
    "proof-strip": lambda: printed(
        example("proof.strip.json"), example_feet("proof-strip.feet.json"), negative="proof", pixels=PIXELS
    ),
    "wrong-way": lambda: printed(strip(**SPLIT), conditions=Conditions(slips=Slips(card_way="uncover")), pixels=PIXELS),
    "dodged-and-burnt": lambda: printed(recipe(("2", 9.0), local=BY_HAND), negative="slip", pixels=PIXELS),
    "by-a-phone": lambda: printed(
        recipe(("2", 10.0)), conditions=Conditions(surroundings=Surroundings(phone_lies_lit=True)), pixels=PIXELS
    ),
    "wrong-condenser": lambda: printed(recipe(("2", 10.0)), enlarger=Enlarger(condenser_mm=80.0), pixels=PIXELS),
}


def _levels(png: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(png)) as picture:
        return np.asarray(picture.convert("L"), dtype=np.int16)


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_looks_as_it_did(name: str) -> None:
    """A sheet is its reference to within 1 level on the mean and 6 at all but one pixel in five hundred."""
    seen = _levels(SHEETS[name]().png())
    kept = _levels((REFERENCES / f"{name}.png").read_bytes())
    assert seen.shape == kept.shape
    off = np.abs(seen - kept)
    assert off.mean() < 1.0
    assert float((off > 6).mean()) <= 0.002


def test_no_two_references_are_alike() -> None:
    """A reference would not pass for another one."""
    kept = [_levels((REFERENCES / f"{name}.png").read_bytes()) for name in SHEETS]
    for n, one in enumerate(kept):
        assert all(one.shape != two.shape or np.abs(one - two).mean() > 3.0 for two in kept[n + 1 :])


if __name__ == "__main__":
    REFERENCES.mkdir(exist_ok=True)
    for each, make in SHEETS.items():
        (REFERENCES / f"{each}.png").write_bytes(make().png())
