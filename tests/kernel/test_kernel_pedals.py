"""A USB pedal on a real kernel's input devices: read, grabbed, pulled out under the foot, and put back."""

from __future__ import annotations

import errno
import importlib.util
import json
import sys
from pathlib import Path
from typing import Any

import pytest
from kernel.conftest import ROOT, lacking
from kernel.kernel_image import NoKernel, cache_folder, kernel
from kernel.machine import boot


@pytest.fixture(scope="module")
def pedal(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Boot once, and return what the machine noted."""
    if why := lacking():
        pytest.skip(f"kernel pedals: {why}")
    if importlib.util.find_spec("evdev") is None:
        pytest.skip("kernel pedals: evdev is not installed here: it needs gcc and the kernel's headers")
    try:
        image = kernel(cache_folder())
    except NoKernel as problem:
        pytest.skip(f"kernel pedals: {problem}")
    out = tmp_path_factory.mktemp("pedals") / "out"
    command = ["env", f"PYTHONPATH={ROOT}:{ROOT / 'tests'}", sys.executable, "-P", "-m", "kernel.guest.pedals"]
    ended = boot(image, [*command, "/run/out/told.json"], out, seconds=150)
    place: Path = out / "told.json"
    if not place.exists():
        pytest.fail(f"the emulated machine noted nothing; it said:\n{ended.log}\n{ended.console[-2000:]}")
    told: dict[str, Any] = json.loads(place.read_text())
    return told


def test_a_press_has_the_kernels_moments(pedal: dict[str, Any]) -> None:
    """Down and up carry the kernel's own moments on the monotonic clock; the repeats between them say nothing."""
    assert pedal["rang"]
    assert [closed for _, closed in pedal["edges"]] == [True, False]
    for (at_ns, _), (before, after) in zip(pedal["edges"], (pedal["pressed"], pedal["released"]), strict=True):
        assert before // 1000 * 1000 <= at_ns <= after


def test_nobody_else_hears_it(pedal: dict[str, Any]) -> None:
    """A pedal is grabbed: another program can neither grab it too nor hear its keys."""
    assert pedal["grabbed twice"] == errno.EBUSY
    assert [closed for _, closed in pedal["down"]] == [True]
    assert pedal["others hear"] == 0


def test_pulled_out_under_the_foot_it_is_open(pedal: dict[str, Any]) -> None:
    """A pedal that goes away while it is down rings, and counts as open from then on."""
    assert pedal["rang at the end"]
    ((at_ns, closed),) = pedal["pulled out"]
    assert not closed
    assert pedal["pulled out at"][0] <= at_ns <= pedal["pulled out at"][1]
    assert len(pedal["missing then"]) == 1


def test_put_back_it_is_heard_again(pedal: dict[str, Any]) -> None:
    """The pedal that comes back, by the same name, is opened and heard without a new start."""
    assert pedal["missing at first"] == pedal["missing at last"] == []
    ((at_ns, closed),) = pedal["edges again"]
    assert closed
    assert pedal["pressed again"][0] // 1000 * 1000 <= at_ns <= pedal["pressed again"][1]
