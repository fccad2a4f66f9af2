"""The process that checks every page of a database file: `python -P -m controller.store.whole_process PATH`.

It answers with one line of JSON, the database's word for what is wrong (empty where nothing is) and its detail. It
ends when its input does: whoever wanted to know is then gone. Imported are only sqlite3 and what Python has loaded.
"""

from __future__ import annotations

import json
import os
import sqlite3
import sys
import threading
from contextlib import closing
from pathlib import Path


def main(path: Path) -> None:
    """Check, and answer."""
    threading.Thread(target=_end_with_input, daemon=True).start()
    # Idle for the processor, and so for the card as well: whatever else there is to do goes first.
    os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, isolation_level=None)) as connection:
            connection.text_factory = lambda text: text.decode(errors="replace")  # it quotes what is damaged
            found = str(connection.execute("PRAGMA integrity_check(1)").fetchone()[0])
        answer = ("", "") if found == "ok" else ("CORRUPT", found)
    except sqlite3.Error as problem:
        answer = (str(getattr(problem, "sqlite_errorname", "")), str(problem))
    except UnicodeDecodeError:  # so does the database's own message
        answer = ("CORRUPT", "")
    sys.stdout.write(json.dumps(answer))


def _end_with_input() -> None:
    sys.stdin.buffer.read()
    os._exit(1)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
