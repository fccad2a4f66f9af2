"""Pictures of a paper: faces, lettering, flags on the curve, and what a narrow phone can read."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.fitted_papers import demo

from controller.paper.emulsions import densities, mixture
from controller.paper.graphs import NamedTone, curves_of, reach_of
from controller.paper.paper import Paper
from controller.paper.solver import Answer, OutOfReach, Tone, soft_hard
from controller.paper.tones import tone_words
from webui.pictures import Face, curves_picture, reach_picture
from webui.pictures.drawing import WIDTH, width_of
from webui.pictures.paper_curves import LETTERING

SVG = "{http://www.w3.org/2000/svg}"
CRANE = tuple(
    NamedTone(name=name, negative_density=density)
    for name, density in (
        ("under the cab", 0.22),
        ("wet stones", 0.55),
        ("steel", 0.70),
        ("quay", 0.95),
        ("cloud", 1.25),
        ("sky", 1.45),
    )
)


def curves(paper: Paper, soft: float, hard: float, tones: tuple[NamedTone, ...], face: Face = Face.DAY) -> str:
    return str(curves_picture(curves_of(paper, soft, hard, tones), ident="curves", face=face).svg)


def reached(paper: Paper, light: Tone, dark: Tone, answer: Answer, face: Face = Face.DAY) -> str:
    return str(reach_picture(reach_of(paper, light, dark, answer), ident="reach", face=face).svg)


def _both(face: Face) -> list[str]:
    aim = Tone(1.25, 0.16), Tone(0.22, 1.95)
    far = Tone(1.25, 0.30), Tone(0.22, 1.0)
    return [
        curves(demo(), 10.1, 8.0, CRANE, face),
        curves(demo(), 10.1, 0.0, (), face),
        reached(demo(), *aim, soft_hard(demo(), *aim), face),
        reached(demo(), *far, soft_hard(demo(), *far), face),
    ]


def test_a_light_that_is_not_wanted_is_not_named() -> None:
    """Where one light alone comes nearest, its seconds stand there alone; no light of 0.0 s is spoken of."""
    for light, dark, alone in (
        (Tone(1.25, 0.30), Tone(0.22, 1.0), "soft"),
        (Tone(1.25, 0.04), Tone(0.22, 2.1), "hard"),
    ):
        answer = soft_hard(demo(), light, dark)
        assert isinstance(answer, OutOfReach)
        other = answer.nearest.hard_seconds if alone == "soft" else answer.nearest.soft_seconds
        assert round(other, 1) == 0
        told = ET.fromstring(reached(demo(), light, dark, answer)).attrib["aria-label"]
        assert f" s {alone} alone print " in told
        assert "0.0 s" not in told


def test_a_spot_that_is_called_by_its_letter_is_named_once() -> None:
    """Spots beyond highlight and shadow are A, B …: below the curve stands the letter, and no name that repeats it."""
    tones = tuple(NamedTone(name=name, negative_density=at) for name, at in (("highlight", 1.25), ("A", 0.7)))
    drawn = curves_picture(curves_of(demo(), 10.1, 8.0, tones), ident="curves", letters=("H", "A"))
    told = ET.fromstring(str(drawn.svg)).attrib["aria-label"]
    assert "H highlight: " in told
    assert "A: " in told
    assert "A A" not in told


def _texts(svg: str) -> list[tuple[float, float, float, str]]:
    """Every piece of lettering as left, right, foot and words."""
    found = []
    for text in ET.fromstring(svg).iter(f"{SVG}text"):
        words = text.text or ""
        width = width_of(words, float(text.attrib["font-size"]), bold="font-weight" in text.attrib)
        left = float(text.attrib["x"]) - {"start": 0.0, "middle": width / 2, "end": width}[text.attrib["text-anchor"]]
        found.append((left, left + width, float(text.attrib["y"]), words))
    return found


@pytest.mark.parametrize("face", Face)
def test_pictures_are_good_svg(face: Face) -> None:
    """Each picture is well-formed, named for those who cannot see it, scales by its box, and has no style or script."""
    for svg in _both(face):
        root = ET.fromstring(svg)
        assert root.tag == f"{SVG}svg"
        assert root.attrib["role"] == "img"
        assert root.attrib["viewBox"].startswith(f"0 0 {WIDTH:g} ")
        assert root.attrib["aria-label"]
        assert "style" not in svg
        assert "<script" not in svg
        assert "href" not in svg


def _colours(svg: str) -> set[tuple[int, int, int]]:
    found = set(re.findall(r'(?:fill|stroke)="(#[^"]+)"', svg))
    whole = ("".join(c * 2 for c in each[1:]) if len(each) == 4 else each[1:] for each in found)
    return {(int(each[:2], 16), int(each[2:4], 16), int(each[4:], 16)) for each in whole}


def test_the_dark_face_is_red_alone() -> None:
    """In the dark face every colour has no green, no blue, and red of at most 90; all are plain hex."""
    for svg in _both(Face.DARK):
        assert _colours(svg)
        for red, green, blue in _colours(svg):
            assert (green, blue) == (0, 0)
            assert red <= 90


def test_the_day_face_is_black_on_white() -> None:
    """In the day face lettering is the face's ink, nearly black, and nothing has a colour that one would call one."""
    for svg in _both(Face.DAY):
        assert all(max(colour) - min(colour) <= 5 for colour in _colours(svg))
        assert {text.attrib["fill"] for text in ET.fromstring(svg).iter(f"{SVG}text")} == {Face.DAY.ink}


@pytest.mark.parametrize("face", Face)
def test_lettering_is_readable_at_320(face: Face) -> None:
    """Lettering is 12 pixels on a phone of 320, stays inside the picture, and no two pieces touch."""
    for svg in _both(face):
        root = ET.fromstring(svg)
        assert all(float(text.attrib["font-size"]) >= LETTERING for text in root.iter(f"{SVG}text"))
        assert WIDTH <= 320 - 2 * 16
        height = float(root.attrib["viewBox"].split()[3])
        texts = _texts(svg)
        for left, right, foot, words in texts:
            assert left >= -0.5, words
            assert right <= WIDTH + 0.5, words
            assert LETTERING - 2 <= foot <= height - 2, words
        for one, two in combinations(texts, 2):
            apart = one[1] <= two[0] + 0.5 or two[1] <= one[0] + 0.5 or abs(one[2] - two[2]) >= LETTERING - 1
            assert apart, (one, two)


def test_flags_stand_on_the_curve() -> None:
    """Each tone's dot lies on the drawn curve of both lights where its density says, and its words stand below."""
    svg = curves(demo(), 10.1, 8.0, CRANE)
    root = ET.fromstring(svg)
    dots = [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in root.iter(f"{SVG}circle")]
    assert len(dots) == len(CRANE)
    line = next(
        p for p in root.iter(f"{SVG}polyline") if p.attrib["stroke-width"] == "2" and "stroke-dasharray" not in p.attrib
    )
    points = np.array([pair.split(",") for pair in line.attrib["points"].split()], dtype=float)
    for x, y in dots:
        assert y == pytest.approx(float(np.interp(x, points[:, 0], points[:, 1])), abs=1.0)
    assert [x for x, _ in dots] == sorted((x for x, _ in dots), reverse=True)  # thin parts get most light
    printed = densities(mixture(demo()), 10.1, 8.0, [tone.negative_density for tone in CRANE])
    words = [text for *_, text in _texts(svg)]
    for letter, tone, density in zip("ABCDEF", CRANE, printed, strict=True):
        assert letter in words
        assert any(text.startswith(f"{letter} {tone.name[:8]}") and text.endswith(f"{density:.2f}") for text in words)


def test_soft_and_hard_are_textures() -> None:
    """Soft is dotted and hard dashed, both with their words, so that nothing hangs on colour."""
    root = ET.fromstring(curves(demo(), 10.1, 8.0, CRANE, Face.DARK))
    dashes = {p.attrib.get("stroke-dasharray", "whole") for p in root.iter(f"{SVG}polyline")}
    assert len(dashes) == 3
    words = {text.text for text in root.iter(f"{SVG}text")}
    assert {"soft", "hard", "both"} <= words


def test_a_burn_points_right_and_a_dodge_left() -> None:
    """A burn of a tone is an arrow to the right as long as its stops are wide, a dodge one to the left."""

    def arrows(moved: float) -> list[tuple[float, float]]:
        svg = curves(demo(), 10.1, 8.0, (NamedTone(name="x", negative_density=0.9, moved_stops=moved),))
        plain = curves(demo(), 10.1, 8.0, (NamedTone(name="x", negative_density=0.9),))
        old = {p.attrib["points"] for p in ET.fromstring(plain).iter(f"{SVG}polyline")}
        new = [p.attrib["points"] for p in ET.fromstring(svg).iter(f"{SVG}polyline") if p.attrib["points"] not in old]
        return [
            (float(end.split(",")[0]) - float(start.split(",")[0]))
            for start, end in (line.split()[:2] for line in new[:1])
        ]

    right, left = arrows(1.0)[0], arrows(-1.0)[0]
    assert right > 0 > left
    assert right == pytest.approx(-left)


def test_the_aim_lies_in_its_region() -> None:
    """An aim that can be had is drawn inside the shaded region; one that cannot lies outside, tied to the nearest."""

    def ring(svg: str) -> tuple[float, float]:
        return next(
            (float(c.attrib["cx"]), float(c.attrib["cy"]))
            for c in ET.fromstring(svg).iter(f"{SVG}circle")
            if c.attrib["r"] == "6"
        )

    def inside(svg: str, x: float, y: float) -> bool:
        area = ET.fromstring(svg).find(f"{SVG}polygon").attrib["points"]
        points = [tuple(map(float, pair.split(","))) for pair in area.split()]
        crossings = 0
        for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1], strict=True):
            if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
                crossings += 1
        return crossings % 2 == 1

    had, far = _both(Face.DAY)[2:]
    assert inside(had, *ring(had))
    assert not inside(far, *ring(far))
    answer = soft_hard(demo(), Tone(1.25, 0.30), Tone(0.22, 1.0))
    assert isinstance(answer, OutOfReach)
    assert answer.sentence.split(":")[0] in " ".join(text for *_, text in _texts(far))


@given(
    tones=st.lists(st.tuples(st.text(min_size=1, max_size=40), st.floats(0.0, 2.0)), max_size=14),
    face=st.sampled_from(Face),
)
@settings(max_examples=40, deadline=None)
def test_any_tones_make_good_pictures(tones: list[tuple[str, float]], face: Face) -> None:
    """Whatever a printer calls the tones, and however many there are, the picture is well-formed and in its bounds."""
    named = tuple(NamedTone(name=_clean(name), negative_density=density) for name, density in tones)
    for left, right, _, words in _texts(curves(demo(), 10.1, 8.0, named, face)):
        assert left >= -0.5, words
        assert right <= WIDTH + 0.5, words


def _clean(name: str) -> str:
    """Names that recipes may hold: printable ones."""
    return "".join(c for c in name if c.isprintable()) or "x"


def test_tone_words_run_from_white_to_black() -> None:
    """The words for print densities change from paper white to full black, each once, in order."""
    said = [tone_words(density, 0.05, 2.1) for density in np.linspace(0.05, 2.1, 400)]
    assert list(dict.fromkeys(said)) == [
        "paper white",
        "first tone",
        "skin",
        "middle grey",
        "dark tone",
        "last detail",
        "full black",
    ]
