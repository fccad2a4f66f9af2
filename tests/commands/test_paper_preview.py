"""`treadle paper preview`: its keys, its picture in true print densities, its grid, and what it refuses."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tools.densities import densities_of
from tools.preview_scans import file_of, fitted_one, invented, light_through, ties_of

from controller.commands.paper import add_arguments, answer
from controller.errors import ControllerError
from controller.paper.emulsions import densities, mixture
from controller.paper.paper import write_paper

PAIR = (12.0, 4.4)


@pytest.fixture
def paper(tmp_path: Path) -> Path:
    """Paper one, kept."""
    file = tmp_path / "paper.json"
    file.write_text(write_paper(fitted_one()), encoding="utf-8")
    return file


@pytest.fixture
def scan(tmp_path: Path) -> Path:
    """The crane as a scanner gives it: 16 bits, linear."""
    file = tmp_path / "crane.tif"
    file.write_bytes(file_of(light_through("crane"), "TIFF 16"))
    return file


def _ties() -> list[str]:
    return [word for tie in ties_of("crane") for word in ("--tie", f"{tie.x},{tie.y}={tie.density}")]


def _ask(*words: object) -> dict[str, Any]:
    import argparse

    parser = argparse.ArgumentParser(prog="treadle")
    add_arguments(parser.add_subparsers(dest="command", required=True))
    told = answer(parser.parse_args([str(word) for word in ("paper", "preview", *words)]))
    assert all(isinstance(line, str) and line for line in told.lines())
    found: dict[str, Any] = json.loads(told.model_dump_json())
    return found


def test_the_print_from_edge_to_edge(paper: Path, scan: Path, tmp_path: Path) -> None:
    """Each pixel of the picture is the density that the fitted paper gives there; the figures are the picture's."""
    out = tmp_path / "out.png"
    found = _ask(paper, scan, *_ties(), "--soft", PAIR[0], "--hard", PAIR[1], "--picture", out)
    mix = mixture(fitted_one())
    wanted = densities(mix, *PAIR, invented("crane").draw(480, 600))
    shown = densities_of(out.read_bytes())
    assert shown.shape == wanted.shape
    assert np.abs(shown - wanted).max() < 0.035  # 8 bits of black
    assert np.abs(shown - wanted).mean() < 0.005
    assert found["mean_density"] == pytest.approx(float(wanted.mean()), abs=0.002)
    assert found["paper_white_share"] == pytest.approx(float((wanted < mix.dmin + 0.04).mean()), abs=0.002)
    assert found["black_share"] == pytest.approx(float((wanted >= mix.dmin + 0.96 * mix.net).mean()), abs=0.002)
    assert 0.0 < found["doubt"] < 0.1
    assert found["polarity"] == "negative"
    with Image.open(out) as picture:
        assert (picture.mode, picture.info.get("srgb")) == ("L", 0)


def test_the_published_tones_of_the_design(paper: Path, scan: Path, tmp_path: Path) -> None:
    """12.0 + 4.4 on paper one puts 1.334 and 0.157 of the negative on 0.13 and 1.93 (design, worked example)."""
    film = np.repeat(np.array([[1.334, 0.157]]), 40, axis=1).repeat(60, axis=0)
    scan.write_bytes(file_of(10.0**-film, "PNG 16"))
    ties = ("--tie", "0.25,0.5=1.334", "--tie", "0.75,0.5=0.157")
    out = tmp_path / "out.png"
    _ask(paper, scan, *ties, "--soft", "12.0", "--hard", "4.4", "--picture", out)
    shown = densities_of(out.read_bytes())
    assert shown[30, 20] == pytest.approx(0.13, abs=0.012)
    assert shown[30, 60] == pytest.approx(1.93, abs=0.05)


def test_a_grid_is_five_by_five(paper: Path, scan: Path, tmp_path: Path) -> None:
    """Rows are soft and columns hard, each a third of a stop more than the one before; the pair is in the middle."""
    scan.write_bytes(file_of(light_through("crane", 96, 120), "PNG 16"))
    whole, one = tmp_path / "grid.png", tmp_path / "one.png"
    found = _ask(paper, scan, *_ties(), "--soft", "12.0", "--hard", "4.4", "--picture", whole, "--grid", "1/3")
    grid = densities_of(whole.read_bytes())
    assert grid.shape == (5 * 96, 5 * 120)
    same = _ask(paper, scan, *_ties(), "--soft", "12.0", "--hard", "4.4", "--picture", one)
    assert {name: found[name] for name in ("mean_density", "black_share")} == {
        name: same[name] for name in ("mean_density", "black_share")
    }
    for row, soft in enumerate((7.6, 9.5, 12.0, 15.1, 19.0)):
        for column, hard in enumerate((2.8, 3.5, 4.4, 5.5, 7.0)):
            _ask(paper, scan, *_ties(), "--soft", soft, "--hard", hard, "--picture", one)
            tile = grid[row * 96 : (row + 1) * 96, column * 120 : (column + 1) * 120]
            assert np.array_equal(tile, densities_of(one.read_bytes())), (soft, hard)
            if row in (1, 3):  # a few are enough
                break


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--tie", "0.5,0.5=1.25"), "two tones"),
        (("--tie", "0.5=1.25", "--tie", "0.1,0.1=0.2"), "a place and a density"),
        (("--tie", "0.5,0.5=nan", "--tie", "0.1,0.1=0.2"), "a place and a density"),
        (("--tie", "0.5,0.5=1.25", "--tie", "0.5,0.5=0.2"), "one point"),
        (("--tie", "0.5,0.5=1.25", "--tie", "1.5,0.5=0.2"), "beside the picture"),
        (("--tie", "0.5,0.22=1.25", "--tie", "0.52,0.635=1.25"), "nearly one density"),
        ((*_ties(), "--soft", "-1"), "--soft"),
        ((*_ties(), "--soft", "0", "--hard", "0"), "any seconds"),
        ((*_ties(), "--grid", "three"), "--grid"),
        ((*_ties(), "--grid", "4"), "--grid"),
    ],
)
def test_what_cannot_be_shown_is_refused(
    words: tuple[str, ...], told: str, paper: Path, scan: Path, tmp_path: Path
) -> None:
    """A sentence names what is wrong, and no picture is written."""
    out = tmp_path / "out.png"
    pair = () if "--soft" in words else ("--soft", "12.0", "--hard", "4.4")
    with pytest.raises(ControllerError, match=told):
        _ask(paper, scan, *words, *pair, "--picture", out)
    assert not out.exists()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"no picture at all", "no picture"),
        (b"", "no picture"),
        (file_of(np.full((4, 300), 0.5), "PNG 16"), "too small"),
    ],
)
def test_a_scan_that_is_none_is_refused(content: bytes, told: str, paper: Path, scan: Path, tmp_path: Path) -> None:
    """A file of another kind, an empty one, one that is too small: a sentence with its name."""
    scan.write_bytes(content)
    with pytest.raises(ControllerError, match=told) as refused:
        _ask(paper, scan, *_ties(), "--soft", "12.0", "--hard", "4.4", "--picture", tmp_path / "out.png")
    assert scan.name in str(refused.value)


def test_a_large_picture_is_refused_and_a_fine_one_made_smaller(paper: Path, scan: Path, tmp_path: Path) -> None:
    """More than 60 million pixels are refused; what is finer than 1600 pixels along a side is made smaller."""
    out = io.BytesIO()
    Image.new("1", (10_000, 6_100)).save(out, "PNG")
    scan.write_bytes(out.getvalue())
    ask = (paper, scan, *_ties(), "--soft", "12.0", "--hard", "4.4", "--picture", tmp_path / "out.png")
    with pytest.raises(ControllerError, match="million pixels"):
        _ask(*ask)
    scan.write_bytes(file_of(light_through("crane", 1600, 2000), "PNG 16"))
    assert _ask(*ask)["width"] == 1000
