"""The reference names everything there is, and no link of the documents leads nowhere."""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args
from urllib.parse import unquote

import pytest
from annotated_types import Ge, Le
from pydantic.fields import FieldInfo

import treadle
from controller.commands.replay import play_recipe
from controller.editions.ledger import read_edition
from controller.enlarger.enlargers import read_enlarger
from controller.negatives.sets import read_negatives
from controller.recipe.files import read_feet, read_recipe
from controller.store.settings import Settings
from controller.trays.ledger import read_rules
from controller.trays.process import read_process
from controller.words import say
from hardware.sounds import FAMILY, Cue, notes
from hardware.wire import FromKeeper, ToKeeper
from webui.frame.practice_sight import words_of

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


def test_the_reference_shows_each_help_as_it_is() -> None:
    """The section of each command begins with its help, word for word, and no help stands anywhere else."""
    page = _page("commands.md")
    shown = re.findall(r"^## (treadle[^\n]*)\n\n```\n(usage: .*?)^```\n", page, re.MULTILINE | re.DOTALL)
    assert [name for name, _ in shown] == re.findall(r"^## (.*)$", page, re.MULTILINE)
    assert len(shown) == page.count("usage: "), "a help without its heading"
    # but for where a line is broken, which hangs on the terminal and on Python
    helps = {name: "".join(parser.format_help().split()) for name, parser in COMMANDS.items()}
    assert {name: "".join(told.split()) for name, told in shown if name != "treadle dark"} == {
        name: told for name, told in helps.items() if name != "treadle dark"
    }


def test_every_flag_says_what_it_is_for() -> None:
    """Each flag and each value of each command has a help text of its own."""
    silent = [
        f"{name} {action.option_strings or action.dest}"
        for name, parser in COMMANDS.items()
        for action in parser._actions
        if not isinstance(action, argparse._SubParsersAction) and not action.help
    ]
    assert silent == []


def test_dark_says_what_its_flags_are_for(capsys: pytest.CaptureFixture[str]) -> None:
    """The command that looks no words up has help all the same, and the reference shows it as it is."""
    with pytest.raises(SystemExit):
        treadle.main(["dark", "--help"])
    told = capsys.readouterr().out
    assert "without any hardware" in told
    block = _page("commands.md").split("## treadle dark\n\n```\n")[1].split("```")[0]
    assert told.split() == block.split()


def test_every_setting_stands_in_the_reference_as_it_is() -> None:
    """Every setting has its row in settings.md: its names on the page and in files, default, limits, description."""
    rows = _page("settings.md").splitlines()
    for name, field in Settings.model_fields.items():
        assert field.description, name
        label = "–" if _limits(field).endswith(" alone") else say(f"page.setting-{name}")
        default = ("off", "on")[field.default] if field.annotation is bool else field.default
        assert f"| {label} | `{name}` | {default} | {_limits(field)} | {field.description} |" in rows


def _limits(field: FieldInfo) -> str:
    """What a setting may be, in words: a span, or each value that it takes."""
    if field.annotation is float:
        (least,) = (limit.ge for limit in field.metadata if isinstance(limit, Ge))
        (most,) = (limit.le for limit in field.metadata if isinstance(limit, Le))
        return f"{least} to {most}"
    values = ["off", "on"] if field.annotation is bool else get_args(field.annotation)
    *before, last = (str(value) for value in values)
    return f"{', '.join(before)} or {last}" if before else f"{last} alone"


def test_every_message_stands_in_the_reference() -> None:
    """Every message that passes over the pipe is named in wire.md."""
    page = _page("wire.md")
    assert [name for name in MESSAGES if f"| `{name}` |" not in page] == []


@pytest.mark.parametrize("cue", list(Cue))
def test_every_cue_stands_in_the_reference_as_it_sounds(cue: Cue) -> None:
    """Every cue a printer can hear has its row in sounds.md, with the words, the family and the very notes it has."""
    says = "the step's number" if cue is Cue.NUMBER else words_of(cue)
    tones = " ".join(f"{note.hertz}×{note.ms}" for note in notes(cue))
    (row,) = [row for row in _page("sounds.md").splitlines() if row.startswith(f"| `{cue}` |")]
    assert [cell.strip() for cell in row.split("|")[1:5]] == [f"`{cue}`", says, FAMILY[cue], tones]


def test_every_example_of_a_form_is_read() -> None:
    """The examples in file-forms.md are one of each form that a printer writes, and each is read as it stands."""
    recipe, second, strip, negatives, enlarger, process, rules, edition, feet = _EXAMPLE.findall(_page("file-forms.md"))
    assert read_recipe(recipe, "the recipe").format == "treadle/recipe/1"
    assert read_recipe(second, "the second form").format == "treadle/recipe/2"
    assert read_recipe(strip, "the strip").format == "treadle/strip/1"
    assert read_negatives(negatives, "the set").frame("2").look == "1/3"
    assert read_enlarger(enlarger, "the enlarger").format == "treadle/enlarger/1"
    assert read_process(process, "the process").factor == 15
    assert read_rules(rules, "the rules").two_fixes.days == 7
    assert [one.number for one in read_edition(edition, "the edition").sheets] == [1, None]
    assert read_feet(feet, "the foot trace").format == "treadle/feet/1"


def test_the_example_of_a_replay_is_one() -> None:
    """What file-forms.md shows of a replay is what its own recipe and trace give, with every key and no other."""
    page = _page("file-forms.md")
    recipe, *_, feet = _EXAMPLE.findall(page)
    shown = json.loads(page.split("## Replay: ")[1].split("```\n")[1])
    told = json.loads(play_recipe(read_recipe(recipe, "r"), read_feet(feet, "f"), name="r").told.model_dump_json())
    assert shown.keys() == told.keys()
    assert (shown["lights"], shown["cues"][0]) == (told["lights"][:1], told["cues"][0])
    (sheet,), (whole,) = shown["sheets"], told["sheets"]
    assert sheet == whole | {"steps": whole["steps"][:1]}
    named = set(re.findall(r"`(\w+)`", page.split("## Replay: ")[1].split("```")[0]))
    assert {*told, *whole, *told["lights"][0], *told["cues"][0]} - {"format"} <= named


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_relative_link_leads_somewhere(page: Path) -> None:
    """Every relative link or picture of a document points to a file or folder that is there."""
    links = _LINK.findall(_FENCE.sub("", page.read_text(encoding="utf-8")))
    targets = [unquote(link.partition("#")[0]) for link in links if not re.match(r"[a-z][a-z0-9+.-]*:|#", link)]
    assert [target for target in targets if not (page.parent / target).exists()] == []


def test_every_picture_is_shown_by_a_document() -> None:
    """No picture lies among the documents that none of them shows: whoever makes one puts it where it helps."""
    pictures = {path.resolve() for kind in ("png", "svg", "webp") for path in (ROOT / "docs").rglob(f"*.{kind}")}
    assert len(pictures) > 20
    shown = {
        (page.parent / unquote(target)).resolve()
        for page in PAGES
        for target in _LINK.findall(_FENCE.sub("", page.read_text(encoding="utf-8")))
    }
    assert sorted(path.name for path in pictures - shown) == []
