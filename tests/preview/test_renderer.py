"""Previews are rendered by a process of their own, held back and soon at hand, that gives way to a sheet."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tools.densities import densities_of
from tools.patience import PATIENCE_S
from tools.preview_scans import file_of, fitted_one, light_through, ties_of

from controller.daemon import preview_renderer
from controller.daemon.preview_renderer import PreviewRenderer
from controller.errors import Impossible, StoreTrouble, WrongMoment
from controller.preview.lights import of_pair, round_a_pair
from controller.preview.orders import Order

pytestmark = pytest.mark.usefixtures("by_real_time")


@pytest.fixture
def scan(tmp_path: Path) -> Path:
    """The crane, as a store of pictures keeps it."""
    file = tmp_path / "crane.jpg"
    file.write_bytes(file_of(light_through("crane"), "JPEG 8"))
    return file


@pytest.fixture
def busy() -> threading.Event:
    """Set while a sheet is open."""
    return threading.Event()


@pytest.fixture
def renderer(busy: threading.Event) -> Iterator[PreviewRenderer]:
    made = PreviewRenderer(busy.is_set)
    yield made
    made.close()
    assert made._process is None


def order(soft: float = 12.0, hard: float = 4.4, **more: object) -> Order:
    made = Order(paper=fitted_one(), ties=ties_of("crane"), prints=(of_pair(soft, hard),))
    return Order.model_validate(made.model_dump() | more)


def grid(soft: float, hard: float) -> Order:
    from decimal import Decimal

    pairs = [pair for row in round_a_pair((Decimal(str(soft)), Decimal(str(hard)))) for pair in row]
    return order().model_copy(update={"prints": tuple(of_pair(*map(float, pair)) for pair in pairs), "side": 200})


def test_one_process_renders_one_print_after_another(renderer: PreviewRenderer, scan: Path) -> None:
    """The same process answers again; what was asked before is not asked of it."""
    picture, shown = renderer.render(order(), scan)
    process = renderer._process
    assert process is not None
    assert densities_of(picture).shape == (shown.height, shown.width) == (480, 600)
    darker, _ = renderer.render(order(24.0), scan)
    assert densities_of(darker).mean() > densities_of(picture).mean() + 0.1
    assert renderer._process is process
    process.kill()
    process.wait()
    assert renderer.render(order(), scan) == (picture, shown)


def test_the_process_is_held_back(renderer: PreviewRenderer, scan: Path) -> None:
    """It lets everybody else have the processor before, goes first where memory runs out, and may have little."""
    renderer.render(order(), scan)
    assert renderer._process is not None
    place = Path("/proc") / str(renderer._process.pid)
    assert os.getpriority(os.PRIO_PROCESS, renderer._process.pid) == min(19, os.nice(0) + 10)
    assert (place / "oom_score_adj").read_text().strip() == "1000"
    assert "260000000" in (place / "limits").read_text()


def test_a_sheet_goes_first(
    renderer: PreviewRenderer, busy: threading.Event, scan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sheet that is opened ends the process at once; afterwards another is begun."""
    renderer.render(order(), scan)
    process = renderer._process
    assert process is not None
    os.kill(process.pid, 19)  # it is in the midst of a print for ever
    refused: list[Exception] = []

    def ask() -> None:
        try:
            renderer.render(order(13.0), scan)
        except WrongMoment as problem:
            refused.append(problem)

    asking = threading.Thread(target=ask)
    asking.start()
    time.sleep(0.1)
    busy.set()
    began = time.monotonic()
    asking.join(10.0)
    assert refused
    assert time.monotonic() - began < 2.0
    assert process.poll() is not None
    with pytest.raises(WrongMoment, match="a sheet is open"):
        renderer.render(order(14.0), scan)
    busy.clear()
    assert renderer.render(order(14.0), scan)[1].width == 600


def test_refusals_come_through_and_a_dead_process_is_no_answer(
    renderer: PreviewRenderer, scan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tones that tie nothing, a picture that is gone, a process that dies are sentences; another process is begun."""
    light, _ = ties_of("crane")
    with pytest.raises(Impossible, match="one point"):
        renderer.render(order(ties=[light.model_dump(), light.model_dump()]), scan)
    with pytest.raises(Impossible):
        renderer.render(order(11.0), scan.with_name("gone.jpg"))
    scan.with_name("none.jpg").write_bytes(b"no picture")
    with pytest.raises(Impossible, match="no picture"):
        renderer.render(order(), scan.with_name("none.jpg"))
    process = renderer._process
    assert process is not None
    monkeypatch.setattr(preview_renderer, "MODULE", "controller.nothing_of_that_name")
    process.kill()
    process.wait()
    with pytest.raises(StoreTrouble):
        renderer.render(order(9.0), scan)
    monkeypatch.undo()
    assert renderer.render(order(9.0), scan)[1].mean_density > 0


def test_it_ends_when_nothing_is_asked(scan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A while after its last print the process is gone, and its memory with it."""
    monkeypatch.setattr(preview_renderer, "IDLE_S", 0.2)
    renderer = PreviewRenderer(lambda: False)
    renderer.render(order(), scan)
    until = time.monotonic() + PATIENCE_S
    while renderer._process is not None and time.monotonic() < until:
        time.sleep(0.05)
    assert renderer._process is None
    renderer.close()


def test_pictures_that_are_kept_are_few(renderer: PreviewRenderer, scan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the pictures that were rendered only the last few stay."""
    monkeypatch.setattr(preview_renderer, "KEPT", 2)
    for soft in (10.0, 11.0, 12.0):
        renderer.render(order(soft, side=64), scan)
    assert len(renderer._kept) == 2


def test_the_largest_print_has_its_memory(renderer: PreviewRenderer, tmp_path: Path) -> None:
    """Grid and print of the largest picture that a store keeps are rendered in the memory that the process may have."""
    large = tmp_path / "large.jpg"
    large.write_bytes(file_of(light_through("crane", 1600, 1600), "JPEG 8"))
    assert renderer.render(order(side=1600), large)[1].width == 1600
    assert renderer.render(grid(12.0, 4.4).model_copy(update={"side": 320}), large)[1].width == 320
