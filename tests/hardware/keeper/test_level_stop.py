"""The daemon's word that a light is far too strong: it ends light and takes back what stands, and can begin nothing."""

from __future__ import annotations

import pytest
from tools.keeper_bench import Bench, played

from hardware.wire import Cancelled, Dark, Stop, Stopped


def test_a_light_that_is_too_strong_ends_with_the_alarm() -> None:
    """Dark at once, and the fact says why; the number that it takes puts every order before it behind."""
    bench = Bench()
    bench.order(12_000)
    bench.run(2400)
    bench.tell(Stop("level"))
    assert not bench.lamp.lit
    assert bench.last(Dark).why == "level"
    assert (bench.last(Stopped).why, bench.last(Stopped).seq) == ("level", 1)
    assert played(bench)[-1] == ("alarm", 0)


def test_what_is_pending_is_taken_back() -> None:
    """Where it comes late, the light that stands is none."""
    bench = Bench()
    bench.order(1000)
    bench.tell(Stop("level"))
    bench.run(5000)
    assert bench.last(Cancelled).why == "level"
    assert not bench.lamp.edges


@pytest.mark.parametrize("why", ["", "levels", "complete", "page stop"])
def test_a_word_that_nobody_knows_is_a_fault(why: str) -> None:
    """Off is the answer to doubt, by a name of its own."""
    bench = Bench()
    bench.order(1000)
    bench.run(2100)
    bench.tell(Stop(why))
    assert bench.last(Dark).why == "fault"
