"""Inside the emulated machine: a USB foot pedal as the kernel shows one, plugged in, pressed and pulled out."""

from __future__ import annotations

import time
from pathlib import Path

from kernel.guest.bench import FOOT, LAMP, Bench

from hardware.wire import Dark, FootDown, FootUp

SEEK_SECONDS = 3.0
"""A keeper looks for a missing pedal each second."""


class Plug:
    """A pedal of one key that can be plugged in under a lasting name."""

    def __init__(self, name: Path) -> None:
        from evdev import InputDevice, UInput, ecodes

        self._codes, self._open = ecodes, InputDevice
        self._device = UInput({ecodes.EV_KEY: [ecodes.KEY_B]}, name="foot pedal")
        self.node = self._device.device.path
        name.unlink(missing_ok=True)
        name.symlink_to(self.node)
        time.sleep(SEEK_SECONDS)

    def taken(self) -> bool:
        """Tell whether somebody keeps the pedal's keys from everybody else."""
        device = self._open(self.node)
        try:
            device.grab()
        except OSError:
            return True
        finally:
            device.close()
        return False

    def press(self, ms: float = 150) -> None:
        for level, seconds in ((1, ms / 1000), (0, 0.07)):
            self._device.write(self._codes.EV_KEY, self._codes.KEY_B, level)
            self._device.syn()
            time.sleep(seconds)

    def pull_out(self) -> None:
        self._device.close()


def play(bench: Bench) -> None:
    """Press the wired foot with the pedal missing, end a light by the pedal, and go on with it pulled out and back."""
    name = Path("/dev/input/by-id/usb-treadle_test-event-kbd")
    name.parent.mkdir(parents=True, exist_ok=True)
    bench.header.open_contact(FOOT)
    with bench.tether("both feet", pedals=[str(name)]) as (tether, ear):
        bench.press()
        ear.wait(FootUp, 1, 20)
        plug = Plug(name)
        bench.light(tether, foot_seq=1)
        bench.note(taken=plug.taken(), pressed=bench.trace.mark("pedal"))
        plug.press()
        ear.wait(Dark, 1, 20)
        ear.wait(FootUp, 2, 20)
        bench.note(level=bench.header.level(LAMP))
        plug.pull_out()
        time.sleep(0.5)
        bench.press()
        ear.wait(FootUp, 3, 20)
        plug = Plug(name)
        plug.press()
        ear.wait(FootUp, 4, 20)
        bench.note(taken_again=plug.taken(), seqs=[down.seq for down in ear.of(FootDown)])
        plug.pull_out()
