"""A scan and two known tones are a map of densities, whatever the scan's kind and whichever way round it is."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.preview_scans import HEIGHT, WAYS, WIDTH, file_of, invented, light_through, ties_of

from controller.errors import Impossible
from controller.preview.easel_map import EaselMap, tied
from controller.preview.orders import Tie
from controller.unpack.greys import Fit, read_greys

AS_IT_IS = Fit(10**9, 10**6)
NEAR = {"16": 0.001, "8": 0.012}
"""Density: the half of a level, in the mean over a negative's tones; twice that where a JPEG packs it."""


def _map(content: bytes, ties: tuple[Tie, ...]) -> EaselMap:
    greys = read_greys(io.BytesIO(content), "scan", AS_IT_IS)
    return tied(greys.whole(), greys.coding, ties)


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_scanning_gives_the_negative_s_own_densities(way: str) -> None:
    """Linear or sRGB, 16 bits or 8, negative or turned round: the map is the film's, and the polarity is told."""
    found = _map(file_of(light_through("crane"), way), ties_of("crane"))
    off = np.abs(found.densities - invented("crane").draw(HEIGHT, WIDTH))
    kind, bits, *turned = way.split()
    assert off.mean() < NEAR[bits] * (2.0 if kind == "JPEG" else 1.0), way
    assert found.polarity == ("positive" if turned else "negative")
    assert found.factor == pytest.approx(1.0, abs=0.03)
    assert found.plain


@given(
    scans=st.one_of(
        st.tuples(st.just(False), st.floats(0.7, 1.6)),
        st.tuples(st.just(True), st.floats(0.9, 1.2)),  # farther off, another way of turning may be as near
    ),
    step=st.floats(0.0, 0.5),
    bits=st.sampled_from(["16", "8"]),
)
def test_a_factor_and_a_step_come_out_again(scans: tuple[bool, float], step: float, bits: str) -> None:
    """A condenser's contrast, and light that is weaker everywhere, are in the two tones: the map has them."""
    turned, factor = scans
    film = np.linspace(0.10, 1.40, 200).repeat(8).reshape(200, 8).T
    at = [(10.5 / 200, 0.5), (180.5 / 200, 0.5)]
    ties = [Tie(x=x, y=y, density=float(factor * film[0, int(x * 200)] + step)) for x, y in at]
    found = _map(file_of(10.0**-film, f"PNG {bits}{' turned' if turned else ''}"), tuple(ties))
    assert found.polarity == ("positive" if turned else "negative")
    assert np.abs(found.densities - (factor * film + step)).max() < (0.05 if bits == "8" else 0.002)


def test_a_small_map_is_the_mean_of_the_large_one() -> None:
    """A map made smaller keeps its shape and its mean; one that is small enough stays as it is."""
    found = _map(file_of(light_through("crane"), "PNG 16"), ties_of("crane"))
    small = found.small(120)
    assert small.shape == (96, 120)
    assert small.mean() == pytest.approx(found.densities.mean(), abs=0.001)
    assert found.small(600) is found.densities


def _tie(x: float, y: float, density: float) -> Tie:
    return Tie(x=x, y=y, density=density)


LIGHT, DARK = (_tie(0.5, 0.22, 1.25), _tie(0.52, 0.635, 0.22))


@pytest.mark.parametrize(
    ("ties", "words"),
    [
        ((LIGHT,), "two"),
        ((LIGHT, DARK, LIGHT), "two"),
        ((LIGHT, _tie(1.01, 0.5, 0.22)), "beside the picture"),
        ((LIGHT, _tie(0.5, -0.1, 0.22)), "beside the picture"),
        ((LIGHT, LIGHT), "one point"),
        ((LIGHT, _tie(0.505, 0.22, 0.22)), "one point"),
        ((LIGHT, _tie(0.52, 0.635, 1.20)), "nearly one density"),
        ((LIGHT, _tie(0.6, 0.22, 0.22)), "nothing can be told"),
        ((_tie(0.5, 0.08, 3.0), _tie(0.5, 0.22, 0.1)), "no scan has"),
    ],
)
def test_tones_that_cannot_tie_are_refused(ties: tuple[Tie, ...], words: str) -> None:
    """One tone or three, beside the picture, on one point, of one density, alike on the scan, absurd: a sentence."""
    with pytest.raises(Impossible, match=words):
        _map(file_of(light_through("crane"), "PNG 16"), ties)


@pytest.mark.parametrize(
    ("kind", "info", "coding"),
    [
        ("PNG", {}, "linear"),
        ("TIFF", {}, "linear"),
        ("PNG", {"icc_profile": b"anything"}, "srgb"),
        ("TIFF", {"icc_profile": b"anything"}, "srgb"),
    ],
)
def test_a_profile_makes_sixteen_bits_srgb(kind: str, info: dict[str, Any], coding: str) -> None:
    """16 bits are light itself, unless a profile says that they are not."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(np.full((20, 30), 3000, np.uint16)).save(out, kind, **info)
    assert read_greys(io.BytesIO(out.getvalue()), "scan", AS_IT_IS).coding == coding
