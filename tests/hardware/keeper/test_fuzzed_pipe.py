"""Thousands of malformed and extreme messages on a keeper's pipe: it lives, lights by plan alone, and ends dark."""

from __future__ import annotations

import json
import os
import random
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import pytest
from tools.hostile import seed_of
from tools.hostile_messages import MS, line, order, orders_in, out_of_plan
from tools.keeper_bench import Bench

from hardware.clock import MonotonicClock
from hardware.keeper.process import PipeIn, _hear
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.tether.child import Child, KeeperConfig
from hardware.timing import Timing
from hardware.wire import Dark, FootDown, Lit, Stopped
from hardware.wire_json import decode

PASS_MS = (0, 0, 1, 20, 200, 900, 1500)
EACH_CALM, CALM_MS = 300, 2500
LATE_MS = 5.0
"""A real keeper on a machine that does other things as well."""


@contextmanager
def pipe() -> Iterator[tuple[PipeIn, int]]:
    """Give the keeper's end of a pipe, read as its process reads it, and the daemon's."""
    reads, writes = os.pipe()
    try:
        yield PipeIn(reads), writes
    finally:
        os.close(reads)
        os.close(writes)


def _send(bench: Bench, reader: PipeIn, writes: int, data: bytes) -> None:
    for at in range(0, len(data), 60_000):  # a pipe holds no more at once
        os.write(writes, data[at : at + 60_000])
        for each in reader.lines():
            _hear(bench.keeper, each, bench.clock)


def held_to_the_laws(seed: int, count: int) -> Counter[str]:
    """Send so many to a keeper in virtual time, with a foot that treads at times; return what it said."""
    dice, bench = random.Random(seed), Bench(outlets=("room_light", "safelight", "status_led"))
    sent: list[bytes] = []
    wrong: list[str] = []
    with pipe() as (reader, writes):
        for number in range(count):
            data = line(dice, number, bench.now_ns, bench.seq)
            sent.append(data)
            try:
                _send(bench, reader, writes, data)
            except Exception as problem:  # noqa: BLE001 - whatever it is, it is the keeper's death, and told
                wrong.append(f"it died of {problem!r} after {data[:500]!r}")
                break
            bench.look()
            bench.run(dice.choice(PASS_MS))
            if dice.random() < 0.02:
                bench.tap(40, 100)
    bench.keeper.end("tether", bench.now_ns)
    lit = {one.at_ns: one.id for one in bench.all(Lit)}
    edges = [at for at, _ in bench.lamp.edges]
    wrong += [f"a light at {on} of no order's" for on in edges[::2] if on not in lit]
    lights = [(lit.get(on, ""), on, off) for on, off in zip(edges[::2], edges[1::2], strict=True)]
    wrong += out_of_plan(orders_in(sent), lights, bench.timing.rest_wait_ms)
    if not (bench.lamp.closed and not bench.lamp.lit and all(not one.lit for one in bench.outlets.values())):
        wrong.append("it did not end dark")
    assert not wrong, f"FUZZ_SEED={seed}:\n" + "\n".join(wrong[:20])
    return Counter(type(each).__name__ for each in bench.said)


def test_malformed_messages(request: pytest.FixtureRequest) -> None:
    """2,000 of them to a keeper in virtual time: no death, no light that no order wanted so, dark in the end."""
    said = held_to_the_laws(seed_of(request, 1), 2000)
    assert said["Lit"] > 20, said
    assert said["Trouble"] > 20, said


@pytest.mark.long
def test_very_many_malformed_messages(request: pytest.FixtureRequest) -> None:
    """The same for 100,000 of them."""
    print(held_to_the_laws(seed_of(request, 1), 100_000))


def _pour(child: Child, data: bytes) -> None:
    """Write all of it, however long: a pipe that is full is waited for, which a daemon never does."""
    into = child._in.fileno()
    while data:
        with suppress(BlockingIOError):
            data = data[os.write(into, data[:4096]) :]


@pytest.mark.long
def test_malformed_messages_to_a_process(
    config: KeeperConfig, room: PracticeDarkroom, request: pytest.FixtureRequest
) -> None:
    """20,000 of them to a keeper's process: it lives on, no light is out of plan, and at its pipe's end it is dark."""
    seed = seed_of(request, 1)
    dice, clock, child = random.Random(seed), MonotonicClock(), Child(config)
    bell, ringer = os.pipe()
    heard, sent, seq = [], [], 0
    try:
        words = child.wake(clock, 5000 * MS, bell)
        assert words is not None, child.last_words()
        for number in range(20_000):
            last, calm = (number % EACH_CALM == EACH_CALM - n for n in (2, 1))  # then a good order, and time for it
            good = {**order(dice, number, clock.now_ns(), seq), "kind": "step"}
            sent.append(b"%s\n" % json.dumps(good).encode() if calm else line(dice, number, clock.now_ns(), seq))
            if last:
                sent[-1] += b"\n"  # whatever had no end has one
            _pour(child, sent[-1])
            wait_ms = CALM_MS if calm else dice.choice((0, 0, 1, 1, 5))
            clock.wait([] if calm else [child.fileno()], clock.now_ns() + wait_ms * MS)
            said, ended = child.read()
            while last:  # all that it has to say: a good order knows the last of it
                clock.wait([], clock.now_ns() + 50 * MS)
                more, ended = child.read()
                said += more
                if not more:
                    break
            assert not ended, f"FUZZ_SEED={seed}: the keeper ended: {child.last_words()}, after {sent[-1][:500]!r}"
            heard += [decode(each) for each in said]
            seq = next((each.seq for each in reversed(heard) if isinstance(each, FootDown | Stopped)), 0)
        child.end()
        assert child.reap(5.0)
        assert child.ended_well, child.last_words()
        heard += [decode(each) for each in child.read()[0]]
    finally:
        child.close()
        os.close(bell)
        os.close(ringer)
    assert not room.driven()
    lights = [(dark.id, dark.on_ns, dark.dark_ns) for dark in heard if isinstance(dark, Dark)]
    wrong = out_of_plan(orders_in(sent), lights, Timing(**config.timing).rest_wait_ms, LATE_MS)
    assert len(room.edges()) == 2 * len(lights), "a light that it said nothing of"
    assert not wrong, f"FUZZ_SEED={seed}:\n" + "\n".join(wrong[:20])
    assert len(lights) > 10, Counter(type(each).__name__ for each in heard)
