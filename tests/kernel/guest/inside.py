"""Inside the emulated machine: plays the scenes one after the other, and leaves what came of each in one JSON file."""

from __future__ import annotations

import json
import sys
import time
import traceback
from pathlib import Path
from typing import Any, Final

from kernel.guest.bench import LAMP, Bench
from kernel.guest.forked import fork_keepers
from kernel.guest.scenes import SCENES
from kernel.guest.sim import Header, Trace, simulated

TRIES: Final = 2
"""A scene that broke is played once more: emulated on a busy machine, a keeper may come up too late for its daemon."""


def main(results: Path, names: list[str]) -> None:
    """Play the scenes of these names, or all."""
    told: dict[str, Any] = {name: {"trouble": "it was not reached in time"} for name in names or SCENES}
    fork_keepers()
    with simulated() as (header, trace):
        results.write_text(json.dumps(told))
        for name in told:
            for number in range(1, TRIES + 1):
                told[name] = play(name, Bench(header, trace, Path(f"/run/{name}-{number}"), {}))
                print(name, told[name]["seconds"], "s", told[name]["trouble"], flush=True)
                if not told[name]["trouble"]:
                    break
            results.write_text(json.dumps(told))


def play(name: str, bench: Bench) -> dict[str, Any]:
    """Play one scene, and return its notes, its trouble and its trace."""
    bench.folder.mkdir()
    began = time.monotonic()
    trouble = ""
    try:
        SCENES[name](bench)
    except Exception:  # noqa: BLE001 - a scene's trouble is its own tests' failure
        trouble = traceback.format_exc()
        for errors in bench.folder.rglob("keeper.err"):
            trouble += f"\n{errors}: {errors.read_text()}"
    come_to_rest(bench.header, bench.trace)
    notes = {**bench.notes, "trouble": trouble, "seconds": round(time.monotonic() - began, 1)}
    return {**notes, "trace": [event.plain() for event in bench.trace.take()]}


def come_to_rest(header: Header, trace: Trace) -> None:
    """Leave the lamp's line as a Pi's pull-down would, whatever the scene did to it."""
    trace.kept = ()
    header.pull(LAMP, high=False)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2:])
