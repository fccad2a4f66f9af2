"""The service on a kernel's own lines, under the systemd of both Debians that Raspberry Pi OS is made of; emulated."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from booted.conftest import lacking
from booted.debian_root import NoRoot, debian_root
from booted.emulated import boot, install
from booted.pin_library import pin_library
from kernel.kernel_image import NoKernel, cache_folder, kernel
from kernel.machine import missing


@pytest.mark.long
@pytest.mark.parametrize("suite", ["bookworm", "trixie"])
def test_the_unit_on_kernel_lines(suite: str, tmp_path: Path) -> None:
    """Installed into an image and booted: ready, dark, and dark and ready again after every death."""
    if why := lacking() or (f"not installed: {missing()}" if missing() else ""):
        pytest.skip(f"booted: {why}")
    try:
        lower, image = debian_root(suite), kernel(cache_folder())
        lines = None if suite == "bookworm" else pin_library(lower)
    except (NoRoot, NoKernel) as problem:
        pytest.skip(f"booted: {problem}")
    played = boot(image, install(lower, tmp_path, lines), tmp_path)
    subprocess.run(["rm", "-rf", str(tmp_path / "root")], check=True)
    assert played.results, f"it played nothing; it said:\n{played.said}\n{played.console[-3000:]}"
    scenes = json.loads(played.results)
    print(f"{suite}: {len(scenes)} scenes")
    assert [f"{scene['name']}\n{scene['said']}" for scene in scenes if not scene["held"]] == []
    assert scenes[-1]["name"] == "mended, it is ready", f"it did not play to the end: {played.said}"
