"""How the lamp's bench reaches the runner, the pages' answers and the settings of a running house."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import Any

from controller.daemon.answers import Answers
from controller.daemon.inbox import Inbox
from controller.daemon.runner import Runner
from controller.foot.state import State
from controller.foot.status import Status
from controller.recipe.plan import Plan
from controller.store.entries import Entry
from controller.store.settings import Settings
from hardware.light_sensor import LightSensor, open_tsl2591
from hardware.practice.room import PracticeRoom
from hardware.practice.sensor import PracticeSensor


class HouseWays:
    """`controller.lamp.needs.Ways`, with a house's own parts behind it."""

    def __init__(
        self,
        inbox: Inbox,
        runner: Runner,
        answers: Answers,
        settings: Callable[[], Settings],
        change: Callable[[dict[str, object]], Settings],
    ) -> None:
        self._inbox, self._runner, self._answers = inbox, runner, answers
        self.settings, self.change = settings, change

    def call(self, work: Callable[[], object]) -> Future[Any]:
        """Have something done on the runner's thread."""
        return self._inbox.call(work)

    def ask(self, work: Callable[[], object]) -> object:
        """Have something done there and return its answer; raises `KeeperGone`, and then it is not done later."""
        return self._inbox.ask(work)

    def load(self, plan: Plan, number: int) -> Status:
        """Load a check that was decided on snapshot `number`; raises `WrongMoment`."""
        return self._answers.load_check(plan, number)

    def note(self, entry: Entry) -> object:
        """File a row; while a light is on it waits."""
        return self._answers.note(entry)

    def alarm(self) -> None:
        """Sound the alarm, and publish a new snapshot."""
        self._answers.alarm()

    def publish(self) -> object:
        """Publish a new snapshot."""
        return self._answers.publish()

    def state(self) -> State:
        """Return how things stand."""
        return self._runner.state


def sensor_of(settings: Settings, practice: Path | None, lamps: tuple[str, ...]) -> LightSensor:
    """Return the sensor that the settings name; in the practice darkroom `practice` a practised one.

    Raises:
        SensorGone: it does not answer.
    """
    if practice is None:
        return open_tsl2591(settings.sensor_gain)
    return _RoomOfItsOwn(practice, lamps)


class _RoomOfItsOwn(PracticeSensor):
    """A practice sensor with its own way into the room, left when the sensor is let go."""

    def __init__(self, runtime: Path, lamps: tuple[str, ...]) -> None:
        self._own = PracticeRoom(runtime, lamps=lamps)
        try:
            super().__init__(self._own)
        except BaseException:
            self._own.close()
            raise

    def close(self) -> None:
        """Leave the room."""
        self._own.close()
