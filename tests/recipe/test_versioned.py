"""One way to read a file with its format's name: whatever it holds, one sentence, and quickly."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from typing import Any

import pytest

from controller.carry.wanted import read_carry
from controller.errors import Unreadable
from controller.paper.paper import PAPER, read_paper
from controller.recipe.files import read_feet, read_recipe
from controller.recipe.foot_trace import FEET
from controller.recipe.recipe import RECIPE
from controller.recipe.versioned import MOST_DIGITS, words_under
from controller.store.settings import FORMAT, Settings, read_settings, write_settings

READERS: dict[str, Callable[[str, str], Any]] = {
    RECIPE: read_recipe,
    FEET: read_feet,
    PAPER: read_paper,
    FORMAT: read_settings,
    "treadle/carry/1": lambda text, _name: read_carry(text),
}


def _refused(read: Callable[[str, str], Any], text: str) -> str:
    with pytest.raises(Unreadable) as refused:
        read(text, "file.json")
    return str(refused.value)


@pytest.mark.parametrize("form", READERS)
@pytest.mark.parametrize(
    "rest",
    [
        '"\\ud800": 1}',
        '"\\u001b[31m\\u009b": 1}',
        '"%s": 1}' % ("k" * 250_000),
        '"x": "%s"}' % ("\x7f" * 1000),
        '"x": %s' % ("[" * 90_000),
        '"x": %s' % ('{"a":' * 40_000),
        '"x": %s}' % ("9" * 10_000),
        '"x": NaN, "x": -Infinity}',
        '"x": 1, "x": 2}',
    ],
    ids=["half a character", "control", "huge key", "huge value", "deep", "deeper", "digits", "endless", "twice"],
)
def test_whatever_a_file_holds_it_is_refused_in_a_short_printable_sentence(form: str, rest: str) -> None:
    """Odd keys, depth, digits and doubles in any form are refused in a sentence that a terminal can show."""
    sentence = _refused(READERS[form], f'{{"format": "{form}", {rest}')
    assert sentence.isprintable()
    assert len(sentence) < 400
    assert sentence.endswith(".")


@pytest.mark.parametrize("form", READERS)
def test_a_file_of_very_many_keys_is_refused_quickly(form: str) -> None:
    """A file as large as may be, of 20,000 keys, is refused in less than two seconds, its sentence short."""
    text = json.dumps({"format": form} | {f"k{n}": 0 for n in range(20_000)}, separators=(",", ":"))
    began = time.process_time()
    assert len(_refused(READERS[form], text)) < 1000
    assert time.process_time() - began < 2.0


@pytest.mark.parametrize("form", READERS)
def test_each_form_says_what_another_is(form: str) -> None:
    """A file of another of Treadle's forms is called what it is; a newer one of the same form is called newer."""
    for other in READERS:
        if other != form and other != "treadle/strip/1":
            assert "says that" in _refused(READERS[form], json.dumps({"format": other}))
    assert "newer Treadle" in _refused(READERS[form], json.dumps({"format": form.replace("/1", "/7")}))


def test_a_number_of_more_digits_than_any_value_has_is_endless() -> None:
    """A whole number of thousands of digits is refused as a number, in every form that has numbers."""
    for form, key in ((FORMAT, "hold_seconds"), (PAPER, "dmin")):
        sentence = _refused(READERS[form], f'{{"format": "{form}", "{key}": {"9" * (MOST_DIGITS + 5000)}}}')
        assert "number" in sentence or "missing" in sentence


def test_a_mark_of_the_byte_order_is_no_part_of_a_file() -> None:
    """A file that an editor began with the mark of its bytes' order reads as it would without."""
    text = write_settings(Settings(safe_minutes=4.0))
    assert read_settings("\ufeff" + text, "file.json") == read_settings(text, "file.json")


def test_words_that_are_searched_stand_under_some_keys() -> None:
    """Of any file the words under the keys that are named are found, however deep; of one that is none, nothing."""
    text = json.dumps(
        {
            "title": "Crane",
            "format": "x",
            "local": [{"what": "sky", "act": "burn", "title": 7}, ["rope", {"what": "quay"}]],
        }
    )
    assert sorted(words_under(("title", "what"), text)) == ["Crane", "quay", "sky"]
    for broken in ("", "{", "[" * 100_000, "\ud800"):
        assert list(words_under(("title",), broken)) == []
