"""What is in force: settings, wiring and processes, and what keeper and foot-switch grammar are told of them."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable

from controller.foot.state import Habits
from controller.store.baths import kept_processes
from controller.store.journal import setup_hash
from controller.store.settings import Settings, changed, keep_settings, kept_settings, timing, write_settings
from controller.store.shelf import Shelf
from controller.trays.process import Process, Support
from hardware.fitting import Fitting
from hardware.tether.child import KeeperConfig
from hardware.timing import Timing
from hardware.wiring_tables import ROOM_LIGHT


class InForce:
    """Safe from any thread. `fit` is told of each change of settings in turn, `settle` once it is kept."""

    def __init__(
        self,
        fitting: Fitting,
        shelf: Shelf,
        *,
        fit: Callable[[Settings], object] = lambda _settings: None,
        settle: Callable[[], object] = lambda: None,
        hurry: Callable[[], int] = lambda: 1,
    ) -> None:
        """Take up the settings that are kept on the shelf; `hurry` is for practice alone. Raises `Unreadable`."""
        self._fitting, self._shelf, self._fit, self._settle = fitting, shelf, fit, settle
        self._hurry = hurry if fitting.practice else lambda: 1  # real trays go as they go
        self.wiring = fitting.wiring
        """Which pin does what, and what the relay's data sheet says of its delays."""
        self._settings = kept_settings(shelf)
        self._changing = threading.Lock()
        self._processes, self._looked = kept_processes(shelf), shelf.marks()

    def settings(self) -> Settings:
        """Return the settings in force."""
        return self._settings

    def change(self, changes: dict[str, object]) -> Settings:
        """Keep changed settings; they count at once, or as soon as no sheet is open.

        Raises:
            Unreadable: a setting is unknown or out of limits; nothing is changed.
            StoreTrouble: they cannot be kept; nothing is changed.
            KeeperGone: they are kept, and the runner takes them over late.
        """
        with self._changing:
            wanted = changed(self._settings, changes)
            keep_settings(self._shelf, wanted)
            self._settings = wanted
            self._fit(wanted)
        self._settle()
        return wanted

    def processes(self) -> dict[Support, Process]:
        """Return the process for each support as it is kept, looked up again where anything was kept since."""
        marks = self._shelf.marks()
        if marks != self._looked:
            self._processes, self._looked = kept_processes(self._shelf), marks
        return self._processes

    def timing(self) -> Timing:
        """Return the keeper's spans."""
        return self._fitting.timing or timing(self._settings)

    def longest_ms(self) -> int:
        """Return the longest light that may be asked for."""
        return self.timing().longest_light_ms

    def lag_ms(self) -> int:
        """Return what one switching loses in all: the lamp's own, and the relay closing later than it opens."""
        return round(self._settings.lamp_lag_seconds * 1000 + self.wiring.operate_ms - self.wiring.release_ms)

    def habits(self, *, sounder: bool) -> Habits:
        """Return what the grammar keeps to; `sounder` tells whether the keeper has one."""
        return Habits(
            timing=self.timing(),
            lag_ms=self.lag_ms(),
            start_from_phone=self._settings.start_from_phone,
            lid_single_hold=self._settings.lid_single_hold,
            filters=self.wiring.filters,
            give_dose=self._settings.give_dose and self._settings.light_sensor != "none",
            room_light=ROOM_LIGHT in self.wiring.outlets,
            sounder=sounder,
            strip_again=False,
            hurry=self._hurry(),
            trays=self._settings.trays == "clocks",
            begin_with_filter_in=True,
            guard_without_trays=True,
            processes=self.processes(),
        )

    def keeper_config(self) -> KeeperConfig:
        """Return how a keeper is started."""
        table = self.timing()
        return KeeperConfig(
            self._fitting.lines,
            self._fitting.runtime,
            timing={name: getattr(table, name) for name in Timing.__dataclass_fields__},
            safelight="dark while lit" if self.wiring.safelight_dark_while_lit else "on",
        )

    def written(self) -> str:
        """Return the settings as text."""
        return write_settings(self._settings)

    def setup(self) -> str:
        """Return the hash of lines and settings that the journal's rows are stamped with."""
        lines = json.dumps(dict(self._fitting.lines), sort_keys=True)
        return setup_hash(lines, self.written())
