"""Writes the golden outputs anew: `PYTHONPATH=tests .venv/bin/python tests/golden/renew.py`.

WARNING. A golden output says what the product put out before a change. Renew it only where the change was meant to
alter just that, look at every line of the difference, and justify it where you commit it. A change that only moves or
rearranges code alters nothing here. The old data folder (`kept/old-folder`) is never made anew: it stands for what
lies on people's cards already.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from golden.asked import GOLDENS, one_a_line, told
from golden.front import GOLDEN, OLD, OLD_EXPORT, exported


def main() -> None:
    """Write every golden output."""
    for name, commands in GOLDENS.items():
        with tempfile.TemporaryDirectory() as folder:
            answers = told(commands(Path(folder)), Path(folder))
        (GOLDEN / name).write_text(one_a_line(answers), encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        data, out = Path(folder) / "data", Path(folder) / "out"
        shutil.copytree(OLD, data)
        exported(data, out)
        shutil.rmtree(OLD_EXPORT, ignore_errors=True)
        shutil.copytree(out, OLD_EXPORT)


if __name__ == "__main__":
    main()
