"""What a title may hold: every script and joined pictures, and nothing that makes it read other than it is."""

from __future__ import annotations

import json

import pytest

from controller.errors import Unreadable
from controller.recipe.files import read_recipe
from controller.words import say

JOINED = ("👩🏽‍🦰 in the window", "می‌خواهم", "क्‍ष", "family 👨‍👩‍👧")
TURNED = ("crane\u202egpj", "\u2066crane\u2069", "a\u202db")
INVISIBLE = ("\u200d", "\u200c\u200d", "a\u200bb", "a\ufeff", "a\nb")


def _file(title: str) -> str:
    return json.dumps(
        {"format": "treadle/recipe/1", "title": title, "light": [{"filter": "soft", "seconds": 10.0}], "local": []},
        ensure_ascii=False,
    )


@pytest.mark.parametrize("title", JOINED)
def test_what_joins_signs_is_allowed(title: str) -> None:
    """Signs that join pictures (ZWJ) or part joined letters (ZWNJ) are part of the words, and are kept."""
    assert read_recipe(_file(title), "a.json").title == title


@pytest.mark.parametrize("title", TURNED)
def test_what_turns_the_writing_has_a_sentence_of_its_own(title: str) -> None:
    """A sign that turns the direction of writing (UAX #9, explicit) is named as what it is."""
    with pytest.raises(Unreadable) as refused:
        read_recipe(_file(title), "a.json")
    said = say("recipe.words-turned", file="a.json", place="“title”", found="\0").split("\0")[1]
    assert str(refused.value).endswith(said)
    assert str(refused.value).isprintable()


@pytest.mark.parametrize("title", INVISIBLE)
def test_nothing_else_that_is_not_seen_is_allowed(title: str) -> None:
    """A title of joiners alone, other invisible signs and breaks are refused as before."""
    with pytest.raises(Unreadable, match="on one line"):
        read_recipe(_file(title), "a.json")
