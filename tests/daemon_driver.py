"""A daemon that tests may kill: a darkroom with spans scaled short, asked and told by lines of JSON.

Started as `python tests/daemon_driver.py FOLDER` with the project and its tests on the path. Each line on standard
input asks for something, or for nothing but how things stand; each gets one line in answer.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from daemon_bench import SHORT

from controller.acts import ACT
from controller.darkroom import Darkroom
from controller.data import DataFolder
from controller.errors import ControllerError
from hardware.fitting import Fitting


def main(folder: Path) -> None:
    """Open the darkroom, and answer until killed."""
    runtime = folder / "run"
    runtime.mkdir(parents=True, exist_ok=True)
    fitting = Fitting({"kind": "practice", "runtime": str(runtime)}, runtime, practice=True, timing=SHORT)
    darkroom = Darkroom(DataFolder(folder / "data"), fitting)
    darkroom.open()
    print(darkroom.status().model_dump_json(), flush=True)
    for line in sys.stdin:
        asked = json.loads(line)
        try:
            match asked:
                case {"save": text}:
                    kept = darkroom.save(text)
                    darkroom.do(ACT.validate_python({"verb": "load", "source": kept.id}), darkroom.status().number)
                case {"act": act}:
                    darkroom.do(ACT.validate_python(act), darkroom.status().number)
        except ControllerError as refusal:
            print(json.dumps({"refused": str(refusal)}), flush=True)
            continue
        print(darkroom.status().model_dump_json(), flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
