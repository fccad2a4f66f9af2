"""The laws of the outlets, over whatever a daemon says and a foot does, judged by what the lines did."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st
from tools.keeper_bench import MS, Bench

from hardware.wire import Lease, RoomLight, SheetOpen, Stop
from hardware.wiring_tables import OUTLETS


@dataclass(frozen=True, slots=True)
class Act:
    """Something that is done, and the time that passes before it."""

    what: str
    after_ms: float


ACTS = st.lists(
    st.builds(
        Act,
        st.sampled_from(
            (
                *(
                    "room on",
                    "room off",
                    "switch on",
                    *["shut and switch on"] * 6,
                    "sheet open",
                    "sheet shut",
                    "sheet shut",
                ),
                *("step", "focus", "check", "press", "press", "lid opens", "lid shuts", "stop", "nonsense", "lease"),
                *("pipe full", "pipe read", "stalls"),
            )
        ),
        st.sampled_from((0, 1, 20, 49, 50, 300, 1199, 1300, 1900, 2100, 4000)),
    ),
    min_size=4,
    max_size=40,
)


class Story:
    """A keeper with everything fitted, and what was done to it."""

    def __init__(self, *, safelight_dark: bool) -> None:
        self.bench = Bench(outlets=OUTLETS, lid=True, changeover=True, safelight_dark_while_lit=safelight_dark)
        self.begun_ns = self.bench.now_ns
        self.sheets: list[tuple[int, bool]] = [(self.begun_ns, True)]
        self.presses: list[int] = []
        self.asked: list[int] = []
        self.lids: list[tuple[int, bool]] = []
        self.bench.keeper.greet(self.begun_ns)

    def do(self, act: Act) -> None:
        bench = self.bench
        if act.what == "stalls":
            bench.sleep(min(act.after_ms, 10))  # a keeper that wakes late
            return
        bench.run(act.after_ms)
        match act.what:
            case "room on" | "room off":
                self.asked += [bench.now_ns] if act.what == "room on" else []
                bench.tell(RoomLight(act.what == "room on"))
            case "switch on" | "shut and switch on":
                if act.what != "switch on":
                    self.sheets.append((bench.now_ns, False))
                    bench.tell(SheetOpen(False))
                self.asked.append(bench.now_ns)
                bench.tell(RoomLight(False))
                bench.tell(RoomLight(True))
            case "sheet open" | "sheet shut":
                self.sheets.append((bench.now_ns, act.what == "sheet open"))
                bench.tell(SheetOpen(act.what == "sheet open"))
            case "step" | "focus" | "check":
                bench.order(1500, kind=act.what, in_ms=1300)
            case "press":
                self.presses.append(bench.now_ns)
                bench.tap(100, 100)
            case "lid opens" | "lid shuts":
                self.lids.append((bench.now_ns, act.what == "lid shuts"))
                bench.move_lid(shut=act.what == "lid shuts")
            case "stop":
                bench.tell(Stop())
            case "nonsense":
                bench.keeper.unreadable(bench.now_ns)
            case "lease":
                bench.tell(Lease(f"order-{bench._orders}"))
            case "pipe full" | "pipe read":
                bench.full = act.what == "pipe full"

    def end(self) -> None:
        self.bench.run(6000)
        self.bench.keeper.end("tether", self.bench.now_ns)

    def spans(self, name: str) -> list[tuple[int, int]]:
        """Return when a line was lit or active."""
        line = self.bench.outlets[name] if name in OUTLETS else self.bench.lamps[name]
        return [(on, off) for (on, _), (off, _) in zip(line.edges[::2], line.edges[1::2], strict=True)]


def overlap(one: list[tuple[int, int]], two: list[tuple[int, int]]) -> bool:
    return any(a < d and c < b for a, b in one for c, d in two)


@settings(max_examples=150, deadline=None)
@given(ACTS, st.booleans())
def test_the_laws_of_the_outlets_hold(acts: list[Act], safelight_dark: bool) -> None:
    """Room light and lamp are never on together, nor room light beside a sheet, an open box or a press; and so on.

    The safelight is on whenever no lamp is lit; the LED off while a sheet is open or a lamp lit; the alive line changes
    at most 60 ms apart while a lamp is lit, and not at all in the dark.
    """
    story = Story(safelight_dark=safelight_dark)
    for act in acts:
        story.do(act)
    story.end()
    bench = story.bench
    lamp, room, led = story.spans("lamp"), story.spans("room_light"), story.spans("status_led")
    told = _told(story)
    assert not overlap(room, lamp)
    assert not overlap(room, told)
    assert not overlap(led, told)
    assert not overlap(led, lamp)
    assert story.spans("safelight") == (lamp if safelight_dark else [])
    shut = [(at, end) for (at, is_shut), end in _until(story.lids, bench.now_ns) if not is_shut and end > at]
    assert not overlap(room, shut)
    for pressed_ns in story.presses:
        # a press ends white light as soon as it is known, and none comes on for 1.2 s
        assert not overlap(room, [(pressed_ns + 25 * MS, pressed_ns + 1200 * MS)])
    for on_ns, off_ns in room:
        words = [at for at in story.asked if on_ns <= at <= off_ns]
        assert off_ns <= max(words) + 2000 * MS + 10 * MS
    edges = [at for at, _ in bench.outlets["alive"].edges]
    for on_ns, off_ns in lamp:
        within = [on_ns, *edges[bisect_right(edges, on_ns) : bisect_right(edges, off_ns)], off_ns]
        assert on_ns in edges
        assert all(b - a <= 60 * MS for a, b in pairwise(within))
    assert all(any(on_ns <= at <= off_ns for on_ns, off_ns in lamp) for at in edges)


def _until(words: list[tuple[int, bool]], end_ns: int) -> list[tuple[tuple[int, bool], int]]:
    ends = [*(at for at, _ in words), end_ns][1:]
    return list(zip(words, ends, strict=True))


def _told(story: Story) -> list[tuple[int, int]]:
    words = _until(story.sheets, story.bench.now_ns)
    return [(at, end) for (at, open_), end in words if open_ and end > at]
