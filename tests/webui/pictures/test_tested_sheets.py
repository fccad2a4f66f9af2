"""Pictures of tests' sheets: what they say without being seen, that their words fit, and that what was found shows."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree as ET

import pytest

from controller.trials.developer import TIMES_S, Support
from controller.trials.reciprocity import TWELFTHS, Grey, times_ms
from webui.pictures import Face, Picture
from webui.pictures.drawing import WIDTH
from webui.pictures.tested_sheets import long_exposures_picture, pieces_picture

SVG = "{http://www.w3.org/2000/svg}"


def strip(grey_ms: int, alike: float | None, face: Face = Face.DAY) -> Picture:
    ms = [*times_ms(Grey(ms=grey_ms, filter="soft", aperture=8.0)), grey_ms]
    seconds = [f"{each / 1000:.1f}" for each in ms]
    words = ("said", "f/16", "f/8")
    return long_exposures_picture(seconds, TWELFTHS, alike, ident="s", words=words, face=face)


def pieces(support: Support, least: int | None, fog: int | None) -> Picture:
    names = [f"{each} s" for each in TIMES_S[support]]
    return pieces_picture(TIMES_S[support], least, fog, ident="p", words=("said", names))


@pytest.mark.parametrize(
    "picture", [strip(4000, None), strip(119_000, 2.5), pieces("FB", 140, 280), pieces("RC", None, None)]
)
def test_no_words_touch_nor_run_out(picture: Picture) -> None:
    """With the shortest and the longest times that a strip may have."""
    for one, two in combinations(picture.texts, 2):
        assert not one.touches(two), (one.words, two.words)
    for each in picture.texts:
        assert each.left >= 0, each.words
        assert each.right <= WIDTH, each.words
    assert ET.fromstring(str(picture.svg)).attrib["aria-label"] == "said"


def test_the_band_that_is_alike_is_drawn_as_grey_as_the_last() -> None:
    """And those beside it lighter and darker; two rings join it to the grey."""
    drawn = ET.fromstring(str(strip(10_000, 1.0).svg))
    fills = [each.attrib["fill"] for each in drawn.iter(f"{SVG}rect")]
    assert fills[TWELFTHS.index(1)] == fills[-1]
    assert len(set(fills)) == len(TWELFTHS)
    assert len(list(drawn.iter(f"{SVG}circle"))) == 2
    assert not list(ET.fromstring(str(strip(10_000, None).svg)).iter(f"{SVG}circle"))


def test_a_piece_that_is_not_black_and_one_that_fogs_are_seen() -> None:
    """Of 100, 140, 200 and 280 s: one paler black, one greyer white."""
    drawn = ET.fromstring(str(pieces("FB", 140, 280).svg))
    fills = [each.attrib["fill"] for each in drawn.iter(f"{SVG}rect")]
    blacks, whites = fills[0::3], fills[1::3]
    assert blacks[0] != blacks[1] == blacks[2] == blacks[3]
    assert whites[0] == whites[1] == whites[2] != whites[3]
