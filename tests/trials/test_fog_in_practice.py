"""Safelight and phone in the practice darkroom: a fault of known strength is made, its strips are read, it is found."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import get_args

import numpy as np
import pytest
from tools.foot_bench import FootBench

from controller.foot.places import Ready
from controller.picture.develop import Conditions
from controller.picture.fog_strips import Exposed, PhonePage, densities, exposed, fog_sheet, open_seconds, phone_second
from controller.picture.hands import Slips
from controller.picture.in_the_trays import FULL
from controller.picture.light import BlueGreen, Surroundings, second_through
from controller.picture.practice_papers import practice_paper
from controller.picture.scene import Enlarger, Scene
from controller.practice.practice_scene import PracticeScene
from controller.trials.phone import phone_found
from controller.trials.safelight import Answer, Glow, Minutes, found, sheet_plan

SEEN: float = 0.02
"""Density that an eye sees between two greys side by side: common practice."""
PAPER = practice_paper("one")
GREY = second_through("soft").times(3.8 / 4)
"""The 3.8 s band of the grey strip, at f/16."""
MINUTES: tuple[Minutes, ...] = get_args(Minutes)
WAITS = sheet_plan("safelight", "soft", 3800).steps[1].waits


def read(second: BlueGreen, wrong_way: bool = False) -> tuple[np.ndarray, tuple[Answer, Answer, Answer]]:
    """Return the densities of three strips beside a light of this strength, and what an eye says of them."""
    fogs = tuple(second.times(seconds) for seconds in open_seconds(WAITS, wrong_way=wrong_way))
    dry, _ = densities(Exposed((GREY, GREY, BlueGreen(blue=0, green=0)), fogs), PAPER, FULL)
    return dry, tuple(_eye(dry[row]) for row in (1, 0, 2))  # type: ignore[return-value]


def _eye(quarters: np.ndarray) -> Answer:
    """Return the last quarter that looks like the covered one, as an eye that sees 0.02 has it."""
    more = [float(quarters[at] - quarters[3]) for at in range(4)]
    if any(less - most > SEEN for most, less in pairwise(more)):
        return "mixed"
    same: Minutes = 0
    for minutes, density in zip((1, 3, 7), (more[2], more[1], more[0]), strict=True):
        if density >= SEEN:
            break
        same = minutes  # type: ignore[assignment]
    return same


def visible_minutes(second: BlueGreen) -> float:
    """Return after how many minutes the grey is darker by what an eye sees."""

    def darker(minutes: float) -> float:
        light = Exposed((GREY, GREY, GREY), (second.times(60 * minutes), BlueGreen(blue=0, green=0)))
        dry, _ = densities(light, PAPER, FULL)
        return float(dry[0, 0] - dry[0, 1])

    return _root(lambda minutes: darker(minutes) - SEEN, 0.001, 10_000.0)


def _root(rises: Callable[[float], float], low: float, high: float) -> float:
    for _ in range(80):
        middle = (low * high) ** 0.5
        low, high = (low, middle) if rises(middle) > 0 else (middle, high)
    return high


def test_the_grey_lies_where_a_change_shows() -> None:
    """Between 0.25 and 0.50, as K-4 wants it."""
    dry, _ = read(BlueGreen(blue=0, green=0))
    assert 0.25 <= float(dry[0, 3]) <= 0.50
    assert float(dry[2, 3]) == pytest.approx(PAPER.dmin, abs=0.001)


@pytest.mark.parametrize("times", [0.9, 1.2, 1.5, 1.8, 2.5, 3, 3.5, 4.5, 6, 8, 11])
def test_a_safelight_of_known_strength_gives_its_safe_minutes(times: float) -> None:
    """Within one step of the doubling of half the time of the first visible change; whichever."""
    second = PracticeScene(safelight_times=times).conditions().surroundings.safelight
    true = visible_minutes(second) / 2
    assert 0.5 <= true <= 7
    minutes = found(*read(second)[1], grey=0.35).safe_minutes
    assert true / 2 <= minutes <= true * 2
    assert abs(np.log2(minutes / true)) <= 1.0


def test_a_safe_one_is_safe_and_a_fierce_one_is_not() -> None:
    """The usual practice safelight is safe for seven minutes; a hundred times as much is K-4's example B."""
    usual = PracticeScene().conditions().surroundings.safelight
    assert found(*read(usual)[1], grey=0.35).case == "A"
    assert found(*read(usual.times(100))[1], grey=0.35).case == "B"


def test_a_card_that_goes_the_other_way_is_seen() -> None:
    """The quarters have 4, 6, 7 and 0 minutes then: they stand in no order, and nothing is found."""
    assert open_seconds(WAITS) == (420, 180, 60, 0)
    assert open_seconds(WAITS, wrong_way=True) == (240, 360, 420, 0)
    usual = PracticeScene(safelight_times=12).conditions().surroundings.safelight
    assert "mixed" in read(usual, wrong_way=True)[1]


@pytest.mark.parametrize("level", [1, 3, 5])
def test_a_phone_on_white_is_found(level: int) -> None:
    """Whatever level it was thought to stand at; on its dark page the same phone passes."""
    white = Surroundings().phone
    assert not phone_found(*read(phone_second("white", level, white))[1], 0.35, level).passed
    assert phone_found(*read(phone_second("dark", level, white))[1], 0.35, level).passed


def test_a_leaking_screen_passes_at_a_darker_level_only() -> None:
    """Each level is brighter than the one before, so that the highest that passes can be found."""
    white = Surroundings().phone
    passed = [phone_found(*read(phone_second("leaking", n, white))[1], 0.35, n).passed for n in range(1, 6)]
    assert passed == sorted(passed, reverse=True)
    assert passed[0]
    assert not passed[-1]


@pytest.mark.parametrize(("glow", "page"), [("safelight", "dark"), ("phone", "white"), ("phone", "dark")])
def test_a_sheet_worked_by_foot_comes_out_with_its_quarters(glow: Glow, page: PhonePage) -> None:
    """The record's own lights and waits make the strips: the same grey twice, and what the waits added."""
    bench = FootBench(sheet_plan(glow, "soft", 3800, 3))
    while not isinstance(bench.place, Ready):  # whatever is asked before the first light
        bench.press()
        bench.run(4000)
    bench.give()
    for seconds in (240, 120, 60):
        bench.press()
        bench.run(seconds * 1000 + 500)
    bench.give()
    bench.hold()
    sheet = bench.sheet
    assert sheet.outcome == "complete"
    scene = Scene((), enlarger=Enlarger(aperture=16.0), paper_mm=(254.0, 203.2))
    surroundings = Surroundings(safelight=Surroundings().safelight.times(10))
    light = exposed(sheet, (), Conditions(surroundings=surroundings), scene, page)
    assert light.greys[0].green == pytest.approx(GREY.green, rel=0.01)
    assert light.greys[1].green == pytest.approx(GREY.green, rel=0.01)
    out = fog_sheet(light, scene, PAPER, FULL)
    covered, most = out.density("strip-1-0"), out.density("strip-1-7")
    assert 0.25 <= covered <= 0.50
    assert (most - covered > SEEN) == (glow == "safelight" or page == "white")
    assert out.density("strip-2-0") == pytest.approx(covered, abs=0.01)
    assert out.png().startswith(b"\x89PNG")
    wrong = exposed(sheet, (), Conditions(slips=Slips(card_way="cover")), scene, page)
    assert wrong.fogs[0].green < wrong.fogs[2].green
