"""Papers whose figures are known exactly, since they were written down and not fitted; for laws of what is reckoned."""

from __future__ import annotations

import numpy as np

from controller.paper.paper import Emulsion, Paper, Setup
from tools.hidden_papers import BOX, Hidden, paper_one

READ_AT = Setup(magnification=2.0, aperture=8.0, soft_filter="00", hard_filter="5")


def known(hidden: Hidden | None = None, setup: Setup = READ_AT) -> Paper:
    """Return a hidden paper of emulsions alike in contrast as the project keeps one, figure by figure."""
    of = hidden or paper_one()
    return Paper(
        name="known",
        box=BOX,
        setup=setup,
        shape="logistic",
        contrast=float(of.contrast[0]),
        shoulder=1.0,
        dmin=of.dmin,
        dmax=of.dmax,
        emulsions=tuple(
            Emulsion(weight=float(weight), soft_speed=float(np.log10(soft)), hard_speed=float(np.log10(hard)))
            for weight, soft, hard in zip(of.weights, of.soft, of.hard, strict=True)
        ),
        rms_density=0.0,
        worst_density=0.0,
    )
