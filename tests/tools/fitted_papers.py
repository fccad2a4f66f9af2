"""Hidden papers and what their readings came to: each is fitted once in a process, whichever tests ask for it.

A paper goes by its number, which is the seed of its dice: first the paper is drawn, then the noise of its readings.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np

from controller.paper.fit import fit
from controller.paper.paper import Paper
from tools.hidden_papers import BOX, Hidden, of_the_family, outside, paper_one, readings


@cache
def of_family(number: int) -> tuple[Hidden, Paper]:
    """Return a paper of the family, and what was fitted to its noisy readings."""
    return _drawn(of_the_family, number)


@cache
def of_others(number: int) -> tuple[Hidden, Paper]:
    """Return a paper outside the family, and what was fitted to its noisy readings."""
    return _drawn(outside, number)


@cache
def demo() -> Paper:
    """Return what is fitted to the demo paper's exact readings."""
    return fit(readings(paper_one()), BOX)


def _drawn(make: Callable[[np.random.Generator], Hidden], number: int) -> tuple[Hidden, Paper]:
    rng = np.random.default_rng(number)
    hidden = make(rng)
    return hidden, fit(readings(hidden, rng=rng), BOX)
