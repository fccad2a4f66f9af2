"""The practice darkroom's print over a flash, against what the solver promises of the same paper: within 0.02.

The paper that the solver reckons with is written here from the practice paper's own emulsions and what a second
through each filter gives; how dense the negative is at each tone comes out of a print without a flash.
"""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import pytest
from tools.picture_darkroom import printed, recipe

from controller.paper.emulsions import densities, mixture, thinnest
from controller.paper.flash import Flash
from controller.paper.paper import Box, Emulsion, Paper
from controller.paper.solver import Reached, Tone, soft_hard
from controller.picture.develop import Conditions
from controller.picture.light import BlueGreen, Surroundings, second_through
from controller.picture.practice_papers import PracticePaper, practice_paper

DARK = Conditions(surroundings=Surroundings(safelight=BlueGreen(blue=0.0, green=0.0)))
TONES = ("cloud", "under_cab")


def as_read(practice: PracticePaper) -> Paper:
    """The practice paper as soft and hard seconds read it; once dry it looks to have had a little more light."""
    dry = 1.0 + practice.dry_down_percent / 100.0
    soft, hard = second_through("soft"), second_through("hard")

    def speed(layer: Any, second: BlueGreen) -> float:
        return math.log10((layer.blue * second.blue + layer.green * second.green) * dry)

    return Paper(
        name=practice.name,
        box=Box(dated=date(2026, 1, 1)),
        shape=practice.shape,
        contrast=practice.contrast,
        shoulder=practice.shoulder,
        dmin=practice.dmin,
        dmax=practice.dmax,
        emulsions=tuple(
            Emulsion(weight=each.weight, soft_speed=speed(each, soft), hard_speed=speed(each, hard))
            for each in practice.layers
        ),
        rms_density=0.0,
        worst_density=0.0,
    )


@pytest.mark.parametrize("beforehand", [False, True])
@pytest.mark.parametrize("filter_name", ["soft", "hard"])
@pytest.mark.parametrize("name", ["one", "two"])
def test_the_picture_is_what_the_solver_promises(name: str, filter_name: str, beforehand: bool) -> None:
    """A highlight and a shadow over a flash, given on the sheet or beforehand, come as the sum of lights has them."""
    paper = as_read(practice_paper(name))
    mix = mixture(paper)
    plain = printed(recipe(("soft", 9.0), ("hard", 8.0)), paper=name, conditions=DARK)
    tones = [float(thinnest(mix, 9.0, 8.0, plain.density(tone))) for tone in TONES]
    seconds = 0.3 if filter_name == "soft" else 1.0  # the corners have less of either
    flash = {"seconds": seconds, "filter": filter_name, "way": "no negative"}
    flash |= {"beforehand": True} if beforehand else {}
    flashed = printed(recipe(("soft", 9.0), ("hard", 8.0), flash=flash), paper=name, conditions=DARK)
    wanted = densities(mix, 9.0, 8.0, tones, Flash(seconds=seconds, filter=filter_name))
    assert [flashed.density(tone) for tone in TONES] == pytest.approx(wanted.tolist(), abs=0.02)
    assert flashed.density("cloud") - plain.density("cloud") > 0.02


def test_a_pair_that_was_solved_over_a_flash_prints_so() -> None:
    """Soft and hard for two tones over 0.2 s of flash: the picture has both tones where they were wished."""
    paper = as_read(practice_paper("one"))
    plain = printed(recipe(("soft", 9.0), ("hard", 8.0)), conditions=DARK)
    tones = [float(thinnest(mixture(paper), 9.0, 8.0, plain.density(tone))) for tone in TONES]
    answer = soft_hard(paper, Tone(tones[0], 0.16), Tone(tones[1], 1.90), flash=Flash(seconds=0.2))
    assert isinstance(answer, Reached)
    soft, hard = round(answer.pair.soft_seconds, 3), round(answer.pair.hard_seconds, 3)
    flash = {"seconds": 0.2, "filter": "soft", "way": "no negative"}
    print_ = printed(recipe(("soft", soft), ("hard", hard), flash=flash), conditions=DARK)
    assert [print_.density(tone) for tone in TONES] == pytest.approx([0.16, 1.90], abs=0.02)


@pytest.mark.parametrize("p", [1.0, 0.85])
@pytest.mark.parametrize(("seconds", "way"), [(8.0, "opal under the lens"), (0.3, "no negative")])
def test_given_beforehand_it_is_the_same_light(seconds: float, way: str, p: float) -> None:
    """Through an opal or without a negative, given on the sheet or beforehand, on any paper: it is the same print."""
    flash = {"seconds": seconds, "filter": "2", "way": way}
    conditions = DARK.model_copy(update={"exponent": p})
    on_sheet, before = (
        printed(recipe(("2", 9.0), flash=flash | more), conditions=conditions) for more in ({}, {"beforehand": True})
    )
    for tone in TONES:
        assert before.density(tone) == pytest.approx(on_sheet.density(tone), abs=1e-4)
