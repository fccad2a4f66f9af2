"""The tables of the two database files, and every step that brought an older file to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Schema:
    """One kind of file: its name (as in journal.db), its mark in the header, its table, its migrations, oldest first.

    Migration n takes a file of version n to version n + 1; an empty file has version 0. Migrations are only
    ever added at the end: what has once been released is never edited.
    """

    name: str
    mark: int
    table: str
    """What its rows are in; a file that has had a migration has it."""
    migrations: tuple[str, ...]

    @property
    def version(self) -> int:
        """The version a file has once every migration has run."""
        return len(self.migrations)


JOURNAL: Final = Schema(
    "journal",
    0x7472646A,
    "rows",
    (
        """
        CREATE TABLE rows (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            boot TEXT NOT NULL,
            at_ns INTEGER NOT NULL,
            wall TEXT NOT NULL,
            synchronised INTEGER NOT NULL CHECK (synchronised IN (0, 1)),
            software TEXT NOT NULL,
            protocol INTEGER NOT NULL,
            setup TEXT NOT NULL,
            kind TEXT NOT NULL,
            sheet TEXT NOT NULL,
            light TEXT NOT NULL,
            body TEXT NOT NULL
        ) STRICT;
        CREATE INDEX rows_of_a_sheet ON rows (sheet, number);
        CREATE INDEX sheets_in_order ON rows (number) WHERE kind = 'planned';
        CREATE UNIQUE INDEX once_a_light ON rows (light, kind)
            WHERE light <> '' AND kind IN ('intent', 'light', 'no light');
        CREATE TRIGGER rows_stay BEFORE UPDATE ON rows
            BEGIN SELECT RAISE(ABORT, 'the journal is only ever added to'); END;
        CREATE TRIGGER rows_remain BEFORE DELETE ON rows
            BEGIN SELECT RAISE(ABORT, 'the journal is only ever added to'); END;
        """,
        # What was filed before stands without a checksum.
        "ALTER TABLE rows ADD COLUMN sum INTEGER",
        """
        CREATE INDEX of_the_lamp ON rows (kind, number)
            WHERE kind IN ('paper test', 'lag found', 'lamp checked', 'lamp warmed');
        """,
        "CREATE INDEX of_editions ON rows (kind, number) WHERE kind IN ('numbered', 'box counted')",
        """
        DROP INDEX of_the_lamp;
        CREATE INDEX of_the_lamp ON rows (kind, number)
            WHERE kind IN ('paper test', 'lag found', 'lamp checked', 'lamp warmed', 'gains');
        """,
    ),
)

SHELF: Final = Schema(
    "shelf",
    0x74726473,
    "kept",
    (
        """
        CREATE TABLE kept (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL,
            version INTEGER NOT NULL CHECK (version >= 1),
            kind TEXT NOT NULL CHECK (kind IN ('recipe', 'strip', 'paper', 'settings')),
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            made TEXT NOT NULL,
            UNIQUE (id, version)
        ) STRICT;
        CREATE TABLE away (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL,
            away INTEGER NOT NULL CHECK (away IN (0, 1)),
            made TEXT NOT NULL
        ) STRICT;
        CREATE INDEX away_of_one ON away (id, number);
        CREATE TRIGGER kept_stay BEFORE UPDATE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER kept_remain BEFORE DELETE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER away_stay BEFORE UPDATE ON away
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER away_remain BEFORE DELETE ON away
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        """,
        # Which kinds there are is said by controller.store.shelf alone from here on: a new one needs no new table.
        """
        CREATE TABLE kept_of_any_kind (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            id TEXT NOT NULL,
            version INTEGER NOT NULL CHECK (version >= 1),
            kind TEXT NOT NULL,
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            made TEXT NOT NULL,
            UNIQUE (id, version)
        ) STRICT;
        INSERT INTO kept_of_any_kind SELECT number, id, version, kind, title, body, made FROM kept ORDER BY number;
        DROP TABLE kept;
        ALTER TABLE kept_of_any_kind RENAME TO kept;
        CREATE TRIGGER kept_stay BEFORE UPDATE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        CREATE TRIGGER kept_remain BEFORE DELETE ON kept
            BEGIN SELECT RAISE(ABORT, 'the shelf is only ever added to'); END;
        """,
        """
        ALTER TABLE kept ADD COLUMN sum INTEGER;
        ALTER TABLE away ADD COLUMN sum INTEGER;
        CREATE INDEX kept_of_a_kind ON kept (kind, number, id, version);
        """,
    ),
)
