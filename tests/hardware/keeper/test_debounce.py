"""Foot-downs, ups and holds out of raw edges."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from hardware.keeper.debounce import Debounce, Down, Hold, Known, Stuck, Up
from hardware.timing import Timing

LAW = settings(deadline=None)  # a busy machine breaks no law
MS = 1_000_000
START = 5_000 * MS
Edges = list[tuple[float, bool]]


def heard(edges: Edges, until_ms: float, *, closed: bool = False, timing: Timing | None = None) -> list[Known]:
    """Play edges, in ms from the start, and return everything that becomes known, with times from the start."""
    contact = Debounce(timing or Timing(), at_ns=START, closed=closed)
    known: list[Known] = []
    for at_ms, level in edges:
        contact.edge(START + round(at_ms * MS), level)
        known += contact.advance(START + round(at_ms * MS))
    known += contact.advance(START + round(until_ms * MS))
    return known


def ms(at_ns: int) -> float:
    return (at_ns - START) / MS


def downs(known: list[Known]) -> list[tuple[float, float]]:
    return [(ms(event.first_ns), ms(event.at_ns)) for event in known if isinstance(event, Down)]


@st.composite
def contacts(draw: st.DrawFn, *, size: int = 40) -> list[tuple[int, bool]]:
    """Return edges in whole ms: clean presses, bounce, glitches, wet chatter, and spans about the limits."""
    span = st.one_of(st.integers(1, 8), st.integers(9, 30), st.integers(55, 65), st.integers(30, 1500))
    at, edges = 0, []
    for n in range(draw(st.integers(0, size))):
        at += draw(span)
        edges.append((at, n % 2 == 0))
    return edges


def presses_by_sampling(edges: list[tuple[int, bool]], until_ms: int) -> list[tuple[int, int, float]]:
    """Return (first contact, known, opened or inf) of each foot-down, by looking at every millisecond in turn.

    The rule of the timing table in its plainest form, and no more than that: closed for 25 ms of the last 60 is
    down, its first contact the first closing edge in these 60 ms; open for 60 ms on end is up.
    """
    level = [False] * (until_ms + 1)  # level[t]: closed between t and t + 1
    for (at, closed), (then, _) in pairwise([*edges, (until_ms + 1, False)]):
        level[at:then] = [closed] * (then - at)
    found: list[tuple[int, int, float]] = []
    foot = False
    for t in range(until_ms + 1):
        last = level[max(0, t - 60) : t]
        if foot and len(last) == 60 and not any(last):
            foot = False
            found[-1] = (*found[-1][:2], t - 60)
        if not foot and sum(last) >= 25 and last[-1]:
            first = next(at for at, closed in edges if closed and at >= t - 60)
            found.append((first, t, math.inf))
            foot = True
    return found


@LAW
@given(contacts())
@example([(10, True), (30, False), (69, True), (80, False), (100, True)])
@example([(10, True), (34, False), (69, True), (70, False)])
def test_agrees_with_looking_every_millisecond(edges: list[tuple[int, bool]]) -> None:
    """Downs, their first contacts and their ups are those of the rule applied to every millisecond."""
    until = (edges[-1][0] if edges else 0) + 200
    known = heard([(at, closed) for at, closed in edges], until)
    expected = presses_by_sampling(edges, until)
    assert downs(known) == [(first, at) for first, at, _ in expected]
    ups = [ms(event.opened_ns) for event in known if isinstance(event, Up)]
    assert ups == [opened for _, _, opened in expected if opened < math.inf]


@LAW
@given(contacts())
def test_what_is_told_is_in_order_and_alternates(edges: list[tuple[int, bool]]) -> None:
    """Events come in the order of their times; each down has at most one up, one hold and one stuck, in that frame."""
    known = heard([(at, closed) for at, closed in edges], (edges[-1][0] if edges else 0) + 20_000)
    times = [event.at_ns for event in known]
    assert times == sorted(times)
    frame: list[type[Known]] = []
    for event in known:
        if isinstance(event, Down):
            assert not frame
            frame = [Down]
        elif isinstance(event, Up):
            assert frame
            frame = []
        else:
            assert Down in frame
            assert type(event) not in frame
            frame.append(type(event))


@LAW
@given(contacts(), st.integers(1, 97))
def test_looking_more_often_changes_nothing(edges: list[tuple[int, bool]], step_ms: int) -> None:
    """What is known does not depend on when the contact is looked at between its edges."""
    until = (edges[-1][0] if edges else 0) + 2_000
    looked = Debounce(Timing(), at_ns=START)
    known: list[Known] = []
    rest = [(START + at * MS, closed) for at, closed in edges]
    for now in range(START, START + until * MS + 1, step_ms * MS):
        while rest and rest[0][0] <= now:
            looked.edge(*rest.pop(0))
        known += looked.advance(now)
    known += looked.advance(START + until * MS)
    assert known == heard([(at, closed) for at, closed in edges], until)


@LAW
@given(contacts())
def test_due_is_when_something_becomes_known(edges: list[tuple[int, bool]]) -> None:
    """Before its due moment nothing is known, and at it something is."""
    contact = Debounce(Timing(), at_ns=START)
    for at, closed in [*edges, (edges[-1][0] + 30_000 if edges else 1, None)]:
        now = START + at * MS
        while (due := contact.due_ns()) is not None and due <= now:
            assert contact.advance(due - 1) == ()
            assert contact.advance(due)
        assert contact.advance(now) == ()
        if closed is not None:
            contact.edge(now, closed)


@LAW
@given(st.lists(st.integers(1, 59), min_size=1, max_size=30), st.integers(25, 200))
def test_closures_less_than_60_ms_apart_are_one_press(gaps: list[int], last_ms: int) -> None:
    """Closures less than 60 ms apart are one press, whatever their number."""
    at, edges = 0, []
    for gap in gaps:
        edges += [(at, True), (at + 30, False)]
        at += 30 + gap
    edges += [(at, True), (at + last_ms, False)]
    known = heard([(float(t), closed) for t, closed in edges], at + last_ms + 500)
    assert downs(known) == [(0, 25)]
    assert [ms(event.opened_ns) for event in known if isinstance(event, Up)] == [at + last_ms]


@LAW
@given(st.integers(60, 2000), st.integers(25, 500), st.integers(25, 500))
def test_closures_60_ms_apart_are_two_presses(gap_ms: int, one_ms: int, two_ms: int) -> None:
    """Two closures with 60 ms or more of rest between them are two presses."""
    second = one_ms + gap_ms
    known = heard([(0, True), (one_ms, False), (second, True), (second + two_ms, False)], second + two_ms + 100)
    assert downs(known) == [(0, 25), (second, second + 25)]


@LAW
@given(st.lists(st.tuples(st.integers(1, 24), st.integers(60, 300)), max_size=20))
def test_less_than_25_ms_in_60_is_no_press(glitches: list[tuple[int, int]]) -> None:
    """A contact that is never closed for 25 ms of 60 is not heard at all."""
    at, edges = 0, []
    for closed_ms, open_ms in glitches:
        edges += [(at, True), (at + closed_ms, False)]
        at += closed_ms + open_ms
    assert heard([(float(t), closed) for t, closed in edges], at + 1000) == []


@LAW
@given(st.lists(st.integers(1, 4), min_size=1, max_size=30))
def test_a_chattering_contact_is_known_within_50_ms(spans: list[int]) -> None:
    """A contact that chatters, closed more than half of the time, is known in twice the time of a clean one."""
    at, edges = 0, []
    while at < 60:
        for span in spans:
            edges += [(float(at), True), (float(at + span + 1), False)]
            at += 2 * span + 1
    ((first, told),) = downs(heard(edges, at))
    assert first == 0
    assert told <= 50


def test_a_clean_press_is_known_after_25_ms() -> None:
    """A clean press is known 25 ms after its first contact, its release 60 ms after the opening edge."""
    known = heard([(100, True), (250, False)], 400)
    assert known == [
        Down(START + 100 * MS, START + 125 * MS),
        Up(START + 250 * MS, START + 310 * MS),
    ]


def test_first_contact_is_the_first_closing_edge_of_the_window() -> None:
    """Bounce before the contact settles belongs to the press, a glitch more than 60 ms before it does not."""
    known = heard([(0, True), (5, False), (100, True), (102, False), (104, True), (300, False)], 300)
    assert downs(known) == [(100, 127)]


def test_a_pulse_that_slides_out_of_the_window_counts_no_more() -> None:
    """Only closed time of the last 60 ms counts: 20 ms of it long ago and 20 ms now are no press."""
    known = heard([(0, True), (20, False), (59, True), (79, False)], 300)
    assert known == []


def test_the_hold_falls_at_800_ms_from_first_contact_and_once() -> None:
    """A hold is told once a foot-down, 0.8 s after first contact."""
    known = heard([(0, True), (3000, False)], 3500)
    assert [(ms(event.first_ns), ms(event.at_ns)) for event in known if isinstance(event, Hold)] == [(0, 800)]


def test_a_longer_hold_may_be_set() -> None:
    """The hold follows the timing table."""
    known = heard([(0, True), (1400, False)], 2000, timing=Timing(hold_ms=1500, lead_in_ms=2500))
    assert not [event for event in known if isinstance(event, Hold)]


def test_a_hold_that_falls_in_a_gap_of_the_chatter_waits_for_the_contact() -> None:
    """With the contact open at 0.8 s the hold comes when it closes again, if that is before it is an up."""
    known = heard([(0, True), (790, False), (830, True), (900, False)], 1000)
    assert [ms(event.at_ns) for event in known if isinstance(event, Hold)] == [830]


def test_a_release_that_is_not_yet_known_makes_no_hold() -> None:
    """A contact opened just before 0.8 s, and left so, is an up and never a hold."""
    known = heard([(0, True), (790, False)], 2000)
    assert [type(event) for event in known] == [Down, Up]


def test_a_switch_held_for_ten_seconds_is_stuck_until_it_is_released() -> None:
    """Ten seconds without rest is told once, and the release ends it."""
    known = heard([(0, True), (15_000, False)], 16_000)
    assert [(type(event), ms(event.at_ns)) for event in known] == [
        (Down, 25),
        (Hold, 800),
        (Stuck, 10_000),
        (Up, 15_060),
    ]


def test_a_contact_closed_at_the_start_counts_only_after_60_ms_open() -> None:
    """What is closed at the start is no press, however it chatters, until it has been open for 60 ms on end."""
    known = heard([(300, False), (340, True), (900, False), (1000, True), (1100, False)], 1300, closed=True)
    assert [(type(event), ms(event.at_ns)) for event in known] == [(Up, 960), (Down, 1025), (Up, 1160)]


def test_a_contact_closed_from_the_start_is_stuck_after_ten_seconds() -> None:
    """A shorted cable is a stuck switch, though it was never a press."""
    known = heard([(12_000, False)], 13_000, closed=True)
    assert [(type(event), ms(event.at_ns)) for event in known] == [(Stuck, 10_000), (Up, 12_060)]


@pytest.mark.parametrize(("at_ms", "rest"), [(0, True), (10, False), (20, False), (79.9, False), (80, True)])
def test_at_rest_is_open_for_60_ms(at_ms: float, rest: bool) -> None:
    """The contact is at rest where it is open and has been for 60 ms, glitches included."""
    contact = Debounce(Timing(), at_ns=START)
    if at_ms >= 10:
        contact.edge(START + 10 * MS, True)
        assert contact.rest_ns() is None
    if at_ms >= 20:
        contact.edge(START + 20 * MS, False)
        assert contact.rest_ns() == START + 80 * MS
    assert contact.at_rest(START + round(at_ms * MS)) is rest


def test_an_edge_that_comes_late_keeps_its_time_and_the_order() -> None:
    """An edge stamped before what has been told already keeps its time; what is told stays in order."""
    contact = Debounce(Timing(), at_ns=START)
    contact.edge(START, True)
    contact.edge(START + 100 * MS, False)
    known = list(contact.advance(START + 170 * MS))
    contact.edge(START + 110 * MS, True)
    contact.edge(START + 150 * MS, False)
    known += contact.advance(START + 200 * MS)
    assert [(type(event), ms(event.at_ns)) for event in known] == [(Down, 25), (Up, 160), (Down, 160)]
    assert downs(known)[1] == (110, 160)
    assert contact.first_contact_ns == START + 110 * MS


def test_an_edge_of_the_past_is_taken_as_the_last_ones_time() -> None:
    """Edges never run backwards, whatever their stamps say."""
    contact = Debounce(Timing(), at_ns=START)
    contact.edge(START + 50 * MS, True)
    contact.edge(START + 20 * MS, False)
    assert contact.rest_ns() == START + 110 * MS
