"""The keeper's core in virtual time: beats, the sound of every dark, and a sounder that fails."""

from __future__ import annotations

import pytest
from tools.keeper_bench import MS, Bench, focus_lit, played

from hardware.sounds import Cue, notes
from hardware.wire import Dark, Lit, Reason, Refused, Sound, Sounded, Stop, Trouble, What


def test_beats_sound_at_their_times(bench: Bench) -> None:
    """Beats before the light count from its start, those in it from the light that really came on."""
    order = bench.order(3000, cues=[(-1000, "tick"), (-500, "tick"), (0, "hands"), (1000, "tick"), (4000, "tick")])
    bench.run(1965)
    bench.tap(5, 10_000)  # the light comes 30 ms late
    on = order.start_ns + 30 * MS
    expected = [
        (order.start_ns - 1000 * MS, "tick"),
        (order.start_ns - 500 * MS, "tick"),
        (on, "hands"),
        (on + 1000 * MS, "tick"),
        (on + 3000 * MS, "done"),
    ]
    assert [(sounded.at_ns, sounded.cue) for sounded in bench.all(Sounded)] == expected
    assert bench.sounder is not None
    assert bench.sounder.played == [notes(Cue(cue)) for _, cue in expected]


def test_beats_end_with_their_order(bench: Bench) -> None:
    """A cancelled order's beats are silent, and a light that is stopped ticks no more."""
    beats = [(-500, "tick"), (500, "tick"), (2500, "tick")]
    bench.order(5000, cues=beats)
    bench.run(1000)
    bench.tap(100, 5000)
    assert played(bench) == []
    bench.order(5000, cues=beats)
    bench.run(3000)
    bench.tap(100, 5000)
    assert played(bench) == [("tick", 0), ("tick", 0), ("stopped", 0)]


def test_beats_that_are_past_are_not_caught_up_with(bench: Bench) -> None:
    """A beat whose time has gone by is left out: better none than a wrong one."""
    bench.order(1000, in_ms=300, cues=[(-1000, "tick"), (-100, "tick")])
    bench.run(299)
    assert played(bench) == [("tick", 0)]


@pytest.mark.parametrize(
    ("kind", "end", "cue"),
    [
        ("step", "plan", "done"),
        ("step", "foot", "stopped"),
        ("step", "page", "stopped"),
        ("focus", "plan", "guard on"),
        ("focus", "foot", "guard on"),
        ("focus", "page", "guard on"),
        ("check", "plan", None),
    ],
)
def test_every_dark_has_its_sound(bench: Bench, kind: str, end: str, cue: str | None) -> None:
    """A step done and a step stopped sound differently, and focus light always says that the guard is on."""
    bench.order(1500, kind=kind)
    bench.run(3000)
    if end == "foot":
        bench.tap(50, 0)
    elif end == "page":
        bench.tell(Stop())
    bench.run(1000)
    assert played(bench) == ([] if cue is None else [(cue, 0)])


def test_the_daemon_may_have_a_cue_sounded(bench: Bench) -> None:
    """A cue that is asked for is sounded at once, with its count, and said to be."""
    bench.tell(Sound("number", 7))
    assert bench.said == [Sounded("number", 7, bench.now_ns)]
    assert bench.sounder is not None
    assert bench.sounder.played == [notes(Cue.NUMBER, 7)]


def test_without_a_sounder_there_is_no_focus_light() -> None:
    """No working sounder: focus light is refused, steps are not, and nothing claims to have sounded."""
    bench = Bench(sounder=False)
    bench.order(kind="focus")
    assert bench.last(Refused).reason == Reason.SILENT
    bench.order(1000)
    bench.run(5000)
    assert bench.last(Dark).why == "complete"
    assert not bench.all(Sounded)


def test_a_sounder_that_fails_ends_focus_light(bench: Bench) -> None:
    """A sounder that fails is said so once, ends focus light and keeps it away, and never ends a step."""
    assert bench.sounder is not None
    bench.order(10_000, cues=[(500, "tick"), (600, "tick")])
    bench.run(2100)
    bench.sounder.broken = True
    bench.run(1000)
    assert bench.all(Trouble) == [Trouble(What.SOUNDER, bench.last(Lit).at_ns + 500 * MS)]
    assert bench.lamp.lit
    other = Bench()
    focus_lit(other)
    assert other.sounder is not None
    other.sounder.broken = True
    other.tell(Sound("beat"))
    assert not other.lamp.lit
    assert other.last(Dark).why == "fault"
    other.order(kind="focus")
    assert other.last(Refused).reason == Reason.SILENT
