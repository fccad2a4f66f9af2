"""What readings can support, which strip would help, and another box's speed."""

from __future__ import annotations

import numpy as np
import pytest
from tools.fitted_papers import demo, of_family
from tools.hidden_papers import BOX, Hidden, exposure, mixed_tones, paper_one, readings

from controller.errors import Impossible
from controller.paper.boxes import respeed, respeed_from_pick
from controller.paper.emulsions import densities, mixture
from controller.paper.fit import fit
from controller.paper.paper import Box, Setup, set_up_factor
from controller.paper.readings import Readings
from controller.paper.support import NONE, ROUGH, best_strip, level, off_words, overall, spreads


def _only(*lights: tuple[float, float], seed: int = 41) -> Readings:
    return readings(paper_one(), *lights, rng=np.random.default_rng(seed))


def test_soft_and_hard_support_mixes() -> None:
    """Readings of soft and hard strips support every mix: nothing is asked for."""
    spread, _ = overall(fit(_only((80.0, 0.0), (0.0, 60.0)), BOX))
    assert level(spread) == "good"
    assert off_words(spread) in ("As near as an eye can tell.", "About a twentieth of a density off.")


@pytest.mark.parametrize(("only", "missing"), [((80.0, 0.0), "hard"), ((0.0, 60.0), "soft")])
def test_one_light_alone_supports_no_mix(only: tuple[float, float], missing: str) -> None:
    """With one light read alone mixes are unsupported, and a strip with the other light is what helps most."""
    paper = fit(_only(only), BOX)
    spread, strip = overall(paper)
    assert level(spread) == "none"
    assert strip is not None
    assert strip.hard_seconds > 0.0 if missing == "hard" else strip.soft_seconds > 0.0
    assert strip.spread_after < spread
    assert off_words(spread) == "The readings do not tell."


def test_readings_without_black_ask_for_it() -> None:
    """Where no strip reaches black, dark tones are unsure, and the strip that helps is one that reaches it."""
    thin = _only((2.0, 0.0), (0.0, 1.2))
    paper = fit(thin, BOX)
    dark = spreads(paper, 10.1, 8.0, [0.0])
    whole = spreads(fit(_only((80.0, 0.0), (0.0, 60.0)), BOX), 10.1, 8.0, [0.0])
    assert dark[0] > 2.0 * whole[0]
    strip = best_strip(paper, 10.1, 8.0, [0.0])
    assert strip is not None
    printed = paper_one().densities(strip.soft_seconds, strip.hard_seconds, np.array([0.05]))
    assert printed[0] > 1.9


def test_the_strip_that_helps_does_help() -> None:
    """Printed and read, the strip that was advised brings predictions nearer than they were."""
    hidden = paper_one()
    rng = np.random.default_rng(42)
    before = fit(_only((80.0, 0.0)), BOX)
    _, strip = overall(before)
    assert strip is not None
    added = exposure(hidden, strip.soft_seconds, strip.hard_seconds, rng)
    old = before.readings
    assert old is not None
    after = fit(Readings(paper="hidden", exposures=(*old.exposures, added)), BOX)
    assert _rms(after, hidden) < 0.5 * _rms(before, hidden)


def _rms(paper, hidden: Hidden) -> float:
    mix = mixture(paper)
    off = [densities(mix, s, h, tones) - true for s, h, tones, true in mixed_tones(hidden)]
    return float(np.sqrt(np.mean(np.concatenate(off) ** 2)))


def test_levels_and_words() -> None:
    """A spread has one level and one plain sentence, and neither gets better as it grows."""
    assert [level(each) for each in (0.01, ROUGH, ROUGH + 0.01, NONE, NONE + 0.01)] == [
        "good",
        "good",
        "rough",
        "rough",
        "none",
    ]
    assert off_words(0.09) == "About a tenth of a density off."
    said = [off_words(each) for each in (0.01, 0.04, 0.09, 0.15, 0.5)]
    assert len(set(said)) == 5


@pytest.mark.parametrize("stops", [-1.5, -0.25, 0.0, 0.4, 2.0])
def test_another_box_is_re_speeded(stops: float) -> None:
    """One noisy check strip of a box that differs only in speed finds that speed to a twentieth of a stop."""
    hidden, paper = of_family(43)
    faster = Hidden(
        hidden.weights, hidden.contrast, hidden.soft * 2.0**stops, hidden.hard * 2.0**stops, hidden.dmin, hidden.dmax
    )
    check = exposure(faster, 20.0, 15.0, np.random.default_rng(45))
    box = Box(label="the next box", dated=BOX.dated.replace(year=2027))
    new = respeed(paper, [check], box)
    assert new.version == paper.version + 1
    assert new.box == box
    assert new.speeds[-1].soft_stops == pytest.approx(stops, abs=0.07)
    assert new.speeds[-1].hard_stops == pytest.approx(stops, abs=0.07)
    assert _rms(new, faster) < 0.02
    # What was read stays with the paper, and so does how it was fitted.
    assert new.readings == paper.readings
    assert new.emulsions == paper.emulsions


def test_soft_and_hard_may_move_apart() -> None:
    """Check strips through either light alone tell each light's own speed."""
    hidden = paper_one()
    paper = demo()
    aged = Hidden(hidden.weights, hidden.contrast, hidden.soft * 2**-0.5, hidden.hard, hidden.dmin, hidden.dmax)
    new = respeed(paper, [exposure(aged, 80.0, 0.0), exposure(aged, 0.0, 60.0)], BOX)
    assert new.speeds[-1].soft_stops == pytest.approx(-0.5, abs=0.05)
    assert new.speeds[-1].hard_stops == pytest.approx(0.0, abs=0.05)


def test_a_pick_re_speeds_too() -> None:
    """A check strip picked a third of a stop later makes the paper a third of a stop slower, in both lights."""
    paper = demo()
    new = respeed_from_pick(paper, 10.0, 10.0 * 2 ** (1 / 3), BOX)
    assert new.speeds[-1].soft_stops == pytest.approx(-1 / 3, abs=1e-6)
    mix, old = mixture(new), mixture(paper)
    same = densities(old, 10.1, 8.0, [0.22, 0.7, 1.25])
    assert densities(mix, 10.1 * 2 ** (1 / 3), 8.0 * 2 ** (1 / 3), [0.22, 0.7, 1.25]) == pytest.approx(same, abs=1e-6)


def test_a_white_check_strip_is_refused() -> None:
    """A check strip that is white all over tells no speed, and one far off is no box of the same paper."""
    paper = demo()
    white = exposure(paper_one(), 0.01, 0.0)
    with pytest.raises(Impossible, match="tells no speed"):
        respeed(paper, [white], BOX)
    with pytest.raises(Impossible, match="6 stops off"):
        respeed_from_pick(paper, 1.0, 100.0, BOX)


def test_seconds_at_another_set_up() -> None:
    """A paper read at m 2 and f/8 wants ×2.7778 at m 4 (thin lens, from memory) and half at f/5.6 as marked."""
    read_at = Setup(magnification=2.0, aperture=8.0)
    assert set_up_factor(read_at, 4.0, 8.0) == (pytest.approx(2.7778, abs=1e-4), True)
    assert set_up_factor(read_at, 2.0, 5.6) == (0.5, True)
    assert set_up_factor(read_at, 4.0, 8.0, pupil=0.8)[0] == pytest.approx(((1 + 5) / (1 + 2.5)) ** 2)
    assert set_up_factor(read_at, None, 5.6) == (0.5, False)
    assert set_up_factor(Setup(), 2.0, 8.0) == (1.0, False)
