"""The reference names everything there is, and no link of the documents leads nowhere."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args
from urllib.parse import unquote

import pytest

import treadle
from controller.reading import read_feet, read_recipe
from controller.settings import Settings
from hardware.sounds import Cue
from hardware.wire import FromKeeper, ToKeeper

ROOT = Path(__file__).resolve().parents[2]
REFERENCE = ROOT / "docs" / "reference"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
MESSAGES = sorted(kind.__name__ for kind in (*get_args(ToKeeper), *get_args(FromKeeper)))
_FENCE = re.compile(r"^```.*?^```", re.MULTILINE | re.DOTALL)
_EXAMPLE = re.compile(r"^```json\n(.*?)^```", re.MULTILINE | re.DOTALL)
_LINK = re.compile(r"\[[^\]]*\]\(\s*<?([^)\s>]+)")


def _commands(parser: argparse.ArgumentParser, name: str = "treadle") -> Iterator[tuple[str, argparse.ArgumentParser]]:
    yield name, parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for word, below in action.choices.items():
                yield from _commands(below, f"{name} {word}")


COMMANDS = dict(_commands(treadle._parser()))


def _page(name: str) -> str:
    return (REFERENCE / name).read_text(encoding="utf-8")


def _section(page: str, heading: str) -> str | None:
    found = re.search(rf"^## {re.escape(heading)}$(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL)
    return found and found[1]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_reference(name: str) -> None:
    """Every command has its own section in commands.md, and every flag of it is named there."""
    section = _section(_page("commands.md"), name)
    assert section is not None
    flags = [flag for action in COMMANDS[name]._actions for flag in action.option_strings]
    assert [flag for flag in flags if not re.search(rf"(?<![\w-]){re.escape(flag)}(?![\w-])", section)] == []


def test_every_setting_stands_in_the_reference_as_it_is() -> None:
    """Every setting has its row in settings.md, with the default and the description it really has."""
    page = _page("settings.md")
    for name, field in Settings.model_fields.items():
        row = next((line for line in page.splitlines() if line.startswith(f"| `{name}` | {field.default} |")), "")
        assert field.description, name
        assert field.description in row, name


def test_every_message_stands_in_the_reference() -> None:
    """Every message that passes over the pipe is named in wire.md."""
    page = _page("wire.md")
    assert [name for name in MESSAGES if f"| `{name}` |" not in page] == []


def test_every_cue_stands_in_the_reference() -> None:
    """Every cue a printer can hear is named in sounds.md."""
    page = _page("sounds.md")
    assert [str(cue) for cue in Cue if f"| `{cue}` |" not in page] == []


def test_every_example_of_a_form_is_read() -> None:
    """The examples in file-forms.md are one of each form that a printer writes, and each is read as it stands."""
    recipe, strip, feet = _EXAMPLE.findall(_page("file-forms.md"))
    assert read_recipe(recipe, "the recipe").format == "treadle/recipe/1"
    assert read_recipe(strip, "the strip").format == "treadle/strip/1"
    assert read_feet(feet, "the foot trace").format == "treadle/feet/1"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_relative_link_leads_somewhere(page: Path) -> None:
    """Every relative link or picture of a document points to a file or folder that is there."""
    links = _LINK.findall(_FENCE.sub("", page.read_text(encoding="utf-8")))
    targets = [unquote(link.partition("#")[0]) for link in links if not re.match(r"[a-z][a-z0-9+.-]*:|#", link)]
    assert [target for target in targets if not (page.parent / target).exists()] == []
