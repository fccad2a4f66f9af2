"""The thread that reads the light sensor. A sensor that is missing, slow or gone disturbs nothing but this thread."""

from __future__ import annotations

import logging
import threading
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Final, Literal

from controller.store.settings import Settings
from hardware.light_sensor import Gain, LightSensor, Reading, SensorGone, open_tsl2591
from hardware.practice.practice_darkroom import PracticeDarkroom
from hardware.practice.sensor import Laid, PracticeSensor

_log = logging.getLogger(__name__)
_KEPT: Final = 3_000
"""Readings that are remembered: five minutes of cycles of 100 ms."""
_AGAIN_S: Final = 5.0
_CLOSE_S: Final = 2.0
"""A sensor that has not returned by then, as on a bus that hangs, is left to its thread."""

SensorState = Literal["starting", "ready", "gone"]


class SensorWatch:
    """Owns the sensor. `told` hears each reading, and None when the sensor goes, on this thread."""

    def __init__(
        self,
        open_sensor: Callable[[], LightSensor],
        told: Callable[[Reading | None], None],
        *,
        again_s: float = _AGAIN_S,
    ) -> None:
        self._open, self._told, self._again_s = open_sensor, told, again_s
        self._lock = threading.Lock()
        self._readings: deque[Reading] = deque(maxlen=_KEPT)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="light sensor", daemon=True)
        self.state: SensorState = "starting"
        self.name = ""
        self._gain: Gain | None = None
        self.trouble = ""
        """Why it is gone, for the log and the page's small print."""

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def close(self) -> None:
        """End the thread, which lets the sensor go."""
        self._over.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(_CLOSE_S)

    def readings(self) -> tuple[Reading, ...]:
        """Return what was read of late, oldest first."""
        with self._lock:
            return tuple(self._readings)

    def use_gain(self, gain: Gain) -> None:
        """Have the sensor count with this gain from its next cycle on."""
        self._gain = gain

    def _run(self) -> None:
        while not self._over.is_set():
            try:
                self._read_on()
            except SensorGone as problem:
                self._gone(str(problem))
            except Exception as problem:  # noqa: BLE001 - a thread's top; the sensor is a comfort, and nothing hangs on it
                _log.exception("reading the light sensor failed")
                self._gone(str(problem))
            self._over.wait(self._again_s)

    def _read_on(self) -> None:
        sensor = self._open()
        try:
            while not self._over.is_set():
                gain, self._gain = self._gain, None
                if gain is not None:
                    sensor.set_gain(gain)
                reading = sensor.read()
                with self._lock:
                    self._readings.append(reading)
                self.name, self.state, self.trouble = sensor.name, "ready", ""
                self._told(reading)
        finally:
            sensor.close()

    def _gone(self, why: str) -> None:
        if self.state != "gone":
            _log.warning("the light sensor is gone: %s", why)
        self.state, self.trouble = "gone", why
        self._told(None)


def sensor_of(
    settings: Settings,
    practice: Path | None,
    lamps: tuple[str, ...],
    laid: Callable[[], Laid | None] = lambda: None,
) -> LightSensor:
    """Return the sensor that the settings name; in the practice darkroom `practice` a practised one, `laid` somewhere.

    Raises:
        SensorGone: it does not answer.
    """
    if practice is None:
        return open_tsl2591(settings.sensor_gain)
    return _SensorWithRoom(practice, lamps, settings.sensor_gain, laid)


class _SensorWithRoom(PracticeSensor):
    """A practice sensor with its own way into the room, left when the sensor is let go."""

    def __init__(self, runtime: Path, lamps: tuple[str, ...], gain: Gain, laid: Callable[[], Laid | None]) -> None:
        self._own = PracticeDarkroom(runtime, lamps=lamps)
        try:
            super().__init__(self._own, gain, laid=laid)
        except BaseException:
            self._own.close()
            raise

    def close(self) -> None:
        """Leave the room."""
        self._own.close()
