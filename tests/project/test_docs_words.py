"""What the documents quote is what the product says, and a printer's pages keep to a printer's words."""

from __future__ import annotations

import argparse
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

import treadle
from controller.words import FOLDER

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.rglob("*.md"))]
STEPS = [*sorted((DOCS / "tutorial").glob("*.md")), *sorted((DOCS / "how-to").glob("*.md"))]
"""Pages in which curly quotes are round what a page or the terminal says, and nothing else."""
FOR_PRINTERS = [
    *STEPS,
    ROOT / "README.md",
    DOCS / "safety.md",
    *(
        DOCS / "explanation" / name
        for name in (
            "effective-density.md",
            "f-stops-and-split-grade.md",
            "flash-and-condenser.md",
            "from-negative-to-print.md",
            "paper-economy.md",
            "safety-ladder.md",
            "what-if-it-dies.md",
        )
    ),
    *(
        DOCS / "reference" / name
        for name in (
            "foot-switch-table.md",
            "glossary.md",
            "relay-and-lamp.md",
            "settings.md",
            "sounds.md",
            "tests.md",
        )
    ),
]
SHUNNED = re.compile(
    r"\b(daemon|keeper|tether|slate|reckon\w*|mended|nought|parted by|unless told|outlet box|lamp lines?|day face)\b",
    re.IGNORECASE,
)
"""Words for people who carry on the work, and words that no printer says."""
MOST_WORDS = 40
_FENCE = re.compile(r"^ *```.*?^ *```", re.MULTILINE | re.DOTALL)
_CODE = re.compile(r"`[^`\n]*`")
_QUOTED = re.compile(r"“([^”]*)”")
_HEADING = re.compile(r"^#{1,6} +(.*?) *$", re.MULTILINE)
_LINK = re.compile(r"\[[^\]]*\]\(\s*<?([^)\s>]+)")
_HOW_TO_SAY = re.compile(r"(?:^|`|\n) *(?:sudo )?(?:python3 treadle\.py|treadle) ([a-z][^`\n#|]*)")
OTHERS_WORDS = {
    "Code",  # of the page that a clone comes from
    "Clone",
    "Extra dim",  # of a phone
    "Reduce White Point",
    "do not disturb",
    "raise to wake",
    "switch networks automatically",
    "Performance Options",  # of raspi-config
    "Overlay File System",
    "listed",  # of certified equipment, in North America
    "the grey",  # named on its own page
    "focus",  # on an enlarger's own timer
    "continuous",
    "time out",
    "sky",  # an area, as a printer may name it
    "face",
    "contact sheet",
    "small enlarger, pier",
    "30Y",  # settings of a colour head
    "60M",
    "170Y",
    "170M",
    "yes",
}
"""What is quoted in these pages and is not Treadle's to say."""


def _by_key(domain: str = "*") -> Iterator[tuple[str, str]]:
    """Every sentence of the catalogue, or of one domain of it, with its key before it."""
    for path in sorted((FOLDER / "en" / "LC_MESSAGES").glob(f"{domain}.po")):
        with path.open("rb") as text:
            for message in read_po(text):
                strings = message.string if isinstance(message.string, list | tuple) else [message.string]
                key = message.id if isinstance(message.id, str) else message.id[0]
                yield from ((key, each) for each in strings if key and each)


def _said(domain: str = "*") -> list[str]:
    """Every sentence of the catalogue, or of one domain of it."""
    return [each for _, each in _by_key(domain)]


SAID = _said()
FILLED_IN = [re.sub(r"\\{.*?\\}", ".+?", re.escape(each)) for each in SAID if "{" in each]
LEAST_FIXED = 8
"""How much of a sentence must be fixed for it to be told by that, whatever is filled in."""


def _is_said(quoted: str) -> bool:
    """Tell whether a page or the terminal says just this, or begins so where the quotation ends in an ellipsis."""
    words = quoted.removesuffix("…").strip()
    if words in SAID or quoted in SAID or (quoted.endswith("…") and any(each.startswith(words) for each in SAID)):
        return True
    return any(len(each.replace(".+?", "")) >= LEAST_FIXED and re.fullmatch(each, words) for each in FILLED_IN)


@pytest.mark.parametrize("page", STEPS, ids=lambda page: page.name)
def test_what_a_page_quotes_is_said(page: Path) -> None:
    """Each button, field and sentence that a tutorial or how-to quotes stands so in the catalogue of words."""
    prose = _CODE.sub("", _FENCE.sub("", page.read_text(encoding="utf-8")))
    quoted = {re.sub(r"\s+", " ", each) for each in _QUOTED.findall(prose)} - OTHERS_WORDS
    assert sorted(each for each in quoted if not _is_said(each)) == []


@pytest.mark.parametrize("page", FOR_PRINTERS, ids=lambda page: page.name)
def test_a_printers_page_says_what_printers_say(page: Path) -> None:
    """No page for printers has a word of the code's inside, or one that the trade does not use."""
    prose = _CODE.sub("", _FENCE.sub("", _QUOTED.sub("", page.read_text(encoding="utf-8"))))
    told = re.sub(r"\(In the code: .*?\.\)|\([^)\s]*\)", "", prose, flags=re.DOTALL)
    assert [each.group() for each in SHUNNED.finditer(told)] == []


@pytest.mark.parametrize(
    ("page", "said"),
    [
        ("how-to/build.md", ("electrician", "disconnected", "welded", "LED", "RCD", "zones", "not a certified")),
        ("how-to/install.md", ("electrician", "not a disconnection", "fail on", "unplugged")),
        ("how-to/lamp.md", ("feel for heat", "unplug", "welded", "fails on")),
        ("how-to/end-the-session.md", ("Unplug the enlarger", "not a disconnection", "bathes")),
        ("how-to/colour-heads.md", ("High voltage inside", "100 times", "leaks")),
        ("tutorial/first-print.md", ("electrician", "not a certified safety device", "print in another\n   room")),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_safety_is_said_where_the_act_is(page: str, said: tuple[str, ...]) -> None:
    """A page that leads to the mains leads to safety.md, and names on the spot what can hurt there."""
    text = (DOCS / page).read_text(encoding="utf-8")
    assert "../safety.md" in text
    flat = re.sub(r"\s+", " ", text)
    assert [each for each in said if re.sub(r"\s+", " ", each) not in flat] == []


DOMAINS = sorted(path.stem for path in (FOLDER / "en" / "LC_MESSAGES").glob("*.po"))


@pytest.mark.parametrize("domain", DOMAINS)
def test_the_catalogue_says_what_printers_say(domain: str) -> None:
    """Neither a page nor the terminal has a word of the code's inside, or one that the trade does not use."""
    known = re.compile(r"avahi-daemon|RTPRIO|\{\w+\}")
    assert [each for each in _said(domain) if SHUNNED.search(known.sub("", each))] == []


@pytest.mark.parametrize("domain", ["check", "command", "data", "editions", "store"])
def test_what_keeps_the_records_is_a_memory_card(domain: str) -> None:
    """A card is what covers paper; the Pi's own is called a memory card each time."""
    assert [each for each in _said(domain) if re.search(r"(?<!memory )\bcards?\b", each)] == []


TYPED = re.compile(
    r"(check|command|timing)\.|(paper|preview)\.command-|reckoning\.(flag|help)-|picture\.(paper|picture)$"
)
"""What only a terminal says: its apostrophes are those of a keyboard."""


def test_apostrophes_of_pages_are_of_one_kind() -> None:
    """A page's words have curly apostrophes, the terminal's straight ones."""
    wrong = []
    for key, said in _by_key():
        if re.search(r"\w’" if TYPED.match(key) else r"\w'", said):
            wrong.append(key)
    assert wrong == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_apostrophes_are_of_one_kind(page: Path) -> None:
    """The documents have straight apostrophes, but where a page's own words are quoted; curly quotes come in pairs."""
    text = page.read_text(encoding="utf-8")
    assert re.findall(r"\w*’\w*", _QUOTED.sub("", text)) == []
    assert text.count("“") == text.count("”")


def _sentences(page: Path) -> list[str]:
    """The sentences of a page: its prose, without code, links' targets and the borders of tables."""
    prose = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", _FENCE.sub("", page.read_text(encoding="utf-8")))
    parts = re.split(r"\n\s*\n|\n(?=\s*(?:[-*] |\d+\. ))|\|", _HEADING.sub("\n", prose))
    return [each for part in parts for each in re.split(r"(?<=[.!?:;])[*_)]*\s", re.sub(r"\s+", " ", part))]


@pytest.mark.parametrize("page", FOR_PRINTERS, ids=lambda page: page.name)
def test_no_sentence_is_too_long_to_read_aloud(page: Path) -> None:
    """No sentence on a printer's page has more than forty words."""
    assert [each for each in _sentences(page) if len(each.split()) > MOST_WORDS] == []


def _anchors(page: Path) -> set[str]:
    """What a page's headings are called in a link, as code hosts make it."""
    heads = _HEADING.findall(_FENCE.sub("", page.read_text(encoding="utf-8")))
    bare = (re.sub(r"\[([^\]]*)\]\([^)]*\)|[`*]", r"\1", head) for head in heads)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in bare}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_anchor_is_a_heading(page: Path) -> None:
    """Every link to a place within a document names a heading that is there."""
    lost = []
    for link in _LINK.findall(_FENCE.sub("", page.read_text(encoding="utf-8"))):
        name, _, anchor = link.partition("#")
        target = page if not name else page.parent / name
        if anchor and not re.match(r"[a-z]+:", link) and target.suffix == ".md" and anchor not in _anchors(target):
            lost.append(link)
    assert lost == []


def _commands(parser: argparse.ArgumentParser, words: tuple[str, ...]) -> argparse.ArgumentParser | None:
    """The parser that takes the rest of these words, or None where a word is no command."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            return _commands(action.choices[words[0]], words[1:]) if words and words[0] in action.choices else None
    return parser


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_command_that_is_shown_exists(page: Path) -> None:
    """Each `treadle …` in a document is a command there is, with flags it takes."""
    wrong = []
    for shown in _HOW_TO_SAY.findall(page.read_text(encoding="utf-8")):
        words = shlex.split(shown.replace("…", "").strip())
        if words[0] == "dark":
            continue  # a light parser of its own, held to its page elsewhere
        parser = _commands(treadle._parser(), tuple(words))
        if parser is None and len(words) == 1 and words[0] in ("calc", "paper"):
            continue  # a family of commands, named as such
        flags = {each.partition("=")[0] for each in words if each.startswith("--")} - {"--help"}
        if parser is None or flags - {flag for action in parser._actions for flag in action.option_strings}:
            wrong.append(shown)
    assert wrong == []


def test_the_table_of_calculations_is_what_they_come_to(capsys: pytest.CaptureFixture[str]) -> None:
    """Each `treadle calc …` in the table of commands.md gives the answer beside it."""
    rows = re.findall(
        r"^\| [^|]+ \| `treadle (calc [^`]+)` \| ([^|]+) \|$",
        (DOCS / "reference" / "commands.md").read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    assert len(rows) >= 8
    for command, answer in rows:
        assert treadle.main(shlex.split(command)) == 0
        assert re.sub(r"\s+", " ", answer) in re.sub(r"\s+", " ", capsys.readouterr().out), command
