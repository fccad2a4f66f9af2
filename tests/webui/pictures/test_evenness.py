"""The map of evenness and the corners' heights: what is drawn, that words touch nowhere, and that both faces differ."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree as ET

import pytest

from controller.trials.evenness import AT, PLACES
from webui.pictures.drawing import WIDTH, Face, Picture
from webui.pictures.evenness import corners_picture, evenness_picture, figure, grey

WORDS = ("The corners are darker.", "far side", "near side, where you stand")
STOPS = {AT[place]: -0.05 * n for n, place in enumerate(PLACES)}


def _map(face: Face = Face.DAY, burns: dict[str, int] | None = None) -> Picture:
    given = burns if burns is not None else {"far": 2, "right": 18, "near": 2, "left": 4}
    return evenness_picture(STOPS, given, ident="m", words=WORDS, face=face)


def _must_stand(picture: Picture) -> None:
    ET.fromstring(str(picture.svg))
    for one, other in combinations(picture.texts, 2):
        assert not one.touches(other), (one.words, other.words)
    for text in picture.texts:
        assert text.left >= 0.0
        assert text.right <= WIDTH
        assert text.bottom <= picture.height


@pytest.mark.parametrize("face", list(Face))
def test_every_place_has_its_stops_and_no_words_touch(face: Face) -> None:
    """Nine figures, the two sides named, each burn hatched; well-formed."""
    made = _map(face)
    _must_stand(made)
    words = [text.words for text in made.texts]
    assert words == ["far side", *(figure(value) for value in STOPS.values()), "near side, where you stand"]
    assert str(made.svg).count("url(#m-more)") == 4
    assert str(_map(face, {}).svg).count("url(#m-more)") == 0
    assert "The corners are darker." in str(made.svg)


def test_far_is_above_and_right_is_right() -> None:
    """As one stands before the easel."""
    made = {text.words: text for text in _map().texts}
    centre = made["0"]
    far, right = made[figure(STOPS[0, 1])], made[figure(STOPS[1, 0])]
    assert far.bottom < centre.top
    assert right.left > centre.right


def test_what_is_weaker_is_darker() -> None:
    """White at the centre's light, darker with every sixth of a stop, and never so dark that it ends."""
    greys = [grey(-n / 6) for n in range(12)]
    assert greys[0] == 0.0
    assert greys == sorted(greys)
    assert len(set(greys)) > 8
    assert figure(-5.0) == "−5"
    assert figure(-0.004) == "0"


def test_the_corners_stand_where_they_are() -> None:
    """Four heights with their signs, at their own corners."""
    heights = [((-1, 1), 0.0), ((1, 1), 9.0), ((1, -1), -18.2), ((-1, -1), 0.04)]
    made = corners_picture(heights, ident="c", words=WORDS)
    _must_stand(made)
    at = {text.words: text for text in made.texts}
    assert {"+9.0 mm", "−18.2 mm", "0 mm"} <= set(at)
    assert at["+9.0 mm"].left > WIDTH / 2
    assert at["+9.0 mm"].bottom < at["−18.2 mm"].top
