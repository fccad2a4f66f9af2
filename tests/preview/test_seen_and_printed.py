"""From scan to print in a whole darkroom, in virtual time: what was seen is what comes out of the tray."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tools.densities import densities_of
from tools.near_unpacker import NearRenderer
from tools.preview_scans import fitted_one, invented
from tools.virtual_darkroom import VirtualDarkroom, virtual_darkroom

from controller.daemon.preview_desk import Look, Preview
from controller.paper.paper import Setup

SET, FRAME = "practice-sheets", "1"
WITHIN = 0.03
"""Mean of absolute differences of density: the design's own bound for a preview."""
HOLD_MS = 1100
LOOK = Look()


def seen(room: VirtualDarkroom, pair: tuple[Decimal, Decimal] | None = None) -> tuple[Preview, np.ndarray]:
    found = room.desk.previews().preview(SET, FRAME, pair)
    assert found is not None
    return found, densities_of(room.desk.previews().print(found, LOOK)[0])


def work(room: VirtualDarkroom) -> str:
    """Give every light of what is loaded, each through its filter, and close the sheet; return its id."""
    for _ in range(40):
        status = room.status()
        if status.place == "finished":
            break
        if status.place == "change filter":
            assert status.next is not None
            room.room.log_filter(status.next.filter)
        room.run(1200)
        room.press()
        room.run(200)
        while room.status().place in ("settling", "lead-in", "light", "gap"):
            room.run(500)
    sheet = room.status().sheet
    room.run(1000)
    room.press(HOLD_MS)
    room.run(1000)
    assert sheet
    return sheet


def in_the_window(print_: np.ndarray) -> np.ndarray:
    """What the easel left open of a developed sheet of 8 × 10 in: the recipe's 240 × 192 mm in its middle."""
    height, width = print_.shape
    across, down = round(width * 240 / 254.0), round(height * 192 / 203.2)
    left, top = (width - across) // 2, (height - down) // 2
    return print_[top : top + down, left : left + across]


def test_what_was_seen_is_what_is_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Scan, two taps, a neighbour of the grid, the next sheet: burns and dodges as well, it agrees within 0.03."""
    with virtual_darkroom(tmp_path) as room:
        desk, previews = room.desk, room.desk.previews()
        monkeypatch.setattr(previews, "_renderer", NearRenderer(lambda: False))
        desk.papers().keep(fitted_one().model_copy(update={"setup": Setup(magnification=2.0, aperture=8.0)}))
        number = room.status().number
        desk.at_enlarger().change(number, negative=f"{SET}:{FRAME}", negative_title="harbour crane")

        previews.bring_invented(SET, FRAME)
        for name in ("cloud", "under_cab"):
            tone = invented("crane").tone(name)
            previews.tie(SET, FRAME, "read", (tone.x, tone.y))
        found, in_hand = seen(room)
        assert found.title == "Harbour crane, 8x10"
        assert found.pair == (Decimal("10.1"), Decimal("8.0"))
        assert found.not_drawn == ()
        assert not found.typical
        assert found.setup_known

        other = (Decimal("8.0"), Decimal("6.3"))
        found, before = seen(room, other)
        assert np.abs(before - in_hand).mean() > WITHIN
        status = previews.take(found, room.status().number)
        assert status.plan is not None
        assert (status.plan.source, status.plan.version) == (found.recipe, 2)

        sheet = work(room)
        assert desk.record(sheet).outcome == "complete"
        practice = desk.practice()
        assert practice is not None
        prints = practice.prints()
        assert prints is not None
        prints.develop(sheet)
        wanted = in_the_window(densities_of(prints.png(sheet, "dry")))
        size = wanted.shape[1], wanted.shape[0]
        same, another = (
            np.asarray(Image.fromarray(each.astype(np.float32)).resize(size, Image.Resampling.BOX))
            for each in (before, in_hand)
        )
        assert np.abs(same - wanted).mean() <= WITHIN
        assert np.abs(another - wanted).mean() > WITHIN


def test_the_pair_in_hand_comes_from_two_tones_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A negative without a recipe gets the pair that its two tones ask for, and a recipe that names it."""
    with virtual_darkroom(tmp_path) as room:
        previews = room.desk.previews()
        monkeypatch.setattr(previews, "_renderer", NearRenderer(lambda: False))
        room.desk.papers().keep(fitted_one())
        previews.bring_invented(SET, "2")
        for name in ("water", "shade"):
            tone = invented("slip").tone(name)
            previews.tie(SET, "2", "read", (tone.x, tone.y))
        found = previews.preview(SET, "2")
        assert found is not None
        assert found.recipe == ""
        status = previews.take(found, room.status().number)
        assert status.plan is not None
        made = room.desk.recipes().recipe(status.plan.source)
        assert made.negative is not None
        assert made.negative.name == invented("slip").title
        assert {light.filter: light.seconds for light in made.light} == dict(
            zip(("soft", "hard"), found.pair, strict=True)
        )
