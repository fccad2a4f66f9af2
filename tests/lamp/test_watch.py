"""The thread that reads the light sensor: whatever the sensor does, nobody waits for it."""

from __future__ import annotations

import threading

import pytest

import controller.lamp.sensor
from controller.lamp.sensor import SensorWatch
from hardware.light_sensor import Reading


class Hung:
    """A sensor on a bus that does not answer."""

    name = "hung"

    def __init__(self) -> None:
        self.asked, self.go_on, self.closed = threading.Event(), threading.Event(), threading.Event()

    def read(self) -> Reading:
        self.asked.set()
        assert self.go_on.wait(20)
        return Reading(0, 1, 0.0)

    def close(self) -> None:
        self.closed.set()


def test_a_sensor_that_hangs_holds_up_no_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sensor that does not return keeps nobody from closing its watch; it is let go once it does."""
    monkeypatch.setattr(controller.lamp.sensor, "_CLOSE_S", 0.05, raising=False)
    sensor = Hung()
    watch = SensorWatch(lambda: sensor, lambda _reading: None)
    watch.start()
    assert sensor.asked.wait(5)
    closing = threading.Thread(target=watch.close)
    closing.start()
    closing.join(5)
    held_up = closing.is_alive()
    sensor.go_on.set()
    closing.join(5)
    assert sensor.closed.wait(5)
    assert not held_up
