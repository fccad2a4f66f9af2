"""The project's licence, and that nothing which it runs on stands in its way."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
RUN_ON = [
    re.split(r"[^\w.-]", line)[0]
    for line in (*PROJECT["dependencies"], *(each for name in EXTRAS if name != "test" for each in EXTRAS[name]))
]
PERMISSIVE = re.compile(r"\b(MIT|MIT-CMU|BSD|0BSD|ZPL|Zope|unlicense|PSF|Apache)\b", re.IGNORECASE)
"""Licences that ask for no more than their own notice (SPDX list; ZPL and Unlicense by their texts)."""


def test_the_licence_is_the_same_everywhere() -> None:
    """File, project table and README name one licence, and the file is what the table carries along."""
    assert PROJECT["license"] == "MIT"
    assert PROJECT["license-files"] == ["LICENSE"]
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert text.startswith("MIT License\n")
    assert "The Treadle authors" in text
    assert "[MIT licence](LICENSE)" in (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", RUN_ON)
def test_no_library_forbids_it(name: str) -> None:
    """Each library that the project runs on says in its own metadata that it is under a permissive licence."""
    try:
        told = metadata(name)
    except PackageNotFoundError:
        pytest.skip(f"{name} is not installed here (an extra for a Pi)")
    kinds = [each for each in told.get_all("Classifier") or [] if each.startswith("License ::")]
    named = " ".join((told.get("License-Expression") or (told.get("License") or "")[:60], *kinds))
    assert PERMISSIVE.search(named), named
    assert not re.search(r"GPL|General Public", named), named
