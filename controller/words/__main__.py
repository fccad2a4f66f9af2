"""Compiles the catalogue: every `.po` beside its `.mo`. Run it after an edit (needs the test extra)."""

from __future__ import annotations

from datetime import UTC, datetime

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from controller.words import FOLDER, LANGUAGE


def main() -> None:
    """Compile each domain; a malformed file stops with its name."""
    for source in sorted((FOLDER / LANGUAGE / "LC_MESSAGES").glob("*.po")):
        with source.open("rb") as text:
            catalogue = read_po(text, locale=LANGUAGE, abort_invalid=True)
        # the same words give the same file, whenever they are compiled
        catalogue.creation_date = catalogue.revision_date = datetime(2000, 1, 1, tzinfo=UTC)
        with source.with_suffix(".mo").open("wb") as binary:
            write_mo(binary, catalogue)


if __name__ == "__main__":
    main()
