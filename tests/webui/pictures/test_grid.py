"""The two-way grid is true to its figures, can be read on the narrowest phone, and shows nothing but red by night."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import pytest

from controller.contrast.asks import Grid
from webui.pictures.drawing import WIDTH, Face
from webui.pictures.paper_curves import grid_picture

SVG = "{http://www.w3.org/2000/svg}"
SOFT, HARD = (6.4, 8.0, 10.1, 12.7, 16.0), (50.4, 63.5, 80.0, 100.8, 127.0)
GRID = Grid(
    soft_seconds=SOFT,
    hard_seconds=HARD,
    cells=tuple(tuple((0.02 * soft, 0.01 * soft + 0.015 * hard) for soft in SOFT) for hard in HARD),
    chosen=(2, 2),
)
WORDS = ("what they print", "soft seconds", "hard seconds, down")


@pytest.mark.parametrize("face", [Face.DAY, Face.DARK])
def test_every_pair_stands_with_both_its_tones(face: Face) -> None:
    """Each cell has its highlight above its shadow, in figures and in greys; no two words touch; nothing runs out."""
    picture = grid_picture(GRID, ident="g", words=WORDS, face=face)
    shown = [element.text or "" for element in ET.fromstring(str(picture.svg)).iter(f"{SVG}text")]
    for row, _ in enumerate(HARD):
        for light, dark in GRID.cells[row]:
            at = shown.index(f"{light:.2f}", 6)
            assert f"{dark:.2f}" in shown[at:]
    assert [f"{each:.1f}" for each in SOFT] == shown[1:6]
    for one, two in combinations(picture.texts, 2):
        assert not one.touches(two), f"{one} touches {two}"
    for box in picture.texts:
        assert box.left >= 0
        assert box.right <= WIDTH
        assert box.bottom <= picture.height


def test_by_night_it_is_red_alone() -> None:
    """In the dark face every colour has no green and no blue, and at most 90 of red."""
    svg = str(grid_picture(GRID, ident="g", words=WORDS, face=Face.DARK).svg)
    colours = re.findall(r"#([0-9a-f]{3,6})\b", svg)
    assert colours
    for colour in colours:
        whole = colour if len(colour) == 6 else "".join(letter * 2 for letter in colour)
        assert whole[2:] == "0000"
        assert int(whole[:2], 16) <= 90


@pytest.mark.parametrize(
    ("density", "level"),
    [(0.0, 255), (0.05, 242), (0.3, 188), (0.745, 118), (1.2, 71), (1.699, 39), (2.1, 22)],
)
def test_a_density_has_the_grey_that_an_independent_library_gives_it(density: float, level: int) -> None:
    """A print density is shown as the sRGB of 10^−density.

    Source: values of colour-science 0.4.7, `255 · colour.cctf_encoding(10 ** -density, function="sRGB")`, rounded.
    """
    assert Face.DAY.grey(density) == "#" + f"{level:02x}" * 3
