"""Evenness by foot in virtual time: nine places of the practice easel's light, found to be what the optics make it."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image
from tools.picture_darkroom import recipe, worked
from tools.spot_darkroom import Darkroom

from controller.daemon.evenness_view import edge_work, outcome_of, probed
from controller.errors import Impossible
from controller.picture.develop import develop_sheet
from controller.picture.light import second_through
from controller.picture.practice_papers import practice_paper
from controller.picture.raster import light_at
from controller.picture.scene import Scene, negatives_named, scene_for
from controller.picture.tray import developed
from controller.practice.board import bare_scene
from controller.practice.in_carrier import InCarrier
from controller.practice.practice_scene import PracticeScene
from controller.practice.probe import COUNTS, HOLE_MM
from controller.recipe.recipe import Recipe
from controller.trials import evenness, grey_sheet
from controller.trials.easel_lights import places_plan
from controller.trials.evenness import AT, PLACES, Place, Stand
from hardware.practice.log import NegativeMoved

CRANE = negatives_named("crane")
INSIDE_MM = 5.0
SOFT = COUNTS * sum((second_through("soft").blue, second_through("soft").green))


def board(magnification: float, **chosen: object) -> Scene:
    """Return the practice easel of a 4×5 at this size."""
    lies = InCarrier(name="crane", magnification=magnification, aperture=8.0, focal_mm=150.0)
    return bare_scene(CRANE, PracticeScene.model_validate(chosen), lies)


def at(scene: Scene, place: Place) -> tuple[float, float]:
    """Return where a place lies on an easel, as shares from left and top: a hole's width inside the picture."""
    (x, y), m = AT[place], scene.enlarger.magnification
    wide, high = (frame * m / 2.0 - INSIDE_MM for frame in CRANE[0].frame_mm)
    return 0.5 + x * wide / scene.paper_mm[0], 0.5 - y * high / scene.paper_mm[1]


def measure(room: Darkroom, scene: Scene, places: tuple[Place, ...] = PLACES, times: float = 1.0) -> None:
    """Measure places by foot, one after the other."""
    for place in places:
        lamp = times * SOFT * light_at(scene, "empty", *at(scene, place), HOLE_MM)
        assert room.measure(lamp) is not None, (place, room.spots.outcome())


@pytest.mark.parametrize(("magnification", "stops"), [(2.0, -0.32), (4.0, -0.45)])
def test_cos4_is_read_back_by_foot(magnification: float, stops: float) -> None:
    """Nine places in 18 presses: the corners are within 0.05 of what cos⁴ makes them, and named as the lens's own.

    Source: the cos⁴ law (optics handbooks, from memory), 150 mm on the 96 × 120 mm of a 4×5: derived.
    """
    scene, room = board(magnification, falloff_percent=100.0), Darkroom()
    room.load(plan=places_plan())
    measure(room, scene)
    assert room.presses == 18
    room.bench.hold()
    room.run(2000)
    assert room.bench.state.work is None
    found = probed(list(room.spots.read()))
    assert [found.stops[corner] for corner in evenness.CORNERS] == pytest.approx([stops] * 4, abs=0.05)
    judged = evenness.judged(found.stops, Stand(magnification, 150.0, 8.0, "4x5", "diffuser"))
    assert judged.cause == "lens"
    assert judged.natural == pytest.approx(stops, abs=0.005)


def test_a_condenser_for_a_smaller_format_is_found_and_named() -> None:
    """The practice darkroom's wrong condenser is for 6×6: dark places are measured as dark, and it is named."""
    scene, room = board(2.0, condenser="wrong"), Darkroom()
    room.load(plan=places_plan())
    measure(room, scene)
    found = probed(list(room.spots.read()))
    stand = Stand(2.0, 150.0, 8.0, "4x5", "condenser")
    judged = evenness.judged(found.stops, stand)
    key, figures = outcome_of(judged, stand)
    assert (key, figures["format"]) == ("evenness.outcome-condenser", "4×5")
    assert "6×7" in figures["fits"]
    short = board(2.0, lens="short")
    again = Darkroom()
    again.load(plan=places_plan())
    measure(again, short)
    known = Stand(2.0, 80.0, 8.0, "4x5")
    assert evenness.judged(probed(list(again.spots.read())).stops, known).cause == "short lens"


def test_a_lamp_that_changed_meanwhile_is_said() -> None:
    """The centre again in the end, a seventh of a stop weaker: a sentence, and nothing found; the same: steady."""
    scene = board(2.0)
    for times, steady in ((1.0, True), (0.9, False)):
        room = Darkroom()
        room.load(plan=places_plan())
        measure(room, scene)
        measure(room, scene, ("centre",), times)
        if steady:
            assert probed(list(room.spots.read())).steady
        else:
            with pytest.raises(Impossible, match="Nothing was set"):
                probed(list(room.spots.read()))


def read_at(dry: np.ndarray) -> dict[Place, float]:
    """Return a print's densities at the nine places."""
    height, width = dry.shape
    found: dict[Place, float] = {}
    for place, (x, y) in AT.items():
        column, row = round(width * (0.5 + 0.455 * x)), round(height * (0.5 - 0.455 * y))
        found[place] = float(dry[max(0, row - 4) : row + 5, max(0, column - 4) : column + 5].mean())
    return found


def stops_of(read: dict[Place, float], centre_s: float) -> dict[Place, float]:
    """Return the light at the nine places of a print that was lit through hard, by the practice paper's own curve."""
    through, seconds = second_through("hard"), centre_s * 2.0 ** np.linspace(-2.0, 2.0, 801)
    ramp = developed(
        *((seconds * each).astype(np.float32)[None, :] for each in (through.blue, through.green)), practice_paper("one")
    )[0][0]
    return {place: math.log2(float(np.interp(density, ramp, seconds)) / centre_s) for place, density in read.items()}


def test_the_burns_bring_the_corners_within_a_sixth_in_the_picture() -> None:
    """The map's burns in a recipe of an even grey at m 4, worked by foot and developed: flat to a sixth of a stop.

    Without them the corners are as far off as cos⁴ has it: the picture knows nothing of the map.
    """
    scene, room = board(4.0, falloff_percent=100.0), Darkroom()
    room.load(plan=places_plan())
    measure(room, scene)
    burns = evenness.edge_burns(probed(list(room.spots.read())).stops)
    size = {"magnification": 4.0, "image_mm": [480, 384], "paper": {"name": "one", "size": "20x16 in"}}
    plain = recipe(("hard", 22.0), **size)
    mended = plain.model_copy(update={"local": edge_work(plain, burns, "far", "fall-off")})
    assert isinstance(mended, Recipe)
    for model, least, most in ((plain, -0.5, -0.35), (mended, -1 / 6, 1 / 6)):
        bare = scene_for(model, CRANE, enlarger=PracticeScene(falloff_percent=100.0).enlarger(), pixels=150_000)
        lens = bare.enlarger.model_copy(update={"focal_mm": 150.0})
        made = develop_sheet(
            worked(model).records[0],
            [NegativeMoved(0, inside=False)],
            Scene(bare.negatives, bare.way, lens, (480.0, 384.0), (480.0, 384.0), bare.pixels),
            practice_paper("one"),
        )
        centre = 22.0 * lens.light_factor
        read = read_at(made.dry)
        stops = stops_of(read, centre)
        assert stops["centre"] == pytest.approx(0.0, abs=0.03)
        for corner in evenness.CORNERS:
            assert least <= stops[corner] <= most, (corner, stops)
        if model is plain:
            levels = np.asarray(Image.open(io.BytesIO(made.png())).convert("L")).astype(np.uint16) * np.uint16(257)
            seen = grey_sheet.densities(levels, linear=False, white=practice_paper("one").dmin)
            assert seen == pytest.approx(read, abs=0.02), "its picture, brought as a scan, is read alike"
        if model is mended:
            assert max(map(abs, stops.values())) <= 1 / 6, stops
