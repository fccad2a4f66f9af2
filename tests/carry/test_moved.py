"""What has moved on a recipe's paper: another box by what was read of it, the lamp by its check; laws and figures."""

from __future__ import annotations

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tools.crane_paper import crane
from tools.known_papers import known

from controller.carry.moved import PaperThen, changes_of, lamp_before, moved
from controller.paper.paper import Box, Paper, SpeedChange
from controller.recipe.recipe import Filters
from controller.store.entries import LampChecked

CRANE = crane()


def paper(*speeds: tuple[str, float, float], version: int = 1) -> Paper:
    """Return a paper with a change of speed a box, each against the one before."""
    changes = tuple(
        SpeedChange(box=Box(label=label, dated=date(2026, 3, 1)), soft_stops=soft, hard_stops=hard)
        for label, soft, hard in speeds
    )
    return known().model_copy(update={"speeds": changes, "version": version})


def at(box: str, **more: object) -> PaperThen:
    return PaperThen.model_validate({"paper": "p1", "paper_title": "paper one", "box": box, "enlarger": "e", **more})


def stops_of(then: PaperThen, now: PaperThen, before: Paper | None, after: Paper | None) -> dict[str, float] | None:
    found = moved(CRANE, then, now, before, after)
    return None if found is None else {each.filter: each.stops for each in found.stops}


def test_a_box_that_is_faster_by_a_sixth_wants_a_sixth_less() -> None:
    """The design's own figures: soft −1/6, hard −1/6; 10.1 s become 9.0 and 8.0 s 7.1 (10.1·2^(−1/6) = 8.998)."""
    found = moved(CRANE, at("A"), at("B"), paper(), paper(("B", 1 / 6, 1 / 6)))
    assert found is not None
    assert (found.box, found.box_known) == ("B", True)
    assert {each.filter: each.stops for each in found.stops} == {"soft": -1 / 6, "hard": -1 / 6}
    changes = changes_of(CRANE, found)
    assert [(each.filter, each.before, each.after, each.twelfths) for each in changes] == [
        ("soft", 10.1, 9.0, -2.0),
        ("hard", 8.0, 7.1, -2.0),
    ]


def test_boxes_in_between_are_counted_too() -> None:
    """From box B to box D everything that was read since B counts, and nothing from before it."""
    read = paper(("B", 0.5, 0.25), ("C", 1 / 6, 0.0), ("D", 1 / 12, -1 / 4))
    assert stops_of(at("B"), at("D"), paper(("B", 0.5, 0.25)), read) == {"soft": -1 / 4, "hard": 1 / 4}
    assert stops_of(at("D"), at("B"), read, read) == {"soft": 1 / 4, "hard": -1 / 4}


def test_a_box_that_nobody_read_wants_a_check_strip_alone() -> None:
    """No figure is made up for it: nothing changes but that a strip is offered."""
    found = moved(CRANE, at("A"), at("Z"), paper(), paper(("B", 1.0, 1.0)))
    assert found is not None
    assert (found.box, found.box_known) == ("Z", False)
    assert not any(each.stops for each in found.stops)
    assert changes_of(CRANE, found) == ()
    assert moved(CRANE, at("A"), at("Z"), None, None) == found


def test_a_lamp_that_is_weaker_wants_more() -> None:
    """A lamp at 2^(−1/6) of its level wants 1/6 more; less than a twelfth is no move; other sensors tell nothing."""
    then = at("A", lamp=1000.0, sensor="s")
    weaker = at("A", lamp=1000.0 * 2 ** (-1 / 6), sensor="s")
    assert stops_of(then, weaker, None, None) == {"soft": 1 / 6, "hard": 1 / 6}
    assert stops_of(then, at("A", lamp=960.0, sensor="s"), None, None) is None
    assert stops_of(then, at("A", lamp=500.0, sensor="t"), None, None) is None
    assert stops_of(then, at("A", lamp=500.0, sensor="s", enlarger="f"), None, None) is None
    both = stops_of(then, at("B", lamp=500.0, sensor="s"), paper(), paper(("B", 1.0, 0.5)))
    assert both == {"soft": 0.0, "hard": 0.5}


def test_another_paper_is_carried_over_by_hand() -> None:
    """Nothing is offered for a paper that is not the recipe's, or that nobody named."""
    assert moved(CRANE, at("A"), at("B", paper="p2"), paper(), paper()) is None
    assert moved(CRANE, PaperThen(box="A"), PaperThen(box="B"), None, None) is None
    assert moved(CRANE, at("A", paper=""), at("B", paper="", paper_title="Paper One"), None, None) is not None


def test_the_lamp_s_check_before_a_sheet() -> None:
    """Of several the last one that was filed before the sheet's first light counts."""
    checks = [(row, LampChecked(level=float(row), sensor="s")) for row in (3, 9, 20)]
    assert [lamp_before(checks, row) for row in (3, 4, 20, 99)] == [None, checks[0][1], checks[1][1], checks[2][1]]


_STOPS = st.integers(-24, 24).map(lambda twelfths: twelfths / 12)


@given(_STOPS, _STOPS, st.integers(-6, 6).filter(lambda n: n != 0))
def test_there_and_back_is_nothing(soft: float, hard: float, lamp: int) -> None:
    """What moved and moves back moves nothing: the stops of both ways are each other's negative."""
    read = paper(("B", 1.0, 0.5), ("C", soft, hard))
    one, two = at("B", lamp=1000.0, sensor="s"), at("C", lamp=1000.0 * 2 ** (lamp / 12), sensor="s")
    there, back = stops_of(one, two, read, read), stops_of(two, one, read, read)
    assert back is None or there is not None
    there = there or {}
    assert back is None or all(math.isclose(there[name], -stops, abs_tol=1e-9) for name, stops in back.items())
    assert all(abs(stops * 12 - round(stops * 12)) < 1e-9 for stops in there.values())


@pytest.mark.parametrize(("filter_name", "wanted"), [("00", -0.5), ("5", -0.25), ("soft", -0.5), ("2", -1 / 3)])
def test_a_filter_is_soft_hard_or_between(filter_name: str, wanted: float) -> None:
    """What is written on the soft filter goes by soft; one that is neither goes by the middle, to a twelfth."""
    recipe = CRANE.model_copy(
        update={
            "light": (CRANE.light[0].model_copy(update={"filter": filter_name}),),
            "local": (),
            "filters": Filters(soft="00", hard="5"),
        }
    )
    found = moved(recipe, at("A"), at("B"), paper(), paper(("B", 0.5, 0.25)))
    assert found is not None
    assert found.stops[0].stops == pytest.approx(wanted, abs=0.05)
