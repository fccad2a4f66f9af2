"""What a record says of a light that was ended for its level: what it was, what of it counts, and that all is well."""

from __future__ import annotations

import pytest
from tools.foot_bench import FootBench, one_step, sheet_plan

from controller.foot.events import LevelWrong
from controller.foot.places import Light
from webui.pages.record import lines_of


def ended(found: str, stops: float | None, filter_: str = "") -> FootBench:
    """Return a sheet whose 12 s were ended after half a second, and given whole after that where they can be."""
    bench = FootBench(sheet_plan(one_step(planned_ms=12_000)))
    bench.light(500)
    assert isinstance(bench.place, Light)
    bench.ask(LevelWrong(bench.place.order, found, stops, filter_, bench.now_ns))  # type: ignore[arg-type]
    bench.run(2000)
    return bench


def test_an_open_lens_is_told_with_its_bounds() -> None:
    """The step is given, between two bounds; its first light says how strong it was and what it counts for."""
    bench = ended("open", 3.0)
    bench.give()
    (line,) = lines_of(bench.sheet)
    assert (line.given, line.fate) == ("11.5 to 12.6", "")
    assert line.lights == (
        "0.5 s that were 3.0 stops too strong: count as 4.0 s, 3.5 to 4.6 for sure",
        "8.0 s, complete",
    )


@pytest.mark.parametrize(
    ("found", "stops", "filter_", "words"),
    [
        ("filter", 2.7, "hard", "0.5 s through hard: not counted"),
        ("dazzled", None, "", "0.5 s, too strong for the sensor: from 0.5 to 12.0 s"),
    ],
)
def test_the_others_say_what_is_known(found: str, stops: float | None, filter_: str, words: str) -> None:
    """Another filter's light counts nothing; of one that dazzled the sensor only the bounds are known."""
    (line,) = lines_of(ended(found, stops, filter_).sheet)
    assert line.lights == (words,)
