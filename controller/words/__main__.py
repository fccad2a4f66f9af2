"""Compiles the catalogue: every `.po` beside its `.mo`. Run it after an edit (needs the test extra)."""

from __future__ import annotations

import re
from collections import Counter
from datetime import UTC, datetime

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from controller.words import FOLDER, LANGUAGE


def main() -> None:
    """Compile each domain; a malformed file, or a key written twice, stops with its name."""
    for source in sorted((FOLDER / LANGUAGE / "LC_MESSAGES").glob("*.po")):
        if twice := written_twice(source.read_text(encoding="utf-8")):
            raise SystemExit(f"{source.name}: written twice: {', '.join(twice)}")
        with source.open("rb") as text:
            catalogue = read_po(text, locale=LANGUAGE, abort_invalid=True)
        # the same words give the same file, whenever they are compiled
        catalogue.creation_date = catalogue.revision_date = datetime(2000, 1, 1, tzinfo=UTC)
        with source.with_suffix(".mo").open("wb") as binary:
            write_mo(binary, catalogue)


def written_twice(text: str) -> list[str]:
    """Return the keys that a `.po` text writes more than once; the reader would keep the first words only."""
    written = Counter(re.findall(r'^msgid "(.+)"$', text, re.MULTILINE))
    return sorted(key for key, times in written.items() if times > 1)


if __name__ == "__main__":
    main()
