"""Journal, shelf and what lies beside them, damaged as a card damages: a sentence or a start, and nothing lost."""

from __future__ import annotations

import random
import shutil
import traceback
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from tools.damaged_stores import ALL, damage, evening, look_at_all, rows_in, seals
from tools.hostile import seed_of
from tools.virtual_darkroom import virtual_darkroom

from controller.backup.dated import restore
from controller.backup.export import export
from controller.commands.check.card import look_at_stores
from controller.errors import ControllerError
from controller.store.folder import DataFolder
from hardware.errors import HardwareError

LONGEST_SENTENCE = 1000
CLOSED = 0.6
"""So many of the folders were closed. In the others a write-ahead file has a part of it, which whoever opens the file
first brings into it, damaged or not: of those it cannot be said that nothing changes."""
NO_TRUTH = shutil.ignore_patterns("lock", "run")


class Judge:
    """Has every command look at one damaged folder after the other, and keeps what came of it."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.dice, self.at = random.Random(seed), folder / "damaged"
        self.closed, self.cut, self.kept = evening(folder / "good")
        self.whole = rows_in(self.kept)
        self.came, self.wrong, self.how = Counter[str](), list[str](), ""

    def tried(self, what: str, do: Callable[[], object]) -> bool:
        """Tell whether it was done; refused in a sentence it may be, and nothing else."""
        try:
            do()
        except (ControllerError, HardwareError) as problem:
            self.came[f"{what}: refused in a sentence"] += 1
            if not str(problem).isprintable() or len(str(problem)) > LONGEST_SENTENCE:
                self.wrong.append(f"{self.how}: {what}: no sentence, {str(problem)!r}")
            return False
        except Exception as problem:  # noqa: BLE001 - it is what must not be, and is told
            place = "".join(traceback.format_exception(problem)[-3:])
            self.wrong.append(f"{self.how}: {what}: {place}")
            return False
        self.came[f"{what}: done"] += 1
        return True

    def one(self, number: int) -> None:
        """Damage a folder in one way, and hold everything that looks at it to the laws."""
        shutil.rmtree(self.at, ignore_errors=True)
        clean = self.dice.random() < CLOSED
        shutil.copytree(self.closed.path if clean else self.cut, self.at / "data", ignore=NO_TRUTH)
        data = DataFolder(self.at / "data")
        which = self.dice.choice([name for name in ALL if (data.path / name).exists()])
        self.how = f"{number}, {damage(data.path / which, self.dice)}"
        before = seals(data.path)
        self.tried("check", lambda: list(look_at_stores(data, daemon=False)))
        self.tried("export", lambda: export(data, self.at / "out"))
        if clean and seals(data.path) != before:
            self.wrong.append(f"{self.how}: changed by looking")
        if not self.tried("start", self._start):
            if which == "lookups.db" or which == "secret.key":
                self.wrong.append(f"{self.how}: no start, though it holds no truth")
            if clean and seals(data.path) != before:
                self.wrong.append(f"{self.how}: refused, and changed")
        if self.tried("restore", lambda: restore(self.kept, data)) and rows_in(data.path) != self.whole:
            self.wrong.append(f"{self.how}: restored, and not whole")

    def _start(self) -> None:
        with virtual_darkroom(self.at, ids=2) as room:
            self.tried("look after the start", lambda: look_at_all(room.desk))


def judged(folder: Path, seed: int, count: int) -> Counter[str]:
    """Damage a folder so many times, and return what came of it."""
    judge = Judge(folder, seed)
    for number in range(count):
        judge.one(number)
    wrong = judge.wrong
    assert not wrong, f"FUZZ_SEED={seed}, {len(wrong)} laws broken:\n" + "\n".join(wrong[:20])
    assert judge.came["restore: done"] == count
    return judge.came


def test_damaged_stores(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """100 damaged folders: a sentence or a start, what is refused is left as it is, a restore is whole each time."""
    came = judged(tmp_path, seed_of(request, 1), 100)
    assert came["start: done"] > 10
    assert came["start: refused in a sentence"] > 10


@pytest.mark.long
def test_very_many_damaged_stores(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """The same for 1,000 of them."""
    print(sorted(judged(tmp_path, seed_of(request, 1), 1000).items()))
