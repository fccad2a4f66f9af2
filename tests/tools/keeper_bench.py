"""A keeper on lines of the simplest kind, in virtual time: nothing here sleeps or touches a file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from hardware.clock import ManualClock
from hardware.keeper.keeper import Keeper
from hardware.lines.contacts import Changeover
from hardware.lines.lines import Lines
from hardware.slate import Page
from hardware.sounds import Note
from hardware.timing import Timing
from hardware.wire import Beat, FootDown, FromKeeper, Order, Sounded, Stopped, ToKeeper

MS = 1_000_000
BOOT = "boot-of-the-bench"
T = TypeVar("T")


class Lamp:
    """Remembers its edges: (ns, lit)."""

    def __init__(self, clock: ManualClock) -> None:
        self._clock = clock
        self.lit = False
        self.edges: list[tuple[int, bool]] = []
        self.broken = False
        self.closed = False

    def set(self, lit: bool) -> None:
        if self.broken:
            raise OSError("the lamp line does not answer")
        if lit != self.lit:
            self.lit = lit
            self.edges.append((self._clock.now_ns(), lit))

    def close(self) -> None:
        self.set(False)
        self.closed = True


class Contact:
    """Moves where it is told to; `deaf` loses the edges and leaves only the level."""

    def __init__(self, clock: ManualClock, *, closed: bool = False) -> None:
        self._clock = clock
        self._closed = closed
        self._edges: list[tuple[int, bool]] = []
        self.deaf = False

    def move(self, closed: bool, at_ns: int | None = None) -> None:
        if closed != self._closed and not self.deaf:
            self._edges.append((self._clock.now_ns() if at_ns is None else at_ns, closed))
        self._closed = closed

    def fileno(self) -> int | None:
        return None

    def edges(self) -> Sequence[tuple[int, bool]]:
        edges, self._edges = self._edges, []
        return edges

    def closed(self) -> bool:
        return self._closed

    def close(self) -> None:
        return


class Sounder:
    """Remembers what it was to play."""

    def __init__(self) -> None:
        self.played: list[Sequence[Note]] = []
        self.broken = False

    def play(self, notes: Sequence[Note]) -> None:
        if self.broken:
            raise OSError("the sounder does not answer")
        self.played.append(notes)

    def close(self) -> None:
        return


class Slate:
    """Remembers every page."""

    def __init__(self) -> None:
        self.pages: list[Page] = []
        self.closed = False

    def write(self, page: Page) -> None:
        assert not self.closed
        self.pages.append(page)

    def close(self) -> None:
        self.closed = True


class Bench:
    """One keeper with a lamp or two, a foot, a sounder and perhaps a lid."""

    def __init__(
        self,
        *,
        lamps: Sequence[str] = ("lamp",),
        sounder: bool = True,
        lid: bool = False,
        foot_closed: bool = False,
        slate: bool = False,
        timing: Timing | None = None,
        now_ns: int = 1_000_000 * MS,
        steps_with_lid_open: bool = False,
        changeover: bool = False,
        outlets: Sequence[str] = (),
        safelight_dark_while_lit: bool = False,
    ) -> None:
        self.clock = ManualClock(now_ns)
        self.lamps = {name: Lamp(self.clock) for name in lamps}
        self.lamp = self.lamps[lamps[0]]
        self.foot = Contact(self.clock, closed=foot_closed)
        self.rest = Contact(self.clock, closed=not foot_closed) if changeover else None
        self.wires = Changeover(self.foot, self.rest, now_ns) if self.rest else None
        self.outlets = {name: Lamp(self.clock) for name in outlets}
        self.sounder = Sounder() if sounder else None
        self.lid = Contact(self.clock, closed=True) if lid else None
        self.slate = Slate() if slate else None
        self.timing = Timing() if timing is None else timing
        self.said: list[FromKeeper] = []
        self.full = False
        """Nobody reads the pipe."""
        self.keeper = Keeper(
            Lines(
                True,
                dict(self.lamps),
                self.wires or self.foot,
                self.sounder,
                self.lid,
                self.wires,
                outlets=dict(self.outlets),
            ),
            self.timing,
            self.slate,
            self._hear,
            BOOT,
            4711,
            now_ns=now_ns,
            steps_with_lid_open=steps_with_lid_open,
            safelight_dark_while_lit=safelight_dark_while_lit,
        )
        self.seq = 0
        self._orders = 0

    def _hear(self, message: FromKeeper) -> None:
        if self.full:
            raise BlockingIOError
        self.said.append(message)
        if isinstance(message, (FootDown, Stopped)):
            self.seq = message.seq

    @property
    def now_ns(self) -> int:
        return self.clock.now_ns()

    def run_to(self, at_ns: int) -> None:
        """Let time pass, the keeper waking at each of its due moments."""
        keeper, clock = self.keeper, self.clock
        while (due_ns := keeper.due_ns()) is not None and due_ns <= at_ns:
            if due_ns > clock.now_ns():
                clock.set(due_ns)
            keeper.advance(clock.now_ns())
        clock.set(at_ns)

    def run(self, ms: float) -> None:
        self.run_to(self.now_ns + round(ms * MS))

    def sleep(self, ms: float) -> None:
        """Let time pass without the keeper: its process is stopped; then it goes round once."""
        self.clock.set(self.now_ns + round(ms * MS))
        self.keeper.poll(self.now_ns)
        self.keeper.advance(self.now_ns)

    def move(self, closed: bool) -> None:
        """Move the foot contact now."""
        if self.rest is not None:
            self.rest.move(not closed)
        self.foot.move(closed)
        self.look()

    def look(self) -> None:
        """Go round once."""
        self.keeper.poll(self.now_ns)
        self.keeper.advance(self.now_ns)

    def tap(self, *spans: float) -> None:
        """Close, wait, open, wait, … for these milliseconds in turn."""
        for n, ms in enumerate(spans):
            self.move(n % 2 == 0)
            self.run(ms)

    def move_lid(self, *, shut: bool) -> None:
        assert self.lid is not None
        self.lid.move(shut)
        self.keeper.poll(self.now_ns)
        self.keeper.advance(self.now_ns)

    def tell(self, message: ToKeeper) -> None:
        self.keeper.receive(message, self.now_ns)

    def order(
        self,
        lit_ms: int = 1000,
        *,
        in_ms: float = 2000,
        kind: str = "step",
        id_: str = "",
        lamp: str = "",
        foot_seq: int | None = None,
        cues: Sequence[tuple[int, str]] = (),
    ) -> Order:
        """Order a light that begins `in_ms` from now; return the order."""
        self._orders += 1
        order = Order(
            id=id_ or f"order-{self._orders}",
            kind=kind,
            sheet="sheet",
            step=1,
            part=1,
            lamp=lamp or next(iter(self.lamps)),
            foot_seq=self.seq if foot_seq is None else foot_seq,
            start_ns=self.now_ns + round(in_ms * MS),
            lit_ms=lit_ms,
            cues=tuple(Beat(at_ms, cue) for at_ms, cue in cues),
        )
        self.tell(order)
        return order

    def all(self, kind: type[T]) -> list[T]:
        """Return everything of one kind that the keeper said."""
        return [message for message in self.said if isinstance(message, kind)]

    def last(self, kind: type[T]) -> T:
        found = self.all(kind)
        assert found, f"no {kind.__name__} was said, only {self.said}"
        return found[-1]


def focus_lit(bench: Bench, lit_ms: int = 60_000) -> None:
    """Have focus light on."""
    bench.order(lit_ms, kind="focus")
    bench.run(2000)
    assert bench.lamp.lit


def played(bench: Bench) -> list[tuple[str, int]]:
    """Return the cues that were sounded, each with its count."""
    return [(sounded.cue, sounded.count) for sounded in bench.all(Sounded)]
