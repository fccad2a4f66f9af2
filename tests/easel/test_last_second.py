"""The last second before a press: what counts, and each refusal; the practice sensor's noise is the one it says."""

from __future__ import annotations

import math
import random
from contextlib import suppress
from statistics import fmean, pstdev

import pytest

from controller.easel.last_second import Counted, counted
from controller.errors import Impossible
from hardware.light_sensor import FULL, Gain, Reading
from hardware.practice.sensor import DARK, ELECTRONS, READ_NOISE, TIMES
from hardware.practice.sensor import counted as chip_counts

MS = 1_000_000
ON, PRESS, DARK_NS = 10_000 * MS, 15_030 * MS, 15_055 * MS


def _evening(
    level: float, *, dark: float = 0.0, gain: Gain = "high", change: float = 1.0, at_ms: int = 14_500, gap_at: int = 0
) -> list[Reading]:
    """Cycles of 100 ms from 9 s to 18 s; the light changes from `at_ms` on, a cycle is missing at `gap_at`."""
    found = []
    for start in range(9_000, 18_000, 100):
        lit = start * MS >= ON and (start + 100) * MS <= DARK_NS
        light = (dark + (level * (change if start >= at_ms else 1.0) if lit else 0.0)) / 10
        if start != gap_at:
            found.append(Reading(start * MS, (start + 100) * MS, light, light >= FULL, gain))
    return found


def test_ten_cycles_before_the_press_less_the_dark() -> None:
    """The level is the last whole second's, the dark after it taken off; seconds that say the same count."""
    assert counted(_evening(5000.0, dark=60.0), ON, PRESS, DARK_NS) == Counted(5000.0, 60.0, "high", seconds=4)
    late = [each for each in _evening(5000.0, dark=60.0) if each.start_ns >= 13_900 * MS]
    assert counted(late, ON, PRESS, DARK_NS) == Counted(5000.0, 60.0, "high", seconds=1)


def test_counts_that_scatter_are_not_called_a_moved_hand() -> None:
    """Where the two halves differ by no more than chance, the sentence asks for light and no still hand."""
    few, said = random.Random(4), []
    for _ in range(60):
        noisy = [
            Reading(each.start_ns, each.end_ns, float(chip_counts(each.light / TIMES["max"], "max", few)), gain="max")
            for each in _evening(450.0)
        ]
        with suppress(Impossible):
            counted(noisy, ON, PRESS, DARK_NS)
            continue
        try:
            counted(noisy, ON, PRESS, DARK_NS)
        except Impossible as problem:
            said.append(str(problem))
    scatter = sum(words.startswith("The counts scatter by ± ") for words in said)
    assert scatter > 20
    assert sum(words.startswith("The light changed") for words in said) <= 0.15 * scatter


def test_seconds_that_say_the_same_are_summed() -> None:
    """Four seconds scatter less than one does, by what is not the dark's; one that says otherwise ends the sum."""

    def readings(dice: random.Random, first: int) -> list[Reading]:
        noisy = [
            Reading(each.start_ns, each.end_ns, float(chip_counts(each.light, "high", dice)), gain="high")
            for each in _evening(3000.0, dark=60.0)
        ]
        return [each for each in noisy if each.start_ns >= first * MS]

    spread = {
        first: pstdev(counted(readings(random.Random(n), first), ON, PRESS, DARK_NS).level for n in range(300))
        for first in (11_000, 13_950)
    }
    assert spread[11_000] < 0.88 * spread[13_950]
    doubts = [counted(readings(random.Random(n), 11_000), ON, PRESS, DARK_NS).doubt for n in range(300)]
    assert fmean(doubts) == pytest.approx(spread[11_000] / 3000.0 / math.log(10.0), rel=0.2), (
        "the doubt is what scatters"
    )
    moved = _evening(5000.0, change=1.03, at_ms=13_000)
    found = counted(moved, ON, PRESS, DARK_NS)
    assert (found.level, found.seconds) == (pytest.approx(5150.0), 2)


def test_what_came_before_that_second_does_not_count() -> None:
    """The probe is laid while the light is on: what it saw on the way there is not the spot."""
    there = _evening(90.0, change=100.0, at_ms=14_000)
    assert counted(there, ON, PRESS, DARK_NS).level == pytest.approx(9000.0)


def test_nothing_after_the_first_contact_counts() -> None:
    """The foot may shake the easel: a cycle that ends after the first contact is left out."""
    shaken = _evening(5000.0, change=0.5, at_ms=15_000)
    assert counted(shaken, ON, PRESS, DARK_NS).level == pytest.approx(5000.0)


@pytest.mark.parametrize(
    ("readings", "says"),
    [
        (_evening(5000.0, gap_at=14_300), "missed part"),
        ([each for each in _evening(5000.0) if each.start_ns >= 14_200 * MS], "missed part"),
        ([each for each in _evening(5000.0) if not 14_900 * MS <= each.start_ns < 15_100 * MS], "missed part"),
        (_evening(5e5), "dazzled at gain high"),
        (_evening(399.0), "Only 399 counts"),
        (_evening(5000.0, change=10**0.011), "changed by 0.01 density"),
        (_evening(5000.0, change=10**-0.011), "changed by 0.01 density"),
        (_evening(5000.0, dark=501.0), "safelight gives 10 %"),
        ([each for each in _evening(5000.0) if each.end_ns < 15_900 * MS], "counted no dark"),
    ],
)
def test_each_refusal_has_its_sentence(readings: list[Reading], says: str) -> None:
    """A gap, too little, too much, a change or too much safelight: no level, and what to do."""
    with pytest.raises(Impossible, match=says):
        counted(readings, ON, PRESS, DARK_NS)


def test_the_limits_themselves_pass() -> None:
    """400 counts, 0.009 between the halves and just under a tenth of safelight are taken."""
    assert counted(_evening(400.0), ON, PRESS, DARK_NS).level == pytest.approx(400.0)
    assert counted(_evening(5000.0, change=10**0.009), ON, PRESS, DARK_NS).level > 5000.0
    assert counted(_evening(5000.0, dark=499.0), ON, PRESS, DARK_NS).level == pytest.approx(5000.0)


def test_a_light_that_was_on_for_less_than_two_seconds_is_too_soon() -> None:
    """1.99 s are too soon, 2 s are not."""
    with pytest.raises(Impossible, match="Too soon"):
        counted(_evening(5000.0), PRESS - 1990 * MS, PRESS, DARK_NS)
    assert counted(_evening(5000.0), PRESS - 2000 * MS, PRESS, DARK_NS).level == pytest.approx(5000.0)


def test_two_gains_in_a_second_are_no_second() -> None:
    """A gain that changes within it would count two things as one."""
    mixed = _evening(5000.0)
    mixed[55] = Reading(mixed[55].start_ns, mixed[55].end_ns, mixed[55].light, gain="max")
    with pytest.raises(Impossible, match="missed part"):
        counted(mixed, ON, PRESS, DARK_NS)


@pytest.mark.parametrize("gain", ["low", "medium", "high", "max"])
@pytest.mark.parametrize("light", [0.0, 40.0, 2_000.0])
def test_the_practice_sensor_scatters_as_it_says(gain: Gain, light: float) -> None:
    """Mean and scatter of its cycles are those of its three sources: step (1/12), two converters, electrons."""
    dice = random.Random(5)
    at_high = light / TIMES[gain]
    found = [chip_counts(at_high, gain, dice) for _ in range(4000)]
    mean = light + DARK[gain]
    spread = math.sqrt(1 / 12 + 2 * READ_NOISE[gain] ** 2 + mean / ELECTRONS[gain])
    assert fmean(found) == pytest.approx(mean, abs=5 * spread / math.sqrt(4000))
    assert pstdev(found) == pytest.approx(spread, rel=0.06)
    assert all(isinstance(each, int) for each in found)


def test_a_second_of_a_usual_spot_is_good_to_a_hundredth() -> None:
    """Of 2,711 counts a second at gain high (density 1.25) the practice sensor's second scatters by under 0.002."""
    dice = random.Random(6)
    seconds = [math.log10(sum(chip_counts(271.1, "high", dice) for _ in range(10))) for _ in range(800)]
    assert pstdev(seconds) < 0.002
