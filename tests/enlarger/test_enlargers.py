"""An enlarger's file: read and written alike, refused in a sentence; and what its column tells of the magnification."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from controller.enlarger.enlargers import (
    ENLARGER,
    KEEPS,
    column_offset_mm,
    must_agree,
    read_enlarger,
    write_enlarger,
)
from controller.errors import Impossible, Unreadable
from controller.recipe.files import read_recipe

EXAMPLE = Path(__file__).parent / "attic.enlarger.json"
LEAST = {"format": ENLARGER, "name": "attic", "light_source": "diffuser"}


def read(**more: Any) -> Any:
    return read_enlarger(json.dumps({**LEAST, **more}), "attic.json")


def test_an_enlarger_is_written_as_it_was_read() -> None:
    """Every key of the form comes back as it was typed; what was left out stays out."""
    text = EXAMPLE.read_text()
    assert json.loads(write_enlarger(read_enlarger(text, "attic"))) == json.loads(text)
    assert json.loads(write_enlarger(read())) == LEAST
    thing = KEEPS.things[0]
    assert thing.read(text, "attic") == "attic"
    assert set(thing.words(text).split()) == {"attic", "opal", "bulb,", "150", "W"}


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"light_source": "laser"}, "“light_source” is “laser”, and must be one of: diffuser, condenser"),
        ({"callier": 0.5}, "“callier” is 0.5, and must lie between 1 and 3"),
        ({"lag_seconds": 0.6}, "“lag_seconds” is 0.6, and must lie between 0 and 0.5"),
        ({"focal_mm": "long"}, "“focal_mm”"),
        ({"name": ""}, "“name” is “”"),
        ({"light_sorce": "diffuser"}, "light_source"),
        ({"proof": {"seconds": 15, "filter": "2", "aperture": 8, "paper": "p"}}, "“date” in proof is missing"),
        ({"proof": {"seconds": 0, "filter": "2", "aperture": 8, "paper": "p", "date": "2026-03-01"}}, "in proof"),
    ],
)
def test_what_is_not_right_is_refused_in_a_sentence(more: dict[str, Any], words: str) -> None:
    """A refusal names the file and the key."""
    with pytest.raises(Unreadable) as refused:
        read(**more)
    assert "attic.json" in str(refused.value)
    assert words in str(refused.value)


def test_the_column_gives_the_magnification_and_one_pair_gives_its_offset() -> None:
    """T = f·(2 + m + 1/m): 675.0 mm at m 2 and 937.5 mm at m 4 for a lens of 150 mm (derived from the thin lens).

    British Journal Almanac's table for a lens of 6 inches at 4 times: 30 inches from lens to paper and 7½ inches from
    lens to negative, 37½ inches in all.
    """
    offset = column_offset_mm(150, 2, 620)
    assert offset == 55.0
    attic = read(focal_mm=150, column_offset_mm=offset)
    assert attic.magnification_at(620) == pytest.approx(2.0, abs=1e-9)
    assert attic.magnification_at(937.5 - 55) == pytest.approx(4.0, abs=1e-9)
    assert 0 + column_offset_mm(6 * 25.4, 4, 0) == pytest.approx(37.5 * 25.4, abs=0.05)


def test_a_column_that_is_not_known_tells_nothing() -> None:
    """Without lens or offset, or with the head nearer than any image is sharp (T under 4f), nothing is told."""
    assert read(focal_mm=150).magnification_at(620) is None
    assert read(column_offset_mm=55).magnification_at(620) is None
    assert read(focal_mm=150, column_offset_mm=55).magnification_at(4 * 150 - 55 - 0.1) is None
    assert read(focal_mm=150, column_offset_mm=55).magnification_at(4 * 150 - 55) == pytest.approx(1.0)


COLUMN = {"focal_mm": 150, "column_offset_mm": 55}
"""At 620 mm it has T = 675 mm, which is m 2 with 150 mm: T = f·(2 + m + 1/m), the British Journal Almanac's rule."""


def recipe(**more: Any) -> Any:
    least = {"format": "treadle/recipe/1", "title": "Pier", "light": [{"filter": "2", "seconds": 2.0}], "local": []}
    return read_recipe(json.dumps({**least, **more}), "pier.json")


@pytest.mark.parametrize(
    ("said", "agrees"),
    [(2.0, True), (1.981, True), (2.019, True), (1.97, False), (2.03, False), (4.0, False)],
)
def test_height_and_magnification_must_agree(said: float, agrees: bool) -> None:
    """Over 1 % off what the column has at this focal length is refused, with what it has; one that agrees is enough."""
    written = recipe(lens={"focal_mm": 150}, head_height_mm=620, magnification=said)
    must_agree(written, [])
    must_agree(written, [read(), read(focal_mm=80, column_offset_mm=55), read(focal_mm=150)])
    if agrees:
        must_agree(written, [read(**COLUMN)])
        return
    with pytest.raises(Impossible, match=r"At 620 mm a 150 mm lens gives a magnification of 2\.00 on this column"):
        must_agree(written, [read(**COLUMN)])
    other = column_offset_mm(150.0, said, 620.0)
    must_agree(written, [read(**COLUMN), read(focal_mm=150, column_offset_mm=other)])


def test_what_is_not_said_contradicts_nothing() -> None:
    """Without a height, a magnification or a focal length there is nothing to hold against anything."""
    whole = {"lens": {"focal_mm": 150}, "head_height_mm": 620, "magnification": 4}
    for left_out in whole:
        must_agree(recipe(**{name: value for name, value in whole.items() if name != left_out}), [read(**COLUMN)])
