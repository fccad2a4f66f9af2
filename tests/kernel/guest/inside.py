"""Inside the emulated machine: plays the scenes one after the other, and leaves what came of each in one JSON file."""

from __future__ import annotations

import json
import sys
import time
import traceback
from pathlib import Path
from typing import Any

from kernel.guest.bench import Bench
from kernel.guest.scenes import SCENES
from kernel.guest.sim import simulated


def main(results: Path, names: list[str]) -> None:
    """Play the scenes of these names, or all."""
    told: dict[str, Any] = {}
    with simulated() as (header, trace):
        for name in names or SCENES:
            bench = Bench(header, trace, Path("/run") / name, {})
            bench.folder.mkdir()
            began = time.monotonic()
            trouble = ""
            try:
                SCENES[name](bench)
            except Exception:  # noqa: BLE001 - one scene's trouble is its own test's failure
                trouble = traceback.format_exc()
            trace.kept = ()
            notes = {**bench.notes, "trouble": trouble, "seconds": round(time.monotonic() - began, 1)}
            told[name] = {**notes, "trace": [event.plain() for event in trace.take()]}
            for errors in bench.folder.rglob("keeper.err"):
                told[name]["trouble"] = trouble and f"{trouble}\n{errors}: {errors.read_text()}"
            print(name, notes["seconds"], "s", trouble, flush=True)
            results.write_text(json.dumps(told))


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])
