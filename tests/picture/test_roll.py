"""The frames of 35 mm film: the film's curve, how the frames differ, how they lie on a proof and on their paper."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tools.densities import densities_of
from tools.on_the_roll import reference_of
from tools.picture_darkroom import printed, strip

from controller.errors import NotThere
from controller.picture.contact_sheets import CONTACT_SHEETS, contact_sheet, lying_on
from controller.picture.develop import Developed
from controller.picture.film import MIDDLE, STOP, Film
from controller.picture.frames import frames_on, pixels_per_mm
from controller.picture.invented import invented
from controller.picture.light import second_through
from controller.picture.negatives import INVENTED, ROLL, ROLL_DENSITY
from controller.picture.practice_papers import practice_paper
from controller.picture.raster import raster
from controller.picture.roll import NORMAL, TAKEN
from controller.picture.scene import BORDER_MM, Scene, negatives_named, scene_for
from controller.picture.thumbnails import LONGEST, PROOF_FILTER, PROOF_SECONDS, thumbnail
from controller.picture.tray import developed
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "practice-picture.md"
MERGED = 0.04
"""Density: so near to bare paper, clear film is seen no more (common practice of proofing)."""


def at_log_exposure(film: Film, over_speed_point: float) -> float:
    """Return the density at a log exposure over the film's speed point."""
    stops = np.full((1, 1), (over_speed_point - MIDDLE) / STOP, dtype=np.float32)
    return float(film.density(stops)[0, 0])


def test_normal_development_is_that_of_the_speed_standard() -> None:
    """At the speed point it is 0.10 over base and fog, and 1.30 of log exposure on 0.80 more, to 0.05.

    Source: ISO 6:1993 (from memory), the triangle that a film is developed to when its speed is found.
    """
    film = Film(ROLL_DENSITY, NORMAL)
    speed_point = at_log_exposure(film, 0.0)
    assert speed_point == pytest.approx(ROLL_DENSITY + 0.10, abs=0.005)
    assert at_log_exposure(film, 1.30) - speed_point == pytest.approx(0.80, abs=0.05)


def test_a_films_density_rises_from_its_base_and_never_falls() -> None:
    """What no light reached has base and fog alone, and more light is never less density, however it is developed."""
    for gradient in (0.5, NORMAL, 0.8):
        densities = Film(ROLL_DENSITY, gradient).density(np.linspace(-12, 12, 400, dtype=np.float32)[None, :])[0]
        assert densities[0] == pytest.approx(ROLL_DENSITY, abs=0.001)
        assert (np.diff(densities) >= 0).all()


@pytest.mark.parametrize("name", ROLL)
def test_the_page_tells_each_tone(name: str) -> None:
    """The documented table has every tone of a frame, light ones first, with the density that is drawn."""
    row = next(
        line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith(f"| {ROLL.index(name) + 1} ")
    )
    tones = TAKEN[name].tones
    assert f"`{name}`" in row
    assert ", ".join(f"{tone.name} {tone.density:.2f}" for tone in tones) in row
    assert [tone.density for tone in tones] == sorted((tone.density for tone in tones), reverse=True)


@pytest.mark.parametrize("name", ROLL)
def test_a_frames_tones_are_no_patches(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A measured place has the density that its scene has there anyway, so that nobody sees where it is measured."""
    taken = TAKEN[name]
    monkeypatch.setitem(TAKEN, name, replace(taken, tones=()))
    drawn = invented(name).draw(800, 1200)
    for tone in taken.tones:
        half = max(2, round(tone.half_height * 800))
        rows = slice(int(tone.y * 800) - half, int(tone.y * 800) + half + 1)
        place = drawn[rows, int((tone.left + 0.005) * 1200) : int((tone.right - 0.005) * 1200)]
        assert float(np.median(place)) == pytest.approx(tone.density, abs=0.05), tone.name


def spread(name: str) -> tuple[float, float]:
    """Return the densities that a twentieth of a frame lies under, and over."""
    low, high = np.percentile(invented(name).draw(160, 240), (5, 95))
    return float(low), float(high)


def test_the_frames_differ_as_a_printers_do() -> None:
    """Thin and dense, flat and contrasty ones are among them: ranges from under 0.45 to over 1.2."""
    found = {name: spread(name) for name in ROLL}
    ranges = {name: high - low for name, (low, high) in found.items()}
    assert ranges["hills"] < 0.45
    assert ranges["cups"] < 0.50
    assert min(ranges["oak"], ranges["cloister"]) > 1.0
    assert ranges["jug"] > 1.2
    assert found["hills"][1] < 0.95, "thin"
    assert found["roofs"][0] < 0.35, "thin shadows"
    assert found["birches"][0] > 1.2, "dense"
    assert min(float(invented(name).draw(80, 120).min()) for name in ROLL) >= ROLL_DENSITY


# ---- on a proof


def proof(name: str, *, centre: float, step: str = "1/6", bands: int = 9) -> Developed:
    times = {"kind": "stops", "centre": centre, "step": step, "bands": bands}
    return printed(strip(filter=PROOF_FILTER, times=times), negative=name, pixels=250_000)


def merging_s(name: str, centre: float) -> float:
    """Return the least time of a strip at which the clear edge prints within 0.04 of bare paper."""
    sheet = proof(name, centre=centre)
    for band in range(1, 10):
        try:
            edge = sheet.density("rebate", band)
        except KeyError:
            continue
        if sheet.paper.dmax - edge <= MERGED:
            return centre * 2.0 ** ((band - 5) / 6)
    raise AssertionError("no band is dark enough")


def test_the_films_edge_wants_more_light_than_a_sheets() -> None:
    """Clear roll film merges with black at 10^(0.30 − 0.08) = 1.66 times the light of clear sheet film, to a band.

    Derived: a density D passes 10^−D of the light (ISO 5-1), and both must pass as much.
    """
    assert merging_s("film", 25.0) / merging_s("proof", 15.0) == pytest.approx(10.0**0.22, rel=0.13)


@pytest.mark.parametrize("sheet", CONTACT_SHEETS, ids=lambda sheet: sheet.name)
def test_the_small_pictures_light_merges_the_edge(sheet: object) -> None:
    """The light that small pictures are printed with is about the least that merges the clear edge."""
    name = sheet.name  # type: ignore[attr-defined]
    assert merging_s(name, PROOF_SECONDS[name]) == pytest.approx(PROOF_SECONDS[name], rel=0.13)


def test_a_film_lies_as_strips_with_their_edges() -> None:
    """Two strips of six: bare paper between them, holes that print as bare paper does, and an edge that is lighter.

    Source of the measures: ISO 1007 for 135 film (from memory): 35 mm wide, holes every 4.75 mm, a frame every 38 mm.
    """
    scene = Scene(negatives_named("film"), "contact", pixels=900_000)
    per_mm, frames = pixels_per_mm(scene), frames_on(scene)
    assert len({frame.top for frame in frames}) == 2
    assert frames[1].left - frames[0].left == pytest.approx(38.0 * per_mm)
    through = raster(scene).image
    first = frames[0]
    film_top = first.top + first.height / 2 - 17.5 * per_mm
    edge = through[round(film_top + 1.0 * per_mm)]
    clear = edge[round(first.left) : round(first.left + 10 * per_mm)]
    assert np.median(clear) == pytest.approx(10.0**-ROLL_DENSITY, abs=0.01)
    holes = through[round(film_top + 3.4 * per_mm), round(first.left) : round(first.left + 190 * per_mm)]
    open_ = holes > 0.95
    assert np.count_nonzero(np.diff(open_.astype(int)) == 1) == pytest.approx(190 / 4.75, abs=1)
    assert open_.mean() == pytest.approx(1.98 / 4.75, abs=0.06)
    between = through[scene.shape[0] // 2]
    assert between.min() == 1.0
    number = edge[round(first.left) : round(first.left + first.width)]
    assert number.min() < 0.75 * 10.0**-ROLL_DENSITY, "its number is exposed beside it"


def test_each_frame_lies_where_the_film_has_it() -> None:
    """On the proof each frame's picture is the negative that its number names, left to right and strip by strip."""
    scene = Scene(negatives_named("film"), "contact", pixels=900_000)
    through, frames = raster(scene).image, frames_on(scene)
    assert [frame.negative.name for frame in frames] == list(ROLL)
    assert [(frame.top, frame.left) for frame in frames] == sorted((frame.top, frame.left) for frame in frames)
    assert frames[0].left == pytest.approx(scene.shape[1] - frames[-1].left - frames[-1].width)
    assert frames[0].top == pytest.approx(scene.shape[0] - frames[-1].top - frames[-1].height)
    for frame in frames:
        height, width = round(frame.height), round(frame.width)
        top, left = round(frame.top), round(frame.left)
        wanted = 10.0 ** -invented(frame.negative.name).draw(height, width)
        seen = through[top : top + height, left : left + width]
        assert np.abs(seen - wanted)[2:-2, 2:-2].mean() < 0.02
        assert ROLL[int(frame.negative.edge) - 1] == frame.negative.name


# ---- under the enlarger


def bare(**more: object) -> Recipe:
    """Return a recipe that says nothing of how large its picture is."""
    tree = {"format": "treadle/recipe/1", "title": "Sheet", "light": [{"filter": "2", "seconds": 10.0}], "local": []}
    made = read_recipe(json.dumps(tree | more), "recipe")
    assert isinstance(made, Recipe)
    return made


@pytest.mark.parametrize(
    ("size", "magnification"),
    [("8x10 in", 6.6), ("5x7 in", 4.5), ("11x14 in", 9.4), ("24 × 30 cm", 7.9), ("6x18 cm", 1.9)],
)
def test_a_frame_is_as_large_as_its_paper_takes(size: str, magnification: float) -> None:
    """Where nobody says how large, a frame fits its paper with a border of 7 mm, to a tenth of the magnification."""
    scene = scene_for(bare(paper={"name": "one", "size": size}), (invented("oak"),))
    assert scene.enlarger.magnification == pytest.approx(magnification)
    assert scene.open_mm is not None
    wide, high = scene.open_mm
    assert wide / high == pytest.approx(1.5)
    for side, paper in zip(scene.open_mm, scene.paper_mm, strict=True):
        assert side <= paper - 2 * BORDER_MM + 1e-6


def test_a_large_picture_is_cut_by_the_blades_and_a_small_one_stands_in_white() -> None:
    """At 12 the picture fills the easel to its border; at 2 it is 72 × 48 mm in the middle of white paper."""
    model = bare()
    large, small = (scene_for(model, (invented("oak"),), magnification=m) for m in (12.0, 2.0))
    assert large.open_mm == pytest.approx((254.0 - 14.0, 203.2 - 14.0))
    assert small.open_mm == pytest.approx((72.0, 48.0))
    lit = raster(small).image > 0
    assert lit.mean() == pytest.approx(72 * 48 / (254 * 203.2), abs=0.003)


def test_a_sheet_of_film_stands_as_it_did() -> None:
    """A 4×5 negative is at 2 on whatever paper, and the easel is open: as ever where nobody says anything else."""
    model = bare(paper={"name": "one", "size": "5x7 in"})
    scene = scene_for(model, (invented("crane"),))
    assert (scene.enlarger.magnification, scene.open_mm) == (2.0, None)


def test_what_a_recipe_says_goes_before_how_the_enlarger_stands() -> None:
    """A recipe's magnification is meant for its picture; without one, what is told of the enlarger counts."""
    for said, told, got in ((3.0, 6.0, 3.0), (None, 6.0, 6.0)):
        model = bare() if said is None else bare(magnification=said)
        assert scene_for(model, (invented("oak"),), magnification=told).enlarger.magnification == got
    proof_scene = scene_for(
        strip(filter="2", times={"kind": "seconds", "step": 3, "bands": 5}), negatives_named("film"), magnification=4.0
    )
    assert proof_scene.enlarger.magnification == 4.0, "a proof's light is that of the head's height"


# ---- references and small pictures


def test_every_invented_negative_has_one_reference() -> None:
    """A reference names a negative, and that negative gives it back; a set alone is the whole sheet."""
    references = [reference_of(name) for name in INVENTED]
    assert len(set(references)) == len(INVENTED)
    for name, reference in zip(INVENTED, references, strict=True):
        found = lying_on(reference)
        assert found is not None
        assert found[1] == name
    for sheet in CONTACT_SHEETS:
        assert lying_on(sheet.id) == lying_on(f"{sheet.id}:") == (sheet, None)
        assert contact_sheet(sheet.name) is sheet


@pytest.mark.parametrize(
    "reference",
    [
        "",
        ":",
        ":1",
        "other:1",
        "practice-film:0",
        "practice-film:13",
        "practice-film:1A",
        "practice-film:²",
        f"practice-film:{'9' * 5000}",
    ],
)
def test_what_is_no_reference_names_nothing(reference: str) -> None:
    """A reference to a set or a frame that there is none of is refused in a sentence, and no picture is made of it."""
    assert lying_on(reference) is None
    with pytest.raises(NotThere, match="practice-film:3"):
        thumbnail(reference)


def test_a_small_picture_looks_as_the_proof_does() -> None:
    """It is the frame in print densities at the proof's light: a dense negative is light there, a thin one dark."""
    means = {}
    for name in ("birches", "hills", "crane"):
        content = thumbnail(reference_of(name))
        with Image.open(io.BytesIO(content)) as picture:
            assert max(picture.size) == LONGEST
            assert picture.size[0] / picture.size[1] == pytest.approx(1.25 if name == "crane" else 1.5, abs=0.01)
        assert len(content) < 60_000
        means[name] = float(densities_of(content).mean())
    assert means["birches"] < 0.35
    assert means["hills"] > 1.0
    light = second_through(PROOF_FILTER).times(PROOF_SECONDS["film"])
    paper = practice_paper("one")
    sky = invented("hills").tone("sky").density
    blue, green = (np.full((1, 1), of * 10.0**-sky, dtype=np.float32) for of in (light.blue, light.green))
    wanted = float(developed(blue, green, paper)[0][0, 0])
    seen = densities_of(thumbnail(reference_of("hills")))
    assert float(np.median(seen[28:36, 160:180])) == pytest.approx(wanted, abs=0.06)


def test_small_pictures_are_kept_and_few() -> None:
    """Asked for twice, one is drawn once; no more are kept than there are negatives, twice over."""
    thumbnail.cache_clear()
    one = thumbnail("practice-film:1")
    assert thumbnail("practice-film:1") is one
    assert thumbnail.cache_info().hits == 1
    assert thumbnail.cache_info().maxsize == 2 * len(INVENTED)
