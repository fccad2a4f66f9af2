"""What the documents name in the code is there, and usage stands where `--help` puts it."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CODE = ("controller", "hardware", "webui", "tests", "docs")
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *(page for page in sorted((ROOT / "docs").rglob("*.md")) if page.parent.name != "decisions"),
]
"""All documents but the decisions, which tell of a day's code and stay as they were written."""
_FENCE = re.compile(r"^ *```.*?^ *```", re.MULTILINE | re.DOTALL)
_FILE = re.compile(r"`([\w./-]+\.(?:py|html|css|js|po))`")
_NAME_IN_FILE = re.compile(r"`([A-Za-z_]\w*)` (?:of|in) `([\w./-]+\.py)`")


@cache
def _files() -> tuple[str, ...]:
    """Every file of the code and the documents, as its path from the root."""
    found = (path for room in CODE for path in (ROOT / room).rglob("*") if path.is_file())
    return ("treadle.py", *(path.relative_to(ROOT).as_posix() for path in found))


def _called(name: str) -> list[str]:
    """The files that a document may mean by this path, or by its end."""
    return [path for path in _files() if path == name or path.endswith(f"/{name}")]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_file_of_the_code_that_is_named_is_there(page: Path) -> None:
    """A document names no file of the code that is not there."""
    named = _FILE.findall(_FENCE.sub("", page.read_text(encoding="utf-8")))
    assert sorted({name for name in named if not _called(name)}) == []


def test_every_name_that_a_recipe_says_is_in_its_file() -> None:
    """Each “`NAME` of `file.py`” of DEVELOPERS.md is a name that this file defines."""
    text = re.sub(r"\s+", " ", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))
    pairs = _NAME_IN_FILE.findall(text)
    assert len(pairs) >= 25
    wrong = []
    for name, file in pairs:
        defined = re.compile(rf"^ *(?:(?:class|type|(?:async )?def) )?{name}(?:\(|\[|:|: .*?=| =)", re.MULTILINE)
        if not any(defined.search((ROOT / path).read_text(encoding="utf-8")) for path in _called(file)):
            wrong.append((name, file))
    assert wrong == []


def test_each_usage_stands_below_its_own_command() -> None:
    """Each usage of commands.md stands in a block of its own, right below the heading of its command, and once."""
    text = (ROOT / "docs" / "reference" / "commands.md").read_text(encoding="utf-8")
    below = re.findall(
        r"^## (treadle[\w -]*)\n\n```\nusage: (treadle[a-z -]*?) (?:\[|[A-Z]|[a-z]+\||\n)", text, re.MULTILINE
    )
    assert [usage for heading, usage in below if heading != usage.strip()] == []
    assert len(below) == text.count("usage: treadle") == len(set(below))
