"""A preview on a paper that fails in long light: its light is worth less before any negative or hand takes of it."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from tools.densities import densities_of
from tools.fitted_papers import demo

from controller.paper.emulsions import densities, mixture
from controller.paper.paper import Reciprocity
from controller.preview.easel_map import EaselMap
from controller.preview.lights import of_pair
from controller.preview.orders import Order, Tie
from controller.preview.prints import render

TONES = np.array([[0.3, 0.7, 1.1, 1.4]], dtype=np.float32)
TIES = (Tie(x=0.1, y=0.5, density=0.3), Tie(x=0.9, y=0.5, density=1.4))


@pytest.mark.parametrize("p", [1.0, 0.92])
def test_every_tone_prints_as_the_paper_says(p: float) -> None:
    """Forty and thirty seconds, through four tones of a negative: as the solver's own curve has them."""
    paper = demo().model_copy(update={"reciprocity": Reciprocity(exponent=p, date=date(2026, 11, 30))})
    order = Order(paper=paper, ties=TIES, prints=(of_pair(40.0, 30.0),))
    negative = EaselMap(np.repeat(np.repeat(TONES, 8, axis=0), 8, axis=1), "negative", 1.0)
    picture, _ = render(order, negative)
    seen = densities_of(picture)[4, 4::8]
    assert seen == pytest.approx(densities(mixture(paper), 40.0, 30.0, TONES[0]), abs=0.02)
    plain, _ = render(order.model_copy(update={"paper": demo()}), negative)
    assert (np.abs(densities_of(plain)[4, 4::8] - seen).max() > 0.03) == (p != 1.0)
