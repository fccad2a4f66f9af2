"""The laws of light, over any number of raw edges, orders, stops, cancels and leases, in virtual time.

A small daemon here orders lights as a real one does, and also too early, too late, twice and behind the foot. What
the keeper did is then judged from outside: by the raw edges of the contact, the edges of the lamp lines, and what
was said, with a reckoning of presses of its own that shares nothing with the keeper's.
"""

from __future__ import annotations

import heapq
import os
import random
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise

import pytest
from tools.keeper_bench import MS, Bench

from hardware.wire import (
    Accepted,
    Beat,
    Cancel,
    Cancelled,
    Dark,
    Dose,
    FootDown,
    FootStuck,
    FootUp,
    FromKeeper,
    Lease,
    Lit,
    Order,
    Refused,
    Stop,
    Stopped,
    ToKeeper,
)

EDGES = int(os.environ.get("TREADLE_EDGES", "100000"))
"""How many raw edges the first law test plays; the million are `long`."""
FIRST_SEED = int(os.environ.get("TREADLE_SEED", "1"))
EDGES_EACH = 2_500
TENTH = MS // 10
"""Every moment is a whole tenth of a millisecond, so that things do fall together."""


@dataclass(frozen=True, slots=True)
class Press:
    """A press, reckoned from raw edges alone."""

    first_ns: int
    known_ns: int
    up_ns: int


def presses(closures: list[tuple[int, int]], *, closed_at_start: bool) -> list[Press]:
    """Return the presses in closures (closed, opened).

    Closures less than 60 ms apart belong together. In each such group the closed time of the last 60 ms, as a
    function of time, is a broken straight line; the press is known where that line first reaches 25 ms.
    """
    groups: list[list[tuple[int, int]]] = []
    for closed, opened in closures:
        if groups and closed - groups[-1][-1][1] < 60 * MS:
            groups[-1].append((closed, opened))
        else:
            groups.append([(closed, opened)])
    found = []
    for group in groups[1 if closed_at_start else 0 :]:
        known = _reaches_25(group)
        if known is not None:
            first = next(closed for closed, _ in group if closed >= known - 60 * MS)
            found.append(Press(first, known, group[-1][1] + 60 * MS))
    return found


def _reaches_25(group: list[tuple[int, int]]) -> int | None:
    corners = sorted({at + shift for pair in group for at in pair for shift in (0, 60 * MS)})
    start = 0
    before_at, before = corners[0], 0
    for at in corners[1:]:
        while group[start][1] <= at - 60 * MS and start < len(group) - 1:
            start += 1
        total = 0
        for closed, opened in group[start:]:
            if closed >= at:
                break
            total += max(0, min(opened, at) - max(closed, at - 60 * MS))
        if total >= 25 * MS:
            return before_at + 25 * MS - before
        before_at, before = at, total
    return None


@dataclass
class World:
    """One session: a foot, a small daemon, and the keeper between them."""

    seed: int
    late_ns: int
    """The keeper wakes up to this much late."""
    rng: random.Random = field(init=False)
    dose_dice: random.Random = field(init=False)
    """Of its own: a session goes on as it would if no dose were asked for."""
    edges: list[tuple[int, bool]] = field(default_factory=list)
    sent: dict[str, Order] = field(default_factory=dict)
    leases: list[tuple[int, str]] = field(default_factory=list)
    doses: list[tuple[int, Dose]] = field(default_factory=list)
    lid_edges: list[tuple[int, bool]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rng, self.dose_dice = random.Random(self.seed), random.Random(-1 - self.seed)
        self.starts_closed = self.rng.random() < 0.1
        self.bench = Bench(
            lamps=("soft", "hard"),
            lid=self.rng.random() < 0.4,
            foot_closed=self.starts_closed,
            sounder=self.rng.random() < 0.9,
        )
        self.begun_ns = self.bench.now_ns
        self.bench.keeper.greet(self.begun_ns)
        self._acts: list[tuple[int, int, Callable[[], None]]] = []
        self._acted = self._heard = 0
        self._wake_ns: int | None = None  # something has come that the keeper will see then

    # ---- time

    def within(self, least_ms: float, most_ms: float) -> int:
        return self.rng.randrange(round(least_ms * 10), round(most_ms * 10) + 1) * TENTH

    def later(self, at_ns: int, act: Callable[[], None]) -> None:
        self._acted += 1
        heapq.heappush(self._acts, (at_ns, self._acted, act))

    def lateness(self) -> int:
        return self.rng.randrange(self.late_ns // TENTH + 1) * TENTH if self.late_ns else 0

    def run_to(self, until_ns: int) -> None:
        bench, keeper = self.bench, self.bench.keeper
        while True:
            due_ns = keeper.due_ns()
            wake_ns = self._wake_ns
            if due_ns is not None:
                due_ns += self.lateness()
                wake_ns = due_ns if wake_ns is None else min(wake_ns, due_ns)
            act_ns = self._acts[0][0] if self._acts else None
            if act_ns is not None and act_ns <= until_ns and (wake_ns is None or act_ns <= wake_ns):
                bench.clock.set(max(act_ns, bench.now_ns))
                heapq.heappop(self._acts)[2]()
            elif wake_ns is not None and wake_ns <= until_ns:
                bench.clock.set(max(wake_ns, bench.now_ns))
                self.wake()
            else:
                break
        bench.clock.set(until_ns)

    def wake(self) -> None:
        bench = self.bench
        self._wake_ns = None
        bench.keeper.poll(bench.now_ns)
        bench.keeper.advance(bench.now_ns)
        self.react()

    def ring(self) -> None:
        if not self.late_ns:
            self.wake()
        elif self._wake_ns is None:
            self._wake_ns = self.bench.now_ns + self.lateness()

    # ---- the foot

    def play(self, count: int) -> None:
        if self.starts_closed:
            self.run_to(self.bench.now_ns + self.within(0, 300))
            self.move(False)
        while len(self.edges) < count:
            for n, span in enumerate(self.gesture()):
                self.move(n % 2 == 0)
                self.run_to(self.bench.now_ns + span)
            self.move(False)
            self.run_to(self.rest())
            if self.rng.random() < 0.06:
                self.meddle()
        self.run_to(self.bench.now_ns + 30_000 * MS)

    def move(self, closed: bool) -> None:
        if self.bench.foot.closed() != closed:
            self.edges.append((self.bench.now_ns, closed))
            self.bench.foot.move(closed)
            self.ring()

    def gesture(self) -> list[int]:
        """Return closed and open spans in turn, beginning and ending with a closed one."""
        rng, within = self.rng, self.within
        kind = rng.random()
        if kind < 0.25:
            return [within(25, 600)]
        if kind < 0.33:
            return [within(780, 1600)]
        if kind < 0.55:  # bounce, then a press, then bounce
            spans = [within(0.1, 4) for _ in range(2 * rng.randrange(1, 5))]
            spans.append(within(20, 900))
            return spans + [within(0.1, 4) for _ in range(2 * rng.randrange(4))]
        if kind < 0.70:  # a glitch or some
            spans = [within(0.1, 26)]
            while rng.random() < 0.5:
                spans += [within(0.1, 61), within(0.1, 26)]
            return spans
        if kind < 0.85:  # wet
            most = rng.choice([3, 8, 20])
            return [within(0.1, most) for _ in range(2 * rng.randrange(3, 40) + 1)]
        if kind < 0.99:  # about the limits
            spans = []
            for _ in range(rng.randrange(1, 6)):
                spans += [rng.choice([5, 12.5, 24.9, 25, 25.1]), rng.choice([0.1, 34.9, 35, 47.5, 59.9, 60, 60.1])]
            return [round(span * MS) for span in spans[:-1]]
        return [within(9_900, 11_000)]

    def rest(self) -> int:
        """Return when the contact closes next: some time, or aimed at the beginning or the end of a light."""
        rng, now = self.rng, self.bench.now_ns
        lit = next((m for m in reversed(self.bench.said) if isinstance(m, (Accepted, Lit, Dark, Cancelled))), None)
        if isinstance(lit, (Accepted, Lit)) and rng.random() < 0.6:
            order = self.sent[lit.id]
            if isinstance(lit, Accepted):
                aim = order.start_ns + self.within(-130, 160)
            else:
                aim = lit.at_ns + min(order.lit_ms, 8000) * MS + self.within(-90, 60)
            if aim > now:
                return aim
        kind = rng.random()
        least, most = (
            (0.1, 70) if kind < 0.1 else (60, 400) if kind < 0.35 else (300, 1500) if kind < 0.7 else (1500, 4500)
        )
        return now + self.within(least, most)

    # ---- the daemon

    def react(self) -> None:
        said = self.bench.said
        while self._heard < len(said):
            message = said[self._heard]
            self._heard += 1
            match message:
                case FootDown(seq, first_ns):
                    if self.rng.random() < 0.8:
                        self.order_soon(seq, first_ns)
                case FootStuck(seq):
                    self.order_soon(seq, self.bench.now_ns)
                case Dark(why="complete") | Stopped() if self.rng.random() < 0.3:
                    self.order_soon(self.bench.seq, self.bench.now_ns)
                case Lit(id_):
                    if self.sent[id_].kind == "focus":
                        self.renew(id_)
                    self.say_doses(self.sent[id_])
                    if self.rng.random() < 0.15:
                        self.meddle()

    def order_soon(self, seq: int, first_ns: int) -> None:
        rng, within = self.rng, self.within
        kind = rng.random()
        start_ns = first_ns + (
            2000 * MS
            if kind < 0.6
            else 1200 * MS
            if kind < 0.7
            else within(1200, 6300)
            if kind < 0.9
            else 1200 * MS - TENTH
            if kind < 0.93
            else within(0, 1200)
        )
        order = Order(
            id=f"{self.seed}-{len(self.sent)}",
            kind=rng.choices(["step", "focus", "check", "dance"], [70, 20, 9, 1])[0],
            sheet="s",
            step=1,
            part=1,
            lamp=rng.choices(["soft", "hard", "heat"], [60, 39, 1])[0],
            foot_seq=max(0, seq + rng.choices([0, -1, 1], [96, 2, 2])[0]),
            start_ns=start_ns,
            lit_ms=rng.choices([rng.randrange(1, 300), rng.randrange(300, 6000), 700_000, 0], [30, 66, 2, 2])[0],
            cues=tuple(Beat(rng.randrange(-2000, 3000), "tick") for _ in range(rng.randrange(3))),
        )
        order = replace(order, longest_ms=self.longest_of(order))
        self.sent[order.id] = order
        delay = within(0, 40) if rng.random() < 0.7 else within(0, 400)
        self.later(self.bench.now_ns + delay, lambda: self.tell(order))
        if rng.random() < 0.03:
            self.later(self.bench.now_ns + delay + within(0, 5000), lambda: self.tell(order))
        if rng.random() < 0.05:
            self.later(self.bench.now_ns + delay + within(0, 2500), lambda: self.tell(Cancel(order.id)))

    def longest_of(self, order: Order) -> int:
        """Return how long an order may last for its dose: as a rule none is asked for, and some ask for too much."""
        dice = self.dose_dice
        if dice.random() < 0.6:
            return 0
        return round(order.lit_ms * dice.choice([0.5, 1.0, 1.1, 1.25, 1.2599, 1.27, 2.0]))

    def say_doses(self, order: Order) -> None:
        """Say again and again when a light has its dose: sooner, later, far too late, of another light."""
        dice = self.dose_dice
        for _ in range(dice.randrange(5)):
            at_ns = self.bench.now_ns + round(order.lit_ms * dice.uniform(0, 1.3)) * MS
            id_ = order.id if dice.random() < 0.9 else dice.choice(list(self.sent))
            lit_ms = round(order.lit_ms * dice.choice([-1, 0, 0.5, 0.8, 1, 1.1, 1.25, 1.5, 10, 1000]))
            self.later(at_ns, partial(self.tell_dose, Dose(id_, lit_ms)))

    def tell_dose(self, dose: Dose) -> None:
        self.doses.append((self.bench.now_ns, dose))
        self.tell(dose)

    def renew(self, id_: str) -> None:
        if self.rng.random() < 0.8:
            at_ns = self.bench.now_ns + (self.within(100, 1900) if self.rng.random() < 0.8 else self.within(1900, 2100))
            self.later(at_ns, lambda: self.lease(id_))

    def lease(self, id_: str) -> None:
        self.leases.append((self.bench.now_ns, id_))
        self.tell(Lease(id_))
        if self.bench.keeper.lit:
            self.renew(id_)

    def meddle(self) -> None:
        """Stop from the page, or send nonsense, or open the box: soon, and at any moment."""
        at_ns, kind = self.bench.now_ns + self.within(0, 3000), self.rng.random()
        if kind < 0.4:
            self.later(at_ns, lambda: self.tell(Stop(self.rng.choice(["page", "fault", "level"]))))
        elif kind < 0.5:
            self.later(at_ns, lambda: self.bench.keeper.unreadable(self.bench.now_ns))
        elif self.bench.lid is not None:
            self.later(at_ns, lambda: self.move_lid(False))
            self.later(at_ns + self.within(0.1, 2000), lambda: self.move_lid(True))

    def move_lid(self, shut: bool) -> None:
        assert self.bench.lid is not None
        if self.bench.lid.closed() != shut:
            self.lid_edges.append((self.bench.now_ns, shut))
            self.bench.lid.move(shut)
            self.ring()

    def tell(self, message: ToKeeper) -> None:
        self.bench.keeper.poll(self.bench.now_ns)
        self.bench.tell(message)
        self.react()

    # ---- the judge

    def closures(self) -> list[tuple[int, int]]:
        edges = [(self.begun_ns, True), *self.edges] if self.starts_closed else self.edges
        return [(edges[n][0], edges[n + 1][0]) for n in range(0, len(edges), 2)]

    def lights(self) -> list[Light]:
        """Return every light of every lamp line, in order."""
        found = [
            (on[0], off[0], name)
            for name, lamp in self.bench.lamps.items()
            for on, off in zip(lamp.edges[::2], lamp.edges[1::2], strict=True)
        ]
        outcome = {m.id: m for m in self.bench.said if isinstance(m, Lit)}
        by_on = {(lit.at_ns, self.sent[lit.id].lamp): lit.id for lit in outcome.values()}
        return [Light(on, off, self.sent[by_on[on, name]]) for on, off, name in sorted(found)]

    def judge(self) -> Counter[str]:
        """Check every law; return how often each thing happened."""
        closures, lights = self.closures(), self.lights()
        pressed = presses(closures, closed_at_start=self.starts_closed)
        self.judge_contact(closures, pressed, lights)
        self.judge_lengths(lights)
        self.judge_outcomes(lights)
        self.judge_lid(lights)
        return self.judge_words(pressed, lights)

    def judge_contact(self, closures: list[tuple[int, int]], pressed: list[Press], lights: list[Light]) -> None:
        opened = [pair[1] for pair in closures]
        for light in lights:
            # no light comes on while the contact is not at rest
            n = bisect_right(closures, (light.on_ns - 1, 1 << 62))
            assert n == 0 or opened[n - 1] <= light.on_ns - 60 * MS, (self.seed, light)
        ons = [light.on_ns for light in lights]
        for press in pressed:
            # nor within 1.2 s of a first contact
            n = bisect_right(ons, press.first_ns)
            assert n == len(ons) or ons[n] >= press.first_ns + 1200 * MS, (self.seed, press, lights[n])
            # every down with the light on ends it: within 60 ms and what it takes to act, 45 ms where the
            # contact was closed for 25 of them
            if n and lights[n - 1].off_ns > press.first_ns:
                off_ns = lights[n - 1].off_ns
                assert press.known_ns - press.first_ns <= 60 * MS
                assert off_ns <= press.known_ns + self.late_ns <= press.first_ns + 80 * MS, (self.seed, press)
                quick_ns = press.first_ns + 45 * MS
                closed_ns = sum(
                    max(0, min(b, quick_ns) - max(a, press.first_ns))
                    for a, b in closures[bisect_left(closures, (press.first_ns, 0)) :][:60]
                )
                assert closed_ns < 25 * MS or off_ns <= quick_ns + self.late_ns, (self.seed, press)

    def judge_lengths(self, lights: list[Light]) -> None:
        for light, then in pairwise(lights):
            gap = 50 * MS if light.order.lamp != then.order.lamp else 0
            assert then.on_ns >= light.off_ns + gap, (self.seed, light, then)
        for light in lights:
            order, length = light.order, light.off_ns - light.on_ns
            limit_ms = 300_000 if order.kind == "focus" else 600_000
            waits = self.late_ns if order.kind == "focus" else 100 * MS
            assert 1 <= order.lit_ms <= limit_ms
            assert order.start_ns <= light.on_ns <= order.start_ns + waits, (self.seed, light)
            # never more than ordered
            assert length <= self.longest_ns(light) + self.late_ns, (self.seed, light)
            # and that is never more than a third of a stop over the plan
            assert self.longest_ns(light) <= order.lit_ms * 2 ** (1 / 3) * MS, (self.seed, light)
            if order.kind == "focus":
                good_ns = light.on_ns + 2000 * MS
                for at_ns, id_ in self.leases:
                    if id_ == order.id and light.on_ns <= at_ns <= min(good_ns, light.off_ns):
                        good_ns = at_ns + 2000 * MS
                assert light.off_ns <= good_ns + self.late_ns, (self.seed, light)

    def longest_ns(self, light: Light) -> int:
        """Return how long a light may have lasted: its plan, or what the words of its dose make of it.

        The first one may put the end off, up to the order's longest; each later one only brings it nearer.
        """
        order, end_ns, first = light.order, light.order.lit_ms * MS, True
        for at_ns, dose in self.doses:
            since_ns = at_ns - light.on_ns
            if dose.id == order.id and order.longest_ms and 0 <= since_ns < end_ns:
                most_ns = order.longest_ms * MS if first else end_ns
                end_ns, first = max(since_ns, min(dose.lit_ms * MS, most_ns)), False
        return end_ns

    def judge_outcomes(self, lights: list[Light]) -> None:
        """Every order has one outcome, the lamp lines agree with it, and no order outlives a foot-down or a stop."""
        stage: dict[str, str] = {}
        seq, on_ns, lit, ended_by = 0, 0, iter(lights), ""
        standing = ""
        for message in self.bench.said:
            match message:
                case Accepted(id_):
                    assert id_ not in stage
                    assert not standing
                    assert self.sent[id_].foot_seq == seq
                    stage[id_], standing = "pending", id_
                case Refused(id_):
                    stage.setdefault(id_, "refused")
                case Cancelled(id_):
                    assert (stage[id_], standing) == ("pending", id_)
                    stage[id_], standing = "cancelled", ""
                case Lit(id_, on_ns):
                    assert (stage[id_], standing) == ("pending", id_)
                    stage[id_] = "lit"
                case Dark(id_, since_ns, dark_ns, why):
                    assert (stage[id_], standing, since_ns) == ("lit", id_, on_ns)
                    stage[id_], standing, ended_by = "dark", "", id_ if why == "foot" else ""
                    light = next(lit)
                    assert (light.on_ns, light.off_ns, light.order.id) == (on_ns, dark_ns, id_)
                    if why in {"complete", "limit"}:
                        assert dark_ns - on_ns >= self.longest_ns(light)
                        assert (why == "limit") == (light.order.kind == "focus")
                case FootDown() | Stopped():
                    seq += 1
                    assert message.seq == seq
                    assert not standing
                    if isinstance(message, FootDown):
                        assert message.lit == ended_by
                    ended_by = ""
                case FootStuck():
                    assert not standing
        assert next(lit, None) is None
        assert not standing
        assert "lit" not in stage.values()

    def judge_lid(self, lights: list[Light]) -> None:
        if self.bench.lid is None:
            assert not self.lid_edges
            return
        opens = self.lid_edges[::2]
        shuts = [*self.lid_edges[1::2], (1 << 62, True)]
        for (open_ns, _), (shut_ns, _) in zip(opens, shuts, strict=False):
            for light in lights:
                assert not open_ns < light.on_ns < shut_ns + 60 * MS, (self.seed, light)
                if light.order.kind == "focus" and light.on_ns <= open_ns <= light.off_ns:
                    assert light.off_ns <= open_ns + self.late_ns

    def judge_words(self, pressed: list[Press], lights: list[Light]) -> Counter[str]:
        said = self.bench.said
        times = [at(message) for message in said if not isinstance(message, Accepted)]
        assert times == sorted(times), self.seed
        downs, ups = self.bench.all(FootDown), self.bench.all(FootUp)
        assert [down.first_ns for down in downs] == [press.first_ns for press in pressed], self.seed
        for down, press in zip(downs, pressed, strict=True):
            assert press.known_ns <= down.at_ns <= press.known_ns + self.late_ns
        up_ns = {press.up_ns for press in pressed}
        assert up_ns <= {up.opened_ns + 60 * MS for up in ups}
        assert len(ups) - len(up_ns) <= (1 if self.starts_closed else 0)
        count = Counter(type(message).__name__ for message in said)
        count += Counter(f"refused {m.reason}" for m in said if isinstance(m, Refused))
        count += Counter(f"dark {m.why}" for m in said if isinstance(m, Dark))
        count += Counter(f"cancelled {m.why}" for m in said if isinstance(m, Cancelled))
        count["waited"] = sum(light.on_ns > light.order.start_ns + self.late_ns for light in lights)
        count["edges"] = len(self.edges)
        return count


@dataclass(frozen=True, slots=True)
class Light:
    on_ns: int
    off_ns: int
    order: Order


def at(message: FromKeeper) -> int:
    assert not isinstance(message, Accepted)
    return message.dark_ns if isinstance(message, Dark) else message.at_ns


def sessions(edges: int, late_ns: int) -> Iterator[World]:
    for n in range(-(-edges // EDGES_EACH)):
        yield World(FIRST_SEED + n, late_ns)


def hold_the_laws(edges: int, late_ns: int = 0) -> Counter[str]:
    total: Counter[str] = Counter()
    for world in sessions(edges, late_ns):
        world.play(EDGES_EACH)
        total += world.judge()
    assert total["edges"] >= edges
    return total


def see_everything(total: Counter[str]) -> None:
    """Fail where the sessions never came to something that the laws are about."""
    for what in (
        *("Lit", "FootDown", "FootHold", "FootUp", "FootStuck", "Stopped", "Sounded", "Lid", "Trouble", "waited"),
        *(f"dark {why}" for why in ("complete", "foot", "page", "lease", "limit", "lid", "fault")),
        *(f"cancelled {why}" for why in ("foot", "page", "cancel", "rest", "lid", "fault")),
        *(f"refused {reason}" for reason in ("foot moved on", "start has passed", "start is too far ahead")),
        *(f"refused {reason}" for reason in ("too soon after contact", "order already seen", "another order stands")),
        *(f"refused {reason}" for reason in ("longer than the longest light", "no length", "no such lamp line")),
        *(f"refused {reason}" for reason in ("no such kind of light", "no sounder", "in fault", "box is open")),
    ):
        assert total[what], f"{what} never happened in {total}"


def test_the_laws_hold() -> None:
    """Whatever the foot does and whoever orders what when, the laws of light hold, to the nanosecond."""
    total = hold_the_laws(EDGES)
    if EDGES >= 100_000:
        see_everything(total)


def test_the_laws_hold_on_a_slow_machine() -> None:
    """They hold as well where the keeper wakes up to 15 ms late, but for that lateness."""
    total = hold_the_laws(EDGES // 5, late_ns=15 * MS)
    assert total["dark foot"]
    assert total["waited"]


@pytest.mark.long
def test_the_laws_hold_over_a_million_edges() -> None:
    """They hold over a million raw edges."""
    see_everything(hold_the_laws(1_000_000))
