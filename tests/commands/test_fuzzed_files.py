"""Files of every form that is read, spoilt by a seeded dice: a sentence or taken, and nothing of one refused kept."""

from __future__ import annotations

import random
import time
import traceback
from collections import Counter
from pathlib import Path

import pytest
from tools.hostile import seed_of
from tools.malformed_files import Kept, forms

from controller.errors import ControllerError
from hardware.errors import HardwareError

pytestmark = pytest.mark.filterwarnings("ignore::UserWarning:PIL")  # of damaged pictures; a daemon only notes them
LONGEST_SENTENCE = 1000
LONGEST_S = 5.0
"""Of this thread's own time: a small file that takes longer holds up whoever brings it."""


def judged(folder: Path, seed: int, count: int) -> Counter[str]:
    """Read so many spoilt files, and return what came of them."""
    dice, came, wrong = random.Random(seed), Counter[str](), []
    kept = Kept(folder)
    known = forms(kept)
    for number in range(count):
        form = known[number] if number < len(known) else dice.choices(known, [each.share for each in known])[0]
        data = form.spoilt(dice)
        begun, said = time.thread_time(), "taken"
        try:
            form.read(data)
        except (ControllerError, HardwareError) as problem:
            said = "refused in a sentence"
            if not str(problem).isprintable() or len(str(problem)) > LONGEST_SENTENCE:
                wrong.append(f"{form.name}: no sentence, {str(problem)[:1500]!r} of {data[:600]!r}")
        except Exception as problem:  # noqa: BLE001 - it is what must not be, and is told
            said = "a mistake of ours"
            place = "".join(traceback.format_exception(problem)[-3:])
            wrong.append(f"{form.name}: {place} of {data[:600]!r}")
        came[f"{form.name}: {said}"] += 1
        if time.thread_time() - begun > LONGEST_S:
            wrong.append(f"{form.name}: took {time.thread_time() - begun:.1f} s, {data[:300]!r}")
    wrong += [f"stored of what was refused: {each}" for each in kept.stored]
    assert not wrong, f"FUZZ_SEED={seed}, {len(wrong)} laws broken:\n" + "\n\n".join(wrong[:20])
    return came


def test_malformed_files(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """2,000 spoilt files: each is refused in a sentence or taken, and of none that was refused anything is kept."""
    came = judged(tmp_path, seed_of(request, 1), 2000)
    refused = {name.partition(":")[0] for name in came if name.endswith("sentence")}
    assert len(refused) >= 14, sorted(refused)


@pytest.mark.long
def test_very_many_malformed_files(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """The same for 15,000 of them."""
    print(sorted(judged(tmp_path, seed_of(request, 1), 15_000).items()))
