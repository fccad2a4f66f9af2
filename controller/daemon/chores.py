"""Chores by the wall's clock: the nightly backup, and its copy in a second place.

Never light, never tray clocks; never while a sheet is open.

A backup under way is given up as soon as a sheet is opened or the daemon ends: no press waits for it.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.date import DateTrigger

from controller.backup.dated import OLD_DAYS, backup, backups, days_without
from controller.backup.second_place import OLD_DAYS_THERE, SecondPlace
from controller.errors import StoreTrouble, WrongMoment
from controller.store.folder import DataFolder
from controller.store.whole import GivenUp
from controller.words import say

NIGHTLY: Final = "nightly backup"
LATER: Final = "backup later"
COPY: Final = "copy in the second place"
ASKED: Final = "asked for"
HOUR: Final = 3
MINUTE: Final = 30
GRACE_SECONDS: Final = 6 * 3600
"""A machine that slept or was busy at half past three makes up for it until half past nine."""
LATER_MINUTES: Final = 15
"""A sheet was open, or the daemon has just started on a machine that is off at night."""
AGAIN_MINUTES: Final = 60
"""So often a second place that is away, or refuses, is tried again: a stick may have been put in."""
CLOCK_SECONDS: Final = 60.0
"""So often is looked whether the wall's clock was set back."""
SET_BACK_SECONDS: Final = 3600.0
"""By less it may be, as in autumn or by the network's time: a chore is then that much later."""
REST_SECONDS: Final = 0.01
"""Between two steps of a backup, so that a card has time for others."""

log = logging.getLogger(__name__)


class Chores:
    """Runs the chores in a thread of its own between `start` and `stop`.

    `busy` tells whether a sheet is open or light is on; chores then wait, also in the midst of one. `tell` gets the
    sentence of a chore that failed, and `stand` what is wrong with the second place, or nothing once that is mended;
    both are called from the chores' thread. `wiring` is the wiring file, which goes to the second place as well.
    """

    def __init__(
        self,
        data: DataFolder,
        busy: Callable[[], bool],
        tell: Callable[[str], None],
        second: SecondPlace | None = None,
        stand: Callable[[str], None] = lambda _: None,
        wiring: Path | None = None,
    ) -> None:
        self._data = data
        self._busy = busy
        self._tell = tell
        self._second, self._stand, self._wiring = second, stand, wiring
        self._told: date | None = None
        self._stands = ""
        self._ending = threading.Event()
        self._asking = threading.Lock()
        self._at: list[str] = []
        self.failed = ""
        """Why there is no backup, in words, where the last one could not be made."""
        self._clock = threading.Thread(target=self._follow_clock, name="chores' clock", daemon=True)
        self._executor = ThreadPoolExecutor(1)
        self._scheduler = BackgroundScheduler(
            executors={"default": self._executor},
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": GRACE_SECONDS},
        )

    def start(self) -> None:
        """Begin. Where today has no backup yet, one is made soon: a darkroom's Pi is often off at night."""
        self._scheduler.add_job(self.back_up, CronTrigger(hour=HOUR, minute=MINUTE), id=NIGHTLY)
        self._scheduler.start()
        if not self._backed_up_today():
            self._later(self.back_up, LATER)
        elif self._second is not None and self._second.last_day() != self._now().date():
            self._later(self.copy, COPY)
        self._clock.start()

    def stop(self) -> None:
        """End; the chore under way is given up. Stopping twice does nothing."""
        self._ending.set()
        if self._clock.ident is not None:
            self._clock.join()
        if self._scheduler.running:
            # Paused, and asked once more, the scheduler is done with its round: shut down in the middle of one
            # it would miss a job that it has just handed out.
            self._scheduler.pause()
            self._scheduler.get_jobs()
            # Waited for apart: the scheduler would hold what a chore needs that is just putting itself off.
            self._scheduler.shutdown(wait=False)
            self._executor.shutdown(wait=True)

    def back_up(self) -> None:
        """Make a backup, or put it off while busy; one that is no longer convenient is given up and begun later."""
        with self._at_work("backup"):
            try:
                self.give_way()
                folder = backup(self._data, self._now().date(), self.give_way)
            except GivenUp:
                if not self._ending.is_set():
                    self._later(self.back_up, LATER)
                    self._say_how_old()
            except StoreTrouble as problem:
                log.warning("no backup: %s", problem)
                self.failed = str(problem)
                self._tell(str(problem))
            else:
                log.info("backup in %s", folder)
                self.failed = ""
                self.copy()

    def ask(self, name: str, work: Callable[[], object]) -> threading.Event:
        """Have `work` done now, in the chores' thread, and return what is set once it is over.

        Raises:
            WrongMoment: a sheet is open, or a chore is under way; the sentence says which.
        """
        done = threading.Event()
        with self._asking:
            if self._busy():
                raise WrongMoment(say("data.sheet-open"))
            if self._at:
                raise WrongMoment(say(f"data.under-way-{self._at[0]}"))
            self._at.append(name)
        self._scheduler.add_job(
            self._do, DateTrigger(self._now()), (name, work, done), id=ASKED, misfire_grace_time=None
        )
        return done

    def under_way(self) -> str:
        """Return the name of what is under way, a backup or what was asked for; empty where nothing is."""
        with self._asking:
            return self._at[0] if self._at else ""

    def _do(self, name: str, work: Callable[[], object], done: threading.Event) -> None:
        try:
            work()
        finally:
            with self._asking:
                self._at.remove(name)
            done.set()

    @contextmanager
    def _at_work(self, name: str) -> Iterator[None]:
        with self._asking:
            self._at.append(name)
        try:
            yield
        finally:
            with self._asking:
                self._at.remove(name)

    def copy(self) -> None:
        """Copy the newest backup to the second place, where there is one, or put it off as a backup is."""
        if self._second is None:
            return
        try:
            self.give_way()
            with self._at_work("backup"):
                folder = self._second.copy(self.give_way, self._wiring)
        except GivenUp:
            if not self._ending.is_set():
                self._later(self.copy, COPY)
                self._say_how_old_there(self._second)
        except StoreTrouble as problem:
            if str(problem) != self._stands:  # tried each hour, and said once
                log.warning("no copy of the backup: %s", problem)
            self._later(self.copy, COPY, AGAIN_MINUTES)
            self._show(str(problem))
        else:
            log.info("copy of the backup in %s", folder)
            self._show("")

    def due(self) -> dict[str, datetime]:
        """Return when each chore is next due, by its name, in the wall's own time."""
        return {job.id: job.next_run_time for job in self._scheduler.get_jobs()}

    def give_way(self) -> None:
        """Rest a moment; raise `GivenUp` where a sheet is open or the daemon ends."""
        if self._ending.wait(REST_SECONDS) or self._busy():
            raise GivenUp

    def _say_how_old(self) -> None:
        """Tell, once a day, where for days no quiet time was long enough."""
        today = self._now().date()
        days = days_without(self._data, today)
        if days is not None and days >= OLD_DAYS and self._told != today:
            self._told = today
            self._tell(say("store.backup-old", days=days, path=self._data.backups))

    def _say_how_old_there(self, second: SecondPlace) -> None:
        days = second.days_without(self._now().date())
        if days is not None and days >= OLD_DAYS_THERE:
            self._show(say("store.second-old", days=days, path=second.root))

    def _show(self, words: str) -> None:
        self._stands = words
        self._stand(words)

    def _later(self, what: Callable[[], None], name: str, minutes: int = LATER_MINUTES) -> None:
        at = self._now() + timedelta(minutes=minutes)
        # However late it comes to be: a Pi's clock leaps once the network has told it the time.
        self._scheduler.add_job(what, DateTrigger(at), id=name, replace_existing=True, misfire_grace_time=None)

    def _follow_clock(self) -> None:
        """Set each chore's time anew where the clock was set back: until it is there again none would be due."""
        before = _ahead_seconds()
        while not self._ending.wait(CLOCK_SECONDS):
            ahead = _ahead_seconds()
            if ahead < before - SET_BACK_SECONDS:
                self._scheduler.reschedule_job(NIGHTLY, trigger=CronTrigger(hour=HOUR, minute=MINUTE))
                for name, what in ((LATER, self.back_up), (COPY, self.copy)):
                    if name in self.due():
                        self._later(what, name)
            before = ahead

    def _backed_up_today(self) -> bool:
        made = backups(self._data)
        return bool(made) and made[-1][1].day == self._now().date()

    def _now(self) -> datetime:
        return datetime.now(self._scheduler.timezone)


def _ahead_seconds() -> float:
    """Return how far the wall's clock is ahead of the one that nobody sets."""
    return time.time() - time.monotonic()
