"""The results of tests in the stores: the last few of each, and after how long each is made again; never the truth."""

from __future__ import annotations

import csv
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, Protocol

from pydantic import ValidationError

from controller.files import bare_cell
from controller.keeping import Derived, Execute, Keeps
from controller.store.rows import Reader, Row
from controller.store.trial_rows import TRIAL_ROWS, GreyFound, TrialDone, TrialInterval, TrialTakenBack
from controller.trials.results import TrialName, TrialResult
from controller.words import has, say

KEPT_OF_EACH: Final = 40
"""Results of one trial that are looked up; older ones stay in the journal."""
FILE: Final = "tests.csv"
COLUMNS: Final = ("at", "test", "of", "outcome", "changed", "sheets", "taken back")
_TABLES: Final = """
    CREATE TABLE trial_results (id TEXT PRIMARY KEY, trial TEXT NOT NULL, of TEXT NOT NULL, number INTEGER NOT NULL,
        body TEXT NOT NULL) STRICT, WITHOUT ROWID;
    CREATE INDEX trial_results_of ON trial_results (trial, number);
    CREATE TABLE trial_intervals (trial TEXT PRIMARY KEY, days INTEGER) STRICT, WITHOUT ROWID;
    CREATE TABLE trial_greys (paper TEXT PRIMARY KEY, body TEXT NOT NULL) STRICT, WITHOUT ROWID;
"""


def _note(execute: Execute, number: int, row: Any) -> None:
    assert isinstance(row, Row)
    match row.entry:
        case TrialDone(result=result):
            execute("DELETE FROM trial_results WHERE id = ?", (result.id,))
            values = (result.id, result.trial, result.of, number, result.model_dump_json())
            execute("INSERT INTO trial_results VALUES (?, ?, ?, ?, ?)", values)
            execute(
                "DELETE FROM trial_results WHERE trial = ? AND number <= (SELECT number FROM trial_results"
                " WHERE trial = ? ORDER BY number DESC LIMIT 1 OFFSET ?)",
                (result.trial, result.trial, KEPT_OF_EACH),
            )
        case TrialTakenBack(id=id_):
            execute("DELETE FROM trial_results WHERE id = ?", (id_,))
        case GreyFound() as grey:
            execute("DELETE FROM trial_greys WHERE paper = ?", (grey.paper,))
            execute("INSERT INTO trial_greys VALUES (?, ?)", (grey.paper, grey.model_dump_json()))
        case TrialInterval(trial=trial, days=days):
            execute("DELETE FROM trial_intervals WHERE trial = ?", (trial,))
            execute("INSERT INTO trial_intervals VALUES (?, ?)", (trial, days))


class Rows(Protocol):
    """What looks up in a room's own tables."""

    def rows(self, sql: str, *values: str | int) -> list[tuple[Any, ...]]:
        """Return what a question in SQL finds."""


def results(lookups: Rows, trial: TrialName) -> tuple[TrialResult, ...]:
    """Return the last results of a trial, the newest first, without those that were taken back."""
    found = []
    for (body,) in lookups.rows("SELECT body FROM trial_results WHERE trial = ? ORDER BY number DESC", trial):
        with suppress(ValidationError):  # of a newer version: the journal has it
            found.append(TrialResult.model_validate_json(body))
    return tuple(found)


def intervals(lookups: Rows) -> dict[TrialName, int | None]:
    """Return after how many days each trial is made again, of those where it was set."""
    return dict(lookups.rows("SELECT trial, days FROM trial_intervals"))


def grey_of(lookups: Rows, paper: str) -> GreyFound | None:
    """Return the last grey that was found on a paper; None where none was."""
    for (body,) in lookups.rows("SELECT body FROM trial_greys WHERE paper = ?", paper):
        with suppress(ValidationError):  # likewise
            return GreyFound.model_validate_json(body)
    return None


def outcome_of(result: TrialResult) -> str:
    """Return what a result says, as a sentence."""
    return say(result.outcome, **result.figures) if has(result.outcome) else result.outcome


def changes_of(result: TrialResult) -> tuple[str, ...]:
    """Return what a result changed, a phrase each."""
    return tuple(
        say(each.what, was=each.was, now=each.now) if has(each.what) else f"{each.was} → {each.now}"
        for each in result.changed
    )


def write_out(reader: Reader, folder: Path) -> None:
    """Write every test into a table of an export, for people; never taken back."""
    done, back = [], set()
    for row in reader.each(kinds=("trial", "trial taken back")):
        match row.entry:
            case TrialDone(result=result):
                done.append(result)
            case TrialTakenBack(id=id_):
                back.add(id_)
            case _:
                pass
    if not done:
        return
    with (folder / FILE).open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(COLUMNS)
        for each in done:
            words = (each.of_title, outcome_of(each), "; ".join(changes_of(each)), " ".join(each.sheets))
            table.writerow((each.at, each.trial, *map(bare_cell, words), "yes" if each.id in back else ""))


KEEPS: Final = Keeps(
    room="trials",
    rows=TRIAL_ROWS,
    write_out=write_out,
    derived=(Derived((), _TABLES, _note, rows=("trial", "trial taken back", "trial interval", "grey found")),),
)
