"""A light sensor that is gone is told of once: asking it again, however long, makes nothing new to look at."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from typing import Any

import pytest

from controller.lamp.bench import LampBench
from controller.lamp.sensor import SensorWatch
from controller.store.settings import Settings
from hardware.light_sensor import Reading, SensorGone

SECOND = 1_000_000_000
OFTEN = 30
WAIT_S = 20


class Sensor:
    """Answers or not, as it is told; it counts how often it was tried."""

    name = "sensor"

    def __init__(self) -> None:
        self._turn = threading.Condition()
        self._gone, self._tries, self._reads = False, 0, 0

    def go(self, gone: bool) -> None:
        """Be gone, or answer again; and wait until that was noticed often."""
        with self._turn:
            self._gone = gone
            tried, read = self._tries, self._reads
            assert self._turn.wait_for(lambda: (self._tries - tried if gone else self._reads - read) > OFTEN, WAIT_S)

    def open(self, _settings: Settings) -> Sensor:
        with self._turn:
            self._tries += 1
            self._turn.notify_all()
            if self._gone:
                raise SensorGone("It does not answer.")
        return self

    def read(self) -> Reading:
        with self._turn:
            if self._gone:
                raise SensorGone("It does not answer any more.")
            self._reads += 1
            self._turn.notify_all()
            return Reading(self._reads * SECOND, (self._reads + 1) * SECOND, 0.0)

    def close(self) -> None:
        return None


class Needs:
    """Does what the runner's thread would be asked to do at once, and counts the snapshots asked for."""

    def __init__(self) -> None:
        self.published = 0

    def call(self, work: Callable[[], object]) -> Future[Any]:
        work()
        return Future()

    def publish(self) -> None:
        self.published += 1


@pytest.fixture
def bench(needs: Needs, sensor: Sensor, monkeypatch: pytest.MonkeyPatch) -> Iterator[LampBench]:
    """A bench whose sensor is tried again every millisecond, instead of every five seconds."""
    monkeypatch.setitem(SensorWatch.__init__.__kwdefaults__, "again_s", 0.001)
    made = LampBench(needs, None, None, sensor.open)  # type: ignore[arg-type]  # neither is asked for anything here
    yield made
    made.close()


@pytest.fixture
def needs() -> Needs:
    return Needs()


@pytest.fixture
def sensor() -> Sensor:
    return Sensor()


def test_a_sensor_that_stays_away_hangs_up_no_more_snapshots(bench: LampBench, needs: Needs, sensor: Sensor) -> None:
    """A snapshot is hung up as the sensor goes and as it comes back, and none while it stays either way."""
    bench.fit(Settings(light_sensor="tsl2591"))
    sensor.go(False)
    told = [needs.published]
    for gone in (True, False, True):
        sensor.go(gone)
        told.append(needs.published)
        sensor.go(gone)
        assert needs.published == told[-1]
    assert told == [0, 1, 2, 3]


def test_a_sensor_that_was_never_there_is_told_of_once(bench: LampBench, needs: Needs, sensor: Sensor) -> None:
    """A sensor that is set up and answers never is told of when it is first tried, and not again."""
    waiting = threading.Thread(target=sensor.go, args=(True,))
    waiting.start()
    while not sensor._gone:
        waiting.join(0.001)
    bench.fit(Settings(light_sensor="tsl2591"))
    waiting.join(WAIT_S)
    assert needs.published == 1
