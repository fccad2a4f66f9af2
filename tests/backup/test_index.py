"""An export's list, of whoever's making: what it takes to read it follows from what is in it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from controller.backup.export import Index
from controller.backup.index import LONGEST_ENTRY, MOST_ENTRIES, read_index
from controller.errors import Unreadable

PLACE = Path("export.json")
ENTRY = {"file": "a.json", "id": "abcdef", "version": 1, "kind": "recipe", "title": "Crane", "made": "2026"}
BEGUN = '{"format":"treadle/export/1","shelf":['
HOSTILE = {
    "entries that are none": BEGUN + ",".join("1" * 500_000) + "]}",
    "entries with nothing in them": BEGUN + ",".join(["{}"] * 300_000) + "]}",
    "keys that nobody knows": "{" + ",".join(f'"{number:x}":1' for number in range(100_000)) + "}",
    "an entry with keys that nobody knows": BEGUN
    + "{"
    + ",".join(f'"{number:x}":1' for number in range(90_000))
    + "}]}",
    "pictures that are none": '{"pictures":[' + ",".join("1" * 500_000) + "]}",
    "words of nothing": BEGUN + '],"away":[' + ",".join(['{"id":"a","away":true,"made":""}'] * 90_000) + "]}",
    "brackets": BEGUN + "[" * 1_000_000,
    "digits": '{"rows":' + "1" * 1_000_000 + "}",
    "a title without end": BEGUN + '{"title":"' + "a" * 1_000_000,
    "blanks": " " * 1_000_000,
}
MEASURE = """
import resource, sys
from controller.backup.index import MOST_ENTRIES, Path, Unreadable, read_index
text = sys.stdin.read()
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    read_index(text, Path("export.json"), MOST_ENTRIES)
except Unreadable:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_list_is_refused_within_little_memory(text: str) -> None:
    """A list of a megabyte takes no more than a few to be refused, however much is wrong in it."""
    told = subprocess.run([sys.executable, "-c", MEASURE], input=text, capture_output=True, text=True, check=True)
    assert int(told.stdout) < 16_000, "kB"


def _written(**changed: object) -> str:
    return json.dumps({"format": "treadle/export/1", "shelf": [ENTRY], "away": [], "rows": 3} | changed, indent=1)


def test_a_list_is_read_as_the_model_would() -> None:
    """Entry by entry it comes to the same as in one go, in whatever order and with whatever blanks it is written."""
    away = [{"id": "abcdef", "away": True, "made": "2026"}]
    text = _written(away=away, pictures=["0" * 64])
    wanted = Index.model_validate_json(text)
    assert read_index(text, PLACE, 3) == wanted
    for written in (
        json.dumps(dict(reversed(json.loads(text).items()))),
        text.replace(" ", "").replace("\n", "\r\n\t"),
    ):
        assert read_index(written, PLACE, 3) == wanted
    assert read_index("{}", PLACE, 0) == Index()


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", "export.json"),
        ("[]", "export.json"),
        ("{} {}", "export.json"),
        (_written()[:-2], "export.json"),
        (_written(shelf=[ENTRY | {"version": "x"}]), "shelf.0.version"),
        (_written(shelf=[ENTRY, ENTRY | {"title": 1}]), "shelf.1.title"),
        (_written(shelf=[ENTRY | {"title": "a" * LONGEST_ENTRY}]), "shelf.0"),
        (_written(shelf=7), "export.json"),
        (_written(away=[{}]), "away.0.id"),
        (_written(pictures=["x"]), "pictures.0"),
        (_written(rows=-1), "rows"),
        (_written(format="treadle/export/2"), "format"),
        (_written(more=1), "more"),
        ('{"rows": 1, "rows": 2}', "rows"),
        ("{1: 2}", "1"),
        (_written(shelf=[ENTRY | {"title": "half a letter \ud800"}]), "shelf.0"),
        ('{"\\udc80": 1}', "export.json"),
    ],
)
def test_what_is_wrong_in_a_list_is_named(text: str, place: str) -> None:
    """The refusal says where."""
    with pytest.raises(Unreadable, match=rf"export\.json does not say what is in this export \({place}: .+\)\."):
        read_index(text, PLACE, 9)


def test_a_list_of_too_many_is_refused() -> None:
    """Beside a running darkroom only so many are held."""
    entries = [ENTRY | {"id": f"id{number:05}"} for number in range(4)]
    assert len(read_index(_written(shelf=entries), PLACE, 4).shelf) == 4
    with pytest.raises(Unreadable, match="too many"):
        read_index(_written(shelf=entries), PLACE, 3)
    assert MOST_ENTRIES >= 30_000  # files of one zip
