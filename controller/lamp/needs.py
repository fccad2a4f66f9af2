"""What the lamp's bench needs of the house around it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from typing import Protocol

from controller.foot.state import State
from controller.foot.status import Status
from controller.recipe.plan import Plan
from controller.store.entries import Entry
from controller.store.settings import Settings


class Ways(Protocol):
    """What the bench needs of the house. All but `settings`, `change`, `call` and `ask` run on the runner's thread."""

    def call(self, work: Callable[[], object]) -> Future[object]:
        """Have something done on the runner's thread."""

    def ask(self, work: Callable[[], object]) -> object:
        """Have something done there and return its answer; raises `KeeperGone`, and then it is not done later."""

    def load(self, plan: Plan, number: int) -> Status:
        """Load a check that was decided on snapshot `number`; raises `WrongMoment`."""

    def note(self, entry: Entry) -> object:
        """File a row; while a light is on it waits."""

    def alarm(self) -> None:
        """Sound the alarm, and publish a new snapshot."""

    def publish(self) -> object:
        """Publish a new snapshot: what the pages should say has changed."""

    def state(self) -> State:
        """Return how things stand."""

    def settings(self) -> Settings:
        """Return the settings in force."""

    def change(self, changes: dict[str, object]) -> Settings:
        """Change settings; raises `Unreadable`."""
