"""The page of alignment: lights for the corners, heights typed, how the carrier lies; what cannot be is refused."""

from __future__ import annotations

import pytest
from tools.phone import Paired, words_of
from tools.stand_in_desk import StandInDesk

from controller.recipe.at_enlarger import AtEnlarger
from controller.trials.alignment import Lens, sharp_mm

BENCH = AtEnlarger(negative_format="4x5", magnification=6.0, aperture=5.6, focal_mm=150.0)
AT_SIX = Lens(150.0, 6.0, 5.6)


@pytest.fixture
def enlarger(desk: StandInDesk) -> StandInDesk:
    """A 150 mm lens stands at m 6, f/5.6."""
    desk.say_day()
    desk.show(bench=BENCH)
    return desk


def test_the_lights_need_no_probe(enlarger: StandInDesk, phone: Paired) -> None:
    """The lights of centre and corners are asked for; without a lens the page says what is missing."""
    phone.send("/tests/alignment/begin", {"number": enlarger.status().number})
    assert enlarger.bench.asked == [("readings", "readings:alignment")]
    enlarger.show(bench=AtEnlarger())
    assert "Lens, size or aperture is not known" in words_of(phone.look("/tests/alignment"))
    assert phone.send("/tests/alignment/begin", {}).status_code == 422


def test_half_a_millimetre_is_told_with_its_direction(enlarger: StandInDesk, phone: Paired) -> None:
    """The left side 0.5 mm high: right corners sharp higher on the easel (thin lens); told, kept, drawn."""
    high, low = (f"{sharp_mm(raised, AT_SIX):+.1f}".replace("-", "−") for raised in (0.25, -0.25))
    heights = {"far right": high, "near right": high, "far left": low, "near left": low, "again": "0"}
    assert phone.send("/tests/alignment/keep", heights).status_code == 303
    shown = phone.look("/tests/alignment")
    words = words_of(shown)
    assert "The carrier’s left side lies 0.50 mm too high." in words
    assert "0.54 mm may be at f/5.6 and ×6" in words  # 2·5.6·0.25·7/36 (derived)
    assert "+8.9 mm" in shown.text
    assert "−9.1 mm" in shown.text
    line = enlarger.trials().line("alignment")
    assert line.due.state == "fine"
    assert line.may_take_back
    assert "lies 0.50 mm too high" in words_of(phone.look("/tests"))


def test_what_cannot_be_is_refused_and_nothing_kept(enlarger: StandInDesk, phone: Paired) -> None:
    """No number, a focus that moved, corners in no plane: a sentence each, what was typed stands, nothing is kept."""
    for heights, says in (
        ({"far left": "high"}, "high is no height"),
        ({"far left": "-3", "again": "40"}, "the focus moved meanwhile"),
        ({"far left": "20", "near right": "20"}, "do not lie in one plane"),
        ({"near left": "900"}, "cannot be such a height"),
    ):
        answer = phone.send("/tests/alignment/keep", heights)
        assert answer.status_code == 422
        assert says in words_of(answer)
        for value in heights.values():
            assert f'value="{value}"' in answer.text
    assert enlarger.trials().last("alignment") is None
