"""Writes what `--help` says into docs/reference/commands.md, under each command's heading: `python docs/usage.py`.

`treadle dark` is written by hand. A command that has no heading yet gets one at the end.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))
PAGE = ROOT / "docs" / "reference" / "commands.md"


def commands(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    """Return a parser and all those below it, in the order of the page."""
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for each in action.choices.values():
                yield from commands(each)


def main() -> None:
    """Rewrite the page."""
    import os

    os.environ["COLUMNS"] = "100"
    import treadle

    page = PAGE.read_text(encoding="utf-8")
    for parser in commands(treadle._parser()):
        if parser.prog == "treadle dark":
            continue  # it has a light parser of its own, which needs nothing that can be broken
        block = f"## {parser.prog}\n\n```\n{parser.format_help()}```\n"
        heading = re.compile(rf"^## {re.escape(parser.prog)}\n\n```\n.*?^```\n", re.MULTILINE | re.DOTALL)
        page = heading.sub(lambda _, new=block: new, page) if heading.search(page) else f"{page.rstrip()}\n\n{block}"
    PAGE.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
