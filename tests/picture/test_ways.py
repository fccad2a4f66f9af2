"""What else light passes on its way: no negative, opal glass, two coloured lamps; and what is seen on the baseboard."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from tools.picture_darkroom import printed, recipe, steady, strip, worked

from controller.picture.baseboard import baseboard_png
from controller.picture.develop import Conditions, develop_sheet
from controller.picture.doses import Card, Way, light_on
from controller.picture.hands import OFF_THE_PAPER
from controller.picture.light import BlueGreen, Lamp, Surroundings, second_through
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Scene, negatives_named, scene_for
from hardware.practice.log import CardMoved, DodgerMoved, Entry, FilterPlaced
from hardware.practice.meter import Edge

S = 10**9
DARK = Conditions(surroundings=Surroundings(safelight=BlueGreen(blue=0.0, green=0.0)))
SCENE = Scene(negatives_named("crane"), open_mm=(240.0, 192.0), pixels=30_000)


@pytest.mark.parametrize("way", ["no negative", "opal under the lens"])
def test_a_flash_lifts_the_lights_and_leaves_the_shadows(way: str) -> None:
    """A flash without the picture brings tone where there was none, and hardly darkens what is dark."""
    flash = {"flash": {"seconds": 0.5 if way == "no negative" else 8.0, "filter": "2", "way": way}}
    plain, flashed = printed(recipe(("2", 9.0)), conditions=DARK), printed(recipe(("2", 9.0), **flash), conditions=DARK)
    lifted = [flashed.density(tone) - plain.density(tone) for tone in ("cloud", "under_cab")]
    assert lifted[0] > 0.01
    assert 0.0 <= lifted[1] < lifted[0]


def test_two_coloured_lamps_need_no_filter() -> None:
    """Light of the lamp lines soft and hard is soft and hard, whatever the log has in the drawer."""
    edges = (Edge(S, True, "soft"), Edge(3 * S, False, "soft"), Edge(4 * S, True, "hard"), Edge(9 * S, False, "hard"))
    light = light_on(edges, [FilterPlaced(0, "3")], (0, 10 * S), Lamp(), DARK.surroundings)
    soft, hard = second_through("soft"), second_through("hard")
    (dose,) = light.doses
    assert dose.light.blue == pytest.approx(2 * soft.blue + 5 * hard.blue)
    assert dose.light.green == pytest.approx(2 * soft.green + 5 * hard.green)


def test_a_tool_that_lay_in_place_before_the_light_counts() -> None:
    """A dodger that the log has in the light before the sheet's first light, and out after it, holds back its area."""
    model = recipe(("2", 12.0))
    played = worked(model)
    first, last = played.edges[0].at_ns, played.edges[-1].at_ns
    scene = scene_for(model, negatives_named("crane"), pixels=100_000)

    def under_cab(log: list[Entry]) -> float:
        return develop_sheet(played.records[0], log, scene, practice_paper("one"), DARK).density("under_cab")

    held = [DodgerMoved(first - S, "C", "dodge", True), DodgerMoved(last + S // 10, "C", "dodge", False)]
    assert under_cab(held) < 0.3
    assert under_cab([]) > 1.0


def test_a_card_that_was_taken_away_leaves_the_strip_as_planned() -> None:
    """A card that the log has off the paper before a strip, and not in it, is where the plan has it."""
    model = strip(filter="2", times={"kind": "seconds", "step": 3.0, "bands": 7})
    played = worked(model)
    scene = scene_for(model, negatives_named("crane"), pixels=100_000)
    before: list[Entry] = [CardMoved(1, "cover", 3), CardMoved(2, "cover", OFF_THE_PAPER)]
    logged, plain = (develop_sheet(played.records[0], log, scene, practice_paper("one")) for log in (before, []))
    assert np.array_equal(logged.dry, plain.dry)


def test_edges_that_do_not_reach_back_are_not_believed() -> None:
    """Where the lamp lines no longer know a sheet's lights, its record says what it got."""
    model = recipe(("2", 12.0))
    played = worked(model, steady(model))
    scene = scene_for(model, negatives_named("crane"), pixels=100_000)
    later = played.edges[-1].at_ns + 10**13
    sheets = [
        develop_sheet(played.records[0], (), scene, practice_paper("one"), DARK, edges=edges)
        for edges in (played.edges, (Edge(later, True), Edge(later + S, False)), None)
    ]
    assert np.array_equal(sheets[1].dry, sheets[2].dry)
    assert sheets[0].dry == pytest.approx(sheets[2].dry, abs=1e-4)


def _seen(way: Way | None = None, **more: object) -> np.ndarray:
    with Image.open(io.BytesIO(baseboard_png(SCENE, way, **more))) as picture:  # type: ignore[arg-type]
        return np.asarray(picture, dtype=np.int16)


def test_the_baseboard_shows_the_negative_under_focus_light() -> None:
    """Thin parts of the negative are light and dense ones dark."""
    lit = _seen()
    height, width = lit.shape
    shade, sky = lit[int(0.635 * height), width // 2], lit[int(0.1 * height), width // 2]
    assert shade > sky + 50
    empty = _seen(Way("empty"))
    assert empty[height // 2, width // 2] == 255
    assert empty[1, 1] < 120


def test_the_baseboard_shows_the_shadow_of_card_and_dodger() -> None:
    """A dodger throws its shadow where its area is, a card over the bands that it covers."""
    bare, dodged = _seen(Way("empty")), _seen(Way("empty", dodged=frozenset("C")))
    height, width = bare.shape
    assert dodged[int(0.635 * height), width // 2] < 40
    assert dodged[int(0.1 * height), width // 2] == bare[int(0.1 * height), width // 2]
    card = _seen(Way("empty", card=Card("cover", 2)), bands=4)
    assert card[height // 2, width // 4] < 40
    assert card[height // 2, 3 * width // 4] == 255


def test_the_baseboard_shows_paper_in_the_easel() -> None:
    """White paper is lighter than the bare easel."""
    lying, bare = (_seen(Way("empty"), paper=paper) for paper in (True, False))
    height, width = lying.shape
    assert lying[height // 2, width // 2] > bare[height // 2, width // 2] + 50
