"""The picture's room keeps to its own: what names things loads no numpy, and hardware knows nothing of it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def _loaded(modules: str) -> set[str]:
    code = f"import sys, {modules}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_what_names_things_loads_no_numpy() -> None:
    """Scenes, papers, filters, hands and doses can be named without numpy, scipy or Pillow."""
    names = ["light", "practice_papers", "negatives", "scene", "hands", "doses", "evidence"]
    loaded = _loaded(", ".join(f"controller.picture.{name}" for name in names) + ", controller.commands.replay_picture")
    assert not loaded & {"numpy", "scipy", "PIL"}


def test_the_keeper_and_its_lines_know_no_picture() -> None:
    """Neither the keeper nor the practice lines load anything of the picture."""
    loaded = _loaded(
        "hardware.keeper.process, hardware.practice.practice_darkroom, "
        "hardware.practice.outputs, hardware.practice.meter"
    )
    assert not [name for name in loaded if name.startswith("controller")]
