"""Densities from simulated flatbed scans, with noise, blur, tilt and clumsy corners, read against a grey scale."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageFilter
from tools.hidden_papers import BOX, TABLET, mixed_tones, paper_one

from controller.errors import Impossible, Unreadable
from controller.paper.curve import draw
from controller.paper.emulsions import densities, mixture
from controller.paper.fit import fit
from controller.paper.iso import figures
from controller.paper.readings import Readings
from controller.paper.scan import FULL, Row, calibrate, find_patches, measure, read_scan
from controller.unpack.greys import Fit, read_greys

SCALE = tuple(np.round(np.linspace(0.04, 2.24, 12), 2).tolist())
PATCH = 40
"""Pixels."""


def _encoded(density: np.ndarray, way: str) -> np.ndarray:
    """Levels of a scanner: sRGB (IEC 61966-2-1), a plain power of 1.8, or one with lifted blacks."""
    light = 10.0 ** -np.asarray(density)
    match way:
        case "srgb":
            return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        case "power":
            return light ** (1 / 1.8)
    return 0.04 + 0.93 * light ** (1 / 2.2)


def _scan(way: str = "srgb", *, tilt: float = 0.0, noise: float = 1.0, mode: str = "L", light=(80.0, 0.0)) -> bytes:
    """A scan of the demo paper's tablet print, in a row, and below it the grey scale; both on light grey."""
    printed = paper_one().densities(*light, TABLET)
    page = np.full((260, 60 + PATCH * 21 + 60), _encoded(np.array(0.15), way))
    for row, values in ((40, printed), (150, np.array(SCALE))):
        for n, density in enumerate(values):
            page[row : row + 60, 60 + n * PATCH : 60 + (n + 1) * PATCH] = _encoded(density, way)
    if mode == "I;16":
        rng = np.random.default_rng(71)
        deep = np.clip(page * 65535.0 + rng.normal(0.0, noise * 200, page.shape), 0, 65535).astype(np.uint16)
        picture = Image.fromarray(deep)
    else:
        rng = np.random.default_rng(71)
        grey = np.clip(page * 255.0 + rng.normal(0.0, noise, page.shape), 0, 255).round().astype(np.uint8)
        picture = Image.fromarray(grey).filter(ImageFilter.GaussianBlur(1.0))
        picture = picture.rotate(tilt, resample=Image.Resampling.BILINEAR, fillcolor=200).convert(mode)
    file = io.BytesIO()
    picture.save(file, "PNG")
    return file.getvalue()


PRINT = Row(first_x=60, first_y=40, last_x=60 + 21 * PATCH, last_y=100, patches=21)
WEDGE = Row(first_x=60, first_y=150, last_x=60 + 12 * PATCH, last_y=210, patches=12)


def opened(content):
    return read_greys(io.BytesIO(content), "scan.png", Fit(9_000_000, 20_000)).whole()


def _read(content: bytes, prints: Row = PRINT, wedge: Row = WEDGE, light=(80.0, 0.0), left_out=()):
    return read_scan(
        opened(content),
        wedge,
        SCALE,
        prints,
        [None if step in left_out else density for step, density in enumerate(TABLET.tolist(), 1)],
        soft_seconds=light[0],
        hard_seconds=light[1],
        name="scan.png",
    )


def _off(content: bytes, **rows) -> float:
    found = _read(content, **rows)
    assert not found.faults, found.faults
    true = paper_one().densities(80.0, 0.0, TABLET)
    return max(abs(step.print_density - true[step.step - 1]) for step in found.exposure.readings)


@pytest.mark.parametrize("way", ["srgb", "power", "lifted"])
def test_any_scanner_is_read(way: str) -> None:
    """Whatever a scanner makes of light, 21 steps are read within 0.04 of their density, all of them."""
    assert len(_read(_scan(way)).exposure.readings) == 21
    assert _off(_scan(way)) < 0.04


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "I;16"])
def test_other_kinds_of_picture(mode: str) -> None:
    """Colour and 16-bit scans are read as well as 8-bit grey ones."""
    assert _off(_scan(mode=mode)) < 0.04


@pytest.mark.parametrize(("dx", "dy"), [(9, 5), (-21, -6), (22, -8), (-7, 10), (24, 0), (-24, 4)])
def test_clumsy_corners(dx: int, dy: int) -> None:
    """Corners clicked up to 0.6 of a patch off, on a print that lies askew, are moved to where the patches are."""
    prints = Row(first_x=60 + dx, first_y=40 + dy, last_x=60 + 21 * PATCH - dx // 2, last_y=100 + dy, patches=21)
    wedge = Row(first_x=60 - dx, first_y=150, last_x=60 + 12 * PATCH + dx, last_y=210, patches=12)
    assert _off(_scan(tilt=0.3), prints=prints, wedge=wedge) < 0.05


def test_clicked_the_other_way() -> None:
    """A row clicked from its far corner is numbered from there: the first patch is the first clicked."""
    levels = opened(_scan()) / FULL
    way = find_patches(levels, PRINT, "scan.png")
    back = PRINT.model_copy(
        update={"first_x": PRINT.last_x, "first_y": PRINT.last_y, "last_x": PRINT.first_x, "last_y": PRINT.first_y}
    )
    turned = find_patches(levels, back, "scan.png")
    ours, theirs = measure(levels, way.values()), measure(levels, turned.values())
    assert [patch.level for patch in ours] == pytest.approx([patch.level for patch in theirs][::-1], abs=0.01)


@pytest.mark.parametrize(("reflected", "density"), [(0.18, 0.745), (0.02, 1.699), (0.90, 0.046)])
def test_reflection_densities(reflected: float, density: float) -> None:
    """A patch that reflects 18 %, 2 % or 90 % is read as 0.745, 1.699, 0.046: D = −log10 ρ (ISO 5-4; derived)."""
    page = np.full((120, 600), 0.6)
    for n, known in enumerate(SCALE):
        page[10:50, 10 + n * PATCH : 10 + (n + 1) * PATCH] = _encoded(np.array(known), "srgb")
    for n, part in enumerate((reflected, reflected)):
        page[70:110, 10 + n * PATCH : 10 + (n + 1) * PATCH] = _encoded(np.array(-np.log10(part)), "srgb")
    wedge = Row(first_x=10, first_y=10, last_x=10 + 12 * PATCH, last_y=50, patches=12)
    prints = Row(first_x=10, first_y=70, last_x=10 + 2 * PATCH, last_y=110, patches=2)
    found = read_scan(page, wedge, SCALE, prints, [0.0, 0.1], soft_seconds=1.0, hard_seconds=0.0, name="scan.png")
    assert [step.print_density for step in found.exposure.readings] == pytest.approx([density] * 2, abs=0.005)


def test_a_standing_row() -> None:
    """A row that stands upright in the scan is found along its longer side."""
    with Image.open(io.BytesIO(_scan())) as picture:
        file = io.BytesIO()
        picture.transpose(Image.Transpose.TRANSPOSE).save(file, "PNG")
    prints, wedge = (
        Row(first_x=r.first_y, first_y=r.first_x, last_x=r.last_y, last_y=r.last_x, patches=r.patches)
        for r in (PRINT, WEDGE)
    )
    assert _off(file.getvalue(), prints=prints, wedge=wedge) < 0.04


def _labelled(content: bytes, *steps: int) -> bytes:
    """The scan with a written label over the patches of these steps."""
    with Image.open(io.BytesIO(content)) as picture:
        for step in steps:
            left = 60 + (step - 1) * PATCH
            picture.paste(250, (left + 3, 38, left + PATCH - 3, 102))
            for line in range(left + 6, left + PATCH - 6, 7):
                picture.paste(10, (line, 44, line + 3, 96))
        file = io.BytesIO()
        picture.save(file, "PNG")
    return file.getvalue()


@pytest.mark.parametrize("left_out", [{1}, {8}, {21}, {1, 8, 9, 21}])
@pytest.mark.parametrize("row", ["corners", "clumsy"])
def test_a_step_left_out_is_passed_over(left_out: set[int], row: str) -> None:
    """With a label over them, steps left out have no reading; the others keep their numbers and their densities."""
    prints = {
        "corners": PRINT,
        "clumsy": PRINT.model_copy(update={"first_x": 60 - 16, "last_x": 60 + 21 * PATCH + 14}),
    }[row]
    found = _read(_labelled(_scan(), *left_out), prints=prints, left_out=left_out)
    assert not found.faults
    true = paper_one().densities(80.0, 0.0, TABLET)
    assert [each.step for each in found.exposure.readings] == [n for n in range(1, 22) if n not in left_out]
    for each in found.exposure.readings:
        assert each.tablet_density == TABLET[each.step - 1]
        assert each.print_density == pytest.approx(true[each.step - 1], abs=0.05)


@pytest.mark.parametrize(("light", "true"), [((80.0, 0.0), 140.6), ((0.0, 60.0), 61.1)])
def test_the_range_hardly_moves_for_a_step_left_out(light: tuple[float, float], true: float) -> None:
    """With a step out at the beginning, in the middle or at the end, ISO R is within 2 of the paper's (derived)."""
    for step in (1, 12, 21):
        exposure = _read(_labelled(_scan(light=light), step), light=light, left_out={step}).exposure
        found = figures(draw(exposure))
        assert found is not None
        assert found.range_exact == pytest.approx(true, abs=2.0)


def test_a_label_read_as_a_step_spoils_its_reading() -> None:
    """The same label, its step not left out, gives a wrong reading or a fault: leaving out is what helps."""
    content = _labelled(_scan(), 8)
    true = paper_one().densities(80.0, 0.0, TABLET)
    found = _read(content)
    read = {each.step: each.print_density for each in found.exposure.readings}
    assert abs(read.get(8, 9.9) - true[7]) > 0.2
    assert any("Step 8 " in fault for fault in found.faults)


def test_every_step_left_out_is_refused() -> None:
    """Fewer than two steps left in are no print, whatever lies in the scan; a row's count is held to the tablet's."""
    for left_out in (set(range(1, 22)), set(range(2, 22))):
        with pytest.raises(Impossible, match="no two steps"):
            _read(_scan(), left_out=left_out)
    with pytest.raises(Impossible, match="20 patches were found and 21"):
        _read(_scan(), prints=PRINT.model_copy(update={"patches": 20}), left_out={21})


def test_a_paper_by_scan() -> None:
    """A paper fitted to two scans predicts mixes as well as the noise of a densitometer would let it."""
    strips = tuple(_read(_scan(light=light), light=light).exposure for light in ((80.0, 0.0), (0.0, 60.0)))
    assert all(strip.how == "scan" for strip in strips)
    mix = mixture(fit(Readings(paper="scanned", exposures=strips), BOX))
    off = [densities(mix, s, h, tones) - true for s, h, tones, true in mixed_tones(paper_one())]
    assert float(np.sqrt(np.mean(np.concatenate(off) ** 2))) < 0.02


def test_past_the_scale_nothing_is_told() -> None:
    """Steps blacker than the scale's last patch are named and left out, never guessed."""
    short = WEDGE.model_copy(update={"last_x": 60 + 9 * PATCH, "patches": 9})
    levels = opened(_scan()) / FULL
    found = read_scan(
        levels, short, SCALE[:9], PRINT, TABLET.tolist(), soft_seconds=80.0, hard_seconds=0.0, name="scan.png"
    )
    true = paper_one().densities(80.0, 0.0, TABLET)
    dark = {n for n, density in enumerate(true, 1) if density > SCALE[8] + 0.1}
    assert dark
    assert not dark & {step.step for step in found.exposure.readings}
    (fault,) = found.faults
    assert fault.startswith("Steps 1, 2, ")
    assert "darker than the grey scale" in fault
    named = {int(step) for step in fault.removeprefix("Steps ").partition(" are ")[0].split(", ")}
    assert named == set(range(1, 22)) - {each.step for each in found.exposure.readings}


def test_a_hair_spoils_no_reading_and_a_scratched_patch_is_named() -> None:
    """A thin bright hair through a patch is no fault and moves no density; a patch scratched all over is told of."""
    with Image.open(io.BytesIO(_scan())) as picture:
        picture.paste(255, (60 + 4 * PATCH + 15, 40, 60 + 4 * PATCH + 24, 100))
        file = io.BytesIO()
        picture.save(file, "PNG")
    assert _off(file.getvalue()) < 0.04
    assert [fault[:18] for fault in _read(_labelled(_scan(), 5)).faults] == ["Step 5 is not even"]


def test_scans_that_tell_nothing_are_refused() -> None:
    """A clipped or turned scale, rows outside and wrong counts are refused with a remedy."""
    levels = opened(_scan()) / FULL
    with pytest.raises(Unreadable, match="a corner lies outside"):
        find_patches(levels, PRINT.model_copy(update={"last_x": 5000}), "scan.png")
    with pytest.raises(Unreadable, match="too small for 21 patches"):
        find_patches(levels, PRINT.model_copy(update={"last_x": 160}), "scan.png")
    with pytest.raises(Impossible, match="21 patches were found and 12"):
        read_scan(levels, PRINT, SCALE, PRINT, TABLET.tolist(), soft_seconds=8.0, hard_seconds=0.0, name="scan.png")
    turned = WEDGE.model_copy(update={"first_x": WEDGE.last_x, "last_x": WEDGE.first_x})
    with pytest.raises(Impossible, match="first at its lightest patch"):
        calibrate(measure(levels, find_patches(levels, turned, "s").values()), SCALE, "scan.png")
    white = np.clip(levels * 1.6, 0.0, 1.0)
    with pytest.raises(Impossible, match="both pure white"):
        calibrate(measure(white, find_patches(white, WEDGE, "s").values()), SCALE, "scan.png")
    black = np.clip(levels - 0.4, 0.0, 1.0)
    with pytest.raises(Impossible, match="both pure black"):
        calibrate(measure(black, find_patches(black, WEDGE, "s").values()), SCALE, "scan.png")
