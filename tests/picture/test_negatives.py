"""The negatives: the invented ones and their tones, and pictures of the user's own."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tools.picture_darkroom import printed, recipe, steady, worked

from controller.commands.replay_picture import read_negatives, read_practice_paper
from controller.errors import NotThere, Unreadable
from controller.picture.develop import develop_sheet
from controller.picture.invented import invented, write_all
from controller.picture.negatives import INVENTED
from controller.picture.own import FIT, LONGEST_SIDE, kept_picture, own_negative
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Scene, scene_for
from controller.unpack.greys import read_greys
from controller.unpack.srgb import light_of

HARBOUR_CRANE = {"under_cab": 0.22, "stones": 0.55, "steel": 0.7, "quay": 0.95, "cloud": 1.25, "sky": 1.45}
"""Source: the project's demo negative (invented); its rebate is 0.08."""


@pytest.mark.parametrize("name", INVENTED)
@pytest.mark.parametrize("size", [(447, 559), (96, 120)])
def test_each_tone_is_where_it_is_said_to_be(name: str, size: tuple[int, int]) -> None:
    """At every size a named tone has its density at its place, and all along its reach."""
    negative = invented(name)
    height, width = size
    drawn = negative.draw(height, width)
    for tone in negative.tones:
        row = drawn[int(tone.y * height)]
        assert row[int(tone.x * width)] == pytest.approx(tone.density, abs=0.005), tone.name
        inside = min(0.02, (tone.right - tone.left) / 4)
        reach = row[int((tone.left + inside) * width) : int((tone.right - inside) * width)]
        assert np.abs(reach - tone.density).max() < 0.01, tone.name
        assert tone.words


def test_the_crane_has_its_densities() -> None:
    """The harbour crane's tones and its rebate are those of the demo negative, in 4×5 proportions."""
    crane = invented("crane")
    assert {tone.name: tone.density for tone in crane.tones} == HARBOUR_CRANE
    assert crane.rebate_density == 0.08
    assert crane.frame_mm[0] / crane.frame_mm[1] == pytest.approx(5 / 4)
    assert [area.letter for area in crane.areas] == ["A", "B", "C"]


def test_a_negative_is_the_same_every_time_and_at_every_size() -> None:
    """Drawn twice it is the same, pixel by pixel; drawn small it is what the large one is from further away."""
    for name in INVENTED:
        negative = invented(name)
        assert np.array_equal(negative.draw(96, 120), invented(name).draw(96, 120))
        large = negative.draw(384, 480).reshape(96, 4, 120, 4).mean(axis=(1, 3))
        assert np.abs(large - negative.draw(96, 120)).mean() < 0.05


def test_the_script_writes_them(tmp_path: Path) -> None:
    """The script writes each as a 16-bit picture of its densities, 65535 for 3.0."""
    write_all(tmp_path, 96, 120)
    for name in INVENTED:
        with Image.open(tmp_path / f"{name}.png") as picture:
            levels = np.asarray(picture, dtype=np.float64)
        assert levels / 65535 * 3.0 == pytest.approx(invented(name).draw(96, 120), abs=1e-4)


def test_unknown_names_are_refused() -> None:
    """An unknown negative or paper is refused in a sentence that names those there are."""
    with pytest.raises(NotThere, match=r"“ship”.*crane, slip, platform, fence, proof"):
        read_negatives("ship")
    with pytest.raises(NotThere, match=r"“three”.*one or two"):
        read_practice_paper("three")


def _picture(kind: str, mode: str) -> bytes:
    ramp = np.tile(np.linspace(0.0, 1.0, 300), (200, 1))
    if mode == "16":
        made = Image.fromarray(np.round(ramp * 65535).astype(np.uint16))
    else:
        made = Image.fromarray(np.round(ramp * 255).astype(np.uint8)).convert(mode)
    out = io.BytesIO()
    made.save(out, kind)
    return out.getvalue()


@pytest.mark.parametrize(
    ("kind", "mode"), [("PNG", "L"), ("PNG", "16"), ("JPEG", "L"), ("JPEG", "RGB"), ("TIFF", "L"), ("TIFF", "16")]
)
def test_an_own_picture_becomes_a_negative(kind: str, mode: str) -> None:
    """Light parts become dense and dark ones thin, over the chosen range, with the logarithm of the light between."""
    negative = own_negative(_picture(kind, mode), "mine", thin=0.25, dense=1.25)
    drawn = negative.draw(200, 300)
    assert drawn.min() == pytest.approx(0.25, abs=0.01)
    assert drawn.max() == pytest.approx(1.25, abs=0.01)
    line = drawn[100]
    assert (np.diff(line) > -0.02).all()
    at = np.array([90, 150, 210])
    logs = np.log10(np.maximum(light_of(at / 299), 0.004))
    wanted = 0.25 + (logs - np.log10(0.004)) / -np.log10(0.004)
    assert line[at] == pytest.approx(wanted, abs=0.02)
    assert negative.frame_mm == pytest.approx((120.0, 80.0))


def test_an_upright_picture_lies_upright() -> None:
    """An upright picture is printed on upright paper, and a strip's bands follow each other down it."""
    out = io.BytesIO()
    Image.fromarray(np.tile(np.linspace(0, 255, 90), (160, 1)).astype(np.uint8)).save(out, "PNG")
    negative = own_negative(out.getvalue(), "up")
    model = recipe(("2", 12.0))
    scene = scene_for(model, (negative,), pixels=30_000)
    assert scene.upright
    made = develop_sheet(worked(model, steady(model)).records[0], (), scene, practice_paper("one"))
    assert made.dry.shape[0] > made.dry.shape[1]
    middle = made.dry[made.dry.shape[0] // 2]
    assert middle[len(middle) // 4] > middle[3 * len(middle) // 4] + 0.3


CUT_HEAD = b"\x89PNG\r\n\x1a\n" + bytes(4) + b"IHDR" + bytes(30)


@pytest.mark.parametrize("content", [b"", b"no picture", b"\x89PNG\r\n\x1a\nbroken", CUT_HEAD])
def test_what_is_no_picture_is_refused(content: bytes) -> None:
    """What cannot be read as PNG, JPEG or TIFF is refused by its name."""
    with pytest.raises(Unreadable, match=r"mine\.bin is no picture"):
        own_negative(content, "mine.bin")


def test_too_small_too_large_and_no_range_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture too small or too large, and a range that is none, are refused in a sentence."""
    out = io.BytesIO()
    Image.new("L", (4, 40)).save(out, "PNG")
    with pytest.raises(Unreadable, match="too small"):
        own_negative(out.getvalue(), "tiny")
    with pytest.raises(Unreadable, match=r"from density 1.40 to 0.20"):
        own_negative(_picture("PNG", "L"), "mine", thin=1.4, dense=0.2)
    monkeypatch.setattr("controller.unpack.greys.MOST_PIXELS", 1000)
    with pytest.raises(Unreadable, match="more than 0 million"):
        own_negative(_picture("PNG", "L"), "mine")


def test_an_area_without_a_map_has_a_place() -> None:
    """On a picture without a printing map each letter has its own place, which a burn darkens."""
    content = _picture("PNG", "L")
    negative = own_negative(content, "mine")
    local = {"act": "burn", "filter": "2", "stops": "1"}
    sheets = []
    for area in ("A", "B"):
        model = recipe(("2", 12.0), local=({**local, "area": area},))
        scene = Scene((negative,), pixels=30_000)
        sheets.append(develop_sheet(worked(model).records[0], (), scene, practice_paper("one")).dry)
    more = sheets[0] - sheets[1]
    height, width = more.shape
    assert more[int(height * 0.3), int(width * 0.7)] >= -1e-6
    assert more[: height // 2].max() > 0.1
    assert more[height // 2 :].min() < -0.1


def test_a_calibrated_paper_prints_as_it_was_read(tmp_path: Path) -> None:
    """A paper fitted to the demo paper's readings prints every tone as the demo paper does, within 0.03."""
    from tools.hidden_papers import BOX, paper_one, readings

    from controller.paper.fit import fit
    from controller.paper.paper import write_paper

    path = tmp_path / "mine.paper.json"
    path.write_text(write_paper(fit(readings(paper_one()), BOX)), encoding="utf-8")
    mine = read_practice_paper(str(path))
    model = recipe(("soft", 10.1), ("hard", 8.0))
    record = worked(model).records[0]
    scene = scene_for(model, read_negatives("crane"), pixels=150_000)
    one, two = (develop_sheet(record, (), scene, paper) for paper in (practice_paper("one"), mine))
    for tone in HARBOUR_CRANE:
        assert two.density(tone) == pytest.approx(one.density(tone), abs=0.03)
    assert printed(model).density("cloud") == pytest.approx(one.density("cloud"))


def _kept(content: bytes) -> bytes:
    greys = read_greys(io.BytesIO(content), "mine", FIT)
    return kept_picture(greys.whole(), deep=greys.deep, turned=greys.turned)


@pytest.mark.parametrize("sixteen", [False, True], ids=["8 bits", "16 bits"])
def test_what_is_kept_of_a_large_picture_is_small_and_prints_the_same(sixteen: bool) -> None:
    """A large picture is kept as a small grey one of its depth, and is the same negative; a small one is itself."""
    ramp = np.linspace(0.0, 1.0, 5000)[None, :] * np.ones((3000, 1))
    made = Image.fromarray(
        np.round(ramp * 65535).astype(np.uint16) if sixteen else np.round(ramp * 255).astype(np.uint8)
    )
    out = io.BytesIO()
    made.save(out, "PNG")
    small = _kept(out.getvalue())
    with Image.open(io.BytesIO(small)) as kept:
        assert max(kept.size) <= LONGEST_SIDE
        assert (kept.mode in {"I;16", "I"}) is sixteen
        assert kept.width / kept.height == pytest.approx(5 / 3, abs=0.01)
    one, other = (own_negative(content, "same").draw(100, 200) for content in (out.getvalue(), small))
    assert one == pytest.approx(other, abs=0.005)
    assert _kept(small) == small
