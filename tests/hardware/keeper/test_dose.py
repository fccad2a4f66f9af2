"""A light whose dose is asked for: the first word may put its end off, to the order's longest; none, the plan."""

from __future__ import annotations

import pytest
from tools.keeper_bench import MS, Bench

from hardware.slate import Page, interrupted
from hardware.tether.watch import LATE_NS, Watch
from hardware.wire import Dark, Dose, Lit, Order, Reason, Refused

PLAN, LONGEST = 8000, 10_079


def lit(longest_ms: int = LONGEST, **more: object) -> tuple[Bench, Order]:
    """Return a light that has just come on."""
    bench = Bench(**more)  # type: ignore[arg-type]
    order = Order(
        "dosed", "step", "sheet", 1, 1, "lamp", bench.seq, bench.now_ns + 2000 * MS, PLAN, longest_ms=longest_ms
    )
    bench.tell(order)
    bench.run(2000)
    assert bench.lamp.lit
    return bench, order


def length(bench: Bench) -> float:
    bench.run(20_000)
    (on, off) = bench.lamp.edges
    return (off[0] - on[0]) / MS


@pytest.mark.parametrize(
    ("words", "lasts"),
    [
        ((), PLAN),
        ((9000,), 9000),
        ((7000,), 7000),
        ((60_000,), LONGEST),
        ((9000, 9500), 9000),
        ((9000, 8500), 8500),
        ((7000, 7500), 7000),
        ((-5,), 3000),
    ],
)
def test_what_the_words_make_of_a_light(words: tuple[int, ...], lasts: int) -> None:
    """The first may say anything up to the longest, a later one only less; what is past ends at once."""
    bench, order = lit()
    bench.run(3000)
    for word in words:
        bench.tell(Dose(order.id, word))
    assert length(bench) == lasts
    assert bench.last(Dark).why == "complete"


def test_where_no_dose_was_asked_for_the_plan_stands() -> None:
    """A word of a light that is given by its time changes nothing."""
    bench, order = lit(0)
    for word in (9000, 1000):
        bench.tell(Dose(order.id, word))
    assert length(bench) == PLAN


def test_a_word_of_another_light_changes_nothing() -> None:
    """Nor one that comes before its light, or after its end."""
    bench, order = lit()
    bench.tell(Dose("other", 9000))
    bench.run(PLAN)
    bench.tell(Dose(order.id, 9000))
    assert length(bench) == PLAN


@pytest.mark.parametrize(("kind", "longest"), [("step", 10_080), ("step", 7999), ("check", 9000), ("focus", 9000)])
def test_more_than_a_third_of_a_stop_is_not_to_be_had(kind: str, longest: int) -> None:
    """Nor a longest under the plan, nor a dose of any light but a step's."""
    bench = Bench()
    bench.tell(Order("x", kind, "s", 1, 1, "lamp", 0, bench.now_ns + 2000 * MS, PLAN, longest_ms=longest))
    assert bench.last(Refused).reason == Reason.LONG


def test_plan_and_longest_are_on_the_slate() -> None:
    """After a power cut a light may have had anything up to its longest."""
    bench, _ = lit(slate=True)
    assert bench.slate is not None
    page = bench.slate.pages[-1]
    assert (page.lit_ms, page.longest_ms) == (PLAN, LONGEST)
    found = interrupted(Page("old", 1, "x", lit=True, lit_ms=PLAN, longest_ms=LONGEST), 0, "new")
    assert found is not None
    assert found.most_ns == LONGEST * MS


def test_who_watches_the_keeper_waits_for_the_dose_only_once_it_is_told() -> None:
    """Until a word has gone to the keeper, dark is due by the plan; then by the longest, and after a stop at once."""
    watch = Watch(1, 0)
    order = Order("x", "step", "s", 1, 1, "lamp", 0, 0, PLAN, longest_ms=LONGEST)
    watch.ordered(order)
    watch.heard(Lit("x", MS))
    assert watch.due_ns() == (PLAN + 1) * MS + LATE_NS
    watch.dosed(Dose("x", 9000))
    assert watch.due_ns() == (LONGEST + 1) * MS + LATE_NS
    watch.stopping(5 * MS)
    watch.dosed(Dose("x", 9000))
    assert watch.due_ns() == 5 * MS + LATE_NS
